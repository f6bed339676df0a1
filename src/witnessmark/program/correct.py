"""A program rewritten for work that lies a little shifted and turned: the pose goes into its coordinates.

Question  what must the program say so that it cuts the same, where the work lies now
Frame     program frame: what lay at q under the plan lies at R(turn) (q - shift) + shift + d now
Units     mm, radians
Method    line by line, from the text: places and arc centres are turned and shifted, rounded once to the text's own
          decimals; all else stays as it is. A turned arc's centre is the one of the nine roundings nearest to its own
          that leaves start and end at the most equal radius
Source    NIST IR 6556 for the words (from memory); plane geometry
Valid     absolute places in the XY plane, one unit throughout, no parameters: as this project writes programs. Within
          half a decimal of the turned place
Refuses   anything else, with its line (Refusal)
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from witnessmark.job.errors import refuse
from witnessmark.job.units import MM_PER_INCH

from .grammar import Line, parse_line
from .number import shown_count
from .wrong import Wrong

WITHOUT_PLACES = {0, 1, 2, 3, 4, 17, 20, 21, 40, 49, 54, 80, 90, 94, 98, 99, *range(81, 90)}
Words = dict[str, list[float]]

REMEDY = "write the program again from the plan, for this machine"


@dataclass
class _State:
    """Where the program is: planned place, and what the line before wrote."""

    scale_mm: float = 1.0
    x_mm: float = math.nan
    y_mm: float = math.nan
    motion: int = 0
    at: tuple[int, int] = (0, 0)
    known: bool = False
    written: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Pose:
    """How the work lies against the plan: ``dx_mm``, ``dy_mm``, ``turn_rad`` about the standing frame's origin."""

    dx_mm: float
    dy_mm: float
    turn_rad: float


def corrected(text: str, shift_mm: tuple[float, float], pose: Pose, decimals: int, file: str = "program") -> str:
    """The program for the pose; ``shift_mm`` is that of its placement (standing frame to program frame)."""
    state = _State()
    ends = text.endswith("\n")
    for number, raw in enumerate(text.splitlines(), 1):
        try:
            state.written.append(_line(raw, state, shift_mm, pose, decimals))
        except Wrong as wrong:
            raise refuse(f"{file}:{number}", f"cannot be corrected: {wrong}", REMEDY) from None
    return "\n".join(state.written) + ("\n" if ends else "")


def _line(raw: str, state: _State, shift_mm: tuple[float, float], pose: Pose, decimals: int) -> str:
    line = parse_line(raw, {})
    if line.worked_out or line.settings:
        raise Wrong("it holds parameters")
    if not line.words:
        return raw
    words = _by_letter(line)
    for g in words.get("g", []):
        if g not in WITHOUT_PLACES:
            raise Wrong(f"G{g:g} is not among the words that are understood here")
        if g in (20, 21):
            if state.known:
                raise Wrong("it changes its unit on the way")
            state.scale_mm = MM_PER_INCH if g == 20 else 1.0
        if g in (0, 1, 2, 3) or 80 <= g <= 89:
            state.motion = int(g)
    if not any(letter in words for letter in "xyij"):
        return raw
    return _moved(raw, line, words, state, shift_mm, pose, decimals)


def _by_letter(line: Line) -> Words:
    words: Words = {}
    for letter, value in line.words:
        words.setdefault(letter, []).append(value)
    return words


def _moved(
    raw: str,
    line: Line,
    words: Words,
    state: _State,
    shift_mm: tuple[float, float],
    pose: Pose,
    decimals: int,
) -> str:
    """The line with its places turned and shifted."""
    scale = state.scale_mm
    before = (state.x_mm, state.y_mm, state.at)
    if "x" in words:
        state.x_mm = words["x"][0] * scale
    if "y" in words:
        state.y_mm = words["y"][0] * scale
    if math.isnan(state.x_mm) or math.isnan(state.y_mm):
        raise Wrong("it goes along one axis before the place on the other is known")
    step_mm = 10.0**-decimals * scale
    state.at = _counts(_carried(state.x_mm, state.y_mm, shift_mm, pose), step_mm)
    new = {"x": shown_count(state.at[0], decimals), "y": shown_count(state.at[1], decimals)}
    state.known = True
    if "i" in words or "j" in words:
        if "x" not in words and "y" not in words:
            raise Wrong("an arc names no place to go to")
        if math.isnan(before[0]) or math.isnan(before[1]):
            raise Wrong("an arc begins where the place is not known")
        centre = (before[0] + words.get("i", [0.0])[0] * scale, before[1] + words.get("j", [0.0])[0] * scale)
        i, j = _centre(_carried(*centre, shift_mm, pose), before[2], state.at, step_mm)
        new |= {"i": shown_count(i, decimals), "j": shown_count(j, decimals)}
    return _put_together(raw, line, new)


def _carried(x_mm: float, y_mm: float, shift_mm: tuple[float, float], pose: Pose) -> tuple[float, float]:
    c, s = math.cos(pose.turn_rad), math.sin(pose.turn_rad)
    x, y = x_mm - shift_mm[0], y_mm - shift_mm[1]
    return (c * x - s * y + shift_mm[0] + pose.dx_mm, s * x + c * y + shift_mm[1] + pose.dy_mm)


def _counts(place_mm: tuple[float, float], step_mm: float) -> tuple[int, int]:
    return (round(place_mm[0] / step_mm), round(place_mm[1] / step_mm))


def _centre(
    centre_mm: tuple[float, float], start: tuple[int, int], end: tuple[int, int], step_mm: float
) -> tuple[int, int]:
    """The centre's counts from the start: of those near it, the ones that make both radii the most equal."""
    x, y = centre_mm[0] / step_mm, centre_mm[1] / step_mm

    def unequal(place: tuple[int, int]) -> tuple[float, float]:
        radii = [math.hypot(p[0] - place[0], p[1] - place[1]) for p in (start, end)]
        return (round(abs(radii[0] - radii[1]), 6), math.hypot(place[0] - x, place[1] - y))

    near = [(round(x) + a, round(y) + b) for a in (-1, 0, 1) for b in (-1, 0, 1)]
    best = min(near, key=unequal)
    return (best[0] - start[0], best[1] - start[1])


def _put_together(raw: str, line: Line, new: dict[str, str]) -> str:
    """The line again: its words in their order, with X and Y (and I and J) in the place of the first of them."""
    number = raw.split(None, 1)[0] if raw[:1] in "Nn" else ""
    out, placed, centred = [number] if number else [], False, False
    if line.slashed:
        raise Wrong("it may be left out by a switch (block delete)")
    for letter, value in line.words:
        if letter in "xy":
            if not placed:
                out += [f"X{new['x']}", f"Y{new['y']}"]
                placed = True
        elif letter in "ij":
            if not centred:
                out += [f"I{new['i']}", f"J{new['j']}"]
                centred = True
        else:
            out.append(f"{letter.upper()}{_as_written(value)}")
    return " ".join([*out, *(f"({comment})" for comment in line.comments)])


def _as_written(value_c: float) -> str:
    """A word's number, to as many figures as programs have."""
    return f"{value_c:.6f}".rstrip("0").rstrip(".")
