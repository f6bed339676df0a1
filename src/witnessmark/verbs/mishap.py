"""mishap: something slipped, was set wrong or gouged; what is left of the blank, and what can still be made of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from witnessmark.field.columns import Columns
from witnessmark.job.errors import refuse
from witnessmark.job.frames import Rigid
from witnessmark.job.placement import Placement
from witnessmark.log.book import LOG_FILE, Log
from witnessmark.log.entries import MishapEntry, Step
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.model import PiecePlan
from witnessmark.plan.shift import Shift, rigid_of, shift_of
from witnessmark.plan.store import load_plans
from witnessmark.program.header import filled
from witnessmark.program.part import head
from witnessmark.proof.judge import watch
from witnessmark.proof.running import Pose
from witnessmark.proof.verdict import ProgramText

from .as_is import AsIs, keep_as_is
from .history import REPLANNED, chain, current_text, pose_of, poses_of, runs_of, stop_at, stops_of
from .made_from import must_be_as_planned
from .make import DraftFile, drafts_of, silent
from .prove import Progress, blank_wood
from .workshop import Workshop, open_workshop

FARTHEST_MM, MOST_TURN_RAD = 500.0, math.radians(45.0)
Box = tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class Happened:
    """What the maker knows: a program ran (up to ``line``, 0: all of it) while the work lay ``off`` from where it
    should, or its cutter stood ``lower_mm`` too low; or wood is gone in a box (piece frame), or to a depth below the
    highest wood in a rectangle of a placement (program frame: x, y from; x, y to; depth)."""

    program: str = ""
    line: int = 0
    off: Pose = (0.0, 0.0, 0.0)
    lower_mm: float = 0.0
    box_mm: Box | None = None
    placement: str = ""
    gouge_mm: tuple[float, float, float, float, float] | None = None


@dataclass(frozen=True, eq=False)
class MishapAnswer:
    """What is left, what can be made of it, and where the blank as it is was kept (None: nothing can be made)."""

    piece: str
    left_mm3: float
    shift: Shift
    path: Path | None

    @property
    def can_be_made(self) -> bool:
        return self.path is not None

    def words(self) -> str:
        lines = [f"{self.piece}: {self.left_mm3 / 1e6:.2f} l of wood are left of the blank"]
        shift = self.shift
        go_on = (
            "plan again (witnessmark plan, program, prove), then go on with witnessmark work: its first placement is "
        )
        go_on += "found by touching the blank, and planning starts from the wood as it is"
        if shift.whole:
            return "\n".join(
                [*lines, "  nothing of the piece is lost: it still lies whole in the wood", f"  {go_on}"]
            )
        assert shift.missing_mm is not None
        assert shift.box_mm is not None
        x, y, z = shift.missing_mm
        low, high = shift.box_mm
        size = " x ".join(f"{b - a:.1f}" for a, b in zip(low, high))
        lines.append(
            f"  where the piece lay {100 * shift.lost_ratio:.1f} % of its surface has no wood: near x {x:.1f} "
            f"y {y:.1f} z {z:.1f} of the piece, in all within {size} mm"
        )
        if shift.move is None:
            lines.append(
                "  no move of the piece inside the blank saves it: that wood is missing wherever it could lie"
            )
            return "\n".join([*lines, "  let in a patch there and say so as a new blank, or begin a new blank"])
        dx, dy, dz, turn = shift.move
        turned = f", turned by {math.degrees(turn):.2f} degrees" if turn else ""
        lines.append(
            f"  moved by x {dx:+.1f} y {dy:+.1f} z {dz:+.1f} mm{turned} inside the blank it can be made whole"
        )
        return "\n".join([*lines, f"  {go_on}"])

    def record(self) -> dict[str, Any]:
        shift = self.shift
        return {
            "piece": self.piece,
            "can_be_made": self.can_be_made,
            "whole": shift.whole,
            "move": None if shift.move is None else list(shift.move),
            "missing_mm": shift.missing_mm,
            "lost_ratio": round(shift.lost_ratio, 5),
            "left_mm3": round(self.left_mm3, 1),
        }


def mishap(folder: Path | str, piece: str | None, happened: Happened, progress: Progress = silent) -> MishapAnswer:
    """Compute the blank as it is and look for what can be made of it; where something can, planning starts from it.

    What has run is what the log says; without a log, all programs before the one named (and that one).
    """
    workshop = open_workshop(folder)
    must_be_as_planned(workshop)
    drafts = drafts_of(workshop)
    plan = _plan(workshop, drafts, piece, happened)
    _check(happened, plan)
    path = workshop.folder.root / LOG_FILE
    with Log(path) as log:
        steps = log.steps()
        progress("the wood as it is", 0.1)
        wood = _as_it_is(workshop, plan, drafts, steps, happened)
        solid = workshop.solids[plan.piece.name]
        progress("what can still be made of it", 0.6)
        box = blank_box(plan.piece.blank, *solid.bounds_mm)
        shift = shift_of(wood, solid, box, _hints(workshop, plan, drafts, steps, happened))
        kept = None
        name = plan.piece.name
        if shift.move is not None:
            move = rigid_of(shift.move, solid)
            if name in workshop.as_is:
                move = move @ workshop.as_is[name].move
            kept = keep_as_is(workshop.folder.root, name, AsIs(wood, move))
        dx, dy, turn = happened.off
        log.confirm("mishap", name, mishap=MishapEntry(happened.program, dx, dy, turn, happened.box_mm))
        if kept is not None:
            log.confirm("stage", name, "", REPLANNED)
    return MishapAnswer(name, wood.volume_mm3(), shift, kept)


def _plan(workshop: Workshop, drafts: Sequence[DraftFile], piece: str | None, happened: Happened) -> PiecePlan:
    plans = load_plans(workshop.job, workshop.folder.out("plan.toml"), None)
    if happened.program:
        own = [draft.piece for draft in drafts if draft.file == happened.program]
        if not own:
            names = ", ".join(draft.file for draft in drafts[:6])
            where = f"--program {happened.program[:60]}"
            raise refuse(where, "is none of the plan's programs", f"name one: {names} ...")
        piece = own[0]
    if piece is None and len(plans) == 1:
        piece = plans[0].piece.name
    for plan in plans:
        if plan.piece.name == piece:
            return plan
    names = ", ".join(plan.piece.name for plan in plans)
    raise refuse(f"--piece {piece or ''}".strip(), "which piece it is about is not known", f"name one of {names}")


def _check(happened: Happened, plan: PiecePlan) -> None:
    dx, dy, turn = happened.off
    numbers = [dx, dy, turn, happened.lower_mm, *(happened.box_mm or ()), *(happened.gouge_mm or ())]
    if not all(map(math.isfinite, numbers)):
        raise refuse("mishap", "holds a number that is not finite", "type it again")
    if math.hypot(dx, dy) > FARTHEST_MM or abs(turn) > MOST_TURN_RAD or abs(happened.lower_mm) > FARTHEST_MM:
        raise refuse(
            "mishap", "is farther off than any work could lie", "see whether the numbers are in mm and degrees"
        )
    if not happened.program and happened.box_mm is None and happened.gouge_mm is None:
        what = "says neither which program ran wrong nor what wood is gone"
        raise refuse("mishap", what, "give --program with --off, --turned or --lower, or --from and --to")
    if happened.box_mm is not None and any(a >= b for a, b in zip(happened.box_mm[:3], happened.box_mm[3:])):
        raise refuse("--from, --to", "the box has no inside", "give its lowest corner first")
    if happened.gouge_mm is not None and all(s.placement.name != happened.placement for s in plan.placements):
        names = ", ".join(step.placement.name for step in plan.placements)
        raise refuse(f"--placement {happened.placement[:20]}", "is not in the plan", f"name one of {names}")


def _as_it_is(
    workshop: Workshop, plan: PiecePlan, drafts: Sequence[DraftFile], steps: Sequence[Step], happened: Happened
) -> Columns:
    """The wood after all that has run and all that went wrong."""
    job, piece = workshop.job, plan.piece.name
    wood = blank_wood(workshop, piece, blank_box(plan.piece.blank, *workshop.solids[piece].bounds_mm), None)
    placements = {step.placement.name: step.placement for step in plan.placements}
    programs, poses = _ran(workshop, drafts, steps, piece, happened, placements)
    if programs:
        wood = watch(programs, wood, job.machine, job.cutters, placements, job.settings, poses).columns_after
    if happened.box_mm is not None:
        wood = without_box(wood, happened.box_mm)
    if happened.gouge_mm is not None:
        wood = _gouged(wood, placements[happened.placement], happened.gouge_mm)
    return wood


def _hints(
    workshop: Workshop, plan: PiecePlan, drafts: Sequence[DraftFile], steps: Sequence[Step], happened: Happened
) -> tuple[Rigid, ...]:
    """The move that puts the piece where the program that ran wrong has cut it."""
    if not happened.program:
        return ()
    placement = next(draft.placement for draft in drafts if draft.file == happened.program)
    stand = next(step.placement.stand for step in plan.placements if step.placement.name == placement)
    dx, dy, turn = happened.off
    c, s = math.cos(turn), math.sin(turn)
    lay = Rigid(np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]), np.array([dx, dy, happened.lower_mm]))
    return (stand.inverse() @ lay.inverse() @ stand,)


def _ran(
    workshop: Workshop,
    drafts: Sequence[DraftFile],
    steps: Sequence[Step],
    piece: str,
    happened: Happened,
    placements: dict[str, Placement],
) -> tuple[list[ProgramText], dict[str, Pose]]:
    """All that has run, in order; the program that ran wrong in a placement of its own, which is added."""
    own = [draft for draft in drafts if draft.piece == piece]
    names = [draft.file for draft in own]
    last = names.index(happened.program) if happened.program else -1
    by_log = {run.file for _, run, _ in runs_of(steps, piece)}
    found = poses_of(steps, piece)
    stops = stops_of(workshop, drafts, steps, piece)
    poses = {placement: pose_of(entry) for placement, entry in found.items()}
    programs: list[ProgramText] = []
    for k, draft in enumerate(own):
        as_run = replace(draft, text=current_text(workshop, draft, found))
        if draft.file == happened.program:
            wrong = f"{draft.placement} (off)"
            at = poses.get(draft.placement, (0.0, 0.0, 0.0))
            placements[wrong] = placements[draft.placement].named(wrong)
            poses[wrong] = (at[0] + happened.off[0], at[1] + happened.off[1], at[2] + happened.off[2])
            text = filled(_up_to(as_run, happened.line), "placement", wrong)
            programs.append(ProgramText(draft.file, wrong, draft.cutter, text, (0.0, 0.0, -happened.lower_mm)))
        elif draft.file in by_log or k < last:
            for part in chain(as_run, stops):
                if part.file == draft.file or part.file in by_log:
                    programs.append(ProgramText(part.file, part.placement, part.cutter, part.text))
    return programs, poses


def _up_to(draft: DraftFile, line: int) -> str:
    """The program as far as it ran."""
    stopped = stop_at(draft.text, line, draft.file) if line else None
    return draft.text if stopped is None else head(draft.text, stopped.line, draft.file)


def without_box(wood: Columns, box_mm: Box) -> Columns:
    """The wood without what lies in an upright box (x, y, z from; x, y, z to; frame of the columns)."""
    x0, y0, z0, x1, y1, z1 = box_mm
    grid = wood.grid
    half = grid.pitch_mm / 2  # every cell that the box reaches into
    along_x = (grid.x_mm > x0 - half) & (grid.x_mm < x1 + half)
    inside = along_x[None, :] & ((grid.y_mm > y0 - half) & (grid.y_mm < y1 + half))[:, None]
    low = np.where(inside, np.float32(z0 - wood.z_from_mm), np.float32(np.inf))
    high = np.where(inside, np.float32(z1 - wood.z_from_mm), np.float32(-np.inf))
    return wood.without(low, high, np.eye(3))


def _gouged(wood: Columns, place: Placement, gouge_mm: tuple[float, float, float, float, float]) -> Columns:
    """The wood of a rectangle (program frame) down to a depth below its highest place there."""
    x0, y0, x1, y1, depth = gouge_mm
    top, grid = wood.top(place.stand.rotation)
    x, y = grid.x_mm + place.shift_mm[0], grid.y_mm + place.shift_mm[1]
    half = grid.pitch_mm / 2
    inside = ((x > x0 - half) & (x < x1 + half))[None, :] & ((y > y0 - half) & (y < y1 + half))[:, None]
    if not (inside & np.isfinite(top)).any():
        raise refuse("--from, --to", "there is no wood in that rectangle", "give x and y as the machine shows them")
    down = np.float32(top[inside].max() - depth)
    return wood.lowered(np.where(inside, np.minimum(top, down), top), place.stand.rotation)
