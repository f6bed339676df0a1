"""A round magnet and iron: a wide steel plate, and a steel rod on its axis.

Question  how strongly does a disc draw a plate or the end of a rod towards it
Frame     the magnet's near face at height 0, its other one at -length; the rod from ``gap_mm`` upward, on the axis
Units     mm, N, tesla
Method    plate: the magnet's image, as far behind its face. Rod: soft iron is at one potential and carries no net
          charge; rings of charge on its end faces and its side (finer towards the edges) are found that make it
          so in the magnet's field (potentials of charged rings by elliptic integrals), and the force is what that
          field does to them
Source    images, charged rings: Jackson, Classical Electrodynamics (textbook, from memory)
Valid     soft iron without limit: above about 1.6 T in the rod (from memory) it is less, and ``mean_t`` says how
          near; on the axis
Refuses   sizes of nothing (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.special import ellipkm1

from .magnets import Disc, pair_pull_n

Floats = NDArray[np.float64]

MU0 = 4e-7 * math.pi
STEEL_KG_M3 = 7850.0  # mild steel, textbook
GRAVITY_M_S2 = 9.80665
SATURATES_T = 1.6
RINGS = 96  # along a rod
NEAREST_MM, FURTHEST_MM, KNOTS = 0.3, 16.0, 14
FACE_RINGS = 200  # of each of the magnet's faces


@dataclass(frozen=True)
class Rod:
    """A steel rod."""

    diameter_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        if min(self.diameter_mm, self.length_mm) <= 0:
            raise ValueError("a rod has a diameter and a length above 0")

    @property
    def weight_n(self) -> float:
        return math.pi / 4 * self.diameter_mm**2 * self.length_mm * 1e-9 * STEEL_KG_M3 * GRAVITY_M_S2


@dataclass(frozen=True)
class RodPull:
    """The force on a rod, and the mean field through its fullest section."""

    force_n: float
    mean_t: float


@lru_cache(maxsize=4096)
def plate_pull_n(disc: Disc, gap_mm: float) -> float:
    """On a wide thick plate of soft steel: what the magnet's own image does at twice the gap."""
    return float(pair_pull_n(disc, disc, 2.0 * gap_mm))


@dataclass(frozen=True, eq=False)
class Rings:
    """A surface of revolution about the magnet's axis as rings: radius, height and half width (n,)."""

    radius_mm: Floats
    z_mm: Floats
    half_mm: Floats


@lru_cache(maxsize=4096)
def rod_pull(disc: Disc, rod: Rod, gap_mm: float) -> RodPull:
    """On a rod that lies on the magnet's axis. Twice as many rings halve the error: what two counts come to."""
    if gap_mm <= 0.0:
        raise ValueError("the rod is some way off the magnet's face: give the gap above 0")
    rough, fine = (drawn(disc, rings_of(rod, gap_mm, count)) for count in (RINGS // 2, RINGS))
    area_mm2 = math.pi / 4 * rod.diameter_mm**2
    return RodPull(2.0 * fine[0] - rough[0], (2.0 * fine[1] - rough[1]) / area_mm2)


@lru_cache(maxsize=256)
def _curve(disc: Disc, rod: Rod) -> CubicSpline:
    """Logarithm of the pull over that of the gap."""
    gap = np.geomspace(NEAREST_MM, FURTHEST_MM, KNOTS)
    return CubicSpline(np.log(gap), np.log([rod_pull(disc, rod, float(g)).force_n for g in gap]))


def rod_pull_n(disc: Disc, rod: Rod, gap_mm: float) -> float:
    """The force of ``rod_pull``, from a curve through ``KNOTS`` gaps: to 1 in 1000, and at once for many gaps."""
    if not NEAREST_MM <= gap_mm <= FURTHEST_MM:
        return rod_pull(disc, rod, gap_mm).force_n
    return float(np.exp(_curve(disc, rod)(math.log(gap_mm))))


def drawn(disc: Disc, rings: Rings) -> tuple[float, float]:
    """Force (N, towards the magnet) on soft iron within these rings, and the greatest flux through it, T mm2."""
    radius, z = rings.radius_mm, rings.z_mm
    outside = _faces_potential(disc, radius, z)
    count = len(radius)
    system = np.zeros((count + 1, count + 1))
    system[:count, :count] = _between(radius[:, None], z[:, None], radius[None, :], z[None, :])
    np.fill_diagonal(system[:count, :count], _own(radius, rings.half_mm))
    system[:count, count] = -1.0  # the iron's own potential, unknown
    system[count, :count] = 1.0  # no net charge
    charge = np.linalg.solve(system, np.concatenate([-outside, [0.0]]))[:count]
    flux = float(np.abs(np.cumsum(charge[np.argsort(z, kind="stable")])).max())
    step = 1e-4 * disc.radius_mm
    rise = (_faces_potential(disc, radius, z + step) - _faces_potential(disc, radius, z - step)) / (2.0 * step)
    return float((charge * rise).sum()) * 1e-6 / (4.0 * math.pi * MU0), flux


def rings_of(rod: Rod, gap_mm: float, count: int) -> Rings:
    """``count`` rings along a rod's side, closer towards its ends, and half as many over each end."""
    r = rod.diameter_mm / 2
    rim = r * np.sin(np.linspace(0.0, math.pi / 2, count // 2 + 1))
    edge = rod.length_mm / 2 * (1.0 - np.cos(np.linspace(0.0, math.pi, count + 1)))
    ends, side = (rim[1:] + rim[:-1]) / 2, (edge[1:] + edge[:-1]) / 2
    near, far = np.zeros(len(ends)), np.full(len(ends), rod.length_mm)
    return Rings(
        np.concatenate([ends, np.full(count, r), ends]),
        gap_mm + np.concatenate([near, side, far]),
        np.concatenate([np.diff(rim), np.diff(edge), np.diff(rim)]) / 2,
    )


def _between(r1: Floats, z1: Floats, r2: Floats, z2: Floats) -> Floats:
    """Potential at one ring of a unit charge on another, as the mean of 1 / distance: 2 K(m) / (pi p)."""
    far2 = (r1 + r2) ** 2 + (z1 - z2) ** 2
    near2 = (r1 - r2) ** 2 + (z1 - z2) ** 2
    with np.errstate(divide="ignore"):
        return np.asarray(2.0 / math.pi * ellipkm1(near2 / far2) / np.sqrt(far2))


def _own(radius: Floats, half: Floats) -> Floats:
    """Of a ring on itself: the logarithm's mean over its width (ln of the distance between two of its places, less
    3/2 of it)."""
    return np.asarray((np.log(8.0 * radius / (2.0 * half)) + 1.5) / (math.pi * radius))


def _faces_potential(disc: Disc, radius: Floats, z: Floats) -> Floats:
    """Of the magnet's two faces, as charges over distances: T mm, to be divided by 4 pi mu0."""
    rim = disc.radius_mm * np.sin(np.linspace(0.0, math.pi / 2, FACE_RINGS + 1))
    ring, half = (rim[1:] + rim[:-1]) / 2, np.diff(rim) / 2
    charge = disc.remanence_t * 4 * math.pi * ring * half
    near = _between(radius[:, None], z[:, None], ring[None, :], np.zeros((1, FACE_RINGS)))
    far = _between(radius[:, None], z[:, None], ring[None, :], np.full((1, FACE_RINGS), -disc.length_mm))
    return np.asarray((near - far) @ charge)
