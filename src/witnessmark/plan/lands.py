"""Touch lands: slots through the corner waste, by which the turned-over blank is found again.

After turning over, walls that flare lie hidden, so a placement of the first side leaves slots in the waste: through
to the board, hence open from both faces, and recessed at the top wide enough for nut and nose. Their walls are cut
exactly and serve as touch faces ever after.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from witnessmark.job.models import Job
from witnessmark.job.placement import Placement, Rectangle, Touch
from witnessmark.path.request import Pocket
from witnessmark.shapes.solid import Solid

from .spindle import Reachable
from .touches import CutFace, open_sides

SLOT_MM = (30.0, 12.0)  # length and width of the slot: a stylus or an edge finder of up to 10 mm goes in
WOOD_ROUND_MM = 4.0  # wood left between a slot's recess and the blank's edge or the trench
RECESS_SPARE_MM = 1.0
STEP_MM = 4.0
SHALLOW_MM = 12.0


@dataclass(frozen=True)
class Land:
    """A slot and its recess: rectangles in the standing frame of the side it is cut from, and their bottoms."""

    name: str
    slot_mm: Rectangle
    recess_mm: Rectangle
    recess_z_mm: float
    bottom_z_mm: float

    def pockets(self, top_z_mm: float) -> tuple[Pocket, ...]:
        """The recess first, where one is needed, then the slot."""
        slot = Pocket(f"{self.name} slot", _ring(self.slot_mm), min(top_z_mm, self.recess_z_mm), self.bottom_z_mm)
        if self.recess_z_mm >= top_z_mm:
            return (slot,)
        return (Pocket(f"{self.name} recess", _ring(self.recess_mm), top_z_mm, self.recess_z_mm), slot)


@dataclass(frozen=True, eq=False)
class Waste:
    """Where lands may lie: the placement that cuts them, the piece and the blank as they stand, what is taken."""

    job: Job
    place: Placement
    piece: Solid
    blank_mm: Rectangle
    blank_height_mm: float
    main: Reachable
    taken: tuple[Rectangle, ...] = ()


def lands_for(waste: Waste, next_window_mm: Rectangle | None) -> tuple[Land, ...]:
    """Up to two slots through to the board within this placement's region, as far apart as its waste allows.

    Where there is no room for these, shallow ones in the part that the next placement of the same side also reaches
    (``next_window_mm``): they do not outlast turning over, but they fix the shift.
    """
    through = _through(waste)
    if through or next_window_mm is None:
        return through
    spots = _spots(waste, 0.0, waste.main.cutter.diameter_mm + waste.job.settings.trench_mm, next_window_mm)
    bottom_mm = waste.blank_height_mm - SHALLOW_MM
    return _chosen(waste, spots, 0.0, waste.blank_height_mm, bottom_mm)


def _through(waste: Waste) -> tuple[Land, ...]:
    main, height_mm = waste.main, waste.blank_height_mm
    if main.assembly.tip_below_nose_mm < height_mm:
        return ()  # the nose itself would go below the blank's top
    stickout_mm = main.assembly.cutter.stickout_mm
    grow_mm = _recess_grow_mm(main) if stickout_mm < height_mm else 0.0
    beside_mm = main.cutter.diameter_mm + waste.job.settings.trench_mm + _recess_grow_mm(main)
    spots = _spots(waste, grow_mm, beside_mm, None)
    return _chosen(waste, spots, grow_mm, min(height_mm, stickout_mm - RECESS_SPARE_MM), 0.0)


def _chosen(
    waste: Waste, spots: np.ndarray, grow_mm: float, recess_z_mm: float, bottom_z_mm: float
) -> tuple[Land, ...]:
    if len(spots) == 0:
        return ()
    first, second = _farthest(spots)
    half_x, half_y = SLOT_MM[0] / 2, SLOT_MM[1] / 2
    lands = []
    for k, (x, y) in enumerate([first] if np.abs(first - second).max() < 4 * half_x else [first, second]):
        slot = (float(x) - half_x, float(y) - half_y, float(x) + half_x, float(y) + half_y)
        recess = (slot[0] - grow_mm, slot[1] - grow_mm, slot[2] + grow_mm, slot[3] + grow_mm)
        lands.append(Land(f"land {waste.place.name}{'ab'[k]}", slot, recess, recess_z_mm, bottom_z_mm))
    return tuple(lands)


def _recess_grow_mm(main: Reachable) -> float:
    """How much wider than the slot its recess must be so that the nut goes down in it."""
    nut_mm = max(step.radius_mm for step in main.assembly.steps if step.kind in ("nut", "shoe"))
    return nut_mm - main.cutter.diameter_mm / 2 + RECESS_SPARE_MM


def _spots(waste: Waste, grow_mm: float, beside_mm: float, also_mm: Rectangle | None) -> np.ndarray:
    """Centres (n, 2) where a slot grown by this lies in waste that stays, within window, region and ``also_mm``."""
    machine, place = waste.job.machine, waste.place
    window_mm = place.window_mm(machine.travel_x_mm, machine.travel_y_mm, waste.job.settings.travel_slack_mm)
    half = np.array([SLOT_MM[0] / 2 + grow_mm, SLOT_MM[1] / 2 + grow_mm])
    taken = shapely.buffer(waste.piece.moved(place.stand).silhouette(), beside_mm + WOOD_ROUND_MM)
    taken = shapely.union_all([taken, *(shapely.box(*box).buffer(WOOD_ROUND_MM) for box in waste.taken)])
    shapely.prepare(taken)
    radius_mm = waste.main.cutter.diameter_mm / 2
    blank_mm = waste.blank_mm
    low = np.maximum(np.array(blank_mm[:2]) + half + WOOD_ROUND_MM, np.array(window_mm[:2]) + half - radius_mm)
    high = np.minimum(np.array(blank_mm[2:]) - half - WOOD_ROUND_MM, np.array(window_mm[2:]) - half + radius_mm)
    for box_mm in (place.region_mm, also_mm):
        if box_mm is not None:
            low = np.maximum(low, np.array(box_mm[:2]) + half)
            high = np.minimum(high, np.array(box_mm[2:]) - half)
    if (low > high).any():
        return np.empty((0, 2))
    x, y = (np.append(np.arange(a, b, STEP_MM), b) for a, b in zip(low, high))
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    boxes = shapely.box(grid[:, 0] - half[0], grid[:, 1] - half[1], grid[:, 0] + half[0], grid[:, 1] + half[1])
    return np.asarray(grid[~shapely.intersects(taken, boxes)])


def _farthest(spots: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The two spots farthest apart (by the convex hull's corners)."""
    hull = shapely.get_coordinates(shapely.MultiPoint(spots).convex_hull)
    away = np.linalg.norm(hull[:, None] - hull[None, :], axis=-1)
    i, j = np.unravel_index(int(np.argmax(away)), away.shape)
    return hull[i], hull[j]


