"""Every float says its unit: fail on an annotated float field or parameter whose name carries none.

``python tools/check_units.py src`` reads the sources without importing them. A name passes when it is a unit
(``minutes``) or ends in one (``stickout_mm``, ``turn_rad``, ``feed_mm_min``, ``share_ratio``), or when
``tools/units_allowed.toml`` lists it with a reason (``*`` stands for anything). Compiled kernels, the functions
under ``@njit``, are left alone: their headers say the units. Inside ``field/`` letters of the mathematics (``r``,
``x0``, ``dz``) pass as well. A line in the allow list that no longer meets anything fails too.
"""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path

UNITS = (
    "mm mm2 mm3 m m2 m2_min g g_m2 cm cm2 cm3 px pt deg rad c n n_mm n_mm2 n_cm2 nmm mpa gpa mm_min mm3_min "
    "mm_s mm_s2 rpm w kw s ms minutes hours ratio pct kg kg_m3 t inch lbf psi cells"
)
ENDING = re.compile(rf"_(?:{'|'.join(re.findall(r'[a-z0-9_]+', UNITS))})$|^(?:seconds|minutes|hours)$")
LETTERS = re.compile(r"^[a-z]{1,2}\d?$")
FLOAT_NAMES = {"float", "Mm", "PositiveMm", "NonNegativeMm"}
ALLOWED_FILE = Path(__file__).with_name("units_allowed.toml")


@dataclass(frozen=True)
class Name:
    """An annotated float: ``where`` is module.Class.function.name, dotted, below the package."""

    where: str
    file: str
    line: int

    @property
    def name(self) -> str:
        return self.where.rsplit(".", 1)[-1]

    def says_its_unit(self) -> bool:
        return bool(ENDING.search(self.name)) or (
            "field" in self.where.split(".")[:-1] and bool(LETTERS.match(self.name))
        )


def holds_float(annotation: ast.expr | None) -> bool:
    """Whether a plain float or a length stands anywhere in an annotation, behind its quotes too."""
    words: set[str] = set()
    if isinstance(annotation, ast.Subscript) and "Callable" in ast.unparse(annotation.value):
        return False  # a function, not a number
    for node in ast.walk(annotation) if annotation is not None else ():
        if isinstance(node, ast.Name):
            words.add(node.id)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            words.update(re.findall(r"[\w.]+", node.value))
    return not words.isdisjoint(FLOAT_NAMES)


def is_kernel(node: ast.AST) -> bool:
    """Whether a function is compiled by numba."""
    decorators = node.decorator_list if isinstance(node, ast.FunctionDef) else []
    return any(re.match(r"(numba\.)?n?jit\b", ast.unparse(decorator)) for decorator in decorators)


def annotated(node: ast.AST) -> Iterator[tuple[str, ast.expr | None, int]]:
    """The fields of a class or the parameters of a function: name, annotation, line."""
    if isinstance(node, ast.ClassDef):
        for item in node.body:
            if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name):
                yield item.target.id, item.annotation, item.lineno
    elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        listed = node.args
        for argument in (*listed.posonlyargs, *listed.args, *listed.kwonlyargs, listed.vararg, listed.kwarg):
            if argument is not None:
                yield argument.arg, argument.annotation, argument.lineno


def floats_in(tree: ast.AST, where: str, file: str) -> Iterator[Name]:
    """Every annotated float field and parameter below a node, in the order of the file."""
    for node in ast.iter_child_nodes(tree):
        inside = where
        if is_kernel(node):
            continue
        if isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            inside = f"{where}.{node.name}"
            for name, annotation, line in annotated(node):
                if holds_float(annotation):
                    yield Name(f"{inside}.{name}", file, line)
        yield from floats_in(node, inside, file)


def names_under(folder: Path) -> list[Name]:
    """Every annotated float of the sources under a folder."""
    found: list[Name] = []
    for path in sorted(folder.rglob("*.py")):
        module = ".".join(path.relative_to(folder).with_suffix("").parts)
        found += floats_in(ast.parse(path.read_text(encoding="utf-8")), module, str(path))
    return found


def allowed_names(file: Path = ALLOWED_FILE) -> dict[str, str]:
    """The allow list: where -> reason."""
    return {str(where): str(reason) for where, reason in tomllib.loads(file.read_text(encoding="utf-8")).items()}


def complaints(names: list[Name], allowed: dict[str, str]) -> list[str]:
    """What is wrong, one line each."""
    bare = [name for name in names if not name.says_its_unit()]
    stale, lines = set(allowed), []
    for name in bare:
        meets = {pattern for pattern in allowed if fnmatchcase(name.where, pattern)}
        stale -= meets
        if not meets:
            lines.append(f"{name.file}:{name.line}: {name.where} is a float without a unit")
    lines += [f"{ALLOWED_FILE.name}: {where} is not a bare float any more" for where in sorted(stale)]
    lines += [
        f"{ALLOWED_FILE.name}: {where} has no reason" for where, reason in allowed.items() if not reason.strip()
    ]
    return lines


def main(arguments: list[str]) -> int:
    names = names_under(Path(arguments[0] if arguments else "src"))
    lines = complaints(names, allowed_names())
    print("\n".join(lines) if lines else f"units: {len(names)} floats, each says its unit or has its reason")
    return 1 if lines else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
