"""A placement evaluated on the real floor: what it reaches, the clearance it must cut, the wood it leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.field.columns import Columns
from witnessmark.field.dilate import lowered_by, tip_over_surface
from witnessmark.field.grid import Grid, Heights
from witnessmark.job.models import Job
from witnessmark.job.placement import Placement, Rectangle, inside_outline
from witnessmark.path.request import Pocket
from witnessmark.reach.clearance import least_clearance, underside_of
from witnessmark.reach.entry import enterable
from witnessmark.reach.floor import reachable_floor
from witnessmark.reach.scene import Scene, Spindle, inside
from witnessmark.reach.wanted import near_piece, wanted_tips
from witnessmark.reach.why import Unreached, why_unreached
from witnessmark.shapes.solid import Solid

from .bridges import lowest_over_bridges
from .regions import over_seams
from .spindle import Reachable
from .tops import piece_tops

GRID_DOUBT_MM = 0.35
MOST_REASONS = 4
ROUND_CONTOURS_MM = 1.0  # roughing runs this much further over a seam than the contours do


@dataclass(frozen=True, eq=False)
class Evaluation:
    """What one placement does, on the planning grid (standing frame, mm)."""

    grid: Grid
    top_before: Heights
    top_after: Heights
    tips: Heights
    wanted: Heights
    clearance: Heights
    removed_mm3: float
    clearance_mm3: float
    wanted_cells: int
    unreached: np.ndarray
    reasons: tuple[str, ...]
    short_mm2: float  # area that is surely out of reach
    sweeps: int


def spindle_in(place: Placement, spindle: Reachable, job: Job) -> Spindle:
    """The cutter in this placement, as reach sees it."""
    machine, cutter = job.machine, spindle.cutter
    return Spindle(
        profile=spindle.profile,
        steps=spindle.steps,
        cutting_length_mm=spindle.assembly.cutting_length_mm,
        lowest_tip_mm=spindle.lowest_tip_mm,
        highest_tip_mm=spindle.highest_tip_mm,
        window_mm=place.window_mm(machine.travel_x_mm, machine.travel_y_mm, job.settings.travel_slack_mm),
        centre_cutting=cutter.centre_cutting,
        stepdown_mm=cutter.stepdown_mm,
        kinds=tuple(step.kind for step in spindle.assembly.rigid_steps()),
    )


def evaluate(
    job: Job,
    place: Placement,
    piece: Solid,
    columns: Columns,
    main: Reachable,
    finishing: Sequence[Reachable] = (),
) -> Evaluation:
    """Cut this placement on the planning grid: floor, what is wanted, least clearance, and the wood after it.

    ``main`` roughs and cuts the clearance; ``finishing`` are the cutters that go round the walls and over the tops
    afterwards, nearer to the piece and a little deeper: the clearance counts them as well.
    """
    settings = job.settings
    top, grid = columns.top(place.stand.rotation)
    lowest, highest = piece_tops(piece, place.stand, grid)
    scene = Scene(grid, top, highest, hardware_tops(place, grid))
    spindle = spindle_in(place, main, job)
    allowances = (settings.wall_allowance_mm, settings.floor_allowance_mm)
    floor = reachable_floor(scene, spindle, *allowances)
    region_mm = over_seams(place.region_mm, settings.seam_overlap_mm + ROUND_CONTOURS_MM)
    wanted = wanted_tips(scene, spindle, place.through_z_mm, settings.trench_mm, region_mm, *allowances)
    spared = lowest_over_bridges(place, grid, spindle.radius_mm)
    wanted = np.maximum(wanted, spared)
    finishers = [spindle_in(place, other, job) for other in finishing]
    under = finishing_underside(scene, lowest, finishers, place.through_z_mm, region_mm)
    clear = least_clearance(scene, spindle, floor, wanted, under)
    tips, shut = np.maximum(clear.tips, spared), np.zeros(grid.shape, dtype=bool)
    if not spindle.centre_cutting:
        entered = enterable(scene, spindle, tips)
        tips, shut = entered.tips, entered.shut
    after = np.minimum(top, lowered_by(tips, grid, spindle.profile))
    unreached = clear.unreached | (shut & np.isfinite(wanted))
    found = why_unreached(scene, spindle, floor, wanted, clear.unreached, shut) if unreached.any() else ()
    reasons, short_mm2 = _reasons(found)
    cell_mm2 = grid.pitch_mm**2
    wood = np.isfinite(top)
    return Evaluation(
        grid=grid,
        top_before=top,
        top_after=after,
        tips=tips,
        wanted=clear.wanted,
        clearance=clear.wood,
        removed_mm3=float((top[wood] - after[wood]).sum(dtype=np.float64) * cell_mm2),
        clearance_mm3=clear.volume_mm3,
        wanted_cells=int(np.isfinite(wanted).sum()),
        unreached=unreached,
        reasons=reasons,
        short_mm2=short_mm2,
        sweeps=floor.sweeps,
    )


def _reasons(found: Sequence[Unreached]) -> tuple[tuple[str, ...], float]:
    """Why tips stay out of reach, in words, the largest areas first; and the area surely out of reach, mm2."""
    told = [one for one in found if one.by_mm > GRID_DOUBT_MM or not one.against]
    words = []
    for one in told[:MOST_REASONS]:
        x, y, z = one.place_mm
        against = f" meets {one.against}" if one.against else ""
        words.append(
            f"{one.area_mm2 / 100:.1f} cm2 is out of reach near x {x:z.0f} y {y:z.0f} z {z:z.0f}: "
            f"{one.reason}{against}, short by {one.by_mm:.1f} mm"
        )
    doubtful_mm2 = sum(one.area_mm2 for one in found if one not in told)
    if doubtful_mm2 > 0:
        words.append(
            f"{doubtful_mm2 / 100:.1f} cm2 is short by less than {GRID_DOUBT_MM:g} mm, which the planning grid "
            "cannot decide: the finishing cuts try it and the proof judges"
        )
    return tuple(words), sum(one.area_mm2 for one in told)


def finishing_underside(
    scene: Scene, lowest: Heights, finishers: Sequence[Spindle], through_z_mm: float, region_mm: Rectangle
) -> Heights:
    """Lowest pass (ny, nx) of the finishing cutters' assemblies, the piece taken at its lowest over each cell."""
    grid = scene.grid
    under = grid.full(np.inf)
    off_piece = ~np.isfinite(scene.piece_top)
    for spindle in finishers:
        tips = tip_over_surface(lowest, grid, spindle.profile)
        tips[off_piece] = np.maximum(tips[off_piece], np.float32(through_z_mm))
        along = (
            near_piece(scene, spindle.radius_mm + grid.pitch_mm) & inside(region_mm, grid) & spindle.in_window(grid)
        )
        finish = np.where(along & np.isfinite(tips), tips, np.float32(np.inf)).astype(np.float32)
        np.minimum(under, underside_of(scene, spindle, finish), out=under)
    return under


def hardware_tops(place: Placement, grid: Grid) -> Heights | None:
    """Tops of the hardware over the grid (ny, nx), -inf where none stands; None where the grid has none.

    What stands beyond the grid's rim is left to the proof.
    """
    tops = grid.full(-np.inf)
    for obstacle in place.obstacles:
        over = inside_outline(obstacle.outline_mm, grid.x_mm[None, :], grid.y_mm[:, None])
        tops[over] = np.maximum(tops[over], np.float32(obstacle.z_to_mm))
    return tops if np.isfinite(tops).any() else None


def with_pockets(result: Evaluation, pockets: tuple[Pocket, ...]) -> Evaluation:
    """The same with touch lands cut as well."""
    if not pockets:
        return result
    grid, after = result.grid, result.top_after.copy()
    for pocket in pockets:
        within = inside_outline(pocket.outline_mm, grid.x_mm[None, :], grid.y_mm[:, None])
        after[within] = np.minimum(after[within], np.float32(pocket.bottom_z_mm))
    wood = np.isfinite(after)
    more_mm3 = float((result.top_after[wood] - after[wood]).sum(dtype=np.float64) * grid.pitch_mm**2)
    return replace(result, top_after=after, removed_mm3=result.removed_mm3 + more_mm3)
