"""plan, program, prove, sheet: the verbs that take a job from its shapes to the machine."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from threading import Event

from witnessmark.field.threads import thread_count
from witnessmark.job.errors import refuse
from witnessmark.job.whole import write_text_whole
from witnessmark.plan.model import PiecePlan
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.programs import write_drafts
from witnessmark.plan.solids import write_solids
from witnessmark.plan.store import load_plans, save_plans
from witnessmark.plan.table import plan_text

from .apart import NoAnswer, Written, written_apart
from .folder import clear_files
from .made_from import PLANNED_FROM, PROVEN_FROM, keep, made_from, must_be_as_planned
from .workshop import Workshop, open_workshop

Progress = Callable[[str, float], None]

MOST_AT_ONCE = 4  # pieces whose programs are written at once: each process takes half a GiB or more


def silent(_what: str, _done_ratio: float) -> None:
    """No progress shown."""


def plan(folder: Path | str, progress: Progress = silent, solids: bool = False) -> list[PiecePlan]:
    """Plan every piece and keep the plan in ``out/``; ``solids``: wood to leave and clearance wood as STL as well.

    Programs and proof of an earlier plan go: they are for other placements.
    """
    workshop = open_workshop(folder)
    made = made_from(workshop)
    plans = [
        plan_piece(workshop.job, spec, workshop.solids[spec.name], progress, workshop.stock(spec.name))
        for spec in workshop.job.pieces
    ]
    _keep_plans(workshop, plans)
    keep(made, workshop.folder.out(PLANNED_FROM))  # last: a plan half-kept is not taken for one of the job as it is
    _clear_programs(workshop)
    if solids:
        _write_solids(workshop, plans, progress)
    return plans


def program(folder: Path | str, progress: Progress = silent) -> list[PiecePlan]:
    """Write the programs of the plan as drafts; the plan gains their minutes.

    Refused where the job or a shape has changed since it was planned.
    """
    workshop = open_workshop(folder)
    must_be_as_planned(workshop)
    plans = _plans(workshop)
    _clear_programs(workshop)
    order, finished = [], []
    for done, drafts in _written(workshop, plans, progress):
        finished.append(done)
        for draft in drafts:
            write_text_whole(workshop.folder.out("drafts", draft.file), draft.text)
            order.append(
                {"file": draft.file, "piece": draft.piece, "placement": draft.placement, "cutter": draft.cutter}
            )
    write_text_whole(workshop.folder.out("drafts", "order.json"), json.dumps(order, indent=1) + "\n")
    _keep_plans(workshop, finished)
    if any(
        (workshop.folder.root / "out" / "solids").glob("*.stl")
    ):  # those of the plan are the wood that roughing leaves
        _write_solids(workshop, finished, progress)
    return finished


def _written(workshop: Workshop, plans: list[PiecePlan], progress: Progress) -> list[Written]:
    """Every piece's programs, in order: the piece with the largest blank here, each other in a process of its own."""

    def here(planned: PiecePlan) -> Written:
        name = planned.piece.name
        return write_drafts(workshop.job, planned, workshop.solids[name], progress, workshop.stock(name))

    def elsewhere(planned: PiecePlan) -> Written:
        try:
            return written_apart(workshop.folder.root, planned.piece.name, progress)
        except NoAnswer:
            if given_up.is_set():
                raise
            return here(planned)

    given_up = Event()
    helpers = min(thread_count(), len(plans), MOST_AT_ONCE) - 1
    if helpers < 1:
        return [here(planned) for planned in plans]
    blanks = [planned.piece.blank for planned in plans]
    largest = max(range(len(plans)), key=lambda k: blanks[k].size_x_mm * blanks[k].size_y_mm * blanks[k].size_z_mm)
    with ThreadPoolExecutor(helpers, thread_name_prefix="piece") as pool:
        asked = {k: pool.submit(elsewhere, plan) for k, plan in enumerate(plans) if k != largest}
        try:
            found = here(plans[largest])
        except BaseException:  # an interrupt ends the others too: they are not begun again here
            given_up.set()
            raise
        return [found if k == largest else asked[k].result() for k in range(len(plans))]


def _write_solids(workshop: Workshop, plans: list[PiecePlan], progress: Progress) -> None:
    clear_files(workshop.folder.out_dir("solids"), "*.stl")
    for done, planned in enumerate(plans):
        progress(f"{planned.piece.name}: solids", done / len(plans))
        write_solids(planned, workshop.folder.out_dir("solids"))


def _clear_programs(workshop: Workshop) -> None:
    """Programs and what was proven of them: all that a new plan, or new programs, make untrue."""
    out = workshop.folder.out_dir()
    for folder, pattern in (
        ("drafts", "*.nc"),
        ("drafts", "order.json"),
        ("programs", "*.nc"),
        ("pictures", "*-deviation.png"),
        (".", "proof.*"),
        (".", PROVEN_FROM),
    ):
        clear_files(out / folder, pattern)


def _plans(workshop: Workshop) -> list[PiecePlan]:
    return load_plans(workshop.job, workshop.folder.out("plan.toml"), workshop.folder.out_dir("fields"))


def _keep_plans(workshop: Workshop, plans: list[PiecePlan]) -> None:
    save_plans(plans, workshop.folder.out("plan.toml"), workshop.folder.out_dir("fields"))
    write_text_whole(workshop.folder.out("plan.txt"), plan_text(plans))


@dataclass(frozen=True)
class DraftFile:
    """A draft on disk, in running order."""

    file: str
    piece: str
    placement: str
    cutter: str
    text: str


def drafts_of(workshop: Workshop) -> list[DraftFile]:
    """The drafts in running order; refused if there are none or one is gone."""
    listing = workshop.folder.out("drafts", "order.json")
    if not listing.is_file():
        raise refuse(str(listing), "there are no programs yet", "run: witnessmark program")
    found = []
    for entry in _entries(listing):
        if entry["piece"] not in workshop.solids:
            what = f"{entry['file']} is for a piece that the job does not have: {entry['piece']!r}"
            raise refuse(str(listing), what, "run: witnessmark program")
        path = workshop.folder.out("drafts", entry["file"])
        if not path.is_file():
            raise refuse(str(path), "this program is gone", "run: witnessmark program")
        found.append(DraftFile(text=path.read_text(encoding="utf-8"), **entry))
    return found


def _entries(listing: Path) -> list[dict[str, str]]:
    """The running order as ``program`` wrote it; refused if it is anything else."""
    try:
        entries = json.loads(listing.read_text(encoding="utf-8"))
    except (ValueError, UnicodeDecodeError):
        entries = None
    if isinstance(entries, list) and all(map(_is_entry, entries)):
        return entries
    raise refuse(str(listing), "is not the running order that was written", "run: witnessmark program")


def _is_entry(entry: object) -> bool:
    """Four texts by name, and the file one of the folder itself."""
    return (
        isinstance(entry, dict)
        and set(entry) == {"file", "piece", "placement", "cutter"}
        and all(isinstance(value, str) for value in entry.values())
        and Path(entry["file"]).name == entry["file"]
    )
