"""The way through a job at the machine: what is done, what is next. The log holds the state, this reads it.

Every task is worked out anew from the plan and the steps that stand in the log, so that power loss, another terminal
or a step taken back leave nothing to repair. What asks the maker (a terminal, later a page) calls these functions.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from witnessmark.job.errors import refuse
from witnessmark.job.placement import Placement
from witnessmark.log.book import LOG_FILE, Log
from witnessmark.log.entries import RunEntry, Step
from witnessmark.log.lessons import MinutesLesson, minutes_lesson
from witnessmark.plan.model import PiecePlan, PlacementPlan
from witnessmark.plan.store import load_plans
from witnessmark.program.fingerprint import stamped_of
from witnessmark.sheet.pages import first_words, last_words, placement_pages, stacking
from witnessmark.sheet.rehearsals import how_to, seen, stops, where
from witnessmark.sheet.scene import scenes_of
from witnessmark.sheet.words import minutes as minutes_words

from .find import Expected, expected_of
from .history import (
    Stopped,
    current_text,
    folder_of,
    of_this_blank,
    poses_of,
    rest_text,
    runs_of,
    stop_at,
)
from .made_from import PROVEN_FROM, kept, made_from
from .make import DraftFile, drafts_of
from .workshop import Workshop, open_workshop

TaskKind = Literal["stage", "mounted", "rehearsed", "read", "found", "run"]
HOLLOWED_RATIO = 0.25  # of the blank cut away by now: the wood moves (common practice, no source)
REST_HOURS = 12.0
HEADER_CHARACTERS = 20_000  # its fingerprint stands among a program's first lines
KEPT_FIXTURE = "in the kept fixture"
LEVEL = "level"  # what is found from heights


@dataclass(frozen=True)
class Task:
    """One thing to do. ``running``: the step that started a program whose end nobody has told yet."""

    piece: str
    placement: str
    kind: TaskKind
    what: str
    title: str
    lines: tuple[str, ...]
    done: bool = False
    running: Step | None = None
    touch: Expected | None = None
    run: RunEntry | None = None
    path: Path | None = None
    repeat: bool = False  # one reading tells whether the blank lies as the one before

    def record(self) -> dict[str, Any]:
        """For scripts."""
        own = {key: getattr(self, key) for key in ("piece", "placement", "kind", "what", "title", "done")}
        return own | {"lines": list(self.lines), "running": self.running is not None}


@dataclass(frozen=True, eq=False)
class Bench:
    """A proven job, opened for work at the machine."""

    workshop: Workshop
    plans: tuple[PiecePlan, ...]
    drafts: tuple[DraftFile, ...]
    pages: Mapping[str, list[dict[str, Any]]]  # by piece: the words of the bench sheet for each placement

    @property
    def folder(self) -> Path:
        return self.workshop.folder.root

    def log(self) -> Log:
        return Log(self.folder / LOG_FILE)

    def plan_of(self, piece: str) -> PiecePlan:
        for plan in self.plans:
            if plan.piece.name == piece:
                return plan
        names = ", ".join(plan.piece.name for plan in self.plans)
        raise refuse(f"piece {piece[:40]}", "is not in the plan", f"name one of {names}")

    def place_of(self, piece: str, placement: str) -> Placement:
        return next(s.placement for s in self.plan_of(piece).placements if s.placement.name == placement)


def open_bench(folder: Path | str) -> Bench:
    """Refused where the programs are not proven, or not with the job as it is now."""
    workshop = open_workshop(folder)
    proof = workshop.folder.out("proof.json")
    holds = kept(workshop.folder.out(PROVEN_FROM)) == made_from(workshop) and proof.is_file()
    if not holds or not json.loads(proof.read_text(encoding="utf-8"))["passed"]:
        what = "its programs are not proven, or not with the job as it is now"
        raise refuse(str(workshop.folder.root), what, "run: witnessmark plan, program and prove")
    plans = load_plans(workshop.job, workshop.folder.out("plan.toml"), workshop.folder.out_dir("fields"))
    scenes = scenes_of(workshop.job, plans, workshop.solids)
    pages = {plan.piece.name: placement_pages(workshop.job, plan, shown) for plan, shown in scenes}
    return Bench(workshop, tuple(plans), tuple(drafts_of(workshop)), pages)


def tasks(bench: Bench, steps: Sequence[Step]) -> tuple[Task, ...]:
    """Everything to do, in order, with what is done by the steps that stand."""
    factor = minutes_lesson(steps)
    found: list[Task] = []
    for plan in bench.plans:
        found += _piece_tasks(bench, plan, steps, factor)
        of, words = stacking(plan, bench.plans)
        if words:
            own = of_this_blank(steps, plan.piece.name)
            done = any((step.placement, step.kind, step.what) == ("", "stage", "stack") for step in own)
            title = f"{of}: glue the layers"
            found.append(Task(plan.piece.name, "", "stage", "stack", title, words, done))
    return tuple(found)


def next_task(listed: Sequence[Task]) -> Task | None:
    """The first that is not done; None at the end."""
    return next((task for task in listed if not task.done), None)


def _piece_tasks(bench: Bench, plan: PiecePlan, steps: Sequence[Step], factor: MinutesLesson | None) -> list[Task]:
    piece = plan.piece.name
    own = of_this_blank(steps, piece)
    done: dict[tuple[str, str, str], Step] = {(step.placement, step.kind, step.what): step for step in own}

    def stage(name: str, title: str, *lines: str) -> Task:
        return Task(piece, "", "stage", name, f"{piece}: {title}", lines, ("", "stage", name) in done)

    listed = [stage("blank", "the blank", *first_words(plan))]
    listed += _stages(plan, 0, stage)
    removed_mm3, rested = 0.0, False
    size = plan.piece.blank
    for number, step in enumerate(plan.placements, 1):
        listed += _placement_tasks(bench, plan, number, steps, done, factor)
        listed += _stages(plan, number, stage)
        removed_mm3 += step.removed_mm3
        hollowed = removed_mm3 > HOLLOWED_RATIO * size.size_x_mm * size.size_y_mm * size.size_z_mm
        if hollowed and not rested and number < len(plan.placements):
            rested = True
            if not any(s.kind == "rest" for s in plan.piece.stages):
                listed.append(stage("rest", "let it rest", *_rest_words(removed_mm3, size)))
    listed += [task for k in range(len(plan.placements) + 1, 100) for task in _stages(plan, k, stage)]
    return [*listed, stage("finish", "off the board", *last_words())]


def _rest_words(removed_mm3: float, size: Any) -> tuple[str, ...]:
    share = removed_mm3 / (size.size_x_mm * size.size_y_mm * size.size_z_mm)
    return (
        f"{share:.0%} of the blank is cut away: what is left may spring as it dries and as its strain is set free.",
        f"Let it lie for {REST_HOURS:.0f} hours or more, air on both faces (common practice, no source), and look "
        "for twist with a straight edge before it is fixed again.",
    )


def _stages(plan: PiecePlan, after: int, stage: Any) -> list[Task]:
    """Work that is not the router's, as the job has it."""
    listed = []
    for k, own in enumerate(plan.piece.stages):
        if own.after == after:
            takes = (f"About {own.hours:g} hours.",) if own.hours else ()
            listed.append(
                stage(f"{own.kind} {k + 1}", own.kind if own.kind != "other" else "by hand", own.words, *takes)
            )
    return listed


