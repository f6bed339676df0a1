"""Where the axis must stay out of, for a cutter whose tip is at a given height: exact, from the solid itself.

Method    A cutter of half width rho(h) at height h above its tip is free at the tip height z if its axis stays out
          of the union over h of shadow_above(z + h) grown by rho(h). For a flat cutter h = 0 says it all. A round
          edge of radius r touches a face that leans a off the vertical at h = r (1 - sin a), so h is sampled by that
          angle, in bins of 3.75 degrees that a face or ridge near this height falls into, and at the level edges.
Error     Half a bin (1.875 degrees) off the true angle a, the offset falls short by
          r (1 - cos 1.875 deg) / cos a = 0.0016 mm at r = 3, a = 0 and 0.0023 mm at a = 45 degrees: the offset is
          grown by that, so the cutter never gouges by it and leaves at most twice it (0.0046 mm at r = 3).
          Contours are thinned within 0.003 mm and arcs drawn in chords: both are made up for by growing first.
Source    plane geometry
"""

from __future__ import annotations

import copy
import math
from concurrent.futures import ThreadPoolExecutor
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.models import Cutter
from witnessmark.job.placement import Rectangle
from witnessmark.shapes.rings import Area
from witnessmark.shapes.solid import Solid

from .areas import ARC_PARTS, CHORD_SHORT_RATIO, area_in, box
from .slopes import FEEL_DEG, Slopes, ridges_of, slopes_of

Floats = NDArray[np.float64]

THIN_MM = 0.003
LEAST_FLOOR_MM2 = 1.0
UNDER_EDGE_MM = 1e-4  # just below a level edge, where it still stands


def round_edge_mm(cutter: Cutter) -> float:
    """Radius of the rounding of the cutter's edge: all of it for a ball, none for a flat cutter."""
    return {"ball": cutter.diameter_mm / 2, "bull": cutter.corner_radius_mm}.get(cutter.kind, 0.0)


