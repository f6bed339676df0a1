"""find: from the numbers read at the touches to where the work lies, and programs corrected for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from witnessmark.job.errors import refuse
from witnessmark.job.models import Job
from witnessmark.job.names import file_stem
from witnessmark.job.placement import Placement, rectangle_of
from witnessmark.job.whole import write_text_whole
from witnessmark.locate.blunder import Agreement, agreement
from witnessmark.locate.mismatch import greatest_step_mm, joined_covariance
from witnessmark.locate.outline import outline_places
from witnessmark.locate.pose import Located, located
from witnessmark.locate.readings import Rows
from witnessmark.locate.tap import Tap, taps
from witnessmark.locate.typed import READ_U_MM, STEP_U_MM, axis_of, expected_mm, readings_of, rows_read
from witnessmark.locate.ways import Way
from witnessmark.plan.model import PiecePlan
from witnessmark.program.correct import Pose, corrected
from witnessmark.program.fingerprint import fingerprint, stamped
from witnessmark.shapes.solid import Solid
from witnessmark.sheet.steps import draw_steps

from .folder import clear_files
from .found import FindAnswer
from .level import level_of
from .made_from import must_be_as_planned
from .make import DraftFile, drafts_of, silent
from .placed import placed
from .prove import Progress, prove_piece
from .workshop import Workshop

FARTHEST_MM, MOST_TURN_RAD = 50.0, math.radians(10.0)


@dataclass(frozen=True)
class Expected:
    """A touch of the placement: its number, name, which of the machine's numbers is read, and what it should be."""

    number: int
    name: str
    axis: str
    at_mm: tuple[float, float, float]
    known_from: str
    level: bool = False  # a height, numbered apart


def touches(folder: Path | str, piece: str | None, placement: str, stylus_mm: float) -> tuple[Expected, ...]:
    """What to read in a placement, if the work lay as planned: touches, then the heights of its level places."""
    return expected_of(placed(folder, piece, placement)[2], stylus_mm)


def expected_of(place: Placement, stylus_mm: float) -> tuple[Expected, ...]:
    """As ``touches``, of a placement that is known."""
    found = []
    for number, touch in enumerate(place.touches, 1):
        at_mm = expected_mm(place, touch, stylus_mm / 2)
        found.append(Expected(number, touch.name, "xyz"[axis_of(place, touch)], at_mm, touch.known_from))
    for number, touch in enumerate(place.levels, 1):
        found.append(Expected(number, touch.name, "z", expected_mm(place, touch, 0.0), touch.known_from, True))
    return tuple(found)


def find(
    folder: Path | str,
    piece: str | None,
    placement: str,
    typed_mm: Mapping[int, float],
    stylus_mm: float,
    read_u_mm: float = READ_U_MM,
    progress: Progress = silent,
    heights_mm: Mapping[int, float] | None = None,
) -> FindAnswer:
    """Locate the work from typed numbers; where they agree, correct this placement's programs and prove them so.

    Refused where the readings do not fix the work, or a program cannot be corrected. The corrected programs are in
    ``out/corrected`` only if the whole piece passes with this placement where it lies.
    """
    if not stylus_mm > 0.0 or not read_u_mm > 0.0:
        raise refuse("find", "the stylus' diameter and the uncertainty of a reading are more than 0", "measure both")
    workshop, plan, place = placed(folder, piece, placement)
    must_be_as_planned(workshop)
    readings = [r for r in readings_of(place, typed_mm, stylus_mm / 2, read_u_mm) if r.kind != "land"]
    rows, centres = rows_read(readings)
    try:
        found = located(rows, centres, place.shift_mm)
        judged = agreement(rows, centres, place.shift_mm)
    except ValueError as error:
        raise refuse(f"placement {placement}", str(error), "read more of its touches") from None
    if judged.agrees:
        _must_be_near(found, placement)
    answer = _answer(workshop, plan, place, found, judged)
    answer = replace(answer, names=rows.names, residuals_mm=_by_reading(rows, found))
    if heights_mm:
        answer = replace(answer, level=level_of(workshop, plan, place, heights_mm, read_u_mm))
    return _followed(workshop, plan, place, answer, progress)


def find_by(
    folder: Path | str,
    piece: str | None,
    placement: str,
    way: Callable[[Job, PiecePlan, Placement], Way],
    progress: Progress = silent,
) -> FindAnswer:
    """The work placed by something else than an indicator: ``way`` of the job and the placement says where it lies.

    The programs are corrected and proven as by ``find``; a step to expect that is beyond the tolerance is told.
    """
    workshop, plan, place = placed(folder, piece, placement)
    must_be_as_planned(workshop)
    try:
        known = way(workshop.job, plan, place)
    except ValueError as error:
        raise refuse(f"placement {placement}", str(error), "say what places the work") from None
    none = np.zeros(0)
    found = Located(np.array(known.pose), known.covariance, none, np.zeros(()), 0, 1.0)
    _must_be_near(found, placement)
    answer = replace(
        _answer(workshop, plan, place, found, Agreement(1.0, none, none, none, None, (), True)), way=known.words
    )
    return _followed(workshop, plan, place, answer, progress)


