"""All cutter paths of one placement, cutter by cutter in the order listed; each sees the wood as the last left it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from .bridges import Bridges
from .drill import cut_holes
from .floors import Covered, cut_floors
from .join import Joiner
from .nogo import NoGo, round_edge_mm
from .pockets import cut_pockets
from .request import CutRequest, CutterPath, CutterTask
from .room import Room
from .rough import rough
from .rows import cut_rows
from .wall_levels import ball_levels, corner_levels, flat_levels
from .walls import cut_corners, cut_walls
from .wood import Wood
from .work import Work, around_mm

Progress = Callable[[str, float], None]

SHARP = ("flat", "bull")
ROUGH_THIN_MM = 0.03  # roughing keeps half the wall allowance besides and needs no finer border
SPARE_DEPTH_MM = 0.5
LEAST_TOLD_MM = 5.0
GIVE_UP_BELOW_MM = 4.0  # corners without room for so much of the way down are left for good


@dataclass(frozen=True, eq=False)
class _Shares:
    """Who does what: the first sharp-edged cutter, the first ball; and what is finished of the floors."""

    sharp: CutterTask | None
    ball: CutterTask | None
    covered: Covered

    @staticmethod
    def among(tasks: Sequence[CutterTask]) -> _Shares:
        def first(*kinds: str) -> CutterTask | None:
            return next((task for task in tasks if task.cutter.kind in kinds), None)

        return _Shares(first(*SHARP), first("ball"), Covered())


def make_paths(
    request: CutRequest, tasks: Sequence[CutterTask], progress: Progress | None = None
) -> tuple[CutterPath, ...]:
    """Strokes for every cutter, in order; ``progress(words, ratio done)`` is told before each."""
    nogo = NoGo(request.solid, around_mm(request, tasks))
    shares = _Shares.among(tasks)
    deepest_mm = max((task.cutter.stepdown_mm for task in tasks), default=0.0) + SPARE_DEPTH_MM
    top, most, paths = request.top, request.most, []
    for k, task in enumerate(tasks):
        if progress is not None:
            progress(f"paths for {task.cutter.name}", k / len(tasks))
        lowest_mm = request.lowest_tip_mm if task.lowest_tip_mm is None else task.lowest_tip_mm
        own = replace(request, lowest_tip_mm=lowest_mm)
        work = _work(own, task, nogo, Wood(request.grid, top, task.cutter, most), deepest_mm)
        notes = _cut(work, tasks[:k], shares)
        top, most = work.wood.top, work.wood.most
        paths.append(CutterPath(task.cutter.name, work.joiner.strokes(), top, most, tuple(notes)))
    return tuple(paths)


def _work(request: CutRequest, task: CutterTask, nogo: NoGo, wood: Wood, deepest_mm: float) -> Work:
    room = Room(wood, task.assembly, around_mm(request, [task]), deepest_mm)
    cutter = task.cutter
    least_ramp_mm = 0.0 if cutter.centre_cutting else cutter.diameter_mm
    joiner = Joiner(wood, request.safe_z_mm, Bridges(request.bridges, cutter.diameter_mm / 2), least_ramp_mm)
    return Work(request, task, nogo, wood, joiner, room, {})


def _cut(work: Work, before: Sequence[CutterTask], shares: _Shares) -> list[str]:
    """Everything that falls to one cutter; what it could not do, in words."""
    if work.cutter.kind == "drill":
        return cut_holes(work)
    if work.cutter.kind not in (*SHARP, "ball"):
        return [f"{work.cutter.name}: walls, floors and tops are not cut with this kind ({work.cutter.kind})"]
    rough(replace(work, nogo=work.nogo.coarser(ROUGH_THIN_MM)))
    notes = cut_pockets(work) if work.task is shares.sharp else []
    _cut_walls(work, before, shares)
    if work.cutter.kind in SHARP or (work.task is shares.ball and shares.sharp is None):
        cut_floors(work, shares.covered)
    if work.task is (shares.ball or shares.sharp):
        cut_rows(work)
    return notes + _notes(work)


def _cut_walls(work: Work, before: Sequence[CutterTask], shares: _Shares) -> None:
    if work.task is shares.sharp:
        cut_walls(work, flat_levels(work, round_edge_mm(shares.ball.cutter) if shares.ball else None))
    elif work.task is shares.ball:
        cut_walls(work, ball_levels(work, alone=shares.sharp is None))
    elif work.cutter.kind in SHARP:
        sharp = [t.cutter for t in before if t.cutter.kind in SHARP]
        bigger = [cutter for cutter in sharp if cutter.diameter_mm > work.cutter.diameter_mm]
        if bigger:
            smallest = min(bigger, key=lambda cutter: cutter.diameter_mm)
            cut_corners(work, corner_levels(work, smallest), GIVE_UP_BELOW_MM)


def _notes(work: Work) -> list[str]:
    name, joiner, notes = work.cutter.name, work.joiner, []
    for what, left_out in work.left_out.items():
        if left_out.length_mm > LEAST_TOLD_MM and left_out.first_mm is not None:
            first = "x {:.1f} y {:.1f} z {:.1f}".format(*left_out.first_mm)
            notes.append(
                f"{name}: {left_out.length_mm:.0f} mm of {what} left out, the first at {first}: "
                "no room for what turns above the flutes, or too much wood still stands there"
            )
    if joiner.left_out_mm > LEAST_TOLD_MM:
        notes.append(
            f"{name}: {joiner.left_out} short cuts, {joiner.left_out_mm:.0f} mm in all, left out: "
            "too short to go down into the wood along them"
        )
    return notes
