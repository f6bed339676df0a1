"""What the maker says of holes, pins, or fence and stop, as ways for ``find_by``."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from witnessmark.job.errors import refuse
from witnessmark.job.models import Job
from witnessmark.job.placement import Placement, rectangle_of
from witnessmark.locate.ways import Point, Way, by_holes, by_pins, by_stop
from witnessmark.plan.board import seat_of
from witnessmark.plan.model import PiecePlan

Asked = Callable[[Job, PiecePlan, Placement], Way]


def holes() -> Asked:
    """The movable board's own holes alone; refused where there is no board, or it lies between its bolts."""

    def way(job: Job, _plan: PiecePlan, place: Placement) -> Way:
        board = job.machine.board
        blank = rectangle_of(place.holds[0].outline_mm) if place.holds else place.region_mm
        seat = seat_of(job.machine, place, blank)
        if board is None or seat is None or len(seat.inserts_mm) < 2:
            what = "there is no movable board whose bolts are known"
            raise refuse("--by holes", what, "read its touches, or say machine.board.bolt_places_mm")
        dx, dy = place.shift_mm
        ends = sorted((x - dx, y - dy) for x, y in seat.inserts_mm)
        return by_holes(ends[0], ends[-1], board.repeatability_mm)

    return way


def pins(places_mm: list[Point], play_mm: float) -> Asked:
    """Two pins at places that the machine shows (program frame)."""

    def way(_job: Job, _plan: PiecePlan, place: Placement) -> Way:
        if len(places_mm) != 2:
            raise refuse("--pin", "two pins place the work", "give --pin XxY twice")
        one, other = ((x - place.shift_mm[0], y - place.shift_mm[1]) for x, y in places_mm)
        return by_pins(one, other, play_mm)

    return way


def stop(shift_mm: float) -> Asked:
    """Shifted along a fence by a known length since the placement before; refused where that one stood otherwise."""

    def way(job: Job, plan: PiecePlan, place: Placement) -> Way:
        along = 0 if job.machine.overhang_axis == "x" else 1
        places = [step.placement for step in plan.placements]
        number = [one.name for one in places].index(place.name)
        before = places[number - 1] if number else place
        if number == 0 or not np.allclose(before.stand.rotation, place.stand.rotation):
            what = f"placement {place.name} is not reached by a shift along the fence from the one before"
            raise refuse("--by stop", what, "read its touches")
        planned_mm = place.shift_mm[along] - before.shift_mm[along]
        x0, y0, x1, y1 = rectangle_of(place.holds[0].outline_mm) if place.holds else place.region_mm
        return by_stop((x0, y0), (x1 - x0, y1 - y0)[along], along, shift_mm - planned_mm)

    return way
