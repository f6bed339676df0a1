"""Straight moves, arcs and dwells: from words and modes to rows of the motion table.

Source  NIST IR 6556, linear motion and arcs (from memory): centre words I J K are from the start of the arc; an arc
        whose ends lie at radii more than 0.002 mm (0.0002 inch) apart is an error; equal ends make a full circle;
        R above nought goes round less than half a turn, R below nought more.
"""

from __future__ import annotations

import math

from witnessmark.job.errors import refuse

from .codes import Block
from .compensate import Corner, Leg, compensated
from .motion import ARC_BY_RADIUS, DWELL, PROBE, RAPID, Place
from .record import MOST_MOTIONS, NO_CENTRE, Record
from .state import State
from .wrong import Wrong

RADIUS_SLACK_MM = 0.002
RADIUS_SLACK_INCH_MM = 0.0002 * 25.4
FARTHEST_MM = 1e6
LEAST_PROBE_MM = 0.254
PROBED = 5061  # the parameters that hold where a probe was stopped

PLANE_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}  # first, second and normal axis, right-handed


def go_straight(motion: int, to_mm: list[float], st: State, rec: Record, line: int, told: tuple[bool, ...]) -> None:
    """G0 or G1 (0 or 1) to a place; ``told`` says which axes the line gives. Sets the position."""
    _within_reason(to_mm)
    rapid = motion == RAPID
    length_mm = math.dist(st.position, to_mm)
    feed_mm_min = float("nan") if rapid else _feed(st, length_mm)
    if not st.everywhere_known:
        _first_moves(rapid, to_mm, st, rec, line, told)
        return
    if to_mm != st.position:
        _add(motion, to_mm, st, rec, line, feed_mm_min, NO_CENTRE)
    st.position = list(to_mm)


def _first_moves(rapid: bool, to_mm: list[float], st: State, rec: Record, line: int, told: tuple[bool, ...]) -> None:
    """Moves before the place is known on every axis: nothing can be recorded, but the place is being learned."""
    if not rapid:
        st.need_known((0, 1, 2))
    if not st.known[2] and (told[0] or told[1]):
        rec.remark(line, "X or Y moves before the cutter has been raised to a known Z", "note")
    st.position = list(to_mm)
    st.known = [known or said for known, said in zip(st.known, told)]
    if st.everywhere_known:
        for row in st.waiting:
            rec.columns["start_mm"][row] = rec.columns["end_mm"][row] = st.position
        st.waiting.clear()


def go_round(motion: int, block: Block, st: State, rec: Record, line: int) -> None:
    """G2 or G3 (2 or 3) with the line's words; Wrong where it is no arc."""
    st.need_known((0, 1, 2))
    first, second, _ = PLANE_AXES[st.plane]
    to_mm = [st.target(block, axis) for axis in range(3)]
    _within_reason(to_mm)
    own = tuple("ijk"[axis] for axis in (first, second))
    foreign = next((c for c in "ijk" if c in block.words and c not in own), None)
    if foreign:
        raise Wrong(f"{foreign.upper()} belongs to no arc in the plane G{st.plane}")
    if "r" in block.words:
        if any(c in block.words for c in own):
            raise Wrong("an arc takes R or centre words, not both")
        rec.use(ARC_BY_RADIUS, line)
        centre_mm = _centre_by_radius(motion, to_mm, block.words["r"] * st.scale, st)
    elif any(c in block.words for c in own):
        centre_mm = list(st.position)
        for axis in (first, second):
            centre_mm[axis] += block.words.get("ijk"[axis], 0.0) * st.scale
        centre_mm = _checked(centre_mm, to_mm, st)
    else:
        raise Wrong("an arc needs centre words or R")
    if not any("xyz"[axis] in block.words for axis in (first, second)):
        raise Wrong(f"an arc needs at least one end word of its plane G{st.plane}")
    length_mm = arc_length_mm(motion, st.position, to_mm, centre_mm, st.plane)
    _add(motion, to_mm, st, rec, line, _feed(st, length_mm), (centre_mm[0], centre_mm[1], centre_mm[2]))
    st.position = to_mm


def dwell(seconds: float, st: State, rec: Record, line: int) -> None:
    """G4: the cutter stands still. Before the place is known it is recorded where the first known place will be."""
    if seconds < 0:
        raise Wrong("a dwell (P) cannot be negative")
    here = (st.position[0], st.position[1], st.position[2])
    if st.side:
        leg = Leg(DWELL, here, here, NO_CENTRE[:2], line, math.nan, st.spindle_rpm, st.cutter, seconds)
        keep_leg(leg, st)
        return
    rec.add(DWELL, here, here, line, spindle_rpm=st.spindle_rpm, cutter=st.cutter, dwell_s=seconds)
    if not st.everywhere_known:
        st.waiting.append(rec.count - 1)


def probe(to_mm: list[float], st: State, rec: Record, line: int) -> None:
    """G38.2: towards a place until something is touched; where that is only the machine knows."""
    st.need_known((0, 1, 2))
    _within_reason(to_mm)
    if math.dist(st.position, to_mm) < LEAST_PROBE_MM:
        raise Wrong(f"G38.2 starts closer than {LEAST_PROBE_MM:g} mm to where it is to go")
    _add(PROBE, to_mm, st, rec, line, st.feed_mm_min, NO_CENTRE)
    rec.remark(line, "G38.2 is read as if nothing were touched: only the machine knows where", "note")
    st.position = list(to_mm)
    for axis in range(3):
        st.parameters[PROBED + axis] = (to_mm[axis] - st.offset[axis]) / st.scale


