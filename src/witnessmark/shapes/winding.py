"""Is a place in the wood? The winding number of a closed mesh about it.

Source  A. van Oosterom, J. Strackee, The solid angle of a plane triangle, IEEE Trans. Biomed. Eng. 30 (1983) 125
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def winding_number(place_mm: Floats, triangles: Floats) -> float:
    """1 within a closed outward mesh (m, 3, 3), 0 outside it; in between on its surface."""
    a, b, c = (triangles[:, k] - place_mm for k in range(3))
    la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    spread = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return float(np.arctan2(volume, spread).sum() / (2 * np.pi))
