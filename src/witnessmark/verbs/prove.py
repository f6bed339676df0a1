"""prove: the judge reads the drafts back; what passes is stamped and handed out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from witnessmark.field.columns import Columns
from witnessmark.field.give_back import give_back
from witnessmark.field.threads import side_by_side
from witnessmark.job.checks import proof_pitch_troubles
from witnessmark.job.errors import Refusal
from witnessmark.job.models import Job
from witnessmark.job.names import file_stem
from witnessmark.job.whole import write_text_whole
from witnessmark.plan.candidates import BlankBox, blank_box
from witnessmark.plan.model import Eased, PiecePlan
from witnessmark.plan.store import load_plans, save_tables
from witnessmark.plan.wood import as_it_is, whole_blank
from witnessmark.program.fingerprint import fingerprint, stamped
from witnessmark.proof.judge import prove as judge
from witnessmark.proof.missing import Planned
from witnessmark.proof.picture import write_deviation_png
from witnessmark.proof.report import program_table, summary_text, write_proof_json
from witnessmark.proof.running import Pose
from witnessmark.proof.verdict import ProgramText, Verdict

from .alone import write_made
from .folder import clear_files
from .made_from import PROVEN_FROM, keep, made_from
from .make import DraftFile, drafts_of, silent
from .workshop import Workshop, open_workshop

Progress = Callable[[str, float], None]
UNPROVEN = "not-proven-"  # begins the name of a program handed out by force where the text cannot say so
NOT_PROVEN = "(NOT PROVEN: handed out by force; read the proof's findings first)"


def marked_unproven(draft: DraftFile, comments: bool) -> tuple[str, str]:
    """Name and text of a program handed out by force; without comments only the name can say so."""
    if comments:
        return draft.file, f"{NOT_PROVEN}\n{draft.text}"
    return f"{UNPROVEN}{draft.file}", draft.text


@dataclass(frozen=True, eq=False)
class ProveAnswer:
    """The verdicts by piece, and the programs handed out (none where a proof failed and nothing was forced)."""

    verdicts: dict[str, Verdict]
    handed_out: tuple[Path, ...]
    forced: bool

    @property
    def passed(self) -> bool:
        return all(verdict.passed for verdict in self.verdicts.values())

    def table(self) -> str:
        """What each program takes and asks for."""
        return program_table([row for verdict in self.verdicts.values() for row in verdict.programs])


def prove(
    folder: Path | str,
    progress: Progress = silent,
    force: bool = False,
    pitch_mm: float | None = None,
    made: bool = False,
) -> ProveAnswer:
    """Prove every piece's drafts; on a pass (or by force, marked so) put them in ``out/programs``.

    The programs are judged with the job and the shapes as they are now, whatever they were planned from.
    ``made``: also what is left of the wood of each piece, as STL and 3MF in ``out/made``.
    ``pitch_mm``: another grid than ``settings.proof_pitch_mm``; refused where the job could not have it either.
    """
    workshop = open_workshop(folder)
    _must_be_a_pitch(workshop.job, pitch_mm)
    plans = load_plans(workshop.job, workshop.folder.out("plan.toml"), None)
    drafts = drafts_of(workshop)
    clear_files(workshop.folder.out_dir("programs"), "*.nc")
    clear_files(workshop.folder.out_dir(), PROVEN_FROM)
    came_from = made_from(workshop)
    give_back()

    def judged(plan: PiecePlan) -> Verdict:
        mine = [draft for draft in drafts if draft.piece == plan.piece.name]
        return prove_piece(workshop, plan, mine, progress, pitch_mm)

    verdicts = {plan.piece.name: verdict for plan, verdict in zip(plans, side_by_side(judged, plans))}
    write_proof_json(list(verdicts.values()), workshop.folder.out("proof.json"))
    summary = "\n\n".join(summary_text(verdict) for verdict in verdicts.values())
    write_text_whole(workshop.folder.out("proof.txt"), summary + "\n")
    for name, verdict in verdicts.items():
        write_deviation_png(verdict, workshop.folder.out("pictures", f"{file_stem(name)}-deviation.png"))
        if made:
            write_made(verdict.columns_after, workshop.folder.out("made", f"{file_stem(name)}.stl"))
    comments = workshop.job.machine.controller.comments
    handed_out = []
    stamps = {}
    for draft in drafts:
        passed = verdicts[draft.piece].passed
        if not passed and not force:
            continue
        file, text = (draft.file, draft.text) if passed else marked_unproven(draft, comments)
        if passed:
            stamps[draft.file] = fingerprint(text)
            text = stamped(text, stamps[draft.file], verdicts[draft.piece].fingerprint)
        path = workshop.folder.out("programs", file)
        write_text_whole(path, text)
        handed_out.append(path)
    _keep_what_was_found(workshop, plans, verdicts, stamps)
    keep(came_from, workshop.folder.out(PROVEN_FROM))
    return ProveAnswer(verdicts, tuple(handed_out), force)


def _must_be_a_pitch(job: Job, pitch_mm: float | None) -> None:
    if pitch_mm is None:
        return
    blanks = [piece.blank for piece in job.pieces]
    troubles = proof_pitch_troubles("--pitch", pitch_mm, job.cutters, blanks)
    if troubles:
        raise Refusal(*troubles)


def prove_piece(
    workshop: Workshop,
    plan: PiecePlan,
    drafts: list[DraftFile],
    progress: Progress,
    pitch_mm: float | None,
    poses: Mapping[str, Pose] | None = None,
) -> Verdict:
    """The judge's verdict on one piece, from the whole blank on; ``poses`` by placement: where it lies."""
    job, solid = workshop.job, workshop.solids[plan.piece.name]
    box = blank_box(plan.piece.blank, *solid.bounds_mm)
    programs = [ProgramText(draft.file, draft.placement, draft.cutter, draft.text) for draft in drafts]
    placements = {step.placement.name: step.placement for step in plan.placements}
    planned = [Planned(info.file, info.placement, info.cutter) for step in plan.placements for info in step.programs]
    return judge(
        programs,
        blank_wood(workshop, plan.piece.name, box, pitch_mm),
        solid,
        job.machine,
        job.cutters,
        placements,
        job.settings,
        progress,
        plan.piece.name,
        poses=poses,
        planned=planned,
    )


