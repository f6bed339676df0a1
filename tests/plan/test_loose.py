"""Wood that comes loose, told by the plan before a program is written."""

import manifold3d
import numpy as np
import pytest

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.job.demonstration import box_job
from witnessmark.job.frames import standing
from witnessmark.job.models import Blank, PieceSpec
from witnessmark.job.placement import Hold, Placement, rectangle_outline
from witnessmark.plan.loose import loose_notes
from witnessmark.plan.piece import plan_piece
from witnessmark.shapes.solid import Solid

SIZE_MM, HIGH_MM = 40.0, 10.0
WHOLE_MM = (0.0, 0.0, SIZE_MM, SIZE_MM)


def placed(held_mm: tuple[float, float, float, float]) -> Placement:
    stand = standing("+z", np.zeros(3), np.array([SIZE_MM, SIZE_MM, HIGH_MM]))
    return Placement(
        name="1", up="+z", stand=stand, shift_mm=(0.0, 0.0), support_z_bed_mm=0.0, region_mm=held_mm, cutters=(),
        holds=(Hold("tape", rectangle_outline(held_mm)),),
    )  # fmt: skip


def trenched(inner_mm: float, outer_mm: float, floor_mm: float) -> Columns:
    """A block with a square ring cut round its middle, between these half widths, down to the floor."""
    grid = Grid.over(0.0, 0.0, SIZE_MM, SIZE_MM, 0.5)
    columns = Columns.block(grid, 0.0, HIGH_MM)
    top, _ = columns.top(np.eye(3))
    away = np.maximum(np.abs(grid.x_mm[None, :] - SIZE_MM / 2), np.abs(grid.y_mm[:, None] - SIZE_MM / 2))
    top = np.where((away > inner_mm) & (away < outer_mm), np.float32(floor_mm), top).astype(np.float32)
    return columns.lowered(np.ascontiguousarray(top), np.eye(3))


def test_a_plug_that_nothing_holds_is_named_with_its_size() -> None:
    """A plug of 10 x 10 x 10 mm parted from a block held along one side is told, with what to do."""
    notes = loose_notes(trenched(5.0, 8.0, 0.0), placed((0.0, 0.0, SIZE_MM, 6.0)), WHOLE_MM)
    assert len(notes) == 1
    assert "10 x 10 x 10 mm round x 20 y 20" in notes[0]
    assert "nothing holds it" in notes[0]
    assert "saw it out" in notes[0]


def test_a_skin_under_the_trench_keeps_it() -> None:
    """A skin left under the trench, and nothing is loose."""
    assert loose_notes(trenched(5.0, 8.0, 1.0), placed((0.0, 0.0, SIZE_MM, 6.0)), WHOLE_MM) == ()


def test_a_plug_on_the_tape_is_told_as_held_by_it_alone() -> None:
    """With tape under the plug it is not loose, but the maker is told that only the tape keeps it."""
    (note,) = loose_notes(trenched(5.0, 8.0, 0.0), placed(WHOLE_MM), WHOLE_MM)
    assert "only the hold under it" in note


@pytest.mark.parametrize(("trench_mm", "told"), [(3.0, 1), (30.0, 0)])
def test_the_plug_of_a_ring_is_told_by_the_plan(trench_mm: float, told: int) -> None:
    """A hole of 60 mm keeps a plug in its middle; the remedy named, a wider trench, leaves none."""
    outside = manifold3d.Manifold.cylinder(24.0, 50.0, 50.0, 128)
    ring = Solid(outside - manifold3d.Manifold.cylinder(24.0, 30.0, 30.0, 128))
    spec = PieceSpec(name="ring", shape="ring.stl", blank=Blank(size_x_mm=140, size_y_mm=140, size_z_mm=28))
    job = box_job()
    job = job.model_copy(update={"settings": job.settings.model_copy(update={"trench_mm": trench_mm})})
    plan = plan_piece(job, spec, ring)
    said = [note for step in plan.placements for note in step.placement.notes if "parted from the piece" in note]
    assert len(said) == told
    assert all("40 x 40 x 28 mm round x 0 y 0" in note for note in said)
