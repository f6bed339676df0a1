"""What holds the work: loose wood after each program, and how much still rests on the board at the end."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import RESTS_MM, Columns, LooseWood
from witnessmark.field.grid import Grid
from witnessmark.job.models import Machine
from witnessmark.job.placement import Placement, inside_outline

from .finding import Finding

Mask = NDArray[np.bool_]

CRUMB_MM3 = 20.0  # smaller pieces fly, but neither bind a cutter nor bend it (our own choice)
LEAST_HELD_MM2 = 100.0  # below a thumb's width of contact nothing is said to hold (our own choice)


def held_cells(placement: Placement, grid: Grid) -> Mask:
    """Cells of the standing grid where what rests on the board is held; all of them where no hold is stated."""
    if not placement.holds:
        return np.ones(grid.shape, dtype=bool)
    held = np.zeros(grid.shape, dtype=bool)
    for hold in placement.holds:
        held |= inside_outline(hold.outline_mm, grid.x_mm[None, :], grid.y_mm[:, None])
    return held


@dataclass(eq=False)
class Holding:
    """Keeps count of loose pieces over the programs of a piece, so that each is told once."""

    seen: set[tuple[int, int, int]] = field(default_factory=set)

    def loose_findings(
        self, columns: Columns, placement: Placement, held: Mask, file: str
    ) -> tuple[list[Finding], int]:
        """Findings for wood that has come loose since the last look; and how many pieces are loose now.

        ``columns``: here and below in the frame of the axis that is upright.
        """
        rotation = placement.in_axis_frame().stand.rotation
        loose = columns.loose(held, rotation)
        fresh = [wood for wood in loose if self._is_new(wood, placement)]
        crumbs = [wood for wood in fresh if wood.volume_mm3 < CRUMB_MM3]
        found = [_loose(wood, placement, file) for wood in fresh if wood.volume_mm3 >= CRUMB_MM3]
        if crumbs:
            most = max(w.volume_mm3 for w in crumbs)
            what = f"{len(crumbs)} crumbs of wood come free, the largest of {most:.1f} mm3"
            at = crumbs[0].place_mm
            found.append(Finding("crumbs", what, "note", at, "standing", placement.name, file, 0, most, ()))
        return found, len(loose)

    def _is_new(self, wood: LooseWood, placement: Placement) -> bool:
        x, y, z = placement.stand.inverse().apply(np.array(wood.place_mm))
        key = (round(x), round(y), round(z))
        new = key not in self.seen
        self.seen.add(key)
        return new


def _loose(wood: LooseWood, placement: Placement, file: str) -> Finding:
    x0, y0, z0, x1, y1, z1 = wood.box_mm
    what = f"a piece of wood of {x1 - x0:.0f} x {y1 - y0:.0f} x {z1 - z0:.0f} mm comes loose, and nothing holds it"
    remedies = (
        "leave bridges or a thin skin there, and saw them off afterwards",
        "hold it as well (tape or a clamp under that place)",
        "cut it to chips",
    )
    return Finding(
        "loose wood", what, "stop", wood.place_mm, "standing", placement.name, file, 0, wood.volume_mm3, remedies
    )


def hold_down_finding(columns: Columns, placement: Placement, held: Mask) -> Finding:
    """How much wood rests on the board and is held when the placement ends."""
    bottom, grid = columns.bottom(placement.in_axis_frame().stand.rotation)
    area_mm2 = float((held & (bottom <= RESTS_MM)).sum()) * grid.pitch_mm**2
    stated = "" if placement.holds else "; no hold is stated, so all that rests on the board counts as held"
    if area_mm2 < LEAST_HELD_MM2:
        what = f"only {area_mm2 / 100:.1f} cm2 of wood is still held at the end{stated}"
        remedies = ("leave more wood standing on the board", "hold the work where it still stands")
        return Finding("nothing holds the work", what, "stop", None, "standing", placement.name, "", 0, 0.0, remedies)
    what = f"{area_mm2 / 100:.0f} cm2 of wood is still held at the end{stated}"
    return Finding("hold-down", what, "note", None, "standing", placement.name, "", 0, area_mm2, ())


def standing_findings(columns: Columns, placement: Placement, machine: Machine) -> list[Finding]:
    """Whether the wood, as it stands, fits under the gantry."""
    top, _ = columns.top(placement.in_axis_frame().stand.rotation)
    wood = np.isfinite(top)
    if not wood.any():
        return []
    found = []
    height_mm = float(top[wood].max()) + placement.support_z_bed_mm
    if height_mm > machine.gantry_above_bed_mm:
        by_mm = height_mm - machine.gantry_above_bed_mm
        what = f"the wood stands {height_mm:.1f} mm above the bed, {by_mm:.1f} mm higher than the gantry's underside"
        remedies = ("use a thinner board or a lower blank", "stand the work on another side")
        found.append(
            Finding("gantry meets wood", what, "stop", None, "standing", placement.name, "", 0, by_mm, remedies)
        )
    return found