def _placement_tasks(
    bench: Bench,
    plan: PiecePlan,
    number: int,
    steps: Sequence[Step],
    done: Mapping[tuple[str, str, str], Step],
    factor: MinutesLesson | None,
) -> list[Task]:
    step = plan.placements[number - 1]
    piece, name = plan.piece.name, step.placement.name
    page = bench.pages[piece][number - 1]
    head = f"{piece}, placement {name}"
    again = (name, "mounted", KEPT_FIXTURE) in done
    mounted = again or (name, "mounted", "") in done
    lines = (*page["mount"], *page["measure"], *page["cautions"])
    may_keep = last_found(steps, piece, name) is not None
    listed = [Task(piece, name, "mounted", "", f"{head}: mount it", lines, mounted, repeat=may_keep)]
    first = step.programs[0].cutter if step.programs else ""
    if step.rehearsal is not None:
        own = step.rehearsal
        words = [f"Program {own.file}. First cutter: {first}. {page['touch_off']}", *how_to()]
        words += [f"{stops(own)} Comes down over {where(own)}.".strip()]
        words += [f"If {sight.mistake}: {seen(sight)}." for sight in own.sights]
        path = bench.workshop.folder.out("programs", own.file)
        rehearsed = (name, "rehearsed", "") in done
        listed.append(Task(piece, name, "rehearsed", "", f"{head}: rehearse", tuple(words), rehearsed, path=path))
    expected = expected_of(step.placement, _stylus_mm(done))
    if step.placement.levels:
        listed += _levelling(piece, name, [touch for touch in expected if touch.level], done)
    if len(step.placement.touches) >= 3:
        listed += _finding(piece, name, [touch for touch in expected if not touch.level], done, again)
    return listed + _programs(bench, plan, step, page, steps, factor)


