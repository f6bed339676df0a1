"""The made solid against the piece as one axis shows it: walls and floors by what was cut with that axis upright.

Frame   of the axis (job.frames.axis_rotation); for z it is the piece frame
Method  every axis that stood upright is judged by its own cuts, exactly. What they take too much of is a fault
        whatever else was cut. What they leave counts only where nothing else took it: one axis (z, if it stood
        upright) is looked at whole, the others where their own passes come
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid, Heights
from witnessmark.job.frames import Rigid, axis_rotation, side_rotation
from witnessmark.job.models import Cutter, Settings
from witnessmark.job.placement import Placement
from witnessmark.shapes.solid import Solid

from .bridges import BridgeWood, bridge_wood
from .eased import SHY_MM, Easing, Reaching, reaching, reaching_under
from .excuses import Excuses
from .finding import Finding
from .floors import Excuse, FloorFaults, FloorJudge, Floors
from .hanging import hanging_wood
from .hidden import HiddenFaults, HiddenPlaces, gouged, hidden_places, is_hidden, is_under, left_mm
from .left import Left
from .levels import judged_levels
from .walls import Places, WallJudge, Walls, WayToAir, solid_normals, wall_judge
from .work import Work

Floats = NDArray[np.float64]

OUTWARD_MM = 0.6  # so far before a wall it is seen whether other wood hides it
STEEP_RATIO = np.sqrt(0.5)


@dataclass(frozen=True, eq=False)
class AxisEnd:
    """What one axis came to, in its own frame; ``hidden``: hidden shallow faces that are cut into."""

    walls: Walls
    floors: tuple[Floors, ...]
    hidden: HiddenFaults
    left: Left


@dataclass(frozen=True, eq=False)
class AxisJudge:
    """Judges one axis; ``whole`` says whether all that is left is looked at, or only what its passes come to."""

    axis: str
    work: Work
    solid: Solid
    blank_z_mm: tuple[float, float]
    judge: WallJudge
    able: tuple[Reaching, ...]
    under: tuple[Reaching, ...]
    bridged: BridgeWood
    placements: tuple[Placement, ...]
    settings: Settings
    whole: bool
    others: tuple[AxisJudge, ...] = ()

    @staticmethod
    def of(
        axis: str,
        work: Work,
        solid: Solid,
        cutters: tuple[Cutter, ...],
        settings: Settings,
        placements: Sequence[Placement],
        whole: bool,
    ) -> AxisJudge:
        """``solid`` and ``placements`` in the piece frame."""
        rotation = axis_rotation("+" + axis)
        own = solid if axis == "z" else solid.moved(Rigid(rotation, np.zeros(3)))
        standing = tuple(place.in_axis_frame() for place in placements if place.up[1] == axis)
        allowance_mm = settings.scallop_mm + settings.leftover_tolerance_mm
        blank_mm, blank_z_mm = work.own.ends_mm, (work.own.z_from_mm, work.own.z_to_mm)
        tolerance_mm = settings.gouge_tolerance_mm
        judge = wall_judge(
            own.triangles, work.passes, work.profiles, blank_mm, blank_z_mm, tolerance_mm, allowance_mm, whole
        )
        under = reaching_under(cutters)
        return AxisJudge(
            axis,
            work,
            own,
            blank_z_mm,
            judge,
            reaching(cutters),
            under,
            bridge_wood(standing, cutters),
            standing,
            settings,
            whole,
        )

    @property
    def rotation(self) -> Floats:
        """Piece frame -> this one."""
        return axis_rotation("+" + self.axis)

    def beside(self, sides: Sequence[AxisJudge]) -> AxisJudge:
        """The same, knowing of the other axes."""
        others = tuple(side for side in sides if side.axis != self.axis)
        elsewhere = _nearest(self, others) if others else None
        return replace(self, others=others, judge=replace(self.judge, elsewhere=elsewhere))

    def judged(self) -> AxisEnd:
        """Walls and floors, and what is left on them."""
        excuses = self._excuses()
        with ThreadPoolExecutor(1, thread_name_prefix="walls") as beside:
            judged = beside.submit(self._walls, excuses)
            # one after the other: each fills memory of its own
            ups = [up for up in (1, -1) if self.whole or up in self.work.cuts]
            floors = tuple(self._floors(up, excuses) for up in ups)
            walls = judged.result()
        hidden, left = self._hidden()
        return AxisEnd(walls, floors, hidden, Left.joined([walls.left, *(floor.left for floor in floors), left]))

    def _excuses(self, shy_mm: float = SHY_MM) -> Excuses:
        return Excuses(self.judge, self.bridged, self.judge.allowance_mm, shy_mm)

    def _walls(self, excuses: Excuses) -> Walls:
        easing = Easing(self.solid, self.able, tuple(self.work.passes) or (1,))
        levels = judged_levels(self.solid.triangles, self.work.passes, self.work.profiles)
        return self.judge.judged(levels, partial(self._excused_walls, excuses, easing))

    def _excused_walls(self, excuses: Excuses, easing: Easing, places: Places) -> Floats:
        radius = excuses.of_walls(easing, places)
        if self.work.undercuts and len(places):
            rows = np.flatnonzero(radius == 0)
            before = places.at_mm[rows].copy()
            before[:, :2] += OUTWARD_MM * places.normal[rows]
            rows = rows[is_hidden(before, self.solid.triangles)]
            beneath = Easing(self.solid, self.under, easing.ups)
            radius[rows] = self._excuses(-SHY_MM).of_walls(beneath, places.kept(rows))
        if not self.others or not len(places):
            return radius
        # every axis along which a place lies open could have had it taken: each of them has to excuse it
        normals = solid_normals(places.normal, places.steep, places.lean)
        least = np.where(self._open(places.at_mm, normals), radius, np.nan)
        for other in self.others:
            turn = other.rotation @ self.rotation.T
            least = np.fmin(least, other.excused_for(places, turn))
        return np.where(np.isnan(least), radius, least)

    def _open(self, at_mm: Floats, normals: Floats) -> NDArray[np.bool_]:
        """Whether places before a face lie open to a side that was up, (n,)."""
        before = at_mm + OUTWARD_MM * normals
        seen = np.zeros(len(at_mm), dtype=bool)
        for up in self.work.passes:
            seen |= ~is_under(before, self.solid.triangles, up)
        return seen

    def excused_for(self, places: Places, turn: Floats) -> Floats:
        """The radius of the cutter that, standing on this axis, has to leave wood before another axis' walls
        (``turn``: to this one); 0 where it could be taken, nan where it does not lie open along this axis."""
        normals = solid_normals(places.normal, places.steep, places.lean) @ turn.T
        at_mm, radius = places.at_mm @ turn.T, np.zeros(len(places))
        rows = np.flatnonzero(np.abs(normals[:, 2]) < STEEP_RATIO)
        steep = np.linalg.norm(normals[rows, :2], axis=1)
        level_by = self.judge.wood_before(at_mm[rows])
        lean = np.where(np.abs(normals[rows, 2]) < 1e-6, 0, np.sign(normals[rows, 2])).astype(np.int8)
        own = Places(
            at_mm[rows],
            level_by * steep,
            level_by,
            steep,
            normals[rows, :2] / steep[:, None],
            lean,
            places.motion[rows],
            places.face[rows],
        )
        easing = Easing(self.solid, self.able, tuple(self.work.passes) or (1,))
        radius[rows] = self._excuses().of_walls(easing, own)
        return np.where(self._open(at_mm, normals), radius, np.nan)

    def _floors(self, up: int, excuses: Excuses) -> Floors:
        settings = self.settings
        seen = np.ascontiguousarray(self.solid.triangles @ side_rotation("+z" if up > 0 else "-z").T)
        excused: Excuse = partial(excuses.of_floors, Easing(self.solid, self.able, (up,)))
        judge = FloorJudge(
            up,
            seen,
            self.work.cuts.get(up, ()),
            self.blank_z_mm[1] if up > 0 else -self.blank_z_mm[0],
            settings.gouge_tolerance_mm,
            self.judge.allowance_mm,
            _nearest(self, self.others) if self.others else None,
            self.whole,
            self.work.undercuts,
        )
        made, part = self._made(judge, seen)
        floors = judge.judged(made, part, excused)
        return replace(floors, side=("+" if up > 0 else "-") + self.axis)

    def _made(self, judge: FloorJudge, seen: Floats) -> tuple[Heights, Grid]:
        """The wood's top over the piece as this axis' cuts leave it, seen frame."""
        top, grid = self.work.own.top(side_rotation("+z" if judge.up > 0 else "-z"))
        top += np.float32(self.blank_z_mm[0] if judge.up > 0 else -self.blank_z_mm[1])
        return _round_piece(top, grid, seen)

    def hanging(self, after: Columns) -> Left:
        """Wood that hangs over open faces, in the piece frame; ``after``: all that is left, in this axis' frame."""
        found = []
        for up, faults in hanging_wood(after, self.solid.triangles, self.judge.allowance_mm).items():
            left = self._excuses().of_floors(Easing(self.solid, self.able, (up,)), faults)
            found.append(replace(left, at_mm=left.at_mm @ self.rotation))
        return Left.joined(found)

    def _hidden(self) -> tuple[HiddenFaults, Left]:
        """Hidden shallow faces: (cut into, wood left on them)."""
        nothing = np.empty((0, 3)), np.empty(0)
        if not self.others and not self.work.undercuts:  # straight cutters along one axis cannot get there
            return HiddenFaults(nothing[0], *nothing), Left(*nothing, np.empty(0))
        tolerance_mm, allowance_mm = self.judge.gouge_tolerance_mm, self.judge.allowance_mm
        within_mm = max(tolerance_mm, allowance_mm)
        places = hidden_places(self.solid.triangles, within_mm)
        open_too = hidden_places(self.solid.triangles, within_mm, also_open=True) if self.work.undercuts else places
        faults = gouged(open_too, self.judge.wood_before, tolerance_mm)
        if not self.whole:
            return faults, Left(*nothing, np.empty(0))
        wood = left_mm(places, _nearest(self, self.others, own=True), allowance_mm)
        rows = np.flatnonzero(wood > allowance_mm)
        return faults, self._hidden_left(HiddenPlaces(places.at_mm[rows], places.normals[rows]), wood[rows])

    def _hidden_left(self, places: HiddenPlaces, wood_mm: Floats) -> Left:
        """What of it the disc of an undercutting cutter has to leave in corners.

        Undercuts are as a rule as wide as the disc: only what a slightly smaller one leaves too is excused.
        """
        excuses = self._excuses(-SHY_MM)
        found = [Left(np.empty((0, 3)), np.empty(0), np.empty(0))]
        for up in (1, -1):
            rows = np.flatnonzero(np.sign(places.normals[:, 2]) == up)
            faults = FloorFaults(places.at_mm[rows], wood_mm[rows])
            found.append(excuses.of_floors(Easing(self.solid, self.under, (up,)), faults))
        return Left.joined(found)


