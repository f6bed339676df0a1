"""Mending a mesh on request, saying each thing that was done. What stays open is refused, with its places. mm."""

from __future__ import annotations

from dataclasses import dataclass, replace

import manifold3d
import numpy as np

from witnessmark.job.errors import Refusal, refuse

from .edges import body_of_faces, body_volumes_mm3, edges_of
from .health import examine, turns_of
from .raw import Floats, Ints, joined_exactly, joined_within, without_collapsed
from .solid import Solid
from .winding import winding_number

JOIN_MM = 0.01  # corners nearer than this are one: far below what a cutter can leave
FLAT_MM = 0.05  # a hole's rim may stray this far from a plane and is still closed by a flat face
LARGEST_HOLE_MM = 50.0
BEYOND_MENDING = "this could not be mended: close it there in the program that drew it, and save it again"


@dataclass(frozen=True, eq=False)
class Mended:
    """The solid, and what was done to get it, in words."""

    solid: Solid
    did: tuple[str, ...]


def mend(
    vertices: Floats,
    faces: Ints,
    name: str = "solid",
    join_mm: float = JOIN_MM,
    largest_hole_mm: float = LARGEST_HOLE_MM,
) -> Mended:
    """Join, drop, turn and close until it is a solid; refused with places and remedies if it cannot be."""
    did: list[str] = []
    vertices, faces = _joined(np.asarray(vertices, dtype=np.float64), np.asarray(faces, dtype=np.int64), join_mm, did)
    faces = _without_doubles(faces, did)
    if not len(faces):
        raise refuse(name, "nothing is left once faces without area are dropped", "save the solid again")
    faces = _wound_alike(faces, did)
    vertices, faces = _closed(vertices, faces, largest_hole_mm, did)
    health = examine(vertices, faces)
    if edges_of(faces).closed:
        faces = _outward(vertices, faces, did)
        health = examine(vertices, faces)
    if not health.sound:
        raise Refusal(*(replace(trouble, remedies=(BEYOND_MENDING,)) for trouble in health.troubles(name)))
    solid = Solid.from_mesh(vertices, faces, name)
    return Mended(_overlaps_joined(solid, health.has("self-intersecting"), did), tuple(did))


def _joined(vertices: Floats, faces: Ints, join_mm: float, did: list[str]) -> tuple[Floats, Ints]:
    exact_vertices, exact_faces = joined_exactly(vertices, faces)
    near_vertices, near_faces = joined_within(exact_vertices, exact_faces, join_mm)
    if len(near_vertices) < len(exact_vertices):
        count = len(exact_vertices) - len(near_vertices)
        did.append(f"joined {count} corners that lay within {join_mm} mm of another")
    kept = without_collapsed(near_faces)
    if len(kept) < len(near_faces):
        did.append(f"dropped {len(near_faces) - len(kept)} faces without area")
    return near_vertices, kept


def _without_doubles(faces: Ints, did: list[str]) -> Ints:
    """One of faces given twice; none of two that lie back to back."""
    _, first, which = np.unique(np.sort(faces, axis=1), axis=0, return_index=True, return_inverse=True)
    turns = turns_of(faces)
    balance = np.bincount(which, weights=turns, minlength=len(first))
    count = np.bincount(which, minlength=len(first))
    alone = (balance != 0) | (count == 1)
    dropped = len(faces) - np.count_nonzero(alone)
    if dropped:
        did.append(f"dropped {dropped} faces given twice or lying back to back")
    kept = first[alone]
    turned = np.sign(balance[alone]) != turns[kept]
    result = faces[kept]
    result[turned] = result[turned][:, ::-1]
    return np.asarray(result, dtype=np.int64)


