"""A job with its shapes read: what every verb starts from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache, partial
from pathlib import Path

from witnessmark.field.columns import Columns
from witnessmark.job.box import load_box
from witnessmark.job.complaints import nearest
from witnessmark.job.errors import Refusal, Trouble, refuse
from witnessmark.job.files import load_job
from witnessmark.job.models import Job, PieceSpec
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.wood import ringed, whole_blank
from witnessmark.shapes.boxes.parts import FittedBox, box_from, box_of
from witnessmark.shapes.layers import solid_of_layer
from witnessmark.shapes.read import Reading, read_outline, read_solid
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.upright import upright

from .as_is import AsIs, load_as_is
from .folder import JobFolder
from .hidden import Hidden, hidden_latch, is_latch, latch_part

OUTLINES = (".dxf", ".svg")
BOXES = ".toml"
MENDED = "mended: "  # begins what was done to a shape
UNHEALTHY = ("self-intersecting", "shared edges")  # a solid can be made, and mending may better it


@dataclass(frozen=True, eq=False)
class Workshop:
    """The job, its folder, and each piece's solid by name, with what was said while reading."""

    folder: JobFolder
    job: Job
    solids: dict[str, Solid]
    notes: tuple[str, ...]
    as_is: Mapping[str, AsIs] = field(default_factory=dict)  # by piece: what is left of its blank, if it is not whole
    hidden: Hidden | None = None  # the latch that is let in

    def stock(self, piece: str) -> Columns | None:
        """What there is of a piece's blank: what is left of it, or its rings; None where it is a whole block."""
        if piece in self.as_is:
            return self.as_is[piece].wood
        blank = self.spec(piece).blank
        if not blank.hollows:
            return None
        box = blank_box(blank, *self.solids[piece].bounds_mm)
        return ringed(whole_blank(box, self.job.settings.proof_pitch_mm), blank)

    def spec(self, piece: str) -> PieceSpec:
        return next(spec for spec in self.job.pieces if spec.name == piece)


def open_workshop(folder: Path | str, job: Job | None = None) -> Workshop:
    """Load the job (or take another one for the same folder) and read every shape; all that is wrong with them comes
    in one refusal."""
    root = Path(folder)
    job = job or load_job(root)
    solids: dict[str, Solid] = {}
    notes: list[str] = []
    troubles: list[Trouble] = []
    hidden: Hidden | None = None
    latch_troubles: tuple[Trouble, ...] = ()
    said: tuple[str, ...]
    try:
        hidden = hidden_latch(root, job, lambda spec: _drawn(root, spec)[0], partial(_stands_mm, root))
    except Refusal as refusal:
        latch_troubles = refusal.troubles
    for spec in job.pieces:
        try:
            if is_latch(spec.shape):
                if latch_troubles:
                    continue
                solid, said = latch_part(hidden, spec.part), ()
            else:
                solid, said = _drawn(root, spec)
            if hidden is not None:
                solid = hidden.let_into(spec, solid)
            if spec.layer is not None:
                solid = solid_of_layer(solid, spec.layer, f"job.toml, piece {spec.name}, layer")
        except Refusal as refusal:
            troubles.extend(refusal.troubles)
            continue
        solids[spec.name] = solid
        notes.extend(f"{spec.name}: {note}" for note in said)
    troubles = troubles or list(latch_troubles)
    if troubles:
        raise Refusal(*troubles)
    for shape in dict.fromkeys(spec.shape for spec in job.pieces if is_box(spec.shape)):
        notes.extend(
            f"{name}: {shape} makes it, and it is no piece of the job: witnessmark box {root} --use"
            for name in parts_without_piece(root, job, shape)
        )
    if hidden is not None:
        notes.extend(hidden.notes)
    as_is = {spec.name: found for spec in job.pieces if (found := load_as_is(root, spec.name)) is not None}
    if as_is:  # the piece is moved in what is left of its blank
        pieces = tuple(as_is[spec.name].spec(spec) if spec.name in as_is else spec for spec in job.pieces)
        job = job.model_copy(update={"pieces": pieces})
        solids |= {piece: solids[piece].moved(found.move) for piece, found in as_is.items()}
    return Workshop(JobFolder(root), job, solids, tuple(notes), as_is, hidden)


