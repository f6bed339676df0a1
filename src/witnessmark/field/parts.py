"""Connected regions of a mask.

Question   which cells hang together; how long is each region, and is any of its cells marked
Frame      any; rows and columns
Units      none
Arrays     mask (ny, nx) bool; labels (ny, nx) int32: 0 outside the mask, regions 1 .. count in order of first cell
Method     union-find over side-adjacent cells, and over corners too if asked
Source     Galler, B. A. and Fisher, M. J. (1964), An improved equivalence algorithm, Communications of the ACM 7(5)
           (from memory)
Valid      exact
Refuses    nothing
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .column_kernels import union

Labels = NDArray[np.int32]
Mask = NDArray[np.bool_]


def regions(mask: Mask, corners: bool = False) -> tuple[Labels, int]:
    """Label the connected regions of a mask; ``corners`` also joins cells that meet at a corner."""
    label = np.empty(mask.size, dtype=np.int32)
    count = _label(np.ascontiguousarray(mask, dtype=bool), corners, label)
    return label.reshape(mask.shape), int(count)


def extents(labels: Labels, count: int, marked: Mask) -> tuple[NDArray[np.int64], Mask]:
    """For regions 0 .. count of ``regions``: the larger side of each one's box in cells, and whether any is marked.

    A region of one cell has side 0.
    """
    side = np.zeros(count + 1, dtype=np.int64)
    touched = np.zeros(count + 1, dtype=bool)
    _measure(np.ascontiguousarray(labels), np.ascontiguousarray(marked, dtype=bool), side, touched)
    return side, touched


@njit(cache=True, error_model="numpy", nogil=True)
def _measure(labels: Labels, marked: Mask, side: NDArray[np.int64], touched: Mask) -> None:
    ny, nx = labels.shape
    box = np.empty((side.size, 4), dtype=np.int64)
    box[:, :2] = ny + nx
    box[:, 2:] = -1
    for j in range(ny):
        for i in range(nx):
            c = labels[j, i]
            if c == 0:
                continue
            box[c, 0], box[c, 2] = min(box[c, 0], j), max(box[c, 2], j)
            box[c, 1], box[c, 3] = min(box[c, 1], i), max(box[c, 3], i)
            touched[c] |= marked[j, i]
    for c in range(1, side.size):
        side[c] = max(box[c, 2] - box[c, 0], box[c, 3] - box[c, 1])


@njit(cache=True, error_model="numpy", nogil=True)
def _label(mask: Mask, corners: bool, parent: Labels) -> int:
    ny, nx = mask.shape
    for k in range(parent.size):
        parent[k] = k
    for j in range(ny):
        for i in range(nx):
            if not mask[j, i]:
                continue
            k = j * nx + i
            if i > 0 and mask[j, i - 1]:
                union(parent, k, k - 1)
            if j > 0 and mask[j - 1, i]:
                union(parent, k, k - nx)
            if corners and j > 0 and i > 0 and mask[j - 1, i - 1]:
                union(parent, k, k - nx - 1)
            if corners and j > 0 and i + 1 < nx and mask[j - 1, i + 1]:
                union(parent, k, k - nx + 1)
    count = 0
    for k in range(parent.size):  # a leader always comes before those it leads
        if not mask[k // nx, k % nx]:
            parent[k] = 0
        elif parent[k] == k:
            count += 1
            parent[k] = -count
        else:
            parent[k] = parent[parent[k]]
    for k in range(parent.size):
        parent[k] = -parent[k]
    return count