class NoGo:
    """The no-go areas of a solid round a rectangle; what was asked before is remembered."""

    def __init__(self, solid: Solid, around_mm: Rectangle, thin_mm: float = THIN_MM) -> None:
        self._solid = solid
        self._box = box(around_mm)
        self._thin_mm = thin_mm
        self._shadows: dict[float, Area] = {}
        self._areas: dict[tuple[float, float, float, float], Area] = {}
        self.slopes = slopes_of(solid, around_mm)
        self._ridges = ridges_of(solid, around_mm)
        level = np.abs(self._ridges.to_z_mm - self._ridges.from_z_mm) < 1e-3
        self._level_edges_mm = np.unique(np.round(self._ridges.to_z_mm[level], 3))
        self._leaning = Slopes(*(f[~level] for f in vars(self._ridges).values()))

    @cached_property
    def floors(self) -> list[tuple[float, Area]]:
        """Level faces near the rectangle that face up: (height, area), from the lowest."""
        levels = self._solid.flat_levels(LEAST_FLOOR_MM2)
        near = [(z_mm, area_in(shapely.intersection(area, self._box), 1e-3)) for z_mm, area in levels]
        return [(z_mm, area) for z_mm, area in near if not area.is_empty]

    @property
    def floor_heights_mm(self) -> list[float]:
        return [z_mm for z_mm, _ in self.floors]

    @cached_property
    def silhouette(self) -> Area:
        """The whole solid seen from above, near the rectangle."""
        return shapely.intersection(self._solid.silhouette(), self._box)

    def coarser(self, thin_mm: float) -> NoGo:
        """The same with borders thinned more, for cutting that keeps an allowance."""
        self.floors, self.silhouette  # noqa: B018 - worked out once, for both
        other = copy.copy(self)
        other._thin_mm, other._shadows, other._areas = thin_mm, {}, {}
        return other

    def shadow(self, z_mm: float) -> Area:
        """What of the solid is higher than z, near the rectangle, thinned (within ``thin_mm``)."""
        key = round(z_mm, 6)
        if key not in self._shadows:
            near = shapely.intersection(self._solid.shadow_above(z_mm), self._box)
            self._shadows[key] = shapely.simplify(near, self._thin_mm)
        return self._shadows[key]

    def grown(self, z_mm: float, by_mm: float) -> Area:
        """The shadow above z grown by no less than ``by_mm`` (and at most 0.01 mm more)."""
        by_mm = (by_mm + self._thin_mm) / (1.0 - CHORD_SHORT_RATIO)
        return shapely.buffer(self.shadow(z_mm), by_mm, quad_segs=ARC_PARTS)

    def area(self, cutter: Cutter, z_mm: float, extra_mm: float = 0.0) -> Area:
        """Where the axis must not be with the tip at z; ``extra_mm`` is kept to walls besides."""
        return self._for_size(cutter.diameter_mm / 2, round_edge_mm(cutter), z_mm, extra_mm)

    def flat_area(self, radius_mm: float, z_mm: float) -> Area:
        """The same for a flat cutter of this radius."""
        return self._for_size(radius_mm, 0.0, z_mm, 0.0)

    def prepare(self, cutter: Cutter, heights_mm: list[float], extra_mm: float = 0.0) -> None:
        """Work out many heights at once, in two threads (GEOS works outside the interpreter's lock)."""
        edge_mm = round_edge_mm(cutter)
        needed = [z_mm + h for z_mm in heights_mm for h, _ in self._samples(cutter.diameter_mm / 2, edge_mm, z_mm)]
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(self.shadow, {round(z_mm, 6): z_mm for z_mm in needed}.values()))
            list(pool.map(lambda z_mm: self.area(cutter, z_mm, extra_mm), heights_mm))

    def _for_size(self, radius_mm: float, edge_mm: float, z_mm: float, extra_mm: float) -> Area:
        key = (radius_mm, edge_mm, round(z_mm, 6), extra_mm)
        if key not in self._areas:
            parts = [self.grown(z_mm + h, rho + extra_mm) for h, rho in self._samples(radius_mm, edge_mm, z_mm)]
            area = parts[0] if len(parts) == 1 else shapely.union_all(parts)
            self._areas[key] = shapely.simplify(area, self._thin_mm)
        return self._areas[key]

    def _samples(self, radius_mm: float, edge_mm: float, z_mm: float) -> list[tuple[float, float]]:
        """Heights above the tip and half widths there (grown for safety) whose union is the no-go area."""
        pad = self._thin_mm  # for the thinning of the union
        if edge_mm <= 0.0:
            return [(0.0, radius_mm + pad)]
        angles = self._angles(z_mm, z_mm + edge_mm)
        cosines = np.maximum(np.cos(angles), math.sin(math.radians(FEEL_DEG)))
        short_mm = edge_mm * (1.0 - math.cos(math.radians(FEEL_DEG / 2))) / np.maximum(cosines, math.sqrt(0.5))
        samples = [(edge_mm, radius_mm + pad)]
        samples += [
            (edge_mm * (1.0 - math.sin(a)), radius_mm - edge_mm * (1.0 - math.cos(a)) + s + pad)
            for a, s in zip(angles, short_mm)
        ]
        for edge_z_mm in self._level_edges_mm[
            (self._level_edges_mm > z_mm) & (self._level_edges_mm < z_mm + edge_mm)
        ]:
            h = edge_z_mm - z_mm
            rho = radius_mm - edge_mm + math.sqrt(max(2 * edge_mm * h - h * h, 0.0))
            samples.append((h - UNDER_EDGE_MM, rho + pad))
        return samples

    def _angles(self, from_mm: float, to_mm: float) -> Floats:
        """Angles at which something in a band of heights may be touched: of its faces, and up to its ridges'."""
        faces = self.slopes.contact_angles(from_mm, to_mm)
        ridges = self._leaning.contact_angles(from_mm, to_mm)
        if not len(ridges):
            return faces
        low, high = float(np.min(np.append(faces, ridges))), float(ridges.max())
        between = np.arange(low, high + 1e-9, math.radians(FEEL_DEG))
        return np.unique(np.round(np.concatenate([faces, between]), 9))
