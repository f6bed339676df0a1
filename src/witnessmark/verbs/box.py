"""box: a job folder of a fitted box from an outline and a few sizes, and what a box file makes."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import ValidationError

from witnessmark.job.box import BOX_FILE, Box, box_text
from witnessmark.job.complaints import troubles_of
from witnessmark.job.errors import Refusal, refuse
from witnessmark.job.files import JOB_FILE, job_from_text, load_job, save_job
from witnessmark.job.models import Blank, Cutter, Job, Machine, PieceSpec
from witnessmark.job.names import file_stem, name_from
from witnessmark.job.rewrite import new_job_text
from witnessmark.job.whole import folder_made_whole
from witnessmark.shapes.boxes.parts import FittedBox, Part, box_of
from witnessmark.shapes.write import write_stl

from .folder import JobFolder
from .weak import weak_notes
from .workshop import open_workshop, parts_without_piece, read_box

ROUND_IT_MM, ABOVE_MM = 30.0, 4.0  # wood round a part, and above it


@dataclass(frozen=True)
class PartAnswer:
    """A part: its size, wood and where it stands in the closed box; its faces by name with what they are for."""

    name: str
    size_mm: tuple[float, float, float]
    volume_cm3: float
    stands_mm: float
    faces_cm2: tuple[tuple[str, str, float], ...]  # name, role, area


@dataclass(frozen=True)
class BoxAnswer:
    """What a box file makes, and what there is to say about it."""

    file: Path
    parts: tuple[PartAnswer, ...]
    notes: tuple[str, ...]
    written: tuple[Path, ...] = ()
    added: tuple[str, ...] = ()  # parts that became pieces of the job


def box_from_sizes(sizes: dict[str, Any]) -> Box:
    """The box of typed sizes (keys as in the box file); refused with each key that cannot be."""
    try:
        return Box.model_validate(sizes)
    except ValidationError as error:
        raise Refusal(*troubles_of(error, Box, BOX_FILE)) from None


def for_cutters(box: Box, cutters: Sequence[Cutter]) -> Box:
    """The box with corners eased for the narrowest flat cutter that comes down to its floor."""
    flats = [cutter for cutter in cutters if cutter.kind == "flat"]
    if not flats:
        raise refuse("--cutter", "none is flat: corners cannot be eased for any", "add a flat cutter")
    deep_mm = box.rim_mm - box.floor_mm
    reach = [cutter for cutter in flats if cutter.stickout_mm >= deep_mm]
    chosen = min(reach, key=lambda c: c.diameter_mm) if reach else max(flats, key=lambda c: c.stickout_mm)
    return box.model_copy(update={"cutter_mm": chosen.diameter_mm})


def new_box(
    folder: Path | str,
    box: Box,
    machine: Machine,
    cutters: Sequence[Cutter],
    species: str,
    outline: Path | None = None,
) -> BoxAnswer:
    """Make the folder whole or not at all: job.toml, the box file and the outline's file; refused if it is there."""
    root = Path(folder)
    if root.exists():
        raise refuse(str(root), "is there already", "choose another name", f"or change its {BOX_FILE} by hand")
    if outline is not None and not outline.is_file():
        raise refuse(str(outline), "is not there", "name a drawing (DXF, SVG) or traced points (CSV)")
    made = box_of(box, outline.parent if outline else Path(), BOX_FILE)
    blanks = [_blank(part, species) for part in made.parts]
    pieces = [_piece(part, blank) for part, blank in zip(made.parts, blanks)]
    job = Job(name=name_from(root.name), machine=machine, cutters=tuple(cutters), pieces=tuple(pieces))
    with folder_made_whole(root) as beside:
        if outline is not None:
            shutil.copyfile(outline, beside / outline.name)
        (beside / BOX_FILE).write_text(box_text(box), encoding="utf-8", newline="\n")
        text = new_job_text(job)
        (beside / "job.toml").write_text(text, encoding="utf-8", newline="\n")
        job_from_text(text, beside)
    return answer_of(root / BOX_FILE, made, weak_notes(open_workshop(root)))


def tell_box(folder: Path | str, shapes: bool = False, use: bool = False) -> BoxAnswer:
    """What the box file of a folder makes; ``shapes``: its parts are written as STL into out/shapes too; ``use``:
    parts that the box file makes by now and the job does not know become pieces of it."""
    root = Path(folder)
    made = read_box(root / BOX_FILE)
    added = _added(root, made) if use else ()
    written = []
    if shapes:
        place = JobFolder(root).out_dir("shapes")
        written = [write_stl(part.solid, place / f"{file_stem(part.name)}.stl") for part in made.parts]
    weak: tuple[str, ...] = ()
    if (root / JOB_FILE).is_file():
        workshop = open_workshop(root)
        left = parts_without_piece(root, workshop.job, BOX_FILE)
        weak = (*weak_notes(workshop), *(f"{name}: is no piece of the job yet: --use makes it one" for name in left))
    return replace(answer_of(root / BOX_FILE, made, weak), written=tuple(written), added=added)


def _added(root: Path, made: FittedBox) -> tuple[str, ...]:
    """The parts that are no piece of the job yet become pieces, of the wood of the first one: their names."""
    job = load_job(root)
    names = parts_without_piece(root, job, BOX_FILE)
    species = job.pieces[0].blank.species
    pieces = [_piece(made.part(name), _blank(made.part(name), species)) for name in names]
    taken = {spec.name for spec in job.pieces} & set(names)
    if taken:
        what = f"has a piece {min(taken)!r} already, which is not that part of {BOX_FILE}"
        raise refuse(str(root / JOB_FILE), what, "give that piece another name")
    if pieces:
        save_job(job.model_copy(update={"pieces": (*job.pieces, *pieces)}), root)
    return tuple(names)


def answer_of(file: Path, made: FittedBox, weak: tuple[str, ...]) -> BoxAnswer:
    return BoxAnswer(file, tuple(_told(part) for part in made.parts), (*made.notes, *weak))


def _told(part: Part) -> PartAnswer:
    low, high = part.solid.bounds_mm
    x, y, z = (round(float(v), 3) for v in high - low)
    faces, number = part.solid.faces_named
    areas = [float(part.solid.areas_mm2[number == k].sum()) / 100 for k in range(len(faces))]
    listed = tuple((face.name, face.role, round(cm2, 2)) for face, cm2 in zip(faces, areas))
    return PartAnswer(part.name, (x, y, z), round(part.solid.volume_mm3 / 1000, 2), part.stands_mm, listed)


def _piece(part: Part, blank: Blank) -> PieceSpec:
    return PieceSpec(name=part.name, shape=BOX_FILE, part=part.name, blank=blank)


def _blank(part: Part, species: str) -> Blank:
    low, high = part.solid.bounds_mm
    x, y, z = (float(v) for v in np.ceil(high - low))
    return Blank(
        size_x_mm=x + 2 * ROUND_IT_MM, size_y_mm=y + 2 * ROUND_IT_MM, size_z_mm=z + ABOVE_MM, species=species
    )
