"""check: read the job and its shapes, tell the health of each, and mend what can be mended if asked."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from witnessmark.job.catalog import unknown_woods
from witnessmark.job.errors import Refusal, Trouble, refuse
from witnessmark.job.files import load_job, save_job
from witnessmark.job.loads import load_notes
from witnessmark.job.models import Job, PieceSpec
from witnessmark.plan.search import setup_troubles
from witnessmark.shapes.read import Reading, read_solid
from witnessmark.shapes.write import write_stl

from .hidden import is_latch
from .weak import weak_notes
from .workshop import MENDED, OUTLINES, is_box, mended_name, needs_mending, open_workshop
from .year import year_notes


@dataclass(frozen=True)
class CheckAnswer:
    """A job that can be planned: its pieces, what was said while reading, and the health of each shape in lines;
    woods that the table does not know, and what a cutter is asked that is not usual."""

    pieces: tuple[str, ...]
    notes: tuple[str, ...]
    health: tuple[str, ...]
    woods: tuple[str, ...]
    loads: tuple[str, ...] = ()
    weak: tuple[str, ...] = ()  # places too thin for their cutter or for a hand
    year: tuple[str, ...] = ()  # what the seasons do to it


def check(folder: Path | str) -> CheckAnswer:
    """Read the job and its shapes; a refusal names all that is wrong."""
    workshop = open_workshop(folder)
    job = workshop.job
    troubles = [one for spec in job.pieces for one in setup_troubles(job, spec, workshop.solids[spec.name])]
    if troubles:
        raise Refusal(*troubles)
    health: list[str] = []
    for spec in job.pieces:
        health += _health_lines(spec, workshop.folder.root)
    return CheckAnswer(
        tuple(workshop.solids),
        workshop.notes,
        tuple(health),
        unknown_woods(job),
        load_notes(job.machine, job.cutters),
        weak_notes(workshop),
        year_notes(workshop),
    )


def _health_lines(spec: PieceSpec, root: Path) -> list[str]:
    """The size, the bodies and each complaint with its remedies."""
    if _drawn(spec):
        return []
    found = read_solid(root / spec.shape, spec.shape_unit).health
    x, y, z = found.size_mm
    bodies = "one body" if found.bodies == 1 else f"{found.bodies} bodies"
    lines = [f"{spec.name}: {x:.1f} x {y:.1f} x {z:.1f} mm, {bodies}, closed all round"]
    for complaint in found.complaints:
        lines.append(f"{spec.name}: {complaint.harm}: {complaint}")
        lines += [f"  - {remedy}" for remedy in complaint.remedies]
    return lines


def mend_pieces(folder: Path | str) -> tuple[str, ...]:
    """Mend each shape that needs it into ``<name>-mended.stl`` and name that in job.toml; says what was done.

    Whatever cannot be mended comes in one refusal, and then nothing is written.
    """
    root = Path(folder)
    job = load_job(root)
    done: dict[str, Reading] = {}
    troubles: list[Trouble] = []
    for spec in job.pieces:
        if _drawn(spec):
            continue
        try:
            reading = read_solid(root / spec.shape, spec.shape_unit)
            if needs_mending(reading):
                done[spec.name] = reading.mended()
        except Refusal as refusal:
            troubles.extend(refusal.troubles)
    if troubles:
        raise Refusal(*troubles)
    return _written(job, root, done)


def _written(job: Job, root: Path, done: dict[str, Reading]) -> tuple[str, ...]:
    files = {spec.name: mended_name(spec.shape) for spec in job.pieces if _steps(done.get(spec.name))}
    for file in files.values():
        if (root / file).exists():
            raise refuse(file, "is there already", "move it away, or name it in job.toml if it is the one you want")
    said: list[str] = []
    pieces = []
    for spec in job.pieces:
        file = files.get(spec.name, "")
        pieces.append(spec.model_copy(update={"shape": file, "shape_unit": "mm"}) if file else spec)
        if not file:
            said.append(f"{spec.name}: {'a drawing, not mended' if _drawn(spec) else 'nothing to mend'}")
            continue
        write_stl(done[spec.name].needed(), root / file)
        said += [f"{spec.name}: {step}" for step in _steps(done[spec.name])]
        said.append(f"{spec.name}: written as {file} (mm) and named in job.toml; {spec.shape} is as it was")
    if files:
        save_job(job.model_copy(update={"pieces": tuple(pieces)}), root)
    return tuple(said)


def _steps(reading: Reading | None) -> list[str]:
    """What mending did, in words; nothing where nothing was mended."""
    return [note for note in reading.notes if note.startswith(MENDED)] if reading else []


def _drawn(spec: PieceSpec) -> bool:
    """Whether it is made by the tool, from an outline, a box file or a latch file: nothing to mend."""
    return Path(spec.shape).suffix.lower() in OUTLINES or is_box(spec.shape) or is_latch(spec.shape)