def _drawn(root: Path, spec: PieceSpec) -> tuple[Solid, tuple[str, ...]]:
    """A piece as its shape has it, and what was said about it."""
    if is_box(spec.shape):
        return read_part(root / spec.shape, spec.part)
    return read_piece(root / spec.shape, spec.shape_unit, spec.thickness_mm)


def _stands_mm(root: Path, lid: PieceSpec, body: PieceSpec) -> float | None:
    """How far a lid's foot is above its body's: known of parts of one box."""
    if lid.shape != body.shape or not is_box(lid.shape) or lid.part is None:
        return None
    return next((part.stands_mm for part in read_box(root / lid.shape).parts if part.name == lid.part), None)


def is_box(shape: str) -> bool:
    """Whether a shape is a box file, of which a piece is a part."""
    return Path(shape).suffix.lower() == BOXES and not is_latch(shape)


def parts_without_piece(root: Path, job: Job, shape: str) -> list[str]:
    """Names of the parts that a box file makes and that are no piece of the job."""
    there = {spec.part for spec in job.pieces if spec.shape == shape}
    return [part.name for part in read_box(root / shape).parts if part.name not in there]


def read_box(path: Path) -> FittedBox:
    """The parts that a box file makes; made once while neither it nor its outline changes."""
    box = load_box(path)
    files = [path, *([path.parent / box.outline.file] if box.outline.file else [])]
    try:
        state = tuple((file.stat().st_mtime_ns, file.stat().st_size) for file in files)
    except OSError:
        return box_of(box, path.parent, path.name)  # which says what is wrong
    return box_from(path, state, box)


def read_part(path: Path, part: str | None) -> tuple[Solid, tuple[str, ...]]:
    """One part of a box, with what was said while the box was made (once, with its body)."""
    made = read_box(path)
    names = [found.name for found in made.parts]
    if part not in names:
        like = nearest(part or "", names)
        advice = (f'did you mean "{like}"?',) if like else ()
        what = f"has no part {part!r}" if part else "is a box: which part of it the piece is, is not said"
        raise refuse(path.name, what, *advice, f"give part to the piece in job.toml: {', '.join(names)}")
    return made.part(part).solid, made.notes if part == names[0] else ()


def needs_mending(reading: Reading) -> bool:
    """Whether no solid can be made of it, or mending may better it."""
    return not reading.health.sound or any(reading.health.has(kind) for kind in UNHEALTHY)


def mended_name(shape: str) -> str:
    """The file that a mended shape is written to, beside the one it was made from."""
    return str(Path(shape).with_name(f"{Path(shape).stem}-mended.stl"))


def read_piece(
    path: Path, unit: str | None, thickness_mm: float | None, mend: bool = False
) -> tuple[Solid, tuple[str, ...]]:
    """A solid from its file, or from an outline and a thickness; with what was said about it.

    ``mend``: a solid that needs it is mended, and what was done is said ("mended: ..."); refused where it stays open.

    The same file is read once: verbs that follow one another in a process find the solid ready.
    """
    try:
        state = path.stat()
    except OSError:
        return _read(path, unit, thickness_mm, mend)  # which says what is wrong with it
    return _kept(path, state.st_mtime_ns, state.st_size, unit, thickness_mm, mend)


@lru_cache(maxsize=8)
def _kept(
    path: Path, _changed: int, _size: int, unit: str | None, thickness_mm: float | None, mend: bool
) -> tuple[Solid, tuple[str, ...]]:
    return _read(path, unit, thickness_mm, mend)


def _read(path: Path, unit: str | None, thickness_mm: float | None, mend: bool) -> tuple[Solid, tuple[str, ...]]:
    if path.suffix.lower() in OUTLINES:
        if thickness_mm is None:
            raise refuse(
                path.name,
                "is an outline: its thickness is not known",
                "give thickness_mm to the piece in job.toml (on the command line: --thick)",
            )
        outline = read_outline(path, unit)
        return upright(outline.polygon, thickness_mm), tuple(outline.notes)
    reading = read_solid(path, unit)
    if mend and needs_mending(reading):
        reading = reading.mended()
    sizes = [
        f"is its unit right? It {complaint}: {'; or '.join(complaint.remedies)}"
        for complaint in reading.health.complaints
        if complaint.kind == "unit suspect"
    ]
    return reading.needed(), (*reading.notes, *sizes)
