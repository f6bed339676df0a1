"""new: a job folder from a shape and the machine's sizes."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.job.errors import Refusal, refuse
from witnessmark.job.files import job_from_text
from witnessmark.job.measure import how_to_measure
from witnessmark.job.models import Job
from witnessmark.job.rewrite import new_job_text
from witnessmark.job.whole import not_written
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.search import fit_troubles
from witnessmark.shapes.write import write_stl

from .look import LookSizes, job_for, must_be_file
from .workshop import MENDED, mended_name, read_piece

ASKED = (
    "machine.nose_above_bed_mm",
    "machine.gantry_above_bed_mm",
    "machine.clear_width_mm",
    "machine.board.thickness_mm",
    "machine.board.size_x_mm",
    "machine.board.size_y_mm",
    "machine.board.hole_pitch_mm",
    "machine.spindle_min_rpm",
    "machine.spindle_max_rpm",
    "machine.rapid_x_mm_min",
    "machine.rapid_y_mm_min",
    "machine.rapid_z_mm_min",
    "machine.feed_max_mm_min",
    "machine.acceleration_x_mm_s2",
    "machine.acceleration_y_mm_s2",
    "machine.acceleration_z_mm_s2",
    "cutters.0.flute_length_mm",
    "cutters.0.shank_diameter_mm",
    "cutters.0.feed_mm_min",
    "cutters.0.entry_feed_mm_min",
    "cutters.0.spindle_rpm",
    "cutters.0.stepdown_mm",
    "pieces.0.blank.size_x_mm",
    "pieces.0.blank.size_y_mm",
    "pieces.0.blank.size_z_mm",
    "pieces.0.blank.below_mm",
    "pieces.0.blank.species",
)


@dataclass(frozen=True)
class Question:
    """One thing to ask: its key, what it is and how to measure it, and the value taken if nothing is answered."""

    key: str
    words: str
    default: Any


def questions(job: Job) -> Iterator[Question]:
    """What a shape and six sizes leave open, in the order of walking round the machine."""
    data = job.model_dump()
    for key in ASKED:
        value: Any = data
        for part in key.split("."):
            value = value[int(part)] if part.isdigit() else value[part]
        yield Question(key, how_to_measure(key.replace(".0.", ".")) or key, value)


def first_job(
    shape: Path, sizes: LookSizes, unit: str | None = None, thickness_mm: float | None = None, mend: bool = False
) -> Job:
    """The job that the sizes and their defaults make, before anything else is asked."""
    must_be_file(shape)
    solid, _ = read_piece(shape, unit, thickness_mm, mend)
    job, _ = job_for(shape, sizes, solid)
    piece = job.pieces[0].model_copy(update={"shape_unit": unit, "thickness_mm": thickness_mm})
    return job.model_copy(update={"pieces": (piece,)})


def answered(job: Job, answers: dict[str, Any]) -> Job:
    """The job with answers put in; lengths may carry their unit. A refusal names what is wrong."""
    data = job.model_dump()
    for key, value in answers.items():
        place: Any = data
        *path, last = key.split(".")
        for part in path:
            place = place[int(part)] if part.isdigit() else place[part]
        place[last] = value
    return Job.model_validate(data)


def new(folder: Path | str, shape: Path, job: Job, mend: bool = False) -> Path:
    """Make the folder whole or not at all: ``job.toml`` and the shape file; refused where one is there already.

    ``mend``: a shape that needs it is mended into ``<name>-mended.stl``, which the job then names; the file that was
    given is kept beside it.
    """
    root = Path(folder)
    if root.exists():
        raise refuse(str(root), "is there already", "choose another name", "or change its job.toml by hand")
    spec = job.pieces[0]
    solid, said = read_piece(shape, spec.shape_unit, spec.thickness_mm, mend)
    given = spec.shape
    mended = mended_name(given) if any(note.startswith(MENDED) for note in said) else ""
    if mended:
        job = job.model_copy(
            update={"pieces": (spec.model_copy(update={"shape": mended, "shape_unit": "mm"}), *job.pieces[1:])}
        )
    too_small = fit_troubles(spec, solid, blank_box(spec.blank, *solid.bounds_mm))
    if too_small:
        raise Refusal(*too_small)
    text = new_job_text(job)
    try:
        root.parent.mkdir(parents=True, exist_ok=True)
        beside = Path(tempfile.mkdtemp(prefix=f".{root.name}.", dir=root.parent))
    except OSError as error:
        raise not_written(root, error) from None
    try:
        shutil.copyfile(shape, beside / given)
        if mended:
            write_stl(solid, beside / mended)
        (beside / "job.toml").write_text(text, encoding="utf-8", newline="\n")
        job_from_text(text, beside)
        beside.chmod(0o755)
        os.replace(beside, root)
    except OSError as error:
        shutil.rmtree(beside, ignore_errors=True)
        raise not_written(root, error) from None
    except BaseException:
        shutil.rmtree(beside, ignore_errors=True)
        raise
    return root
