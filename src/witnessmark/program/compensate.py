"""Cutter radius compensation: the path of the cutter's middle that keeps its edge on a programmed contour.

Question  where does the cutter's middle go while G41 (cutter left of the contour) or G42 (right) is in force?
Frame     program frame, plane G17; heights follow the programmed legs
Units     mm
Arrays    none: a list of legs in, a list of legs out
Method    every leg is moved aside by the radius. Where the contour turns away from the cutter an arc about the corner
          joins two legs; where it turns towards it both end where their paths meet. The way in: a line comes to touch
          the contour's first point along the tangent from there to the circle round the cutter; an arc stays about
          its own centre, which asks that the cutter already touches it
Source    NIST IR 6556, appendix on cutter radius compensation (from memory). There a corner that turns towards the
          cutter is an error; here it is carried out wherever the cutter fits into it
Valid     exact: lines stay lines and arcs arcs
Refuses   Wrong, with the leg's line: a cutter that does not fit into a corner, a rapid round one, an arc tighter than
          the cutter, a way in too short. That a leg farther along the contour is cut into is not seen here: the proof
          sees it
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from .motion import Place
from .wrong import Wrong

CLOCKWISE, COUNTER_CLOCKWISE = 2, 3
SAME_MM = 1e-6  # ends this near are one
STRAIGHT_MM = 0.002  # a corner at which the middle would step less is none: rounding, as in the ends of an arc

Point = tuple[float, float]


@dataclass(frozen=True)
class Leg:
    """One programmed motion (0 rapid, 1 line, 2 or 3 arc about ``centre``: its x and y), with what is in force."""

    motion: int
    start: Place
    end: Place
    centre: Point
    line: int
    feed_mm_min: float
    spindle_rpm: float
    cutter: int
    dwell_s: float = 0.0
    per_minute: float = math.nan  # F of a move in inverse time: the whole of it takes 1/F minute

    @property
    def is_arc(self) -> bool:
        return self.motion in (CLOCKWISE, COUNTER_CLOCKWISE)

    @property
    def level_mm(self) -> float:
        """How far it goes in the plane: 0 for a move straight up or down, and for a dwell."""
        if self.is_arc:
            return _radius(self) * _sweep(self)
        return math.dist(self.start[:2], self.end[:2])


class Corner(Wrong):
    """What is wrong, and the line of the leg it is wrong with."""

    def __init__(self, line: int, what: str) -> None:
        super().__init__(what)
        self.line = line


def compensated(legs: list[Leg], middle: Point, side: int, radius_mm: float) -> list[Leg]:
    """The legs of the cutter's middle, from ``middle`` on; ``side`` 1: left of the contour, -1: right of it.

    Legs straight up or down and dwells stay where the middle then is.
    """
    level = [leg for leg in legs if leg.level_mm > SAME_MM]
    beside: list[list[Leg]] = []
    for number, leg in enumerate(level):
        aside = _way_in(leg, middle, side, radius_mm) if number == 0 else _aside(leg, side, radius_mm)
        if number == 0:
            beside.append([aside])
            continue
        came = _way(beside[0][0]) if number == 1 and not level[0].is_arc else _tangent(level[number - 1], leg.start)
        beside.append(_joined(beside[-1], came, leg, aside, side, radius_mm))
    for leg, parts in zip(level, beside):
        _not_turned_back(leg, parts[-1])
    return _in_order(legs, level, beside, middle)


def _in_order(legs: list[Leg], level: list[Leg], beside: list[list[Leg]], middle: Point) -> list[Leg]:
    """The legs as they come, those without way in the plane put where the middle is by then."""
    out: list[Leg] = []
    here, z_mm, k = middle, legs[0].start[2] if legs else 0.0, 0
    for leg in legs:
        if k < len(level) and leg is level[k]:
            parts = []
            for part in beside[k]:
                last = part is beside[k][-1]
                whole_turn = part.is_arc and part.start[:2] == part.end[:2]
                end = here if whole_turn else (part.end[0], part.end[1])
                end_z_mm = leg.end[2] if last else z_mm
                parts.append(replace(part, start=(*here, z_mm), end=(*end, end_z_mm)))
                here, z_mm = end, end_z_mm
            out += _timed(parts)
            k += 1
        else:
            out.append(replace(leg, start=(*here, z_mm), end=(*here, leg.end[2])))
            z_mm = leg.end[2]
    return out


def _timed(parts: list[Leg]) -> list[Leg]:
    """In inverse time F is for the whole move, the way round its corner included."""
    if math.isnan(parts[0].per_minute):
        return parts
    whole_mm = sum(math.hypot(part.level_mm, part.end[2] - part.start[2]) for part in parts)
    return [replace(part, feed_mm_min=part.per_minute * whole_mm) for part in parts]


def _way_in(leg: Leg, middle: Point, side: int, radius_mm: float) -> Leg:
    """The first leg, from where the middle is."""
    goal = (leg.end[0], leg.end[1])
    if leg.is_arc:
        aside = _aside(leg, side, radius_mm)
        off_mm = abs(math.dist(middle, leg.centre) - _radius(aside))
        if off_mm > 0.002:
            raise Corner(
                leg.line, f"the way in is an arc, and the cutter does not touch it: it is {off_mm:.3f} mm off"
            )
        return replace(aside, start=(*middle, leg.start[2]))
    away_mm = math.dist(middle, goal)
    if away_mm <= radius_mm + SAME_MM:
        raise Corner(leg.line, f"the way in is {away_mm:.3f} mm, no longer than the cutter's radius {radius_mm:g} mm")
    toward = ((goal[0] - middle[0]) / away_mm, (goal[1] - middle[1]) / away_mm)
    sine = radius_mm / away_mm
    along = _turned(toward, side * sine, math.sqrt(1.0 - sine * sine))
    end = (goal[0] - side * radius_mm * along[1], goal[1] + side * radius_mm * along[0])
    return replace(leg, start=(*middle, leg.start[2]), end=(*end, leg.end[2]))


def _aside(leg: Leg, side: int, radius_mm: float) -> Leg:
    """The leg moved aside by the radius."""
    ends = []
    if leg.is_arc:
        inside = side if leg.motion == COUNTER_CLOCKWISE else -side
        now_mm = _radius(leg)
        then_mm = now_mm - inside * radius_mm
        if then_mm < SAME_MM:
            raise Corner(
                leg.line, f"the arc's radius {now_mm:.3f} mm is no larger than the cutter's {radius_mm:g} mm"
            )
        for place in (leg.start, leg.end):
            ends.append(
                (
                    leg.centre[0] + (place[0] - leg.centre[0]) * then_mm / now_mm,
                    leg.centre[1] + (place[1] - leg.centre[1]) * then_mm / now_mm,
                    place[2],
                )
            )
    else:
        x, y = _tangent(leg, leg.start)
        for place in (leg.start, leg.end):
            ends.append((place[0] - side * radius_mm * y, place[1] + side * radius_mm * x, place[2]))
    return replace(leg, start=ends[0], end=ends[1])


def _joined(before: list[Leg], came: Point, now: Leg, aside: Leg, side: int, radius_mm: float) -> list[Leg]:
    """What leads from the path before, which comes to the corner in direction ``came``, along the leg ``now``: the
    way round the corner, if any, and the leg. Where they meet earlier the path before is cut off there."""
    corner = (now.start[0], now.start[1])
    goes = _tangent(now, now.start)
    sine, cosine = came[0] * goes[1] - came[1] * goes[0], came[0] * goes[0] + came[1] * goes[1]
    straight = abs(sine) * radius_mm <= STRAIGHT_MM
    if straight and cosine > 0.0:
        return [aside]
    if side * sine < 0.0 or straight:
        if aside.motion == 0:
            raise Corner(now.line, "a rapid begins at a corner that the cutter has to go round: cut there at a feed")
        round_it = CLOCKWISE if side > 0 else COUNTER_CLOCKWISE
        arc = replace(aside, motion=round_it, start=before[-1].end, end=aside.start, centre=corner)
        return [arc, aside]
    meeting = _meeting(before[-1], aside, corner)
    if meeting is None:
        raise Corner(now.line, f"the cutter's radius {radius_mm:g} mm does not fit into the corner where it begins")
    before[-1] = replace(before[-1], end=(*meeting, before[-1].end[2]))
    return [replace(aside, start=(*meeting, aside.start[2]))]


def _not_turned_back(leg: Leg, aside: Leg) -> None:
    """Wrong where corners at both ends take more of a leg than there is of it."""
    if leg.is_arc:
        gone = _sweep(aside) > _sweep(leg) + 1e-6
    else:
        x, y = aside.end[0] - aside.start[0], aside.end[1] - aside.start[1]
        gone = math.hypot(x, y) > SAME_MM and x * (leg.end[0] - leg.start[0]) + y * (leg.end[1] - leg.start[1]) < 0.0
    if gone:
        raise Corner(leg.line, "the cutter does not fit between the corners at both ends of this move")


def _meeting(one: Leg, two: Leg, corner: Point) -> Point | None:
    """Where two paths beside the contour meet, the place nearest to the corner; None where they do not."""
    places = [p for p in _crossings(one, two) if _along(one, p) and _along(two, p)]
    return min(places, key=lambda p: math.dist(p, corner), default=None)


def _crossings(one: Leg, two: Leg) -> list[Point]:
    """Where the whole lines or circles of two legs cross."""
    arcs = [leg for leg in (one, two) if leg.is_arc]
    if len(arcs) == 2:
        return _circles(one.centre, _radius(one), two.centre, _radius(two))
    if arcs:
        straight = two if arcs[0] is one else one
        return _line_and_circle((straight.start[0], straight.start[1]), _way(straight), arcs[0])
    a, b = _way(one), _way(two)
    sine = a[0] * b[1] - a[1] * b[0]
    if abs(sine) < 1e-12:
        return []
    x, y = two.start[0] - one.start[0], two.start[1] - one.start[1]
    t = (x * b[1] - y * b[0]) / sine
    return [(one.start[0] + t * a[0], one.start[1] + t * a[1])]


def _line_and_circle(start: Point, way: Point, arc: Leg) -> list[Point]:
    x, y = arc.centre[0] - start[0], arc.centre[1] - start[1]
    middle, off = x * way[0] + y * way[1], x * way[1] - y * way[0]
    half = _radius(arc) ** 2 - off**2
    if half < 0.0:
        return []
    return [
        (start[0] + t * way[0], start[1] + t * way[1]) for t in (middle - math.sqrt(half), middle + math.sqrt(half))
    ]


def _circles(a: Point, a_mm: float, b: Point, b_mm: float) -> list[Point]:
    apart = math.dist(a, b)
    if apart < 1e-12:
        return []
    along = (apart**2 + a_mm**2 - b_mm**2) / (2 * apart)
    half = a_mm**2 - along**2
    if half < 0.0:
        return []
    x, y = (b[0] - a[0]) / apart, (b[1] - a[1]) / apart
    foot, aside = (a[0] + along * x, a[1] + along * y), math.sqrt(half)
    return [(foot[0] - aside * y, foot[1] + aside * x), (foot[0] + aside * y, foot[1] - aside * x)]


def _along(leg: Leg, place: Point) -> bool:
    """Whether a place of the leg's own line or circle lies between its ends."""
    if leg.is_arc:
        so_far = replace(leg, end=(*place, leg.end[2]))
        at_start = math.dist(place, leg.start[:2]) <= SAME_MM
        return at_start or _sweep(so_far) <= _sweep(leg) + SAME_MM / max(_radius(leg), SAME_MM)
    x, y = _way(leg)
    t = (place[0] - leg.start[0]) * x + (place[1] - leg.start[1]) * y
    return -SAME_MM <= t <= math.dist(leg.start[:2], leg.end[:2]) + SAME_MM