def _stylus_mm(done: Mapping[tuple[str, str, str], Step]) -> float:
    """As it was typed last; 0 before."""
    return next((s.readings[-1].stylus_mm for s in reversed(list(done.values())) if s.readings), 0.0)


def _levelling(
    piece: str, name: str, expected: Sequence[Expected], done: Mapping[tuple[str, str, str], Step]
) -> list[Task]:
    """Heights, each of which may be left out, and what they say."""
    head, level = f"{piece}, placement {name}", (name, "found", LEVEL) in done
    listed = []
    for touch in expected:
        x, y, z = touch.at_mm
        words = f"Height at the {touch.name}, near x {x:.0f} y {y:.0f}: should be z {z:.2f} ({touch.known_from})."
        title = f"{head}: height {touch.number} of {len(expected)}"
        what = f"L{touch.number}"
        read = level or (name, "read", what) in done
        listed.append(Task(piece, name, "read", what, title, (words,), read, touch=touch))
    words = "From the heights: whether it lies level, and what to put under which corner if it does not."
    return [*listed, Task(piece, name, "found", LEVEL, f"{head}: is it level?", (words,), level)]


def _finding(
    piece: str, name: str, expected: Sequence[Expected], done: Mapping[tuple[str, str, str], Step], again: bool
) -> list[Task]:
    head = f"{piece}, placement {name}"
    found = (name, "found", "") in done
    listed = []
    for touch in expected[:1] if again else expected:
        x, y, z = touch.at_mm
        words = f"Bring the stylus to the {touch.name} near x {x:.1f} y {y:.1f} z {z:.1f} ({touch.known_from})."
        title = f"{head}: touch {touch.number} of {len(expected)}"
        read = found or (name, "read", str(touch.number)) in done
        listed.append(Task(piece, name, "read", str(touch.number), title, (words,), read, touch=touch, repeat=again))
    words = "From the numbers: where it lies, the programs corrected for it, and the proof of them."
    if again:
        words = "One number tells whether this blank lies as the last one did."
    return [*listed, Task(piece, name, "found", "", f"{head}: find it", (words,), found, repeat=again)]


def _programs(
    bench: Bench,
    plan: PiecePlan,
    step: PlacementPlan,
    page: dict[str, Any],
    steps: Sequence[Step],
    factor: MinutesLesson | None,
) -> list[Task]:
    """The programs of a placement, each with what is left of it after a stop."""
    piece, name = plan.piece.name, step.placement.name
    found = poses_of(steps, piece)
    runs = runs_of(steps, piece)
    by_file = {draft.file: draft for draft in bench.drafts if draft.piece == piece}
    listed = []
    for info, shown in zip(step.programs, page["programs"]):
        file, text, more = info.file, "", True
        while more:
            more = False
            last = next(((s, end) for s, run, end in reversed(runs) if run.file == file), None)
            running = last[0] if last is not None and last[1] is None else None
            done = last is not None and last[1] is not None
            takes = info.minutes * (factor.factor_ratio if factor else 1.0)
            lines = (
                f"Cutter {info.cutter}, {shown['sizes']}, stick-out {shown['stickout']} mm. {page['touch_off']}",
                f"About {minutes_words(takes)}" + (f" ({factor.words()})." if factor else "."),
            )
            path = bench.workshop.folder.out(folder_of(file, name, bench.drafts, found), file)
            run = RunEntry(file, _stamp(path), info.cutter, info.minutes)
            title = f"{piece}, placement {name}: run {file}"
            listed.append(Task(piece, name, "run", file, title, lines, done, running, run=run, path=path))
            end = last[1] if last is not None else None
            if end is not None and end.stop_line is not None:
                text = text or current_text(bench.workshop, by_file[info.file], found)
                stopped: Stopped | None = stop_at(text, end.stop_line, file)
                if stopped is not None:
                    file, text, more = stopped.rest, rest_text(text, stopped), True
    return listed


def _stamp(path: Path) -> str:
    """The fingerprint that the program carries; '' where it is not there or carries none."""
    try:
        with path.open(encoding="utf-8") as file:
            return (
                stamped_of(file.read(HEADER_CHARACTERS)) or ""
            )  # programs are long, and this is asked at every prompt
    except (OSError, UnicodeDecodeError):
        return ""


def last_found(steps: Sequence[Step], piece: str, placement: str) -> Step | None:
    """Where the blank before this one was found in the same placement."""
    now = {step.id for step in of_this_blank(steps, piece)}
    earlier = [
        step
        for step in steps
        if step.stands and step.pose is not None and (step.piece, step.placement) == (piece, placement)
    ]
    return next((step for step in reversed(earlier) if step.id not in now), None)
