"""The demonstration: a tea chest in the outline of a ginkgo leaf, and its lid. By formula; piece frame, mm.

The outline in polar form about its middle, phi from the stem (0) to the cleft (pi), mirrored in x = 0:

    r(phi) = 1 + sum of a_k cos(k phi) - cleft exp(-(pi - phi) / 0.20) - stem exp(-phi / 0.20)

The two exponentials leave sharp inward corners, narrower than any cutter; all else bends no tighter than 32 mm
outward, so that parallels up to 27 mm inside are regular. Walls are parallels of this outline (see offsets.py).
"""

from __future__ import annotations

import math

import manifold3d
import numpy as np
from numpy.typing import NDArray

from .offsets import OffsetCurve, fan, loft
from .solid import Solid

Floats = NDArray[np.float64]

WAVES = {1: -0.14, 2: -0.20, 3: 0.12, 4: 0.06, 6: -0.03}
CLEFT_RATIO, STEM_RATIO, NOTCH_WIDTH_RAD = 0.26, 0.14, 0.20
DENSE = 20_001
OVERCUT_MM = 1.0  # how far a subtracted solid runs on beyond the rim


def leaf_outline(size_x_mm: float = 410.0, size_y_mm: float = 310.0, step_mm: float = 1.0) -> OffsetCurve:
    """The leaf's rim, centred on the origin, stem towards -y, corners about ``step_mm`` apart."""
    points_mm, normals = _right_half(size_x_mm, size_y_mm, step_mm)
    at_cleft, at_stem = math.atan2(normals[-1, 1], normals[-1, 0]), math.atan2(normals[0, 1], normals[0, 0])
    cleft = fan(at_cleft, math.pi - at_cleft)
    stem = fan(-math.pi - at_stem, at_stem)
    flip = np.array([-1.0, 1.0])
    inner = slice(-2, 0, -1)  # the left half from the cleft to the stem, without the two corners
    return OffsetCurve(
        np.concatenate([np.tile(points_mm[0], (len(stem), 1)), points_mm[1:-1],
                        np.tile(points_mm[-1], (len(cleft), 1)), (points_mm * flip)[inner]]),
        np.concatenate([stem, normals[1:-1], cleft, (normals * flip)[inner]]),
    )  # fmt: skip


def _right_half(size_x_mm: float, size_y_mm: float, step_mm: float) -> tuple[Floats, Floats]:
    """Points and outward normals (n, 2) from the stem's corner to the cleft's, evenly spaced."""
    phi = np.linspace(0.0, math.pi, DENSE)
    at_cleft = CLEFT_RATIO * np.exp(-(math.pi - phi) / NOTCH_WIDTH_RAD)
    at_stem = STEM_RATIO * np.exp(-phi / NOTCH_WIDTH_RAD)
    r = 1.0 - at_cleft - at_stem + sum(a * np.cos(k * phi) for k, a in WAVES.items())
    slope = (at_stem - at_cleft) / NOTCH_WIDTH_RAD - sum(a * k * np.sin(k * phi) for k, a in WAVES.items())
    x, y = r * np.sin(phi), -r * np.cos(phi)
    scale_x, scale_y = size_x_mm / 2 / x.max(), size_y_mm / (y.max() - y.min())
    points_mm = np.column_stack([scale_x * x, scale_y * (y - (y.max() + y.min()) / 2)])
    along = np.column_stack(
        [scale_x * (slope * np.sin(phi) + r * np.cos(phi)), scale_y * (r * np.sin(phi) - slope * np.cos(phi))]
    )
    normals = np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1)[:, None]
    run_mm = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points_mm, axis=0), axis=1))])
    pick = np.searchsorted(run_mm, np.linspace(0.0, run_mm[-1], math.ceil(run_mm[-1] / step_mm) + 1))
    pick[-1] = DENSE - 1
    points_mm[0, 0] = points_mm[-1, 0] = 0.0
    return points_mm[pick], normals[pick]


def compartment_outline(
    leaf: OffsetCurve, inward_mm: float, divider_half_mm: float, corner_radius_mm: float
) -> OffsetCurve:
    """The right-hand compartment: the leaf's parallel beyond the divider's face, its two corners rounded.

    A corner's arc touches both walls, so its centre lies on the parallel one radius further in, one radius from
    the divider's face.
    """
    centres = leaf.ring_mm(inward_mm + corner_radius_mm)
    beyond = centres[:, 0] - (divider_half_mm + corner_radius_mm)
    half = int(np.argmax(leaf.points_mm[:, 0]))
    enter = int(np.flatnonzero((beyond[:half] <= 0) & (beyond[1 : half + 1] > 0))[-1])
    leave = half + int(np.flatnonzero((beyond[half:-1] > 0) & (beyond[half + 1 :] <= 0))[0])
    first, last = (_crossing(leaf, beyond, at) for at in (enter, leave))
    points = np.vstack([first[0], leaf.points_mm[enter + 1 : leave + 1], last[0]])
    normals = np.vstack([first[1], leaf.normals[enter + 1 : leave + 1], last[1]])
    walls = points - inward_mm * normals
    corners = [walls[i] - corner_radius_mm * normals[i] for i in (-1, 0)]
    turns = [math.atan2(normals[i, 1], normals[i, 0]) % (2 * math.pi) for i in (-1, 0)]
    arcs = [fan(turns[0], math.pi)[1:], fan(math.pi, turns[1])[:-1]]
    rounded = [corner + corner_radius_mm * arc for corner, arc in zip(corners, arcs)]
    return OffsetCurve(np.concatenate([walls, *rounded]), np.concatenate([normals, *arcs]))