def _answer(workshop: Workshop, plan: PiecePlan, place: Placement, found: Located, judged: Agreement) -> FindAnswer:
    settings = workshop.job.settings
    step_mm = _step_mm(found, place, workshop.solids[plan.piece.name])
    tolerance_mm = settings.gouge_tolerance_mm + settings.leftover_tolerance_mm
    return FindAnswer(place.name, found, judged, (), (), step_mm, tolerance_mm, None, ())


def _followed(
    workshop: Workshop, plan: PiecePlan, place: Placement, answer: FindAnswer, progress: Progress
) -> FindAnswer:
    """What follows from where the work lies: pushes, the picture, and the corrected programs if nothing speaks
    against them."""
    for draft in drafts_of(workshop):
        if draft.piece == plan.piece.name and draft.placement == place.name:
            clear_files(workshop.folder.out_dir("corrected"), draft.file)
    if not answer.agreement.agrees:
        return answer
    answer = replace(answer, taps=_taps(place, answer.found), picture=_picture(workshop, plan, place, answer))
    if answer.level is not None and not answer.level.holds:
        return answer
    return _corrected(workshop, plan, place, answer, progress)


def _must_be_near(found: Located, placement: str) -> None:
    """A work so far from its plan is another mistake than a slip: a wrong placement, unit or axis."""
    dx, dy, turn = (float(v) for v in found.pose)
    if not (math.hypot(dx, dy) <= FARTHEST_MM and abs(turn) <= MOST_TURN_RAD):
        what = f"by these numbers the work lies more than {FARTHEST_MM:g} mm off, or turned by more than 10 degrees"
        raise refuse(
            f"placement {placement}",
            what,
            "see whether it is this placement, and whether the numbers are x or y as listed and in mm",
            "read more touches, so that a wrong number can be named",
        )


def _taps(place: Placement, found: Located) -> tuple[Tap, ...]:
    dx, dy, turn = (float(v) for v in found.pose)
    return taps(place, rectangle_of(place.holds[0].outline_mm), (dx, dy, turn)) if place.holds else ()


def _picture(workshop: Workshop, plan: PiecePlan, place: Placement, answer: FindAnswer) -> Path | None:
    """The steps to expect along the outline finished here; None where there is no outline."""
    standing_piece = workshop.solids[plan.piece.name].moved(place.stand)
    path = workshop.folder.out("pictures", f"{file_stem(plan.piece.name)}-{file_stem(place.name)}-steps.png")
    covariance = joined_covariance(answer.found.covariance)
    return draw_steps(place, standing_piece, covariance, answer.tolerance_mm, path)


def _by_reading(rows: Rows, found: Located) -> tuple[tuple[str, float], ...]:
    return tuple((rows.names[k], float(by)) for k, by in zip(rows.of, found.residuals_mm))


def _step_mm(found: Located, place: Placement, solid: Solid) -> float:
    """The greatest step to expect on the outline that this placement cuts, against walls of other placements."""
    places, normals = outline_places(place, solid.moved(place.stand))
    if not len(places):
        return 0.0
    return greatest_step_mm(joined_covariance(found.covariance), places, normals, STEP_U_MM)


def _corrected(
    workshop: Workshop, plan: PiecePlan, place: Placement, answer: FindAnswer, progress: Progress
) -> FindAnswer:
    """Rewrite this placement's programs and prove the piece with them, the work lying where it was found."""
    dx, dy, turn = (float(v) for v in answer.found.pose)
    controller = workshop.job.machine.controller
    drafts = [draft for draft in drafts_of(workshop) if draft.piece == plan.piece.name]
    mine = {
        draft.file: _lying(
            corrected(draft.text, place.shift_mm, Pose(dx, dy, turn), controller.decimals, draft.file), dx, dy, turn
        )
        for draft in drafts
        if draft.placement == place.name
    }
    texts: Sequence[DraftFile] = [replace(draft, text=mine.get(draft.file, draft.text)) for draft in drafts]
    verdict = prove_piece(workshop, plan, list(texts), progress, None, {place.name: (dx, dy, turn)})
    files = []
    if verdict.passed:
        for file, text in mine.items():
            path = workshop.folder.out("corrected", file)
            write_text_whole(path, stamped(text, fingerprint(text), verdict.fingerprint))
            files.append(path)
    return replace(answer, verdict=verdict, files=tuple(files))


def _lying(text: str, dx_mm: float, dy_mm: float, turn_rad: float) -> str:
    """Say in the header which pose the program is for, where it has one."""
    line = f"(corrected: x {dx_mm:+.3f} mm, y {dy_mm:+.3f} mm, turned {math.degrees(turn_rad):+.4f} degrees)"
    return text.replace("(fingerprint:", f"{line}\n(fingerprint:", 1)
