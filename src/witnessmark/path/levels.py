"""At which heights each kind of cutting goes round."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .slopes import Slopes

Floats = NDArray[np.float64]

SAME_MM = 1e-4


def scallop_spacing_mm(radius_mm: float, scallop_mm: float) -> float:
    """Distance between two passes of a ball that leave a ridge of this height between them on a plane.

    h = R - sqrt(R^2 - s^2/4), so s = 2 sqrt(2 R h - h^2) (plane geometry; a textbook formula).

    >>> round(scallop_spacing_mm(3.0, 0.05), 7)
    1.0908712
    """
    h = min(scallop_mm, radius_mm)
    return 2.0 * math.sqrt(2.0 * radius_mm * h - h * h)


def stepped(from_mm: float, targets_mm: Iterable[float], most_mm: float) -> list[float]:
    """Heights downward from (below) ``from_mm`` that meet every target, by equal steps of at most ``most_mm``.

    >>> stepped(10.0, [7.0, 3.0], 2.0)
    [8.5, 7.0, 5.0, 3.0]
    """
    levels: list[float] = []
    for target in sorted({round(t, 6) for t in targets_mm}, reverse=True):
        drop = from_mm - target
        if drop <= SAME_MM:
            continue
        count = math.ceil(drop / most_mm - 1e-9)
        levels += [from_mm - drop * k / count for k in range(1, count)] + [target]
        from_mm = target
    return levels


def clusters_of(values_mm: NDArray[np.floating[Any]], within_mm: float) -> list[float]:
    """Tops of groups of values, from the lowest up, each group no taller than ``within_mm``.

    >>> clusters_of(np.array([1.0, 1.1, 1.2, 5.0]), 0.3)
    [1.2, 5.0]
    """
    ordered = np.unique(np.round(values_mm.astype(np.float64), 3))
    tops, k = [], 0
    while k < len(ordered):
        end = int(np.searchsorted(ordered, ordered[k] + within_mm + 1e-9, side="right"))
        tops.append(float(ordered[end - 1]))
        k = end
    return tops


def ball_heights(slopes: Slopes, edge_mm: float, scallop_mm: float, top_mm: float, lowest_mm: float) -> list[float]:
    """Tip heights downward at which a round edge follows the leaning walls, leaving at most the scallop.

    The step is the spacing along the wall times the cosine of the greatest lean in reach of the edge. Bands where no
    wall leans are passed over; the lowest height is always met.
    """
    along_mm = scallop_spacing_mm(edge_mm, scallop_mm)
    heights, z_mm = [], top_mm
    while z_mm > lowest_mm + SAME_MM:
        leaning = slopes.steep(z_mm - along_mm, z_mm + edge_mm)
        step_mm = along_mm * math.cos(float(leaning.max())) if len(leaning) else along_mm
        if len(leaning):
            heights.append(z_mm)
        z_mm -= min(step_mm, max(z_mm - lowest_mm, SAME_MM))
    return [*heights, lowest_mm]
