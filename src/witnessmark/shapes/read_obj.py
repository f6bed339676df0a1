"""OBJ: corners and flat faces with any number of sides. It states no unit.

Faces with more than three sides are cut into triangles inside their outline, so hollow (concave) faces stay true:
a fan from the first corner, the common short cut, covers ground outside them.
"""

from __future__ import annotations

from pathlib import Path

import manifold3d
import numpy as np

from .files import MESH_BYTES, TRIANGLES, broken, file_bytes
from .raw import Floats, RawMesh


def read_obj(path: Path) -> RawMesh:
    """All faces of all groups as one mesh; curves, normals, textures and materials are passed over."""
    lines = file_bytes(path, MESH_BYTES).decode("utf-8", errors="replace").replace("\\\n", " ").splitlines()
    corners: list[list[float]] = []
    polygons: list[list[int]] = []
    passed_over: set[str] = set()
    for number, line in enumerate(lines, start=1):
        word, *values = line.split("#", 1)[0].split() or [""]
        try:
            if word == "v":
                corners.append([float(value) for value in values[:3]])
            elif word == "f":
                polygons.append([_corner(value, len(corners)) for value in values])
            elif word in ("curv", "curv2", "surf"):
                passed_over.add(word)
        except ValueError as error:
            raise broken(path, f"line {number} cannot be read: {error}") from error
    if not polygons or any(len(corner) != 3 for corner in corners):
        raise broken(path, "holds no faces" if not polygons else "has a corner without three coordinates")
    notes = (f"curved surfaces ({', '.join(sorted(passed_over))}) passed over",) if passed_over else ()
    return RawMesh(np.array(corners, dtype=np.float64), _triangles(np.array(corners), polygons, path), notes=notes)


def _corner(value: str, count: int) -> int:
    """Corner number from 0 of "7", "7/1", "7//3" or "-1" (counted back from the last)."""
    index = int(value.split("/")[0])
    index = index - 1 if index > 0 else count + index
    if not 0 <= index < count:
        raise ValueError(f"face names corner {value}, but only {count} came before it")
    return index


def _triangles(corners: Floats, polygons: list[list[int]], path: Path) -> np.ndarray:
    faces: list[list[int]] = []
    for polygon in polygons:
        if len(polygon) == 3:
            faces.append(polygon)
        elif len(polygon) > 3:
            faces.extend(_cut_up(corners, polygon))
        if len(faces) > TRIANGLES:
            raise broken(path, f"holds more than the {TRIANGLES} triangles that are read")
    if not faces:
        raise broken(path, "holds no face with three corners or more")
    return np.array(faces, dtype=np.int64)


def _cut_up(corners: Floats, polygon: list[int]) -> list[list[int]]:
    """Triangles inside a flat outline, seen along its mean normal (Newell's sum)."""
    places = corners[polygon]
    normal = np.cross(places - places[0], np.roll(places, -1, axis=0) - places[0]).sum(axis=0)
    length = np.linalg.norm(normal)
    if length == 0.0:
        return [[polygon[0], polygon[k], polygon[k + 1]] for k in range(1, len(polygon) - 1)]
    normal /= length
    across = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    across /= np.linalg.norm(across)
    flat = np.column_stack([places @ across, places @ np.cross(normal, across)])
    return [[polygon[k] for k in triangle] for triangle in manifold3d.triangulate([flat]).tolist()]
