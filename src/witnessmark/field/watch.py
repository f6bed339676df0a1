"""Removing wood in the order of the program while watching all that turns with the cutter.

Question  how deep does each move cut, how high above the tip does wood stand where the cutter meets it, and does
          anything that must not touch wood (shank, collet nut, spindle nose, dust shoe) touch it, and where
Frame     standing frame
Units     mm
Arrays    as field.sweep; steps (k, 3) float64: radius, from, to above the tip; shapes: for the rows of steps that are
          not round the sides (s, 3) of a convex shape: outward normals and distances from the spindle axis
Method    a cell counts at its height before the move until the cutter first covers it, and at its lowered height
          once the cutter has left it (field.contact); strips of rows keep their own time, with a pyramid of tops
          for early outs (field.watch_strip)
Source    derived here
Valid     exact in time at cell centres, for lines of any slope and level arcs; splitting a move changes no
          verdict. Steps no wider than the cutter (less ``graze_mm``) cannot touch what the cutter has not passed:
          wood that stands above the flutes there shows in ``engaged_mm``, unless it is rubbed by less than that.
          Between cell centres the caller owns the margin: steps grown by pitch / sqrt(2)
Refuses   ValueError, as field.sweep
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .grid import Grid, Heights
from .profile import surface_height
from .strips import STRIP, chain_reach, run_strips, share_out
from .sweep import checked, frame_of
from .sweep_rows import GRAZE_MM, LANES, RIM_SLACK_MM
from .watch_strip import AT_X, AT_Z, BLOCK, BY, CUT, FIELDS, MET, STEP, TAKEN, TILE, watch_strip

Floats = NDArray[np.float64]

TOUCH_MM = 0.02  # less than this is within what grids and roundings do
AIR_MM = 0.002  # a move that lowers no cell by more than the rounding near a rim cuts air


@dataclass(frozen=True, eq=False)
class Watch:
    """What each of n moves did.

    cut_depth_mm (n,): greatest height of wood removed at any cell, 0 where the move cut air
    removed_mm3 (n,): how much wood went, by cells
    engaged_mm (n,): greatest height above the tip of wood met by the cutter's rim, at the instant of meeting; 0
        where no wood stood as high as the rim. More than the flutes' length: deeper than the flutes.
    contact_step (n,) int8: row of ``steps`` in deepest contact, -1 none; contact_mm (n,): how deep, 0 where none
    contact_xyz (n, 3): where (cell centre; z the underside of the step), nan where none
    """

    cut_depth_mm: Floats
    removed_mm3: Floats
    engaged_mm: Floats
    contact_step: NDArray[np.int8]
    contact_mm: Floats
    contact_xyz: Floats
    cutting_length_mm: float = np.inf

    @staticmethod
    def nothing(count: int) -> Watch:
        """Moves that did nothing and met nothing."""
        none = np.zeros(count)
        return Watch(none, none, none, np.full(count, -1, dtype=np.int8), none, np.full((count, 3), np.nan))

    @staticmethod
    def joined(parts: Sequence[Watch]) -> Watch:
        """Those of the parts of a program, in order."""
        return Watch(
            np.concatenate([part.cut_depth_mm for part in parts]),
            np.concatenate([part.removed_mm3 for part in parts]),
            np.concatenate([part.engaged_mm for part in parts]),
            np.concatenate([part.contact_step for part in parts]),
            np.concatenate([part.contact_mm for part in parts]),
            np.concatenate([part.contact_xyz for part in parts]),
        )

    def or_deeper(self, other: Watch) -> Watch:
        """Of the contacts of the same moves with two kinds of wood the deeper ones."""
        deeper = other.contact_mm > self.contact_mm
        return replace(
            self,
            contact_step=np.where(deeper, other.contact_step, self.contact_step),
            contact_mm=np.where(deeper, other.contact_mm, self.contact_mm),
            contact_xyz=np.where(deeper[:, None], other.contact_xyz, self.contact_xyz),
        )

    @property
    def beyond_flutes_mm(self) -> Floats:
        """How far wood stood above the flutes where the cutter met it, (n,), 0 where it did not."""
        return np.maximum(0.0, self.engaged_mm - self.cutting_length_mm)


def remove_and_watch(
    heights: Heights,
    grid: Grid,
    moves: Floats,
    profile: Floats,
    cutting_length_mm: float,
    steps: Floats,
    graze_mm: float = GRAZE_MM,
    touch_mm: float = TOUCH_MM,
    threads: int | None = None,
    shapes: Mapping[int, Floats] | None = None,
) -> Watch:
    """Cut ``moves`` in order out of ``heights`` in place and watch the rigid ``steps`` (k, 3).

    A step with a shape has the radius of the circle about it, and does not turn with the cutter; lines only.
    """
    moves, profile = checked(heights, grid, moves, profile)
    found = _watched(
        heights, grid, moves, profile, _kept(steps, profile[1], graze_mm, shapes or {}), touch_mm, True, threads
    )
    cut = np.where(found[:, CUT] > AIR_MM, found[:, CUT], 0.0)
    rim_height_mm = surface_height(profile[1], profile)
    engaged = np.where(found[:, MET] > rim_height_mm + AIR_MM, found[:, MET], 0.0)
    removed_mm3 = found[:, TAKEN] * grid.pitch_mm**2
    return _watch_of(found, cut, removed_mm3, engaged, cutting_length_mm)


def first_contact(
    obstacles: Heights,
    grid: Grid,
    moves: Floats,
    steps: Floats,
    touch_mm: float = 0.0,
    threads: int | None = None,
    graze_mm: float = 0.0,
    shapes: Mapping[int, Floats] | None = None,
) -> Watch:
    """Watch ``steps`` (k, 3), the cutter among them, against what stays: nothing is removed, nothing may touch.

    ``obstacles`` holds the tops of hardware, or of wood that is not cut, -inf elsewhere.
    """
    nothing = np.zeros(6)
    moves, nothing = checked(obstacles, grid, moves, nothing)
    found = _watched(
        obstacles, grid, moves, nothing, _kept(steps, -1.0, graze_mm, shapes or {}), touch_mm, False, threads
    )
    none = np.zeros(len(moves))
    return _watch_of(found, none, none.copy(), none.copy(), np.inf)


def _kept(
    steps: Floats, cutter_radius_mm: float, graze_mm: float, shapes: Mapping[int, Floats]
) -> tuple[Floats, Floats]:
    """(radius, underside, number, sides from, to) of the steps that can touch first, and all sides.

    Those that a round one, wider and lower, hides are out.
    """
    table = np.asarray(steps, dtype=np.float64).reshape(-1, 3)
    rows = [(radius - graze_mm, under, number) for number, (radius, under, _) in enumerate(table)]
    wide = [row for row in rows if row[0] > cutter_radius_mm + RIM_SLACK_MM]
    round_ = [row for row in wide if row[2] not in shapes]
    hidden = {b[2] for a in round_ for b in wide if a[0] >= b[0] and a[1] <= b[1] and (a[:2] != b[:2] or a[2] < b[2])}
    sides, kept = [np.empty((0, 3))], []
    for row in wide:
        if row[2] not in hidden:
            own = np.asarray(shapes.get(row[2], np.empty((0, 3))), dtype=np.float64) - [0.0, 0.0, graze_mm]
            first = sum(len(each) for each in sides)
            sides.append(own)
            kept.append((*row, first, first + len(own)))
    return np.array(kept, dtype=np.float64).reshape(-1, 5), np.ascontiguousarray(np.concatenate(sides))


def _watched(
    heights: Heights,
    grid: Grid,
    moves: Floats,
    profile: Floats,
    kept: tuple[Floats, Floats],
    touch_mm: float,
    cuts: bool,
    threads: int | None,
) -> Floats:
    """The record (n, FIELDS) of every move, strips put together."""
    if grid.nx < LANES:  # the row kernels need whole vectors: work on a wider copy
        wider = Grid(grid.x0_mm, grid.y0_mm, grid.pitch_mm, LANES, grid.ny)
        padded = wider.full(-np.inf)
        padded[:, : grid.nx] = heights
        found = _watched(padded, wider, moves, profile, kept, touch_mm, cuts, threads)
        heights[:] = padded[:, : grid.nx]
        return found
    steps, sides = kept
    frame = frame_of(grid)
    back, ahead = chain_reach(moves, profile, False)
    joined = np.r_[False, (moves[1:, :3] == moves[:-1, 3:6]).all(axis=1)][: len(moves)]
    reach_mm = max([profile[1] + RIM_SLACK_MM, *steps[:, 0]])
    first, members = share_out(moves, reach_mm, frame[1], grid.pitch_mm, grid.ny, STRIP)
    tops16 = np.empty((-(-grid.ny // TILE), -(-grid.nx // TILE)), dtype=np.float32)
    tops128 = np.empty((-(-grid.ny // BLOCK), -(-grid.nx // BLOCK)), dtype=np.float32)
    stale16 = np.zeros(tops16.shape, dtype=np.bool_)
    records = np.zeros((len(members), FIELDS))
    records[:, [CUT, MET, STEP]] = -1.0

    def work(k: int) -> None:
        mine = slice(first[k], first[k + 1])
        watch_strip(
            heights, frame, moves, members[mine], profile, back, ahead, joined, steps, sides, touch_mm, cuts, tops16,
            tops128, stale16, k * STRIP, min(grid.ny, (k + 1) * STRIP), records[mine],
        )  # fmt: skip

    run_strips(work, np.diff(first), threads)
    return _merged(len(moves), first, members, records)


def _merged(count: int, first: NDArray[np.int64], members: NDArray[np.int64], records: Floats) -> Floats:
    """Strips put together: the greatest of each figure; of equal contacts the lowest step, then the lowest row."""
    found = np.zeros((count, FIELDS))
    found[:, [CUT, MET, STEP]] = -1.0
    for k in range(len(first) - 1):
        mine, new = members[first[k] : first[k + 1]], records[first[k] : first[k + 1]]
        old = found[mine]
        old[:, CUT] = np.maximum(old[:, CUT], new[:, CUT])
        old[:, MET] = np.maximum(old[:, MET], new[:, MET])
        old[:, TAKEN] += new[:, TAKEN]
        deeper = (new[:, BY] > old[:, BY]) | ((new[:, BY] == old[:, BY]) & (new[:, STEP] < old[:, STEP]))
        deeper &= new[:, STEP] >= 0.0
        old[deeper, BY:] = new[deeper, BY:]
        found[mine] = old
    return found


def _watch_of(
    found: Floats, cut_mm: Floats, removed_mm3: Floats, engaged_mm: Floats, cutting_length_mm: float
) -> Watch:
    step = found[:, STEP].astype(np.int8)
    place = np.where((step >= 0)[:, None], found[:, AT_X : AT_Z + 1], np.nan)
    return Watch(cut_mm, removed_mm3, engaged_mm, step, found[:, BY].copy(), place, float(cutting_length_mm))
