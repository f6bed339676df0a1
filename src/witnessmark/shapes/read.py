"""Reading shape files: solids (STEP, STL, 3MF, OBJ) and outlines (DXF, SVG), with the unit said."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from witnessmark.job.errors import Refusal, refuse

from .complaints import Health
from .features import Feature
from .files import broken, mm_per
from .health import examine, unit_guesses
from .mend import mend
from .outline import Outline, read_outline
from .raw import Floats, Ints, RawMesh, joined_exactly, joined_within, without_collapsed
from .solid import Solid

__all__ = ["Outline", "Reading", "read_outline", "read_solid"]

SOLID_SUFFIXES = (".step", ".stp", ".stl", ".3mf", ".obj")
NEAR_MM = 1e-3  # corners this near are one: the rounding of exporters, far below what a cutter can leave
ROUND_DECIMALS = 4  # files in float32 metres or mm blur coordinates by about this much; flat faces come out flat
FARTHEST_MM = 1e6
LEAST_MM = 0.5  # below this rounding would spoil the shape, and no unit but a wrong one makes a piece so small


@dataclass(frozen=True, eq=False)
class Reading:
    """A solid read from a file, or (``solid`` None) why it is none.

    ``vertices`` (n, 3) mm and ``faces`` (m, 3) are the mesh as read, for its health or for mending.
    """

    name: str
    solid: Solid | None
    health: Health
    unit: str
    notes: tuple[str, ...]
    vertices: Floats
    faces: Ints
    features: tuple[Feature, ...] = ()

    def needed(self) -> Solid:
        """The solid; a refusal with places and remedies if there is none."""
        if self.solid is None:
            raise Refusal(*self.health.troubles(self.name))
        return self.solid

    def mended(self) -> Reading:
        """The reading after mending, with what was done among the notes; refused if it stays open."""
        done = mend(self.vertices, self.faces, self.name)
        health = examine(done.solid.vertices, done.solid.faces)
        return replace(
            self, solid=done.solid, health=health, notes=(*self.notes, *(f"mended: {d}" for d in done.did))
        )


def read_solid(path: str | Path, unit: str | None = None) -> Reading:
    """Read a solid; ``unit`` (mm, cm, m, inch) overrides what the file states or what is assumed.

    A file that cannot be understood is refused; one that can, but is no closed solid, comes with its health.
    """
    path = Path(path)
    scale_ratio, named = (mm_per(unit, path), unit) if unit else (1.0, "mm")
    raw = _raw(path)
    if not (raw.unit or unit):
        _must_not_be_tiny(raw, path)
    if raw.unit:
        unit_note = (f"the unit {unit!r} was asked for, against the file's own",) if unit else ()
    else:
        unit_note = (f"taken as {named}, as asked",) if unit else ("the file states no unit: mm assumed",)
    vertices, faces, notes = _tidied(raw, scale_ratio, path)
    health = examine(vertices, faces, unit_stated=bool(raw.unit or unit))
    solid = Solid.from_mesh(vertices, faces, path.name) if health.sound else None
    features = tuple(feature.scaled(scale_ratio) for feature in raw.features)
    return Reading(path.name, solid, health, named, (*raw.notes, *unit_note, *notes), vertices, faces, features)


def _must_not_be_tiny(raw: RawMesh, path: Path) -> None:
    """Refuse what no router cuts where mm are only assumed: another unit was meant, and rounding would spoil it."""
    used = raw.vertices[raw.faces]
    largest_mm = float(np.ptp(used.reshape(-1, 3), axis=0).max()) if len(raw.faces) else LEAST_MM
    if 0.0 < largest_mm < LEAST_MM:
        what = f"states no unit, and is only {largest_mm:.3g} mm large if it is in mm"
        raise refuse(path.name, what, *unit_guesses(largest_mm))


def _raw(path: Path) -> RawMesh:
    suffix = path.suffix.lower()
    if suffix in (".step", ".stp"):
        from .read_step import read_step

        return read_step(path)
    if suffix == ".stl":
        from .read_stl import read_stl

        return read_stl(path)
    if suffix == ".3mf":
        from .read_3mf import read_3mf

        return read_3mf(path)
    if suffix == ".obj":
        from .read_obj import read_obj

        return read_obj(path)
    raise refuse(path.name, f"is no kind of solid that is read here ({suffix or 'no ending'})", _save_as())


def _save_as() -> str:
    return f"save it as one of {', '.join(SOLID_SUFFIXES)}"


def _tidied(raw: RawMesh, scale_ratio: float, path: Path) -> tuple[Floats, Ints, tuple[str, ...]]:
    """In mm, with corners joined; in a unit override the file's own mm are taken as that unit."""
    if not np.all(np.isfinite(raw.vertices[raw.faces])):
        raise broken(path, "has corners that are no numbers")
    vertices, faces = joined_exactly(np.round(raw.vertices * scale_ratio, ROUND_DECIMALS), raw.faces)
    if np.abs(vertices).max() > FARTHEST_MM:
        raise refuse(path.name, "reaches farther than a kilometre from its origin", "say its unit", "move it nearer")
    near_vertices, near_faces = joined_within(vertices, faces, NEAR_MM)
    notes = []
    if len(near_vertices) < len(vertices):
        notes.append(f"{len(vertices) - len(near_vertices)} corners within {NEAR_MM} mm of another were joined")
    kept = without_collapsed(near_faces)
    if len(kept) < len(near_faces):
        notes.append(f"{len(near_faces) - len(kept)} faces without area were dropped")
    if not len(kept):
        raise broken(path, "holds no face with area")
    used, renumbered = np.unique(kept, return_inverse=True)
    return near_vertices[used], renumbered.reshape(kept.shape).astype(np.int64), tuple(notes)
