"""A triangle mesh as a file gives it, before anyone knows whether it is a solid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.errors import refuse

from .features import Feature

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_PAIRS = 20_000_000


@dataclass(frozen=True, eq=False)
class RawMesh:
    """Vertices (n, 3) in ``unit`` ("" if the file states none), faces (m, 3)."""

    vertices: Floats
    faces: Ints
    unit: str = ""
    notes: tuple[str, ...] = ()
    features: tuple[Feature, ...] = ()


def joined_exactly(vertices: Floats, faces: Ints) -> tuple[Floats, Ints]:
    """Corners at the very same place become one; unused corners go."""
    # adding zero makes -0.0 and 0.0 one value
    rows = np.ascontiguousarray(vertices + 0.0).view(np.dtype((np.void, 24))).ravel()
    _, first, which = np.unique(rows, return_index=True, return_inverse=True)
    return _without_unused(vertices[first], which[faces])


def joined_within(vertices: Floats, faces: Ints, apart_mm: float) -> tuple[Floats, Ints]:
    """Corners nearer than ``apart_mm`` (chains of them too) become one, at the place of the first."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    tree = cKDTree(vertices)
    if tree.count_neighbors(tree, apart_mm) > MOST_PAIRS:
        raise refuse(
            "mesh", f"thousands of corners lie within {apart_mm} mm", "say the unit: it may be inches or metres"
        )
    pairs = tree.query_pairs(apart_mm, output_type="ndarray")
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(vertices), len(vertices)))
    _, which = connected_components(links, directed=False)
    _, first = np.unique(which, return_index=True)
    return _without_unused(vertices[first], which[faces].astype(np.int64))


def without_collapsed(faces: Ints) -> Ints:
    """Faces with three different corners; the others have no area and touch no one else's edge."""
    a, b, c = faces.T
    return np.asarray(faces[(a != b) & (b != c) & (c != a)], dtype=np.int64)


def _without_unused(vertices: Floats, faces: Ints) -> tuple[Floats, Ints]:
    used, renumbered = np.unique(faces, return_inverse=True)
    return vertices[used], renumbered.reshape(faces.shape).astype(np.int64)
