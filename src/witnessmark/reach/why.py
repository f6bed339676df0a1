"""Why a wanted tip is out of reach: the constraint that binds, by how much, and where.

Words for people are left to the planner; here a reason is a short name.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.field.dilate import disc_max
from witnessmark.field.grid import Grid, Heights
from witnessmark.field.layers import upward_sheets
from witnessmark.field.parts import regions

from .floor import Floor
from .scene import SAME_MM, Floats, Mask, Scene, Spindle, tips_off_hardware

TRAVEL_XY = "travel x/y"
TRAVEL_Z = "travel z"
TOP_OF_Z = "top of z"
HARDWARE = "hardware"
FLUTES = "flutes"
ENTRY = "entry"
UNDERCUT = "undercut"
ALLOWANCE = "allowance"


@dataclass(frozen=True)
class Unreached:
    """One connected region out of reach.

    reason   one of the names above, or the kind of the rigid step that is in the way (shank, nut, nose, shoe)
    against  "piece", "wood" that this placement cannot clear, or "" where the machine itself is the limit
    by_mm    the greatest amount by which it falls short; place_mm: the wanted tip where (x, y, z) that is
    """

    reason: str
    against: str
    by_mm: float
    place_mm: tuple[float, float, float]
    area_mm2: float


def why_unreached(
    scene: Scene, spindle: Spindle, floor: Floor, wanted: Heights, unreached: Mask, shut: Mask | None = None
) -> tuple[Unreached, ...]:
    """The reasons for the tips ``unreached`` (ny, nx) of ``wanted`` and those ``shut`` by entry, largest first."""
    open_cells = unreached & np.isfinite(wanted)
    found: list[Unreached] = []
    for reason, against, short_mm in _constraints(scene, spindle, floor, wanted):
        binds = open_cells & (short_mm > 2 * SAME_MM)
        open_cells &= ~binds
        found += _grouped(scene.grid, reason, against, binds, short_mm, wanted)
    short_mm = np.subtract(floor.tip, wanted, out=scene.grid.full(0.0), where=open_cells)
    found += _grouped(scene.grid, ALLOWANCE, "piece", open_cells, short_mm, wanted)
    if shut is not None:
        found += _grouped(scene.grid, ENTRY, "wood", shut & ~unreached, scene.top - wanted, wanted)
    return tuple(sorted(found, key=lambda one: -one.area_mm2))


def undercuts(triangles: Floats, grid: Grid) -> tuple[Unreached, ...]:
    """What lies hidden from both sides: cells under two or more upward-facing sheets of the piece (standing)."""
    sheets = upward_sheets(triangles, grid)
    hidden = sheets > 1
    return tuple(_grouped(grid, UNDERCUT, "piece", hidden, grid.full(0.0), grid.full(0.0)))


def _constraints(scene: Scene, spindle: Spindle, floor: Floor, wanted: Heights) -> list[tuple[str, str, Heights]]:
    """Every constraint with how far (ny, nx) a wanted tip falls short of it, what no order can mend first."""
    grid = scene.grid
    found = [(TRAVEL_XY, "", _outside_mm(spindle, grid))]
    found.append((TRAVEL_Z, "", np.float32(spindle.lowest_tip_mm) - wanted))
    found.append((TOP_OF_Z, "", wanted - np.float32(spindle.highest_tip_mm)))
    found.append((HARDWARE, "", tips_off_hardware(scene, spindle) - wanted))
    for against, heights in (("piece", scene.piece_top), ("wood", floor.floor)):
        for step, kind in zip(np.asarray(spindle.steps).reshape(-1, 3), spindle.kinds):
            if step[0] <= spindle.radius_mm + 1e-6:
                continue
            tip = disc_max(heights, grid, float(step[0]) + grid.reach_mm) - np.float32(step[1])
            found.append((kind, against, tip - wanted))
    if spindle.level_mm <= 0.0:
        found.append((FLUTES, "wood", scene.top - wanted))
    return found


def _outside_mm(spindle: Spindle, grid: Grid) -> Heights:
    """How far (ny, nx) each cell's centre lies outside the window; 0 inside."""
    x0, y0, x1, y1 = spindle.window_mm
    dx = np.maximum(np.maximum(x0 - grid.x_mm, grid.x_mm - x1), 0.0)
    dy = np.maximum(np.maximum(y0 - grid.y_mm, grid.y_mm - y1), 0.0)
    return np.hypot(dy[:, None], dx[None, :]).astype(np.float32)


def _grouped(
    grid: Grid, reason: str, against: str, cells: Mask, short_mm: Heights, wanted: Heights
) -> list[Unreached]:
    labels, count = regions(cells, corners=True)
    if count == 0:
        return []
    at = np.flatnonzero(labels)
    order = at[np.argsort(short_mm.ravel()[at], kind="stable")]
    worst = np.zeros(count + 1, dtype=np.int64)
    worst[labels.ravel()[order]] = order  # the last one written of each region falls short most
    area = np.bincount(labels.ravel()[at], minlength=count + 1) * grid.pitch_mm**2
    out = []
    for region in range(1, count + 1):
        j, i = divmod(int(worst[region]), grid.nx)
        place = (float(grid.x_mm[i]), float(grid.y_mm[j]), float(wanted[j, i]))
        out.append(Unreached(reason, against, float(short_mm[j, i]), place, float(area[region])))
    return out
