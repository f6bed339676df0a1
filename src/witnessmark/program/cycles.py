"""Canned cycles G81 to G89, expanded into the moves they stand for.

Source  NIST IR 6556, canned cycles (from memory): rapid up to R if below it; rapid over the hole; rapid to R; the
        cycle's own moves; up to R (G99) or to the higher of R and the height before the cycle (G98). With G91, R
        is from the height now and Z from R, and repeats (L) step on. G83 comes up to R after each peck and goes
        back to 0.254 mm above the last bottom (of these, R and the 0.254 mm are the least certain). In G18 and G19
        the hole runs along the axis that stands on the plane.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from .codes import Block, name_of_g
from .record import Record
from .state import State
from .trace import PLANE_AXES, dwell, go_straight
from .wrong import Wrong

RAPID, FEED = 0, 1
PECK_BACK_OFF_MM = 0.254
EXPANDED = (810, 820, 830, 840, 850, 860, 870, 880, 890)
MOST_MOVES = 20_000  # that one line may come to
MOVES_EACH = 12  # the most that one hole comes to, pecks apart

_DWELLS = (820, 860, 880, 890)
_TURNS_NEEDED = {840: (1,), 860: (1, -1), 870: (1, -1), 880: (1, -1)}


@dataclass(frozen=True)
class _Hole:
    """A cycle's heights along the hole's axis, program frame, mm; ``aside_mm``: I and J of a back bore."""

    axis: int
    r_mm: float
    z_mm: float
    clear_mm: float
    peck_mm: float = 0.0
    dwell_s: float = 0.0
    aside_mm: tuple[float, float] = (0.0, 0.0)
    top_mm: float = 0.0


@dataclass(frozen=True)
class _At:
    """Where the steps of a cycle are recorded."""

    st: State
    rec: Record
    line: int

    def to(self, motion: int, place_mm: dict[int, float]) -> None:
        """A straight move to these axes' places."""
        place = [place_mm.get(axis, here) for axis, here in enumerate(self.st.position)]
        go_straight(motion, place, self.st, self.rec, self.line, (True, True, True))

    def dwell(self, seconds: float) -> None:
        dwell(seconds, self.st, self.rec, self.line)


def run_cycle(code: int, block: Block, st: State, rec: Record, line: int) -> None:
    """Carry out one line of a cycle; Wrong where its words do not make one."""
    st.need_known((0, 1, 2))
    if not st.per_minute:
        raise Wrong("a drilling cycle cannot run with feeds in inverse time (G93)")
    if not (block.has_axes):
        raise Wrong(f"{name_of_g(code)} needs X, Y or Z")
    if code in _TURNS_NEEDED and st.spindle_way not in _TURNS_NEEDED[code]:
        how = "clockwise (M3)" if code == 840 else "(M3 or M4)"
        raise Wrong(f"{name_of_g(code)} needs the spindle turning {how}")
    repeats = _repeats(block)
    hole = _heights(code, block, st)
    _not_too_many(repeats, hole)
    first, second, axis = PLANE_AXES[st.plane]
    at = _At(st, rec, line)
    at.to(RAPID, {axis: max(st.position[axis], hole.r_mm)})
    for _ in range(repeats):
        at.to(RAPID, {first: st.target(block, first), second: st.target(block, second)})
        at.to(RAPID, {axis: hole.r_mm})
        _CYCLES[code](hole, at)
        at.to(RAPID, {axis: hole.clear_mm})


def _repeats(block: Block) -> int:
    value = block.words.get("l", 1.0)
    repeats = round(value)
    if abs(value - repeats) > 1e-4 or not 1 <= repeats <= MOST_MOVES:
        raise Wrong(f"L{value:g} is no number of repeats")
    return repeats


def _heights(code: int, block: Block, st: State) -> _Hole:
    """R, Z (or the plane's own axis), P and Q of this line, or those that the line before left in force."""
    words, axis = block.words, PLANE_AXES[st.plane][2]
    letter = "xyz"[axis]
    if st.absolute:
        r_mm = words["r"] * st.scale + st.offset[axis] if "r" in words else st.cycle_r_mm
        z_mm = words[letter] * st.scale + st.offset[axis] if letter in words else st.cycle_z_mm
        st.cycle_r_mm, st.cycle_z_mm = r_mm, z_mm
    else:
        st.cycle_r_mm = words["r"] * st.scale if "r" in words else st.cycle_r_mm
        st.cycle_z_mm = words[letter] * st.scale if letter in words else st.cycle_z_mm
        r_mm = None if st.cycle_r_mm is None else st.position[axis] + st.cycle_r_mm
        z_mm = None if r_mm is None or st.cycle_z_mm is None else r_mm + st.cycle_z_mm
    if r_mm is None or z_mm is None:
        raise Wrong(f"{name_of_g(code)} needs both {letter.upper()} and R on its first line")
    if r_mm < z_mm:
        raise Wrong(f"R lies below {letter.upper()}")
    st.cycle_words.update({c: words[c] for c in "ijkpq" if c in words})
    clear_mm = r_mm if st.retract_to_r else max(r_mm, st.position[axis])
    aside_mm, top_mm = _back_bore(code, z_mm, axis, st)
    return _Hole(axis, r_mm, z_mm, clear_mm, _peck(code, st), _dwell_s(code, st), aside_mm, top_mm)


