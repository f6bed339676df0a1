"""Canned drilling cycles G81, G82, G83, G85 and G89, expanded into the moves they stand for.

Source  NIST IR 6556, canned cycles (from memory): rapid up to R if below it; rapid over the hole; rapid to R; the
        cycle's own moves; up to R (G99) or to the higher of R and the height before the cycle (G98). With G91, R
        is from the height now and Z from R, and repeats (L) step on. G83 comes up to R after each peck and goes
        back to 0.254 mm above the last bottom (of these, R and the 0.254 mm are the least certain).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .codes import Block, name_of_g
from .record import Record
from .state import State
from .trace import dwell, go_straight
from .wrong import Wrong

RAPID, FEED = 0, 1
PECK_BACK_OFF_MM = 0.254
EXPANDED = (810, 820, 830, 850, 890)
MOST_MOVES = 20_000  # that one line may come to

_FEEDS_OUT = (850, 890)
_DWELLS = (820, 890)


@dataclass(frozen=True)
class _Hole:
    """A cycle's heights, program frame, mm."""

    r_mm: float
    z_mm: float
    clear_mm: float
    peck_mm: float
    dwell_s: float


def run_cycle(code: int, block: Block, st: State, rec: Record, line: int) -> None:
    """Carry out one line of a cycle; Wrong where its words do not make one."""
    st.need_known((0, 1, 2))
    if code not in EXPANDED:
        raise Wrong(f"{name_of_g(code)} is not carried out here")
    if st.plane != 17:
        raise Wrong("a drilling cycle in another plane than G17 is not carried out here")
    if not st.per_minute:
        raise Wrong("a drilling cycle cannot run with feeds in inverse time (G93)")
    if not (block.has_axes):
        raise Wrong(f"{name_of_g(code)} needs X, Y or Z")
    repeats = _repeats(block)
    hole = _heights(code, block, st)
    _not_too_many(repeats, hole)
    _step(RAPID, st, rec, line, z=max(st.position[2], hole.r_mm))
    for _ in range(repeats):
        x, y = st.target(block, 0), st.target(block, 1)
        _step(RAPID, st, rec, line, x=x, y=y)
        _step(RAPID, st, rec, line, z=hole.r_mm)
        _act(code, hole, st, rec, line)
        _step(FEED if code in _FEEDS_OUT else RAPID, st, rec, line, z=_out(code, hole))
        _step(RAPID, st, rec, line, z=hole.clear_mm)


def _out(code: int, hole: _Hole) -> float:
    return hole.r_mm if code in _FEEDS_OUT else hole.clear_mm


def _repeats(block: Block) -> int:
    value = block.words.get("l", 1.0)
    repeats = round(value)
    if abs(value - repeats) > 1e-4 or not 1 <= repeats <= MOST_MOVES:
        raise Wrong(f"L{value:g} is no number of repeats")
    return repeats


def _heights(code: int, block: Block, st: State) -> _Hole:
    """R, Z, P and Q of this line, or those that the line before left in force."""
    words = block.words
    if st.absolute:
        r_mm = words["r"] * st.scale + st.offset[2] if "r" in words else st.cycle_r_mm
        z_mm = words["z"] * st.scale + st.offset[2] if "z" in words else st.cycle_z_mm
        st.cycle_r_mm, st.cycle_z_mm = r_mm, z_mm
    else:
        st.cycle_r_mm = words["r"] * st.scale if "r" in words else st.cycle_r_mm
        st.cycle_z_mm = words["z"] * st.scale if "z" in words else st.cycle_z_mm
        r_mm = None if st.cycle_r_mm is None else st.position[2] + st.cycle_r_mm
        z_mm = None if r_mm is None or st.cycle_z_mm is None else r_mm + st.cycle_z_mm
    if r_mm is None or z_mm is None:
        raise Wrong(f"{name_of_g(code)} needs both Z and R on its first line")
    if r_mm < z_mm:
        raise Wrong("R lies below Z")
    st.cycle_words.update({c: words[c] for c in "pq" if c in words})
    clear_mm = r_mm if st.retract_to_r else max(r_mm, st.position[2])
    return _Hole(r_mm, z_mm, clear_mm, _peck(code, st), _dwell_s(code, st))


def _peck(code: int, st: State) -> float:
    if code != 830:
        return 0.0
    peck_mm = st.cycle_words.get("q", 0.0) * st.scale
    if peck_mm <= 0:
        raise Wrong("G83 needs a peck Q above nought")
    return peck_mm


def _not_too_many(repeats: int, hole: _Hole) -> None:
    pecks = (hole.r_mm - hole.z_mm) / hole.peck_mm if hole.peck_mm else 1.0
    if repeats * (3 * pecks + 6) > MOST_MOVES:
        raise Wrong(f"the repeats (L) and pecks (Q) of this line come to more than {MOST_MOVES} moves")


def _dwell_s(code: int, st: State) -> float:
    if code not in _DWELLS:
        return 0.0
    if "p" not in st.cycle_words:
        raise Wrong(f"{name_of_g(code)} needs a dwell P")
    return st.cycle_words["p"]


def _act(code: int, hole: _Hole, st: State, rec: Record, line: int) -> None:
    if code != 830:
        _step(FEED, st, rec, line, z=hole.z_mm)
        if code in _DWELLS:
            dwell(hole.dwell_s, st, rec, line)
        return
    pecks = max(1, math.ceil((hole.r_mm - hole.z_mm) / hole.peck_mm - 1e-9))
    for peck in range(1, pecks + 1):
        bottom_mm = hole.z_mm if peck == pecks else hole.r_mm - peck * hole.peck_mm
        _step(FEED, st, rec, line, z=bottom_mm)
        if peck < pecks:
            _step(RAPID, st, rec, line, z=hole.r_mm)
            _step(RAPID, st, rec, line, z=min(hole.r_mm, bottom_mm + PECK_BACK_OFF_MM))


def _step(motion: int, st: State, rec: Record, line: int, **to_mm: float) -> None:
    place = [to_mm.get(axis, here) for axis, here in zip("xyz", st.position)]
    go_straight(motion, place, st, rec, line, (True, True, True))
