"""Formulas in t, as a maker types them: arithmetic and the functions of school mathematics, nothing else.

The text is parsed to a tree and only the nodes listed here are worked out, on arrays of float64; no names but t, pi
and the functions exist, so a formula can do nothing but give numbers.
"""

from __future__ import annotations

import ast
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LONGEST = 2000
FUNCTIONS: dict[str, Callable[..., Floats]] = {
    "sin": np.sin, "cos": np.cos, "tan": np.tan, "asin": np.arcsin, "acos": np.arccos, "atan": np.arctan,
    "atan2": np.arctan2, "exp": np.exp, "log": np.log, "sqrt": np.sqrt, "abs": np.abs, "min": np.minimum,
    "max": np.maximum,
}  # fmt: skip
TWO_ARGUMENTS = ("atan2", "min", "max")
_BINARY: dict[type[ast.operator], Callable[[Floats, Floats], Floats]] = {
    ast.Add: np.add, ast.Sub: np.subtract, ast.Mult: np.multiply, ast.Div: np.divide, ast.Pow: np.power,
}  # fmt: skip


def values(formula: str, t: Floats) -> Floats:
    """The formula at every t (n,); ValueError in words where it is none, or gives no number somewhere."""
    if len(formula) > LONGEST:
        raise ValueError(f"is longer than {LONGEST} signs")
    try:
        tree = ast.parse(formula.strip().replace("^", "**"), mode="eval")
        with np.errstate(all="ignore"):
            found = np.broadcast_to(_value(tree.body, t), t.shape)
    except SyntaxError as error:
        raise ValueError(f"cannot be read near sign {error.offset}") from None
    except (RecursionError, MemoryError):
        raise ValueError("is nested too deep") from None
    if not np.isfinite(found).all():
        at = float(t[~np.isfinite(found)][0])
        raise ValueError(f"gives no number at t = {at:.4f}")
    return np.asarray(found, dtype=np.float64)


def _value(node: ast.expr, t: Floats) -> Floats:
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float) and not isinstance(node.value, bool):
        return np.asarray(node.value, dtype=np.float64)  # a float, so that no whole number grows for ever
    if isinstance(node, ast.Name):
        if node.id == "t":
            return t
        if node.id == "pi":
            return np.asarray(np.pi)
        raise ValueError(f"knows t, pi, and {', '.join(FUNCTIONS)}; not {node.id[:30]}")
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.UAdd):
        inner = _value(node.operand, t)
        return -inner if isinstance(node.op, ast.USub) else inner
    if isinstance(node, ast.BinOp) and type(node.op) in _BINARY:
        return _BINARY[type(node.op)](_value(node.left, t), _value(node.right, t))
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and not node.keywords:
        return _called(node.func.id, node.args, t)
    raise ValueError(f"has more than numbers, t, + - * / ^ and functions: {ast.unparse(node)[:40]}")


def _called(name: str, arguments: list[ast.expr], t: Floats) -> Floats:
    if name not in FUNCTIONS:
        raise ValueError(f"knows the functions {', '.join(FUNCTIONS)}; not {name[:30]}")
    wanted = 2 if name in TWO_ARGUMENTS else 1
    if len(arguments) != wanted:
        raise ValueError(f"{name} wants {wanted} value{'s' if wanted > 1 else ''} in brackets, not {len(arguments)}")
    return FUNCTIONS[name](*(_value(argument, t) for argument in arguments))