def _nearest(own_side: AxisJudge, others: Sequence[AxisJudge], own: bool = False) -> WayToAir:
    """From places in the frame of ``own_side`` the way to the nearest air that the others (or it too) made."""
    sides = [*others, own_side] if own else list(others)
    turns = [side.rotation @ own_side.rotation.T for side in sides]

    def way(at_mm: Floats) -> Floats:
        nearest = np.full(len(at_mm), np.inf)
        for side, turn in zip(sides, turns):
            nearest = np.minimum(nearest, side.judge.wood_before(at_mm @ turn.T))
        return nearest

    return way


def _round_piece(top: Heights, grid: Grid, seen: Floats) -> tuple[Heights, Grid]:
    """The field's part over the piece."""
    low, high = seen.reshape(-1, 3).min(axis=0), seen.reshape(-1, 3).max(axis=0)
    pitch = grid.pitch_mm
    c0 = max(int((low[0] - grid.x0_mm) // pitch) - 1, 0)
    r0 = max(int((low[1] - grid.y0_mm) // pitch) - 1, 0)
    c1 = min(int((high[0] - grid.x0_mm) // pitch) + 2, grid.nx)
    r1 = min(int((high[1] - grid.y0_mm) // pitch) + 2, grid.ny)
    part = Grid(grid.x0_mm + c0 * pitch, grid.y0_mm + r0 * pitch, pitch, c1 - c0, r1 - r0)
    return np.ascontiguousarray(top[r0:r1, c0:c1]), part


def in_piece_frame(finding: Finding, rotation: Floats) -> Finding:
    """A finding whose place is said in an axis' frame."""
    if finding.place_mm is None or finding.frame != "piece":
        return finding
    x, y, z = (np.array(finding.place_mm) @ rotation).tolist()
    return replace(finding, place_mm=(x, y, z))