def _wound_alike(faces: Ints, did: list[str]) -> Ints:
    """Turn faces so that neighbours agree, walking over edges that two faces share."""
    if not np.any(edges_of(faces).against):
        return faces
    import trimesh

    mesh = trimesh.Trimesh(np.zeros((faces.max() + 1, 3)), faces, process=False, validate=False)
    trimesh.repair.fix_winding(mesh)
    fixed = np.asarray(mesh.faces, dtype=np.int64)
    did.append(f"turned round {np.count_nonzero((fixed != faces).any(axis=1))} faces that disagreed with neighbours")
    return fixed


def _outward(vertices: Floats, faces: Ints, did: list[str]) -> Ints:
    """Turn whole bodies so that wood is inside; a body within an odd number of others bounds a hollow."""
    bodies, body = body_of_faces(faces)
    triangles = vertices[faces]
    volumes = body_volumes_mm3(triangles, body, bodies)
    result, turned = faces.copy(), 0
    for k in range(bodies):
        others = [j for j in range(bodies) if j != k and abs(volumes[j]) > abs(volumes[k])]
        place = triangles[body == k][0].mean(axis=0)
        depth = sum(abs(winding_number(place, triangles[body == j])) > 0.5 for j in others)
        if volumes[k] < 0.0 and depth % 2 == 0:
            result[body == k] = result[body == k][:, ::-1]
            turned += 1
    if turned:
        did.append(f"turned {turned} bodies right side out")
    return result


def _closed(vertices: Floats, faces: Ints, largest_mm: float, did: list[str]) -> tuple[Floats, Ints]:
    """Close flat holes up to a size with flat faces."""
    caps = []
    for loop in _rims(faces):
        places = vertices[loop]
        if np.ptp(places, axis=0).max() > largest_mm:
            continue
        cap = _cap(places)
        if cap is not None:
            caps.append(loop[cap])
            x, y, z = places.mean(axis=0)
            did.append(f"closed a flat hole of {len(loop)} edges at x {x:.1f} y {y:.1f} z {z:.1f}")
    return vertices, np.concatenate([faces, *caps]) if caps else faces


def _rims(faces: Ints) -> list[Ints]:
    """Simple rings of open edges, running so that a cap wound along them agrees with its neighbours."""
    edges = edges_of(faces)
    single = edges.forth + edges.back == 1
    low, high = edges.corners[single].T
    runs_forth = edges.forth[single] == 1
    start, end = np.where(runs_forth, high, low), np.where(runs_forth, low, high)
    follow: dict[int, int] = dict(zip(start.tolist(), end.tolist()))
    rims = []
    while follow:
        first, node = next(iter(follow.items()))
        ring = [first]
        del follow[first]
        while node != first and node in follow:
            ring.append(node)
            node = follow.pop(node)
        if node == first and len(ring) >= 3:
            rims.append(np.array(ring, dtype=np.int64))
    return rims


def _cap(places: Floats) -> Ints | None:
    """Triangles (n, 3) over a flat ring of places, or None if it is not flat or crosses itself."""
    centre = places.mean(axis=0)
    normal = np.cross(places - centre, np.roll(places, -1, axis=0) - centre).sum(axis=0)
    length = np.linalg.norm(normal)
    if length == 0.0:
        return None
    normal /= length
    if np.abs((places - centre) @ normal).max() > FLAT_MM:
        return None
    across = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    across /= np.linalg.norm(across)
    flat = np.column_stack([places @ across, places @ np.cross(normal, across)])
    try:
        return np.asarray(manifold3d.triangulate([flat]), dtype=np.int64)
    except ValueError:
        return None


def _overlaps_joined(solid: Solid, crosses: bool, did: list[str]) -> Solid:
    """Bodies that pass through each other become one."""
    if not crosses:
        return solid
    parts = solid.manifold.decompose()
    if len(parts) < 2 or any(part.volume() <= 0.0 for part in parts):
        return solid
    joined = manifold3d.Manifold.batch_boolean(parts, manifold3d.OpType.Add)
    did.append(f"joined {len(parts)} bodies that passed through each other into {len(joined.decompose())}")
    return Solid(joined)
