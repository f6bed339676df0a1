"""A small job whose plan is drawn by hand: a frame cut from two placements a side, on a coarse grid."""

from __future__ import annotations

import numpy as np

from witnessmark.field.grid import Grid
from witnessmark.job.demonstration import demonstration_cutters, demonstration_machine
from witnessmark.job.frames import standing
from witnessmark.job.models import Blank, Job, PieceSpec
from witnessmark.job.placement import Hold, Obstacle, Placement, Touch, rectangle_outline
from witnessmark.plan.model import Eased, PiecePlan, PlacementPlan, ProgramInfo

SIZE_X, SIZE_Y, SIZE_Z = 400.0, 180.0, 74.0


def small_job(name: str = "little box", piece: str = "box") -> Job:
    size = {"size_x_mm": SIZE_X, "size_y_mm": SIZE_Y, "size_z_mm": SIZE_Z, "below_mm": 3.0}
    blank = Blank(**size, glue_lines_z_mm=(25.0, 50.0))
    spec = PieceSpec(name=piece, shape="box.stl", blank=blank)
    return Job(name=name, machine=demonstration_machine(), cutters=demonstration_cutters(), pieces=(spec,))


def small_placement(up: str, shift_off_mm: float, name: str = "left") -> Placement:
    """The blank centred on its board, the board ``shift_off_mm`` right of the middle of the travel."""
    corner = np.array([-SIZE_X / 2, -SIZE_Y / 2, 0.0])
    stand = standing(up, corner, corner + np.array([SIZE_X, SIZE_Y, SIZE_Z]))
    whole = rectangle_outline((-SIZE_X / 2, -SIZE_Y / 2, SIZE_X / 2, SIZE_Y / 2))
    bolt = rectangle_outline((-220.0, 95.0, -207.0, 108.0))
    return Placement(
        name=name,
        up=up,
        stand=stand,
        shift_mm=(150.0 + shift_off_mm, 200.0),
        support_z_bed_mm=18.0,
        region_mm=(-SIZE_X / 2, -SIZE_Y / 2, 2.0, SIZE_Y / 2),
        cutters=("flat 6",),
        holds=(Hold("tape", whole), Hold("clamp", rectangle_outline((190.0, -20.0, 200.0, 20.0)))),
        obstacles=(Obstacle("bolt", bolt, 0.0, 5.0),),
        touches=(
            Touch("left land", "land", (-185.0, 0.0, 0.0), (-1.0, 0.0, 0.0), "cut in placement 1"),
            Touch("rim", "face", (-100.0, 0.0, 70.0), (0.0, 0.0, 1.0), "cut in placement 1"),
        ),
        touch_off_mm=(-SIZE_X / 2 - 20.0, 0.0),
        touch_off_block_mm=25.0,
        through_z_mm=30.0,
    )


def small_step(placement: Placement, number: int) -> PlacementPlan:
    """A trench round the left half of the box, clearance beside it."""
    grid = Grid.over(-SIZE_X / 2, -SIZE_Y / 2, SIZE_X / 2, SIZE_Y / 2, 2.0)
    x, y = grid.x_mm[None, :], grid.y_mm[:, None]
    out = np.maximum(np.abs(x) - 170.0, np.abs(y) - 60.0)
    trench, beside = (out > 0) & (out < 8) & (x < 0), (out >= 8) & (out < 14) & (x < 0)
    before = grid.full(SIZE_Z)
    after = np.where(trench, 30.0, np.where(beside, 60.0, SIZE_Z)).astype(np.float32)
    clearance = np.where(beside, 14.0, 0.0).astype(np.float32)
    programs = tuple(
        ProgramInfo(f"box-{number}-{letter}.nc", placement.name, cutter, minutes, 9.5, f"{number}0ab-c0de")
        for letter, cutter, minutes in (("a", "flat 6", 42.4), ("b", "ball 6", 71.0), ("c", "flat 3", 8.0))
    )
    return PlacementPlan(
        placement=placement,
        cuts="walls, left half",
        grid=grid,
        top_before=before,
        top_after=after,
        clearance=clearance,
        removed_mm3=1e5,
        clearance_mm3=float(clearance.sum() * 4),
        programs=programs,
    )


def small_plan(job: Job) -> PiecePlan:
    steps = (
        small_step(small_placement("-z", 50.0, "under, left"), 1),
        small_step(small_placement("+z", 50.0, "top, left"), 2),
    )
    return PiecePlan(job.pieces[0], steps, 2, 10, 4, (Eased((0.0, 60.0, 70.0), 3.0, 1.24),), ("meets at 37 mm",))