def _peck(code: int, st: State) -> float:
    if code != 830:
        return 0.0
    peck_mm = st.cycle_words.get("q", 0.0) * st.scale
    if peck_mm <= 0:
        raise Wrong("G83 needs a peck Q above nought")
    return peck_mm


def _back_bore(code: int, z_mm: float, axis: int, st: State) -> tuple[tuple[float, float], float]:
    """How far aside G87 goes in, and how high it bores."""
    if code != 870:
        return (0.0, 0.0), 0.0
    words, plane = st.cycle_words, PLANE_AXES[st.plane]
    aside = "ijk"[plane[0]], "ijk"[plane[1]]
    up = "ijk"[axis]
    missing = [letter.upper() for letter in (*aside, up) if letter not in words]
    if missing:
        raise Wrong(f"G87 needs {' and '.join(missing)}: how far aside it goes in, and how high it bores")
    top_mm = words[up] * st.scale + (st.offset[axis] if st.absolute else z_mm)
    if top_mm < z_mm:
        raise Wrong(f"G87 bores upwards, and {up.upper()} lies below the bottom")
    return (words[aside[0]] * st.scale, words[aside[1]] * st.scale), top_mm


def _not_too_many(repeats: int, hole: _Hole) -> None:
    pecks = (hole.r_mm - hole.z_mm) / hole.peck_mm if hole.peck_mm else 1.0
    if repeats * (3 * pecks + MOVES_EACH) > MOST_MOVES:
        raise Wrong(f"the repeats (L) and pecks (Q) of this line come to more than {MOST_MOVES} moves")


def _dwell_s(code: int, st: State) -> float:
    if code not in _DWELLS:
        return 0.0
    if "p" not in st.cycle_words:
        raise Wrong(f"{name_of_g(code)} needs a dwell P")
    return st.cycle_words["p"]


def _drill(hole: _Hole, at: _At) -> None:
    at.to(FEED, {hole.axis: hole.z_mm})


def _drill_and_dwell(hole: _Hole, at: _At) -> None:
    _drill(hole, at)
    at.dwell(hole.dwell_s)


def _peck_drill(hole: _Hole, at: _At) -> None:
    pecks = max(1, math.ceil((hole.r_mm - hole.z_mm) / hole.peck_mm - 1e-9))
    for peck in range(1, pecks + 1):
        bottom_mm = hole.z_mm if peck == pecks else hole.r_mm - peck * hole.peck_mm
        at.to(FEED, {hole.axis: bottom_mm})
        if peck < pecks:
            at.to(RAPID, {hole.axis: hole.r_mm})
            at.to(RAPID, {hole.axis: min(hole.r_mm, bottom_mm + PECK_BACK_OFF_MM)})


def _tap(hole: _Hole, at: _At) -> None:
    _drill(hole, at)
    at.st.spindle_way = -1
    at.to(FEED, {hole.axis: hole.r_mm})
    at.st.spindle_way = 1


def _bore(hole: _Hole, at: _At) -> None:
    _drill(hole, at)
    at.to(FEED, {hole.axis: hole.r_mm})


def _bore_and_stop(hole: _Hole, at: _At) -> None:
    way = at.st.spindle_way
    _drill_and_dwell(hole, at)
    at.st.spindle_way = 0
    at.to(RAPID, {hole.axis: hole.clear_mm})
    at.st.spindle_way = way


def _bore_back(hole: _Hole, at: _At) -> None:
    """In beside the hole with the spindle held, up in the hole, and out the way it came."""
    way = at.st.spindle_way
    first, second, axis = PLANE_AXES[at.st.plane]
    over = {first: at.st.position[first], second: at.st.position[second]}
    aside = {first: over[first] + hole.aside_mm[0], second: over[second] + hole.aside_mm[1]}
    at.st.spindle_way = 0
    at.to(RAPID, aside)
    at.to(RAPID, {axis: hole.z_mm})
    at.to(RAPID, over)
    at.st.spindle_way = way
    at.to(FEED, {axis: hole.top_mm})
    at.to(FEED, {axis: hole.z_mm})
    at.st.spindle_way = 0
    at.to(RAPID, aside)
    at.to(RAPID, {axis: hole.clear_mm})
    at.to(RAPID, over)
    at.st.spindle_way = way


def _bore_and_wait(hole: _Hole, at: _At) -> None:
    way = at.st.spindle_way
    _drill_and_dwell(hole, at)
    at.st.spindle_way = 0
    at.rec.remark(at.line, "after G88 the cutter is brought up by hand: it is read as a move straight up", "note")
    at.to(RAPID, {hole.axis: hole.clear_mm})
    at.st.spindle_way = way


def _bore_and_dwell(hole: _Hole, at: _At) -> None:
    _drill_and_dwell(hole, at)
    at.to(FEED, {hole.axis: hole.r_mm})


_CYCLES: dict[int, Callable[[_Hole, _At], None]] = {
    810: _drill,
    820: _drill_and_dwell,
    830: _peck_drill,
    840: _tap,
    850: _bore,
    860: _bore_and_stop,
    870: _bore_back,
    880: _bore_and_wait,
    890: _bore_and_dwell,
}
