"""Where heights are read to see that the work lies level: four flat places, as far apart as they can be reached."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.ndimage import maximum_filter, minimum_filter

from witnessmark.field.grid import Grid, Heights
from witnessmark.job.placement import Placement, Rectangle, Touch

FLAT_MM = 0.02
ROUND_MM = 10.0  # flat as far as this, for an indicator's foot or a finder's edge
APART_MM = 20.0  # two places nearer to each other than this are one
NAMES = ("front left", "front right", "back right", "back left")


def with_levels(
    place: Placement, top: Heights, grid: Grid, blank_height_mm: float, window_mm: Rectangle
) -> Placement:
    """The placement with its level places, three at least; none where the axis reaches no three flat ones."""
    cells = 2 * round(ROUND_MM / 2 / grid.pitch_mm) + 1
    high = maximum_filter(top, size=cells, mode="constant", cval=-np.inf)
    low = minimum_filter(top, size=cells, mode="constant", cval=-np.inf)
    with np.errstate(invalid="ignore"):
        flat = np.isfinite(low) & (high - low < FLAT_MM) & (low > 0.0)
    flat &= (grid.x_mm >= window_mm[0]) & (grid.x_mm <= window_mm[2])
    flat &= ((grid.y_mm >= window_mm[1]) & (grid.y_mm <= window_mm[3]))[:, None]
    j, i = np.nonzero(flat)
    if not len(i):
        return place
    x, y = grid.x_mm[i], grid.y_mm[j]
    found: list[Touch] = []
    places: list[tuple[float, float]] = []
    for name, (a, b) in zip(NAMES, ((-1, -1), (1, -1), (1, 1), (-1, 1))):
        k = int(np.argmax(a * x + b * y))
        if any(abs(x[k] - px) + abs(y[k] - py) < APART_MM for px, py in places):
            continue
        places.append((float(x[k]), float(y[k])))
        found.append(_land(place, name, float(x[k]), float(y[k]), float(top[j[k], i[k]]), blank_height_mm))
    return replace(place, levels=tuple(found)) if _spread(places) else place


def _spread(places_mm: list[tuple[float, float]]) -> bool:
    """Whether the places show a tilt about both axes."""
    if len(places_mm) < 3:
        return False
    return bool(np.linalg.svd(np.array(places_mm) - np.mean(places_mm, axis=0), compute_uv=False)[-1] > APART_MM / 2)


def _land(place: Placement, name: str, x_mm: float, y_mm: float, z_mm: float, blank_height_mm: float) -> Touch:
    back = place.stand.inverse()
    px, py, pz = (round(float(v), 4) for v in back.apply(np.array([x_mm, y_mm, z_mm])))
    nx, ny, nz = (round(float(v), 6) for v in back.rotation @ np.array([0.0, 0.0, 1.0]))
    uncut = abs(z_mm - blank_height_mm) < FLAT_MM
    return Touch(name, "land", (px, py, pz), (nx, ny, nz), "measured" if uncut else "cut before")
