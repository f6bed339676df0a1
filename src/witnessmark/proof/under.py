"""A T-slot or keyseat cutter at work: its disc under wood that stays, and what above it must not touch that wood.

The disc takes a stretch out of every column (field.undercut). Above it the neck, the shank and all else are held
against the tops of the wood. A top that the disc reaches when it first comes over a cell goes as it comes: on a
falling stretch that is where its highest upper face passes the top, on a rising one its lowest. All others stay: on a
rising stretch the disc may reach them later, but then neck and all are above them by then.
What hangs over a wide part without any wider part above it counts as in its way.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights
from witnessmark.field.profile import profile_vector
from witnessmark.field.sweep_rows import GRAZE_MM
from witnessmark.field.undercut import stretches, swept
from witnessmark.field.watch import TOUCH_MM, Watch, first_contact, remove_and_watch
from witnessmark.job.assembly import Assembly
from witnessmark.job.models import Settings

from .charges import Dock
from .contact import Looking, Looks, as_watched, look_findings
from .finding import Finding
from .loads import Taken
from .wood import Wood

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NONE = np.empty((0, 3))
ROUNDING_MM = 1e-4


def watched_under(
    rows: Floats,
    parent: Ints,
    wood: Wood,
    rotation: Floats,
    assembly: Assembly,
    settings: Settings,
    dock: Dock,
    turn_rad: float = 0.0,
) -> tuple[Taken, list[Finding]]:
    """Cut the wood; (what each motion takes of it, findings)."""
    taken = Taken(np.zeros(len(dock.lines)), np.zeros(len(dock.lines)))
    if not len(rows):
        return taken, []
    rows, parent = as_watched(rows, parent, assembly)
    radius_mm, thick_mm = assembly.cutter.diameter_mm / 2, assembly.cutting_length_mm
    flat = profile_vector("flat", 2 * radius_mm)
    looks, looking = [], None
    for part in stretches(rows, thick_mm):
        moves = np.ascontiguousarray(rows[part])
        top, grid = wood.columns.top(rotation)
        low, high = swept(grid, moves, radius_mm, thick_mm)
        looking = looking or Looking.of(assembly, grid, settings, turn_rad, 0.0)
        looks.append(looking.looked(_Tops(top, low, high, grid, moves, flat, thick_mm).watch))
        took = _took(wood.columns.within(low, high, rotation), low, grid, moves, flat)
        taken.add(parent[part], took.cut_depth_mm, took.removed_mm3)
        wood.without(low, high, rotation)
    return taken, look_findings(Looks.joined(looks), looking, parent, dock) if looking else []


def _took(much: Heights, low: Heights, grid: Grid, moves: Floats, flat: Floats) -> Watch:
    """How much of the wood each move takes: as if all in its way stood on the lowest that the disc reaches."""
    heights = np.where(np.isfinite(low), low + much, np.float32(-np.inf)).astype(np.float32)
    return remove_and_watch(heights, grid, moves, flat, np.inf, NONE)


class _Tops:
    """The tops of the wood during one stretch: those that go as the disc comes, and those that stay."""

    def __init__(
        self, top: Heights, low: Heights, high: Heights, grid: Grid, moves: Floats, flat: Floats, thick_mm: float
    ) -> None:
        falls = bool((moves[:, 5] < moves[:, 2]).any() or (moves[1:, 2] < moves[:-1, 5]).any())
        first = high if falls else low + np.float32(thick_mm)
        # where the disc does not come it does not matter what a top counts as
        goes = (first + np.float32(ROUNDING_MM) >= top) | ~np.isfinite(low)
        self.going = np.where(goes, top, np.float32(-np.inf)).astype(np.float32)
        self.staying = np.where(goes, np.float32(-np.inf), top).astype(np.float32)
        self.grid, self.moves, self.flat, self.thick_mm = grid, moves, flat, thick_mm

    def watch(self, steps: Floats, shapes: Mapping[int, Floats]) -> Watch:
        """Both kinds of wood."""
        going = remove_and_watch(
            self.going.copy(), self.grid, self.moves, self.flat, self.thick_mm, steps, shapes=shapes
        )
        staying = first_contact(
            self.staying, self.grid, self.moves, steps, TOUCH_MM, graze_mm=GRAZE_MM, shapes=shapes
        )
        return going.or_deeper(staying)
