"""From what a maker types to readings: the number on the machine when the stylus touches.

Question  what do the numbers beside the touches of a placement mean
Frame     touches in the piece frame, as the placement has them; numbers in the program frame
Units     mm
Method    each touch is approached along the axis that its face looks along the most, at its planned place across
          it; what is typed is the machine's x (or y) of the stylus' middle then. A land's number is its height
Source    plane geometry; uncertainties of features: our own choice, see the constants
Valid     touches of the plan: faces and lands
Refuses   numbers of touches that the placement does not have, two for one, and what is no number (Refusal)
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.errors import Refusal, Trouble
from witnessmark.job.placement import Placement, Touch

from .readings import Reading, Rows, Shared, rows_of

CUT_U_MM = 0.010  # what a cut wall is off by itself: rounding, bending (our own choice)
STEP_U_MM = math.sqrt(2) * CUT_U_MM  # of a step between two cut walls
MEASURED_U_MM = 0.05  # a planed edge that was measured by caliper (our own choice)
TOUCH_OFF_U_MM = 0.02  # of z 0, once for each cutter and all that it cuts (common practice, no source)
STYLUS_U_MM = 0.005  # of half the diameter of a stylus that was measured (common practice, no source)
SHARED = (Shared("z 0", "height", TOUCH_OFF_U_MM), Shared("stylus", "radius", STYLUS_U_MM))
READ_U_MM = 0.02  # an indicator or edge finder read with care (common practice, no source)


def axis_of(place: Placement, touch: Touch) -> int:
    """0 where its number is an x, 1 a y, 2 a height."""
    if touch.kind == "land":
        return 2
    normal = place.stand.rotation @ np.array(touch.normal)
    return int(np.argmax(np.abs(normal[:2])))


def expected_mm(place: Placement, touch: Touch, radius_mm: float) -> tuple[float, float, float]:
    """Where the stylus' middle stands when it touches, if the work lies as planned; program frame."""
    point = place.stand.apply(np.array(touch.point_mm))
    if touch.kind == "land":
        x, y, z = point
        return (float(x) + place.shift_mm[0], float(y) + place.shift_mm[1], float(z))
    normal = place.stand.rotation @ np.array(touch.normal)
    at = point + (0.0 if touch.kind == "bore" else radius_mm) * normal
    return (float(at[0]) + place.shift_mm[0], float(at[1]) + place.shift_mm[1], float(at[2]))


def readings_of(
    place: Placement, typed_mm: Mapping[int, float], radius_mm: float, read_u_mm: float = READ_U_MM
) -> tuple[Reading, ...]:
    """Readings from numbers by the touches' place in the placement's list (from 1)."""
    troubles = number_troubles(("touch", "touches"), place, typed_mm, len(place.touches))
    if troubles:
        raise Refusal(*troubles)
    readings = [_reading(place, number, value, radius_mm, read_u_mm) for number, value in sorted(typed_mm.items())]
    return tuple(
        _with_middle(place, reading, number, typed_mm) for reading, number in zip(readings, sorted(typed_mm))
    )


def number_troubles(
    what: tuple[str, str], place: Placement, typed_mm: Mapping[int, float], count: int
) -> list[Trouble]:
    """Numbers of places (``what``: one, several) that the placement does not have, and what is no number."""
    troubles = []
    for number, value in typed_mm.items():
        if not 1 <= number <= count:
            has = f"placement {place.name} has {count} {what[1]}"
            troubles.append(Trouble(f"{what[0]} {number}", has, (f"name one of 1 to {count}",)))
        elif not math.isfinite(value):
            troubles.append(Trouble(f"{what[0]} {number}", "its number is not finite", ("type it again",)))
    return troubles


def _with_middle(place: Placement, reading: Reading, number: int, typed_mm: Mapping[int, float]) -> Reading:
    """A bore's middle along one axis is read at its middle along the other, where that was read too."""
    touch = place.touches[number - 1]
    if touch.kind != "bore":
        return reading
    axis, at = axis_of(place, touch), list(reading.at_mm)
    for other, value in typed_mm.items():
        same = place.touches[other - 1]
        if other != number and same.kind == "bore" and same.point_mm == touch.point_mm:
            at[1 - axis] = value
    return replace(reading, at_mm=(at[0], at[1], at[2]))


def rows_read(readings: Sequence[Reading]) -> tuple[Rows, NDArray[np.float64]]:
    """The rows of readings of one placement, with what they have in common: one stylus, and one z 0, which moves the
    place that is touched on faces off the vertical."""
    return rows_of(readings, SHARED)


def _reading(place: Placement, number: int, value_mm: float, radius_mm: float, read_u_mm: float) -> Reading:
    touch = place.touches[number - 1]
    point = place.stand.apply(np.array(touch.point_mm))
    normal = place.stand.rotation @ np.array(touch.normal)
    at = list(expected_mm(place, touch, radius_mm))
    at[axis_of(place, touch)] = value_mm
    return Reading(
        f"{number} {touch.name}",
        "land" if touch.kind == "land" else "face",
        (float(point[0]), float(point[1]), float(point[2])),
        (float(normal[0]), float(normal[1]), float(normal[2])),
        (at[0], at[1], at[2]),
        math.hypot(read_u_mm, made_u_mm(touch)),
        radius_mm if touch.kind == "face" else 0.0,
        ("z 0", "stylus") if touch.kind == "face" else (),
    )


def made_u_mm(touch: Touch) -> float:
    """How uncertain the touched feature's own place is."""
    return MEASURED_U_MM if touch.known_from == "measured" else CUT_U_MM


def planned_readings(
    place: Placement, touches: Sequence[Touch], radius_mm: float, read_u_mm: float = READ_U_MM
) -> tuple[Reading, ...]:
    """The readings that are to be expected of touches, where the work lies as planned."""
    standing = {k + 1: expected_mm(place, touch, radius_mm)[axis_of(place, touch)] for k, touch in enumerate(touches)}
    return readings_of(place, standing, radius_mm, read_u_mm)
