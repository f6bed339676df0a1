"""The hidden latch of a job folder: let into lid and body, its own parts as pieces like any others.

A latch file that is settled on (``chosen``) and has its place (``place``) is cut into the pieces that it names.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from manifold3d import Manifold

from witnessmark.job import catalog
from witnessmark.job.catalog import Species, nearest_species
from witnessmark.job.complaints import nearest
from witnessmark.job.errors import refuse
from witnessmark.job.latch import LATCH_FILE, Latch, Place, load_latch
from witnessmark.job.models import Cutter, Job, PieceSpec, Season
from witnessmark.latch.chosen import design_of
from witnessmark.latch.guide import Guide, guides_of
from witnessmark.latch.let_in import LetIn
from witnessmark.latch.seats import seat_mm
from witnessmark.shapes.solid import Solid
from witnessmark.wood.season import Year

from .season import year_of_job

GUIDE = "guide"


@dataclass(frozen=True, eq=False)
class Hidden:
    """The latch in its place, what its file states, and the solids cut for it."""

    latch: Latch
    let_in: LetIn
    lid: Solid
    body: Solid
    parts: dict[str, Solid]  # those that become pieces: rotor, case, key, and the guides to drill by
    guides: dict[str, Guide]

    def let_into(self, spec: PieceSpec, solid: Solid) -> Solid:
        """A piece as it is, or cut for the latch where it is the lid or the body (or a layer of one)."""
        name = spec.layer.of if spec.layer else spec.name
        return {self.let_in.place.lid: self.lid, self.let_in.place.body: self.body}.get(name, solid)

    @property
    def notes(self) -> tuple[str, ...]:
        place, design, room = self.let_in.place, self.let_in.design, self.let_in.room
        axis = f"x {place.x_mm:g} y {place.y_mm:g}"
        return (
            f"{place.lid}: a pocket {design.across_mm:.1f} mm across for the latch at {axis}, "
            f"{room.ceiling_mm:.1f} mm deep, under {design.skin_mm:g} mm of skin",
            f"{place.body}: an opening for the latch's case at {axis}; the bolts' axis lies "
            f"{room.below_mm:.1f} mm under the lid's lower face",
            *(f"{name}: {guide.words}" for name, guide in self.guides.items()),
        )


def is_latch(shape: str) -> bool:
    """Whether a shape is the latch file, of which a piece is a part."""
    return Path(shape).name == LATCH_FILE


def hidden_latch(
    root: Path, job: Job, read: Callable[[PieceSpec], Solid], stands: Callable[[PieceSpec, PieceSpec], float | None]
) -> Hidden | None:
    """The latch that is let into pieces of a job, or None; ``read`` gives a piece as it was drawn, ``stands`` how far
    the foot of the first one is above the second's, where a file knows."""
    path = root / LATCH_FILE
    if not path.is_file():
        return None
    latch = load_latch(path)
    if not latch.let_in or latch.place is None:
        return None
    specs = {spec.layer.of if spec.layer else spec.name: spec for spec in job.pieces}
    lid, body = (_piece(specs, key, name) for key, name in (("lid", latch.place.lid), ("body", latch.place.body)))
    stands_mm = _stands_mm(latch.place, stands(lid, body))
    year = year_of_job(job.season or Season())
    special = tuple(cutter for cutter in job.cutters if cutter.kind == "drill" or cutter.undercuts)
    return _let_in(latch, wood_of(latch), year, stands_mm, read(lid), read(body), special)


def wood_of(latch: Latch) -> Species:
    listed = catalog.species()
    if latch.wood not in listed:
        like = nearest_species(latch.wood)
        advice = (f'did you mean "{like}"?',) if like else ()
        what = f"{latch.wood[:60]!r} is not listed"
        raise refuse(f"{LATCH_FILE}, wood", what, *advice, "see witnessmark new --list")
    return listed[latch.wood]


def latch_part(hidden: Hidden | None, part: str | None) -> Solid:
    """A part of the latch as a piece, standing on its foot."""
    if hidden is None:
        what = "is settled on nothing yet, or has no place: its parts have no sizes"
        raise refuse(LATCH_FILE, what, "give it a table [place]", "and settle: witnessmark latch --use")
    if part not in hidden.parts:
        what = f"has no part {part!r}" if part else "has several parts: which of them the piece is, is not said"
        raise refuse(LATCH_FILE, what, f"give part to the piece in job.toml: {', '.join(hidden.parts)}")
    return hidden.parts[part]


def _piece(specs: dict[str, PieceSpec], key: str, name: str) -> PieceSpec:
    if name in specs:
        return specs[name]
    like = nearest(name, list(specs))
    advice = (f'did you mean "{like}"?',) if like else ()
    raise refuse(f"{LATCH_FILE}, place.{key}", f'"{name[:60]}" is no piece of the job', *advice, "name the piece")


def _stands_mm(place: Place, known_mm: float | None) -> float:
    """How far the lid's foot stands over the body's."""
    if place.stands_mm is not None:
        return place.stands_mm
    if known_mm is not None:
        return known_mm
    what = "is not said: how far the closed lid's lowest face is above the body's foot"
    raise refuse(f"{LATCH_FILE}, place.stands_mm", what, "measure it in the drawing, and give it")


@lru_cache(maxsize=2)
def _let_in(
    latch: Latch, wood: Species, year: Year, stands_mm: float, lid: Solid, body: Solid, cutters: tuple[Cutter, ...]
) -> Hidden:
    place = latch.place
    assert place is not None
    try:
        design = design_of(latch, wood)
        design = replace(design, seat_mm=seat_mm(design, latch.spreads, year))
        made = LetIn.of(design, place, stands_mm, lid.manifold, body.manifold, cutters)
        parts = made.parts
        guides = {f"{GUIDE}-{k}" if k > 1 else GUIDE: guide for k, guide in enumerate(guides_of(made), 1)}
    except ValueError as error:
        what, _, advice = str(error).partition(": ")
        raise refuse(LATCH_FILE, what, advice or "change its wish or its place") from None
    pieces = {"rotor": parts.rotor, "case": parts.case, "key": parts.key}
    pieces |= {name: guide.upright for name, guide in guides.items()}
    return Hidden(
        latch,
        made,
        lid.with_wood(made.cut_lid),
        body.with_wood(made.opened_body),
        {name: Solid(_on_foot(solid)) for name, solid in pieces.items()},
        guides,
    )


def _on_foot(solid: Manifold) -> Manifold:
    return solid.translate((0.0, 0.0, -float(solid.bounding_box()[2])))