def keep_leg(leg: Leg, st: State) -> None:
    """One more leg of the contour; Refusal past the most motions that are read."""
    if len(st.legs) >= MOST_MOTIONS:
        raise refuse("program", f"a contour comes to more than {MOST_MOTIONS} motions", "split it")
    st.legs.append(leg)


def finish_contour(st: State, rec: Record) -> None:
    """G40, or the end: the contour is whole, and the way of the cutter's middle along it is recorded."""
    if not st.side:
        return
    legs, side, st.side, st.legs = st.legs, st.side, 0, []
    try:
        done = compensated(legs, st.middle, side, st.radius_mm)
    except Corner as corner:
        rec.remark(corner.line, str(corner))
        return
    for leg in done:
        centre = (leg.centre[0], leg.centre[1], leg.start[2]) if leg.is_arc else NO_CENTRE
        rec.add(
            leg.motion,
            leg.start,
            leg.end,
            leg.line,
            centre=centre,
            feed_mm_min=leg.feed_mm_min,
            spindle_rpm=leg.spindle_rpm,
            cutter=leg.cutter,
            dwell_s=leg.dwell_s,
        )
    if done:
        st.position = list(done[-1].end)


def sweep_rad(motion: int, start_mm: list[float], to_mm: list[float], centre_mm: list[float], plane: int) -> float:
    """The angle an arc turns through, above 0 and at most a full turn."""
    a, b, _ = PLANE_AXES[plane]
    if start_mm[a] == to_mm[a] and start_mm[b] == to_mm[b]:
        return math.tau
    begin = math.atan2(start_mm[b] - centre_mm[b], start_mm[a] - centre_mm[a])
    end = math.atan2(to_mm[b] - centre_mm[b], to_mm[a] - centre_mm[a])
    turned = (end - begin) if motion == 3 else (begin - end)
    return turned % math.tau or math.tau


def arc_length_mm(
    motion: int, start_mm: list[float], to_mm: list[float], centre_mm: list[float], plane: int
) -> float:
    a, b, normal = PLANE_AXES[plane]
    radius_mm = math.hypot(start_mm[a] - centre_mm[a], start_mm[b] - centre_mm[b])
    return math.hypot(
        radius_mm * sweep_rad(motion, start_mm, to_mm, centre_mm, plane), to_mm[normal] - start_mm[normal]
    )


def radius_slack_mm(st: State) -> float:
    return RADIUS_SLACK_MM if st.scale == 1.0 else RADIUS_SLACK_INCH_MM


def _checked(centre_mm: list[float], to_mm: list[float], st: State) -> list[float]:
    a, b, _ = PLANE_AXES[st.plane]
    at_start_mm = math.hypot(st.position[a] - centre_mm[a], st.position[b] - centre_mm[b])
    at_end_mm = math.hypot(to_mm[a] - centre_mm[a], to_mm[b] - centre_mm[b])
    if at_start_mm == 0.0:
        raise Wrong("the centre of the arc lies at its start")
    apart_mm = abs(at_start_mm - at_end_mm)
    if apart_mm > radius_slack_mm(st):
        raise Wrong(
            f"this is no arc: its start lies {at_start_mm:.4f} mm from the centre and its end {at_end_mm:.4f} mm"
        )
    return centre_mm


def _centre_by_radius(motion: int, to_mm: list[float], radius_mm: float, st: State) -> list[float]:
    """The centre for an R word: on the bisector of the ends, left or right of it by way round and sign."""
    a, b, _ = PLANE_AXES[st.plane]
    chord_a, chord_b = to_mm[a] - st.position[a], to_mm[b] - st.position[b]
    chord_mm = math.hypot(chord_a, chord_b)
    if chord_mm == 0.0:
        raise Wrong("an arc with R cannot end where it starts")
    short_mm = chord_mm / 2 - abs(radius_mm)
    if short_mm > radius_slack_mm(st):
        raise Wrong(f"R is too small: the ends lie {chord_mm:.4f} mm apart")
    height_mm = math.sqrt(max(radius_mm**2 - (chord_mm / 2) ** 2, 0.0))
    left = (motion == 3) == (radius_mm > 0)
    sign = 1.0 if left else -1.0
    centre_mm = list(st.position)
    centre_mm[a] += chord_a / 2 - sign * height_mm * chord_b / chord_mm
    centre_mm[b] += chord_b / 2 + sign * height_mm * chord_a / chord_mm
    return centre_mm


def _feed(st: State, length_mm: float) -> float:
    if st.per_minute:
        return st.feed_mm_min
    return st.feed_word * length_mm


def _within_reason(to_mm: list[float]) -> None:
    if not all(abs(c) <= FARTHEST_MM for c in to_mm):
        raise Wrong("the move goes more than a kilometre away")


def _add(
    motion: int, to_mm: list[float], st: State, rec: Record, line: int, feed_mm_min: float, centre_mm: Place
) -> None:
    x, y, z = st.position
    if st.side:
        leg = Leg(
            motion,
            (x, y, z),
            (to_mm[0], to_mm[1], to_mm[2]),
            (centre_mm[0], centre_mm[1]),
            line,
            feed_mm_min,
            st.spindle_rpm,
            st.cutter,
            per_minute=math.nan if st.per_minute or motion == RAPID else st.feed_word,
        )
        keep_leg(leg, st)
        return
    rec.add(
        motion,
        (x, y, z),
        (to_mm[0], to_mm[1], to_mm[2]),
        line,
        centre=centre_mm,
        plane=st.plane,
        feed_mm_min=feed_mm_min,
        spindle_rpm=st.spindle_rpm,
        cutter=st.cutter,
    )