def _way(leg: Leg) -> Point:
    way_mm = math.dist(leg.start[:2], leg.end[:2])
    if way_mm <= 0.0:
        return (1.0, 0.0)
    return ((leg.end[0] - leg.start[0]) / way_mm, (leg.end[1] - leg.start[1]) / way_mm)


def _radius(leg: Leg) -> float:
    return math.dist(leg.start[:2], leg.centre)


def _sweep(leg: Leg) -> float:
    """The angle an arc turns through, above 0 and at most a full turn."""
    if math.dist(leg.start[:2], leg.end[:2]) == 0.0:
        return math.tau
    begin = math.atan2(leg.start[1] - leg.centre[1], leg.start[0] - leg.centre[0])
    end = math.atan2(leg.end[1] - leg.centre[1], leg.end[0] - leg.centre[0])
    turned = (end - begin) if leg.motion == COUNTER_CLOCKWISE else (begin - end)
    return turned % math.tau or math.tau


def _tangent(leg: Leg, at: Place) -> Point:
    """The direction of travel at a place of the leg."""
    if leg.motion not in (CLOCKWISE, COUNTER_CLOCKWISE):
        return _way(leg)
    x, y = at[0] - leg.centre[0], at[1] - leg.centre[1]
    away_mm = math.hypot(x, y)
    return (-y / away_mm, x / away_mm) if leg.motion == COUNTER_CLOCKWISE else (y / away_mm, -x / away_mm)


def _turned(way: Point, sine_ratio: float, cosine_ratio: float) -> Point:
    s, c = sine_ratio, cosine_ratio
    return (way[0] * c - way[1] * s, way[0] * s + way[1] * c)
