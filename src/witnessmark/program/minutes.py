"""How long a program takes on a machine: feeds, accelerations, corners and dwells.

Method  each axis has its own greatest speed and acceleration, and a motion gets what its direction leaves: the least
        of limit / share over the axes; an arc takes both axes of its plane whole, and is also held to v^2 = a r.
        Through a corner that the controller may cut by delta,
        v^2 = a delta sin(theta/2) / (1 - sin(theta/2)), theta the angle between the two legs (180 deg: straight on).
        The machine stands still at dwells, and where the spindle or the cutter changes.
Source  corner: plane geometry of the circle that touches both legs and passes delta from their corner; speeds: see
        ``speeds``
Valid   times of moves only: changing cutters by hand, measuring and clamping come on top
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.models import Machine

from .motion import ARC_CCW, ARC_CW, DWELL, RAPID, MotionTable
from .speeds import motion_seconds

Floats = NDArray[np.float64]
_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
_LEAST_FEED_MM_S = 1e-3  # a motion without a feed never ends; it is counted at this speed and found by the proof


@dataclass(frozen=True)
class Minutes:
    """Time and way of a program; ``seconds`` (n,): each motion's time (dwells too); ``way_mm``: its way."""

    total_min: float
    cutting_min: float
    rapid_min: float
    cutting_m: float
    rapid_m: float
    seconds: Floats
    way_mm: Floats


def minutes(table: MotionTable, machine: Machine) -> Minutes:
    """The time that the table's motions take on the machine, from rest to rest."""
    seconds = np.array(table.dwell_s, dtype=np.float64)
    length_mm, first, last, radius_mm = _ways(table)
    moving = np.flatnonzero((table.kind != DWELL) & (length_mm > 0.0))
    if len(moving):
        share = _shares(table, first)
        acceleration = _along(share, _accelerations(machine))[moving]
        cruise = _cruise(table, machine, share)[moving]
        curved = np.sqrt(acceleration * radius_mm[moving])
        cruise = np.minimum(cruise, curved)
        corner = _corners(table, machine, moving, first, last, cruise, acceleration)
        seconds[moving] = motion_seconds(length_mm[moving], cruise, acceleration, corner)
    rapid, dwelling = table.kind == RAPID, table.kind == DWELL
    cutting = ~rapid & ~dwelling
    return Minutes(
        total_min=float(seconds.sum() / 60),
        cutting_min=float(seconds[cutting].sum() / 60),
        rapid_min=float(seconds[rapid].sum() / 60),
        cutting_m=float(length_mm[cutting].sum() / 1000),
        rapid_m=float(length_mm[rapid].sum() / 1000),
        seconds=seconds,
        way_mm=length_mm,
    )


def _ways(table: MotionTable) -> tuple[Floats, Floats, Floats, Floats]:
    """Length (n,), unit directions at the start and the end (n, 3), radius (n,; inf for lines)."""
    way = table.end_mm - table.start_mm
    length_mm = np.sqrt((way**2).sum(axis=1))
    first = way / np.where(length_mm > 0.0, length_mm, 1.0)[:, None]
    last, radius_mm = first.copy(), np.full(len(table), np.inf)
    arc = (table.kind == ARC_CW) | (table.kind == ARC_CCW)
    for plane, axes in _AXES.items():
        which = np.flatnonzero(arc & (table.plane == plane))
        if len(which):
            length_mm[which], first[which], last[which], radius_mm[which] = _round_ways(table, which, axes)
    return length_mm, first, last, radius_mm