def blank_wood(workshop: Workshop, piece: str, box: BlankBox, pitch_mm: float | None) -> Columns:
    """The blank before the first program: whole, or what is left of it; None: at the pitch of the job's proof."""
    pitch_mm = workshop.job.settings.proof_pitch_mm if pitch_mm is None else pitch_mm
    stock = workshop.stock(piece)
    if stock is not None and abs(stock.grid.pitch_mm - pitch_mm) < 1e-9:
        return stock
    return as_it_is(whole_blank(box, pitch_mm), stock)


def _keep_what_was_found(
    workshop: Workshop, plans: list[PiecePlan], verdicts: dict[str, Verdict], stamps: dict[str, str]
) -> None:
    """The bench sheet prints what each program at the machine must carry, and the corners that come out eased."""
    kept = []
    for plan in plans:
        steps = []
        for step in plan.placements:
            infos = tuple(replace(info, fingerprint=stamps.get(info.file, "")) for info in step.programs)
            dry = step.rehearsal
            if dry is not None:
                dry = replace(dry, fingerprint=stamps.get(dry.file, ""))
            steps.append(replace(step, programs=infos, rehearsal=dry))
        eased = tuple(
            Eased(place.place_mm, place.radius_mm, place.leftover_mm) for place in verdicts[plan.piece.name].eased
        )
        kept.append(replace(plan, placements=tuple(steps), eased=eased))
    save_tables(kept, workshop.folder.out("plan.toml"))
