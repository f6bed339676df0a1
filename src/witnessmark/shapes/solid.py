"""A solid: a closed mesh with the questions that planning, cutting and proof ask of it. mm throughout.

Heights. ``section(z)`` and ``shadow_above(z)`` are limits from above: at the height of a flat face facing up
(a floor, a rim) they show what stands higher than that face; at a face facing down they include the wood that
begins there. So ``section(bottom)`` is the foot and ``section(top)`` is empty.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import manifold3d
import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from witnessmark.job.errors import refuse
from witnessmark.job.frames import Rigid

from .edges import body_volumes_mm3
from .fans import parted
from .features import Face, Feature, Sides
from .rings import Area, area_of_section, only_area
from .shadow import ShadowCaster

__all__ = ["Face", "Feature", "Piece", "Sides", "Solid"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LIFT_MM = 1e-5  # "just above": beyond the rounding of float32 files at bench size, far below any cutter's care
FLAT_RATIO = 1.0 - 1e-9  # cosine from which a face counts as horizontal (within 0.003 degrees)
SAME_VOLUME_RATIO = 1e-6  # a solid that encloses more or less than its mesh was put together wrongly
LEVEL_MM = 1e-3  # flat faces closer in height than this are one level


class Solid:
    """A closed, outward-facing triangle mesh. Never changes; what it was asked before is remembered.

    ``named``: the faces of the bodies it was put together from, by manifold3d's numbers of these.
    """

    def __init__(self, manifold: manifold3d.Manifold, named: Mapping[int, Sides] | None = None) -> None:
        self.manifold = manifold
        self._named = dict(named or {})
        self._up = np.array([0.0, 0.0, 1.0])  # where the piece's own z points
        self._shadows: dict[int, Area] = {}
        self._sections: dict[int, Area] = {}

    @classmethod
    def from_mesh(cls, vertices: ArrayLike, faces: ArrayLike, name: str = "solid") -> Solid:
        """Vertices (n, 3) mm, faces (m, 3) counter-clockwise seen from outside; refused if it is not closed."""
        corners, triangles = parted(np.asarray(vertices, dtype=np.float64), np.asarray(faces, dtype=np.int64))
        mesh = manifold3d.Mesh64(np.ascontiguousarray(corners), np.ascontiguousarray(triangles, dtype=np.uint64))
        manifold = manifold3d.Manifold(mesh)
        if manifold.status() != manifold3d.Error.NoError:
            raise refuse(
                name,
                f"is no closed solid ({manifold.status().name})",
                "ask for its health report",
                "let it be mended: add --mend to look, new or check",
            )
        if manifold.is_empty() or abs(manifold.volume()) <= 0.0:
            raise refuse(name, "encloses no volume", "save the solid, not a sheet or an empty file")
        own_mm3 = float(body_volumes_mm3(corners[triangles], np.zeros(len(triangles), dtype=np.int64), 1)[0])
        if abs(manifold.volume() - own_mm3) > SAME_VOLUME_RATIO * abs(own_mm3):
            remedy = "part them by a hair, or join them into one body, in the program that drew them"
            raise refuse(name, "has parts that touch along a line: which belong together is not clear", remedy)
        if manifold.volume() < 0.0:
            raise refuse(name, "is inside out", "let its faces be turned round: add --mend to look, new or check")
        return cls(manifold)

    def __reduce__(self) -> tuple[Any, ...]:
        if not self._named:
            return (Solid.from_mesh, (self.vertices, self.faces))
        return (_restored, (self.vertices, self.faces, self._bodies, self._named, self._up))

    @cached_property
    def _mesh(self) -> tuple[Floats, Ints]:
        mesh = self.manifold.to_mesh64()
        vertices = np.array(mesh.vert_properties[:, :3], dtype=np.float64)
        faces = np.array(mesh.tri_verts, dtype=np.int64)
        if len(mesh.merge_from_vert):
            joined = np.arange(len(vertices))
            joined[np.asarray(mesh.merge_from_vert, dtype=np.int64)] = np.asarray(mesh.merge_to_vert, dtype=np.int64)
            faces = joined[faces]
        return vertices, faces

    @property
    def vertices(self) -> Floats:
        """Corners (n, 3) mm."""
        return self._mesh[0]

    @property
    def faces(self) -> Ints:
        """Corner numbers (m, 3), counter-clockwise seen from outside."""
        return self._mesh[1]

    @cached_property
    def _bodies(self) -> Ints:
        """The number of the body that each triangle came from, (m,)."""
        mesh = self.manifold.to_mesh64()
        starts = np.asarray(mesh.run_index, dtype=np.int64) // 3
        return np.repeat(np.asarray(mesh.run_original_id, dtype=np.int64), np.diff(starts))

    @cached_property
    def faces_named(self) -> tuple[tuple[Face, ...], Ints]:
        """The faces that have a name, and the number among them of every triangle, (m,); -1: it has none."""
        faces: list[Face] = []
        number = np.full(len(self.faces), -1, dtype=np.int64)
        rises = self.normals @ self._up
        for body, sides in self._named.items():
            for face, which in ((sides.up, rises > 0.5), (sides.down, rises < -0.5), (sides.side, abs(rises) <= 0.5)):
                mine = which & (self._bodies == body)
                if mine.any():
                    if face not in faces:
                        faces.append(face)
                    number[mine] = faces.index(face)
        return tuple(faces), number

    @cached_property
    def triangles(self) -> Floats:
        """Corners of every triangle, (m, 3, 3) mm."""
        return np.ascontiguousarray(self.vertices[self.faces])

    @cached_property
    def _crosses(self) -> Floats:
        corner = self.triangles
        return np.asarray(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), dtype=np.float64)

    @cached_property
    def areas_mm2(self) -> Floats:
        """Area of every triangle, (m,)."""
        return np.asarray(np.linalg.norm(self._crosses, axis=1) / 2, dtype=np.float64)

    @cached_property
    def normals(self) -> Floats:
        """Outward unit normals, (m, 3); zero where a triangle has no area."""
        twice = 2 * self.areas_mm2[:, None]
        return np.divide(self._crosses, twice, out=np.zeros_like(self._crosses), where=twice > 0)

    @cached_property
    def bounds_mm(self) -> tuple[Floats, Floats]:
        """Least and greatest corner, each (3,)."""
        box = np.array(self.manifold.bounding_box(), dtype=np.float64)
        return box[:3], box[3:]

    @cached_property
    def volume_mm3(self) -> float:
        return float(self.manifold.volume())

    def with_wood(self, manifold: manifold3d.Manifold) -> Solid:
        """Another solid made from this one by cutting or joining: the faces that it keeps keep their names."""
        made = Solid(manifold, self._named)
        made._up = self._up
        return made

    def moved(self, rigid: Rigid) -> Solid:
        """The solid after a rigid move."""
        moved = Solid(self.manifold.transform(rigid.matrix34()), self._named)
        moved._up = rigid.rotation @ self._up
        return moved

    def section(self, z_mm: float) -> Area:
        """The exact slice just above height z (see the head of this file)."""
        key = round(z_mm / LIFT_MM)
        if key not in self._sections:
            self._sections[key] = area_of_section(self.manifold.slice(z_mm + LIFT_MM))
        return self._sections[key]

    def shadow_above(self, z_mm: float) -> Area:
        """Everything of the solid higher than z, seen from straight above."""
        key = round(z_mm / LIFT_MM)
        if key not in self._shadows:
            self._shadows[key] = self._caster.above(z_mm + LIFT_MM)
        return self._shadows[key]

    @cached_property
    def _caster(self) -> ShadowCaster:
        return ShadowCaster(self.vertices, self.faces)

    def silhouette(self) -> Area:
        """The whole solid seen from straight above."""
        return self.shadow_above(float(self.bounds_mm[0][2]) - 1.0)

    def flat_levels(self, least_area_mm2: float = 25.0) -> list[tuple[float, Area]]:
        """Horizontal faces that face up: (height mm, area), from the lowest; smaller ones are left out."""
        flat = np.flatnonzero((self.normals[:, 2] >= FLAT_RATIO) & (self.areas_mm2 > 0))
        if not len(flat):
            return []
        heights_mm = self.triangles[flat, :, 2].mean(axis=1)
        order = np.argsort(heights_mm, kind="stable")
        breaks = np.flatnonzero(np.diff(heights_mm[order]) > LEVEL_MM) + 1
        levels = []
        for group in np.split(order, breaks):
            area = only_area(shapely.union_all(shapely.polygons(self.triangles[flat[group], :, :2])))
            if area.area >= least_area_mm2:
                levels.append((float(np.average(heights_mm[group], weights=self.areas_mm2[flat[group]])), area))
        return levels


def _restored(vertices: Floats, faces: Ints, bodies: Ints, named: Mapping[int, Sides], up: Floats) -> Solid:
    """A solid with named faces, as it was before it was sent to another process."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(bodies)) + 1])
    mesh = manifold3d.Mesh64(
        np.ascontiguousarray(vertices),
        np.ascontiguousarray(faces, dtype=np.uint64),
        run_index=np.append(starts * 3, len(faces) * 3).astype(np.uint64),
        run_original_id=bodies[starts].astype(np.uint32),
    )
    solid = Solid(manifold3d.Manifold(mesh), named)
    solid._up = up
    return solid


@dataclass(frozen=True, eq=False)
class Piece:
    """What is to be made, in the piece frame."""

    name: str
    solid: Solid
    faces: tuple[Face, ...] = ()
    features: tuple[Feature, ...] = ()