def _round_ways(
    table: MotionTable, which: NDArray[np.int64], axes: tuple[int, int, int]
) -> tuple[Floats, Floats, Floats, Floats]:
    a, b, normal = axes
    spoke_1 = (table.start_mm - table.centre_mm)[which][:, [a, b]]
    spoke_2 = (table.end_mm - table.centre_mm)[which][:, [a, b]]
    radius_mm = np.hypot(spoke_1[:, 0], spoke_1[:, 1])
    way = np.where(table.kind[which] == ARC_CCW, 1.0, -1.0)
    angles = np.arctan2(spoke_2[:, 1], spoke_2[:, 0]) - np.arctan2(spoke_1[:, 1], spoke_1[:, 0])
    swept = (way * angles) % (2 * np.pi)
    same = np.all(table.start_mm[which][:, [a, b]] == table.end_mm[which][:, [a, b]], axis=1)
    swept = np.where(same | (swept == 0.0), 2 * np.pi, swept)
    rise = (table.end_mm - table.start_mm)[which, normal]
    length_mm = np.hypot(radius_mm * swept, rise)
    directions = []
    for spoke in (spoke_1, spoke_2):
        direction = np.zeros((len(which), 3))
        unit = spoke / np.hypot(spoke[:, 0], spoke[:, 1])[:, None]
        flat = (radius_mm * swept / length_mm * way)[:, None]
        direction[:, [a, b]] = flat * np.column_stack([-unit[:, 1], unit[:, 0]])
        direction[:, normal] = rise / length_mm
        directions.append(direction)
    return length_mm, directions[0], directions[1], radius_mm * (length_mm / (radius_mm * swept)) ** 2


def _accelerations(machine: Machine) -> Floats:
    return np.array([machine.acceleration_x_mm_s2, machine.acceleration_y_mm_s2, machine.acceleration_z_mm_s2])


def _shares(table: MotionTable, first: Floats) -> Floats:
    """The greatest share of each motion's speed that x, y and z take, (n, 3)."""
    share = np.abs(first)
    arc = (table.kind == ARC_CW) | (table.kind == ARC_CCW)
    for plane, (a, b, _) in _AXES.items():
        which = np.flatnonzero(arc & (table.plane == plane))
        share[which, a] = share[which, b] = 1.0
    return share


def _along(share: Floats, limits: Floats) -> Floats:
    """What limits per axis (3,) leave along each motion, (n,)."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.min(limits / share, axis=1))


def _cruise(table: MotionTable, machine: Machine, share: Floats) -> Floats:
    """Greatest speed of each motion, mm/s: the feed, and what the machine allows in that direction."""
    rapids = np.array([machine.rapid_x_mm_min, machine.rapid_y_mm_min, machine.rapid_z_mm_min])
    allowed = _along(share, rapids) / 60
    feed = np.minimum(table.feed_mm_min, machine.feed_max_mm_min) / 60
    wanted = np.where(table.kind == RAPID, np.inf, np.nan_to_num(feed, nan=0.0))
    return np.maximum(np.minimum(wanted, allowed), _LEAST_FEED_MM_S)


def _corners(
    table: MotionTable,
    machine: Machine,
    moving: NDArray[np.int64],
    first: Floats,
    last: Floats,
    cruise: Floats,
    acceleration: Floats,
) -> Floats:
    """Greatest speed at each end of each moving motion (m + 1,), mm/s; 0 where the machine stands still."""
    corner = np.zeros(len(moving) + 1)
    before, after = moving[:-1], moving[1:]
    straight_on = (last[before] * first[after]).sum(axis=1)
    half_sine = np.sqrt(np.clip((1.0 + straight_on) / 2, 0.0, 1.0))
    least = np.minimum(acceleration[:-1], acceleration[1:])
    with np.errstate(divide="ignore"):
        squared = least * machine.corner_deviation_mm * half_sine / (1.0 - half_sine)
    speed = np.minimum(np.sqrt(squared), np.minimum(cruise[:-1], cruise[1:]))
    changes = (table.spindle_rpm[before] != table.spindle_rpm[after]) | (table.cutter[before] != table.cutter[after])
    dwells = np.cumsum(table.kind == DWELL)
    waits = dwells[before] != dwells[after]
    corner[1:-1] = np.where(changes | waits, 0.0, speed)
    return corner
