"""Wood to leave, as written to STL, against the wood that the programs' own text leaves.

What holds. A height field becomes a solid that passes through the field's heights at the cell centres of the planning
grid (plan/solids.py); between them it runs straight, over a wall too. So the two are compared at those centres, the
blank's outermost cells left out. The text's wood is bracketed: cut with the cutter grown by half a cell's diagonal
(lower bound) and shrunk by it (upper bound; DESIGN: the bracket).

- Once the programs are written, the plan's fields are what every cutter leaves, and its solids lie within the bracket
  widened by ``WITHIN_MM`` (0.02 mm are merged away, and the text is rounded to 0.001 mm).
- The solids of the plan alone, as ``plan --solids`` writes them, come from the roughing's reachable floor: never
  lower than the text's wood, but higher, by the floor allowance over the piece's floors, and by up to the whole wall
  within a cell and the wall allowance beside it: the finishing cuts go on from there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import shapely

from witnessmark.field.columns import Columns
from witnessmark.field.drop import top_centre
from witnessmark.field.grid import Grid, Heights
from witnessmark.field.profile import shrunken
from witnessmark.field.sweep import remove
from witnessmark.job.demonstration import box_job, demonstration_cutters
from witnessmark.job.models import Cutter, Job
from witnessmark.job.placement import rectangle_of
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.model import PiecePlan, PlacementPlan
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.programs import Draft, write_drafts
from witnessmark.plan.solids import write_solids
from witnessmark.plan.wood import plan_margin_mm, whole_blank
from witnessmark.program.read import read
from witnessmark.proof.running import profile_of, rows_of
from witnessmark.shapes.read import read_solid
from witnessmark.shapes.simple import straight_box
from witnessmark.shapes.solid import Solid

WITHIN_MM = 0.05
LENGTH_MM, WIDTH_MM, HEIGHT_MM = 70.0, 40.0, 20.0


@dataclass(frozen=True)
class Made:
    job: Job
    shape: Solid
    planned: PiecePlan
    drafted: PiecePlan
    drafts: tuple[Draft, ...]


def box() -> Solid:
    return straight_box(
        size_x_mm=LENGTH_MM, size_y_mm=WIDTH_MM, height_mm=HEIGHT_MM, wall_mm=8.0, hollow_mm=HEIGHT_MM / 2
    )


def frustum() -> Solid:
    """Walls that lean inward by 14 degrees going up: the ball's business."""
    foot, rim = (LENGTH_MM / 2, WIDTH_MM / 2), (LENGTH_MM / 2 - 5.0, WIDTH_MM / 2 - 5.0)
    corners = [(x * a, y * b, z) for (a, b), z in ((foot, 0.0), (rim, HEIGHT_MM)) for x in (-1, 1) for y in (-1, 1)]
    return Solid(manifold3d.Manifold.hull_points(corners))


@pytest.fixture(scope="module", params=[(box, 1), (frustum, 2)], ids=["box, flat", "frustum, flat and ball"])
def made(request: pytest.FixtureRequest) -> Made:
    """A little piece planned on 1 mm cells and its programs written."""
    shape, cutters = request.param[0](), demonstration_cutters()[: request.param[1]]
    job = box_job()
    size = {"size_x_mm": 100.0, "size_y_mm": 70.0, "size_z_mm": 22.0, "glue_lines_z_mm": ()}
    piece = job.pieces[0].model_copy(update={"blank": job.pieces[0].blank.model_copy(update=size)})
    changes = {
        "pieces": (piece,),
        "machine": job.machine.model_copy(update={"nose_above_bed_mm": 182.0 if len(cutters) == 1 else 170.0}),
        "cutters": cutters,
        "settings": job.settings.model_copy(update={"plan_pitch_mm": 1.0}),
    }
    job = job.model_copy(update=changes)
    planned = plan_piece(job, piece, shape)
    return Made(job, shape, planned, *write_drafts(job, planned, shape))


def swept(heights: Heights, grid: Grid, draft: Draft, cutter: Cutter, step: PlacementPlan, outer: bool) -> None:
    """Cut the field with a program's text, the cutter grown (``outer``) or shrunk by half a cell's diagonal."""
    rows, _ = rows_of(read(draft.text), step.placement.shift_mm, 0.0)
    profile, lift_mm = profile_of(cutter), 0.0
    if outer:
        profile[[1, 4]] += grid.reach_mm  # the flat middle grows, the round edge keeps its radius
    else:
        less = shrunken(profile, grid.reach_mm)
        assert less is not None
        profile, lift_mm = less
    remove(heights, grid, rows + np.array([0, 0, lift_mm, 0, 0, lift_mm, 0, 0, 0]), profile)