def _crossing(leaf: OffsetCurve, beyond: Floats, at: int) -> tuple[Floats, Floats]:
    """The leaf's point and normal where ``beyond`` passes through zero between corners ``at`` and ``at + 1``."""
    share = beyond[at] / (beyond[at] - beyond[at + 1])
    point = leaf.points_mm[at] * (1 - share) + leaf.points_mm[at + 1] * share
    normal = leaf.normals[at] * (1 - share) + leaf.normals[at + 1] * share
    return point, normal / np.linalg.norm(normal)


def tea_chest_body(
    *,
    size_x_mm: float = 410.0,
    size_y_mm: float = 310.0,
    height_mm: float = 58.0,
    band_mm: float = 5.0,
    flare_deg: float = 12.0,
    wall_mm: float = 13.0,
    floor_mm: float = 10.0,
    divider_mm: float = 10.0,
    corner_radius_mm: float = 4.0,
    lip_mm: float = 6.0,
    rebate_mm: float = 4.0,
) -> Solid:
    """The chest's body; z = 0 the foot, z = height the rim.

    The walls lean out from the foot to a vertical band at the rim. ``wall_mm`` is measured level; ``divider_mm``
    is the divider's thickness at its top, which is the rebate's ledge; ``corner_radius_mm`` is the compartments'
    corner radius at the floor (it grows with height). ``lip_mm`` is what the rebate leaves standing at the rim.
    """
    leaf = leaf_outline(size_x_mm, size_y_mm)
    lean = math.tan(math.radians(flare_deg))
    band_z_mm, ledge_z_mm = height_mm - band_mm, height_mm - rebate_mm
    outside = leaf.loft([(0.0, band_z_mm * lean), (band_z_mm, 0.0), (height_mm, 0.0)], "tea chest")
    spread_mm = (band_z_mm - floor_mm) * lean
    right = compartment_outline(leaf, wall_mm + spread_mm, divider_mm / 2 + spread_mm, corner_radius_mm)
    levels = [(floor_mm, 0.0), (band_z_mm, -spread_mm), (ledge_z_mm + OVERCUT_MM, -spread_mm)]
    hollows = [side.loft(levels, "compartment").manifold for side in (right, right.mirrored_x())]
    rebate = leaf.loft([(ledge_z_mm, lip_mm), (height_mm + OVERCUT_MM, lip_mm)], "rebate").manifold
    return Solid(outside.manifold - (hollows[0] + hollows[1] + rebate))


def tea_chest_lid(
    *,
    size_x_mm: float = 410.0,
    size_y_mm: float = 310.0,
    height_mm: float = 24.0,
    edge_z_mm: float = 14.0,
    lip_mm: float = 6.0,
    rebate_mm: float = 4.0,
    gap_mm: float = 0.4,
    facet_mm: float = 5.0,
) -> Solid:
    """The lid; z = 0 the lower face of its lip, z = height the top of the dome.

    The lip fits the body's rebate with ``gap_mm`` all round and below, so that the lid rests on the rim. The dome is
    z = height - (height - edge) ((2x / size_x)^2 + (2y / size_y)^2): ``edge_z_mm`` at the ends of both axes.
    """
    leaf = leaf_outline(size_x_mm, size_y_mm)
    shoulder_z_mm = rebate_mm - gap_mm
    lip = leaf.loft([(0.0, lip_mm + gap_mm), (shoulder_z_mm + OVERCUT_MM, lip_mm + gap_mm)], "lip").manifold
    plate = leaf.loft([(shoulder_z_mm, 0.0), (height_mm + OVERCUT_MM, 0.0)], "lid").manifold
    dome = _dome(size_x_mm, size_y_mm, height_mm, edge_z_mm, facet_mm)
    return Solid((lip + plate) ^ dome)


def _dome(
    size_x_mm: float, size_y_mm: float, height_mm: float, edge_z_mm: float, facet_mm: float
) -> manifold3d.Manifold:
    """Everything beneath the dome, over a little more than the lid's rectangle, from z = -1."""
    nx, ny = (math.ceil(size / 2 / facet_mm) * 2 + 2 for size in (size_x_mm, size_y_mm))
    x, y = (np.arange(n + 1) * facet_mm - n * facet_mm / 2 for n in (nx, ny))
    sheets = []
    for yj in y:
        top = height_mm - (height_mm - edge_z_mm) * ((2 * x / size_x_mm) ** 2 + (2 * yj / size_y_mm) ** 2)
        below = np.column_stack([x, np.full_like(x, -OVERCUT_MM)])
        sheets.append((float(yj), np.vstack([below, np.column_stack([x, top])[::-1]])))
    # the sheets were stacked along z; a quarter turn about x and a mirror bring (x, z, y) to (x, y, z)
    return loft(sheets, "dome").manifold.rotate([90.0, 0.0, 0.0]).mirror([0.0, 1.0, 0.0])
