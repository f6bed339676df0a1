"""new: a job folder from a shape and the machine's sizes."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from witnessmark.job import catalog
from witnessmark.job.complaints import nearest
from witnessmark.job.errors import Refusal, Trouble, refuse
from witnessmark.job.files import job_from_text
from witnessmark.job.loads import suited
from witnessmark.job.models import Cutter, Job, Machine
from witnessmark.job.rewrite import new_job_text
from witnessmark.job.whole import folder_made_whole
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.search import fit_troubles
from witnessmark.shapes.write import write_stl

from .look import LookSizes, job_for, must_be_file
from .workshop import MENDED, mended_name, read_piece


def first_job(
    shape: Path, sizes: LookSizes, unit: str | None = None, thickness_mm: float | None = None, mend: bool = False
) -> Job:
    """The job that the sizes and their defaults make, before anything else is asked."""
    must_be_file(shape)
    solid, _ = read_piece(shape, unit, thickness_mm, mend)
    job, _ = job_for(shape, sizes, solid)
    piece = job.pieces[0].model_copy(update={"shape_unit": unit, "thickness_mm": thickness_mm})
    return job.model_copy(update={"pieces": (piece,)})


def listed(machine: str | None, cutters: str | None) -> tuple[Machine | None, tuple[Cutter, ...]]:
    """The catalog's machine and cutters by name (cutters with commas between); refused with the nearest name."""
    troubles: list[Trouble] = []

    def found(option: str, name: str, known: Mapping[str, Any]) -> Any:
        if name not in known:
            like = nearest(name, known)
            advice = (f"did you mean {like}?",) if like else ()
            troubles.append(
                Trouble(f"{option} {name[:60]}", "is not listed", (*advice, "see witnessmark new --list"))
            )
        return known.get(name)

    here = found("--machine", machine, catalog.machines()) if machine else None
    names = [name.strip() for name in (cutters or "").split(",") if name.strip()]
    mine = [found("--cutters", name, catalog.cutters()) for name in names]
    if troubles:
        raise Refusal(*troubles)
    return (here.machine if here else None), tuple(row.cutter for row in mine)


def sizes_of(machine: Machine | None, cutters: tuple[Cutter, ...]) -> dict[str, tuple[float, ...]]:
    """The sizes of the first question that a listed machine and cutter answer, mm."""
    sizes: dict[str, tuple[float, ...]] = {}
    if machine is not None:
        sizes["travel"] = (machine.travel_x_mm, machine.travel_y_mm, machine.travel_z_mm)
        sizes["nut"] = (machine.nut_diameter_mm, machine.nut_length_mm)
        sizes["nose"] = (machine.nose_diameter_mm,)
    if cutters:
        sizes["cutter"], sizes["stick_out"] = (cutters[0].diameter_mm,), (cutters[0].stickout_mm,)
    return sizes


def with_listed(job: Job, machine: Machine | None, cutters: tuple[Cutter, ...]) -> Job:
    """The job with a listed machine and cutters in place of those made from a few sizes; none faster than it can."""
    here = machine or job.machine
    mine = tuple(suited(cutter, here) for cutter in cutters or job.cutters)
    return job.model_copy(update={"machine": here, "cutters": mine})


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
    with folder_made_whole(root) as beside:
        shutil.copyfile(shape, beside / given)
        if mended:
            write_stl(solid, beside / mended)
        (beside / "job.toml").write_text(text, encoding="utf-8", newline="\n")
        job_from_text(text, beside)
    return root
