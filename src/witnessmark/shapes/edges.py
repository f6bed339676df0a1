"""How the faces of a mesh meet along their edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Edges:
    """Undirected edges: corners (n, 2) low first; how many faces run each along low -> high and back."""

    corners: Ints
    forth: Ints
    back: Ints

    @property
    def open(self) -> NDArray[np.bool_]:
        """Edges with an odd number of faces: the surface ends there, or one too many meets."""
        return np.asarray((self.forth + self.back) % 2 == 1)

    @property
    def against(self) -> NDArray[np.bool_]:
        """Edges whose faces are turned against each other: one of them shows its inside."""
        return np.asarray(~self.open & (self.forth != self.back))

    @property
    def crowded(self) -> NDArray[np.bool_]:
        """Edges shared by more than two faces."""
        return np.asarray(self.forth + self.back > 2)

    @property
    def closed(self) -> bool:
        return bool(np.all(self.forth == self.back))


def edges_of(faces: Ints) -> Edges:
    """Edges of faces (m, 3)."""
    directed = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    count = int(faces.max(initial=0)) + 1
    low, high = directed.min(axis=1), directed.max(axis=1)
    key, which = np.unique(low * count + high, return_inverse=True)
    runs_forth = directed[:, 0] == low
    forth = np.bincount(which, weights=runs_forth, minlength=len(key)).astype(np.int64)
    back = np.bincount(which, weights=~runs_forth, minlength=len(key)).astype(np.int64)
    return Edges(np.column_stack([key // count, key % count]), forth, back)


def body_of_faces(faces: Ints) -> tuple[int, Ints]:
    """How many bodies (faces joined through corners), and the body of each face (m,)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    count = int(faces.max(initial=0)) + 1
    a, b = np.concatenate([faces[:, 0], faces[:, 1]]), np.concatenate([faces[:, 1], faces[:, 2]])
    _, label = connected_components(coo_array((np.ones(len(a)), (a, b)), shape=(count, count)), directed=False)
    bodies, which = np.unique(label[faces[:, 0]], return_inverse=True)
    return len(bodies), which.astype(np.int64)


def body_volumes_mm3(triangles: NDArray[np.float64], body: Ints, bodies: int) -> NDArray[np.float64]:
    """Signed volume of each closed body: sums of tetrahedra from a point amidst them."""
    corner = triangles - triangles.reshape(-1, 3).mean(axis=0)
    tetrahedra = np.einsum("ij,ij->i", corner[:, 0], np.cross(corner[:, 1], corner[:, 2])) / 6
    return np.asarray(np.bincount(body, weights=tetrahedra, minlength=bodies), dtype=np.float64)
