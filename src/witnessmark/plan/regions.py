"""Who finishes what: the placements of one side share its surface along straight seams.

Neighbouring windows overlap; the seam lies in the middle of the overlap, so that both have the same travel in hand
for corrections, or near it where it is seen less (``seam_at``). Regions meet at the seam; cutting runs over it by the
overlap of the settings.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

from witnessmark.job.placement import Placement, Rectangle

ROOM_RATIO = 0.6  # of an overlap: where in it a seam may lie

SeamAt = Callable[[int, float, float], float]  # axis (0 x, 1 y), from, to: where between them


def middle(_axis: int, low_mm: float, high_mm: float) -> float:
    return (low_mm + high_mm) / 2


def share_regions(
    placements: list[Placement], windows_mm: list[Rectangle], seam_at: SeamAt = middle
) -> list[Placement]:
    """Placements of one side, sorted along x then y, each with the rectangle that it is to finish.

    Shifts that form a grid get rectangles between seams; otherwise each gets all of its window.
    """
    xs = sorted({place.shift_mm[0] for place in placements}, reverse=True)  # a larger shift shows smaller x
    ys = sorted({place.shift_mm[1] for place in placements}, reverse=True)
    order = sorted(range(len(placements)), key=lambda i: (-placements[i].shift_mm[0], -placements[i].shift_mm[1]))
    by_x = {place.shift_mm[0]: window for place, window in zip(placements, windows_mm)}
    by_y = {place.shift_mm[1]: window for place, window in zip(placements, windows_mm)}
    x_seams = [_in_overlap(0, by_x[b][0], by_x[a][2], seam_at) for a, b in pairwise(xs)]
    y_seams = [_in_overlap(1, by_y[b][1], by_y[a][3], seam_at) for a, b in pairwise(ys)]
    grid = len(placements) == len(xs) * len(ys)
    shared = []
    for i in order:
        place, whole = placements[i], placements[i].region_mm
        if not grid:
            shared.append(replace(place, region_mm=windows_mm[i]))
            continue
        x0, x1 = _between(xs.index(place.shift_mm[0]), x_seams, whole[0], whole[2])
        y0, y1 = _between(ys.index(place.shift_mm[1]), y_seams, whole[1], whole[3])
        shared.append(replace(place, region_mm=(x0, y0, x1, y1)))
    return shared


def _in_overlap(axis: int, from_mm: float, to_mm: float, seam_at: SeamAt) -> float:
    spare_mm = max(0.0, (to_mm - from_mm) * (1.0 - ROOM_RATIO) / 2)
    if to_mm <= from_mm:
        return (from_mm + to_mm) / 2
    return seam_at(axis, from_mm + spare_mm, to_mm - spare_mm)


def _between(k: int, seams_mm: list[float], low_mm: float, high_mm: float) -> tuple[float, float]:
    left_mm = seams_mm[k - 1] if k > 0 else low_mm
    right_mm = seams_mm[k] if k < len(seams_mm) else high_mm
    return left_mm, right_mm


def over_seams(region_mm: Rectangle, over_mm: float) -> Rectangle:
    """A region and a little more on every side: what must be cleared for contours that run over its seams."""
    return (region_mm[0] - over_mm, region_mm[1] - over_mm, region_mm[2] + over_mm, region_mm[3] + over_mm)
