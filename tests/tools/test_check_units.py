"""The unit-name check itself: what it lets pass, what it stops, and that its allow list stays honest."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


def tool(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


check_units = tool("check_units")


def bare(tmp_path: Path, source: str, layer: str = "job") -> list[str]:
    folder = tmp_path / "witnessmark" / layer
    folder.mkdir(parents=True)
    (folder / "part.py").write_text(source, encoding="utf-8")
    return [name.where for name in check_units.names_under(tmp_path) if not name.says_its_unit()]


@pytest.mark.parametrize(
    "name",
    [
        "stickout_mm",
        "turn_rad",
        "tilt_deg",
        "pull_n",
        "stress_mpa",
        "feed_mm_min",
        "minutes",
        "share_ratio",
        "mass_kg",
    ],
)
def test_a_name_with_its_unit_passes(tmp_path: Path, name: str) -> None:
    """A float parameter whose name ends in its unit is accepted."""
    assert bare(tmp_path, f"def f({name}: float) -> None: ...") == []


@pytest.mark.parametrize(
    "source",
    [
        "def f(stickout: float) -> None: ...",
        "def f(*, depth: float | None = None) -> None: ...",
        "def f(*heights: float) -> None: ...",
        "async def f(depth: 'float') -> None: ...",
        "class A:\n    depth: float",
        "class A:\n    depth: PositiveMm",
        "class A:\n    place: tuple[float, float]",
        "class A:\n    def f(self, depth: dict[str, float]) -> None: ...",
        "def f() -> None:\n    def g(depth: float) -> None: ...",
        "if True:\n    def f(blank_min: float) -> None: ...",
        "def f(r: float) -> None: ...",
    ],
)
def test_a_bare_float_is_found_wherever_it_stands(tmp_path: Path, source: str) -> None:
    """Fields, keyword and starred parameters, nested functions and quoted annotations are all looked at."""
    assert len(bare(tmp_path, source)) == 1


def test_letters_of_the_mathematics_pass_in_kernels_only(tmp_path: Path) -> None:
    """In field, r and x0 stand as in the source of the formula; a longer word needs its unit there too."""
    source = "def f(r: float, x0: float, depth: float) -> None: ..."
    assert bare(tmp_path, source, "field") == ["witnessmark.field.part.f.depth"]


def test_compiled_kernels_are_left_alone(tmp_path: Path) -> None:
    """A function under @njit, with or without arguments, is left to its header; its neighbour is not."""
    kernel = "@njit(cache=True)\ndef f(low: float) -> None: ...\n@njit\ndef g(low: float) -> None: ...\n"
    assert bare(tmp_path, kernel + "@other\ndef h(low: float) -> None: ...") == ["witnessmark.job.part.h.low"]


def test_a_function_is_no_number(tmp_path: Path) -> None:
    """A parameter that is a function of floats needs no unit of its own."""
    assert bare(tmp_path, "def f(inner: Callable[[float], float]) -> None: ...") == []


def test_integers_and_words_are_left_alone(tmp_path: Path) -> None:
    """Counts, texts and flags need no unit."""
    assert bare(tmp_path, "def f(flutes: int, name: str, arcs: bool, other) -> None: ...") == []


def test_a_stale_or_unreasoned_permission_is_a_complaint() -> None:
    """A line of the allow list that meets nothing, or that gives no reason, fails the check."""
    name = check_units.Name("witnessmark.job.part.f.normal", "part.py", 3)
    assert check_units.complaints([name], {name.where: "a direction"}) == []
    assert check_units.complaints([name], {"witnessmark.job.part.*": "directions"}) == []
    assert "no reason" in check_units.complaints([name], {name.where: " "})[0]
    assert "not a bare float any more" in check_units.complaints([], {name.where: "a direction"})[0]
    assert check_units.complaints([name], {}) == [
        "part.py:3: witnessmark.job.part.f.normal is a float without a unit"
    ]


def test_every_permission_gives_a_reason() -> None:
    """The allow list that ships reads as where = reason."""
    assert all(reason.strip() for reason in check_units.allowed_names().values())