def bracket(made: Made) -> Iterator[tuple[Heights, Heights]]:
    """Lowest and highest top (ny, nx) of the wood after each placement's programs; -inf where it is cut through."""
    cutters = {cutter.name: cutter for cutter in made.job.cutters}
    blank = blank_box(made.planned.piece.blank, *made.shape.bounds_mm)
    whole = whole_blank(blank, made.job.settings.plan_pitch_mm, plan_margin_mm(made.job))
    least, most = whole, whole
    for step in made.drafted.placements:
        rotation = step.placement.stand.rotation
        bounds = []
        for wood, outer in ((least, True), (most, False)):
            top, grid = wood.top(rotation)
            top = np.ascontiguousarray(top)
            for draft in made.drafts:
                if draft.placement == step.placement.name:
                    swept(top, grid, draft, cutters[draft.cutter], step, outer)
            bounds.append(wood.lowered(top, rotation))
        least, most = bounds
        yield top_of(least, step), top_of(most, step)


def top_of(wood: Columns, step: PlacementPlan) -> Heights:
    top, grid = wood.top(step.placement.stand.rotation)
    assert grid == step.grid
    return top


def solid_tops(plan: PiecePlan, folder: Path) -> Iterator[tuple[PlacementPlan, Heights]]:
    """The top of each *wood to leave* at the cell centres, from the file in the piece's frame read back."""
    leave = [path for path in write_solids(plan, folder) if path.name.endswith("wood-to-leave-piece-frame.stl")]
    assert len(leave) == len(plan.placements)
    for step, path in zip(plan.placements, leave):
        solid = read_solid(path, "mm").solid
        assert solid is not None
        yield step, top_centre(solid.moved(step.placement.stand).triangles, step.grid)[0]


def inner(step: PlacementPlan) -> tuple[np.ndarray, ...]:
    """Rows and columns of the cells well inside the blank."""
    x0, y0, x1, y1 = rectangle_of(step.placement.holds[0].outline_mm)
    grid, cell = step.grid, 1.1 * step.grid.pitch_mm
    rows = np.flatnonzero((grid.y_mm > y0 + cell) & (grid.y_mm < y1 - cell))
    return np.ix_(rows, np.flatnonzero((grid.x_mm > x0 + cell) & (grid.x_mm < x1 - cell)))


def on_board(top: Heights) -> Heights:
    """Where nothing is left the board is seen."""
    return np.maximum(top, np.float32(0.0))


def test_wood_to_leave_is_the_wood_that_the_text_leaves(made: Made, tmp_path: Path) -> None:
    """With the programs written every cell centre lies in the bracket widened by 0.05 mm."""
    for (step, top), (lowest, highest) in zip(solid_tops(made.drafted, tmp_path), bracket(made)):
        cells = inner(step)
        assert (on_board(top)[cells] >= on_board(lowest)[cells] - WITHIN_MM).all()
        assert (on_board(top)[cells] <= on_board(highest)[cells] + WITHIN_MM).all()
        tight = on_board(highest)[cells] - on_board(lowest)[cells] < WITHIN_MM
        assert tight.mean() > 0.5  # the bracket says something


def test_the_plans_own_solids_leave_no_less_and_more_only_by_the_allowances(made: Made, tmp_path: Path) -> None:
    """Never lower than the text's wood; higher by the floor allowance, or close beside the piece's walls alone."""
    allowed = made.job.settings
    for (step, top), (lowest, highest) in zip(solid_tops(made.planned, tmp_path), bracket(made)):
        cells, grid = inner(step), step.grid
        assert (on_board(top)[cells] >= on_board(lowest)[cells] - WITHIN_MM).all()
        over_mm = (on_board(top) - on_board(highest))[cells]
        j, i = np.nonzero(over_mm > allowed.floor_allowance_mm + WITHIN_MM)
        x, y = grid.x_mm[cells[1][0][i]], grid.y_mm[cells[0][:, 0][j]]
        piece = made.shape.moved(step.placement.stand)
        levels = np.arange(0.5, HEIGHT_MM, 1.0)
        walls = shapely.union_all([shapely.boundary(piece.section(float(z))) for z in levels + piece.bounds_mm[0][2]])
        beside_mm = shapely.distance(walls, shapely.points(x, y))
        assert (beside_mm <= allowed.wall_allowance_mm + 2 * grid.reach_mm).all()


def test_the_piece_lies_whole_in_the_wood_to_leave(made: Made, tmp_path: Path) -> None:
    """No plan's solid is lower than the piece anywhere at the cell centres, and each lies in the one before."""
    for plan in (made.planned, made.drafted):
        for step, top in solid_tops(plan, tmp_path):
            cells = inner(step)
            piece = top_centre(made.shape.moved(step.placement.stand).triangles, step.grid)[0]
            assert (on_board(top)[cells] >= on_board(piece)[cells] - WITHIN_MM).all()
            assert (on_board(top)[cells] <= on_board(step.top_before)[cells] + WITHIN_MM).all()