def faces_of(land: Land, place: Placement) -> tuple[Touch, ...]:
    """The slot's four walls as touch faces, in the piece frame; normals point out of the wood."""
    x0, y0, x1, y1 = land.slot_mm
    middle_x, middle_y, z = (x0 + x1) / 2, (y0 + y1) / 2, (land.recess_z_mm + land.bottom_z_mm) / 2
    sides = (
        ("left", (x0, middle_y, z), (1.0, 0.0, 0.0)),
        ("right", (x1, middle_y, z), (-1.0, 0.0, 0.0)),
        ("front", (middle_x, y0, z), (0.0, 1.0, 0.0)),
        ("back", (middle_x, y1, z), (0.0, -1.0, 0.0)),
    )
    back = place.stand.inverse()
    touches = []
    for side, point, normal in sides:
        p, n = back.apply(np.array(point)), back.rotation @ np.array(normal)
        touches.append(
            CutFace(
                name=f"{land.name} {side}",
                kind="face",
                point_mm=(float(p[0]), float(p[1]), float(p[2])),
                normal=(float(n[0]), float(n[1]), float(n[2])),
                known_from=f"cut in placement {place.name}",
                open_from=open_sides(place, land.bottom_z_mm),
            )
        )
    return tuple(touches)


def _ring(box_mm: Rectangle) -> tuple[tuple[float, float], ...]:
    x0, y0, x1, y1 = box_mm
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
