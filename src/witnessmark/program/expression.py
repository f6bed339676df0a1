"""Values in a line: numbers, parameters (#n), expressions in brackets and functions of them.

Units   angles of functions in degrees; everything else is whatever the word says
Method  precedence: ** first; then * / MOD; then + - AND OR XOR; left to right within each
Source  NIST IR 6556, expressions and unary operations (from memory)
Refuses a parameter that was never set, division by nought, a value that is not finite, nesting beyond 40
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from .number import number_at
from .wrong import Wrong

DEEPEST = 40
LARGEST = 1e12

_POWER = ("**",)
_TIMES = ("*", "/", "mod")
_PLUS = ("+", "-", "and", "or", "xor")
_RANK = {**dict.fromkeys(_POWER, 3), **dict.fromkeys(_TIMES, 2), **dict.fromkeys(_PLUS, 1)}
_OPERATORS = ("**", "*", "/", "mod", "+", "-", "and", "xor", "or")


def _modulo(a: float, b: float) -> float:
    left = math.fmod(a, b)
    return left + abs(b) if left < 0 else left


_BINARY: dict[str, Callable[[float, float], float]] = {
    "**": math.pow,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "mod": _modulo,
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "and": lambda a, b: float(a != 0 and b != 0),
    "or": lambda a, b: float(a != 0 or b != 0),
    "xor": lambda a, b: float((a != 0) != (b != 0)),
}

_UNARY: dict[str, Callable[[float], float]] = {
    "abs": abs,
    "acos": lambda v: math.degrees(math.acos(v)),
    "asin": lambda v: math.degrees(math.asin(v)),
    "cos": lambda v: math.cos(math.radians(v)),
    "exp": math.exp,
    "fix": lambda v: float(math.floor(v)),
    "fup": lambda v: float(math.ceil(v)),
    "ln": math.log,
    "round": lambda v: math.copysign(math.floor(abs(v) + 0.5), v),
    "sin": lambda v: math.sin(math.radians(v)),
    "sqrt": math.sqrt,
    "tan": lambda v: math.tan(math.radians(v)),
}


def value_at(text: str, at: int, parameters: Mapping[int, float], depth: int = 0) -> tuple[float, int]:
    """The value that starts at ``at`` in lower-case text without spaces, and the index after it."""
    if depth > DEEPEST:
        raise Wrong(f"brackets or parameters are nested more than {DEEPEST} deep")
    number = number_at(text, at)
    if number is not None:
        return _sane(number[0]), number[1]
    if text.startswith("#", at):
        index, after = value_at(text, at + 1, parameters, depth + 1)
        return _parameter(index, parameters), after
    if text.startswith("[", at):
        return _bracket(text, at, parameters, depth)
    if text.startswith("atan", at):
        return _arc_tangent(text, at + 4, parameters, depth)
    for name, function in _UNARY.items():
        if text.startswith(name, at):
            argument, after = _bracket(text, at + len(name), parameters, depth)
            return _worked_out(name, function, argument), after
    raise Wrong(f"a number is missing {_before(text, at)}")


def parameter_index(value: float) -> int:
    """A parameter's number, 1 to 5399."""
    index = round(value)
    if abs(value - index) > 1e-4 or not 1 <= index <= 5399:
        raise Wrong(f"#{value:g} is no parameter: their numbers run from 1 to 5399")
    return index


def _parameter(value: float, parameters: Mapping[int, float]) -> float:
    index = parameter_index(value)
    if index not in parameters:
        raise Wrong(f"parameter #{index} is used, and neither the program nor you gave it a value")
    return parameters[index]


def _bracket(text: str, at: int, parameters: Mapping[int, float], depth: int) -> tuple[float, int]:
    if not text.startswith("[", at):
        raise Wrong(f"a bracket [ is missing {_before(text, at)}")
    value, at = _chain(text, at + 1, parameters, depth + 1, 1)
    if not text.startswith("]", at):
        raise Wrong(f"a bracket [ is not closed {_before(text, at)}")
    return value, at + 1


def _chain(text: str, at: int, parameters: Mapping[int, float], depth: int, rank: int) -> tuple[float, int]:
    """Values joined by operators of at least this rank, left to right."""
    left, at = value_at(text, at, parameters, depth)
    while True:
        name = next((name for name in _OPERATORS if text.startswith(name, at)), None)
        if name is None or _RANK[name] < rank:
            return left, at
        right, at = _chain(text, at + len(name), parameters, depth, _RANK[name] + 1)
        left = _worked_out(name, _BINARY[name], left, right)


def _arc_tangent(text: str, at: int, parameters: Mapping[int, float], depth: int) -> tuple[float, int]:
    """ATAN[y]/[x], degrees."""
    y, at = _bracket(text, at, parameters, depth)
    if not text.startswith("/", at):
        raise Wrong("ATAN needs two bracketed values: ATAN[y]/[x]")
    x, at = _bracket(text, at + 1, parameters, depth)
    return math.degrees(math.atan2(y, x)), at


def _worked_out(name: str, function: Callable[..., float], *values: float) -> float:
    try:
        return _sane(function(*values))
    except (ValueError, ZeroDivisionError, OverflowError) as fault:
        if isinstance(fault, Wrong):
            raise
        raise Wrong(f"{name.upper()} cannot be worked out here: {fault}") from None


def _sane(value: float) -> float:
    if not abs(value) <= LARGEST:
        raise Wrong(f"the value {value:g} is beyond anything a machine can mean")
    return value


def _before(text: str, at: int) -> str:
    return f"after '{text[:at][-12:].upper()}'" if at else "at the start of the line"
