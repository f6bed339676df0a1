"""Two round magnets with parallel axes: the energy between them, and from it every force, to 1e-6 of the greatest.

Question  how do two discs, one above the other and aside, pull and drag each other
Frame     one disc's face at height 0, its axis along z; the other's at ``zeta``, ``rho`` aside, both in radii of the
          larger disc
Arrays    any shapes that broadcast
Method    the energy of two evenly charged faces is one integral, w = Int_0^inf J1(x) J1(b x) J0(rho x) exp(-zeta x)
          dx / x^2 (b: the smaller radius of the larger). Far off, w is its multipole series; near, a spline over rho
          and log zeta through Gauss-Legendre sums, finer in rho where rims stand over rims
Source    Vokoun, Beleggia, Heller and Sittner, J. Magn. Magn. Mater. 321 (2009) 3758 (bibliography seen, formula from
          memory); the series: power series of the Bessel functions and Int x^n J0(rho x) exp(-zeta x) dx = n!
          P_n(cos) / R^(n+1), Gradshteyn and Ryzhik 6.621 (textbook, from memory)
Valid     even magnetisation along the axis that nothing else changes (recoil permeability 1); gaps of
          ``LEAST_ZETA`` radii and more: nearer, they count as so near
Refuses   radii of nothing (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import RectBivariateSpline
from scipy.special import j0, j1

Floats = NDArray[np.float64]

LEAST_ZETA = 0.04
FAR = 4.5  # radii: from here on the series, good to 1e-13
TERMS = 14
NODES = 110  # of the spline along zeta
MOST_X = 500.0  # the integral's end: exp(-20) there at the least zeta
PANELS_PER_PI, POINTS = 5, 6
STEP_RHO, FINE_RATIO = 0.06, 0.28  # of the spline along rho: the widest, and next to rims of the distance from them


@dataclass(frozen=True, eq=False)
class FacePair:
    """w of two faces and its slopes, for one ratio of their radii."""

    radii_ratio: float
    spline: RectBivariateSpline
    series: Floats

    def energy(self, rho: ArrayLike, zeta: ArrayLike) -> Floats:
        """w."""
        return self._either(rho, zeta, 0)

    def aside(self, rho: ArrayLike, zeta: ArrayLike) -> Floats:
        """dw / drho."""
        return self._either(rho, zeta, 1)

    def away(self, rho: ArrayLike, zeta: ArrayLike) -> Floats:
        """dw / dzeta."""
        return self._either(rho, zeta, 2)

    def _either(self, rho: ArrayLike, zeta: ArrayLike, slope: int) -> Floats:
        r, z = np.broadcast_arrays(np.asarray(rho, np.float64), np.maximum(np.asarray(zeta, np.float64), LEAST_ZETA))
        far = np.hypot(r, z) > FAR
        found = np.empty(r.shape)
        found[far] = self._far(r[far], z[far], slope)
        found[~far] = self._near(r[~far], z[~far], slope)
        return found

    def _near(self, rho: Floats, zeta: Floats, slope: int) -> Floats:
        by = np.asarray(self.spline.ev(rho, np.log(zeta), dx=int(slope == 1), dy=int(slope == 2)), np.float64)
        return by / zeta if slope == 2 else by

    def _far(self, rho: Floats, zeta: Floats, slope: int) -> Floats:
        away = np.hypot(rho, zeta)
        cosine, sine = zeta / away, rho / away
        found = np.zeros(rho.shape)
        power = 1.0 / away  # R^-(n+1)
        now, nxt = np.ones(rho.shape), cosine  # P_n, P_(n+1)
        rise, rise_nxt = np.zeros(rho.shape), np.ones(rho.shape)  # their slopes
        for n in range(2 * TERMS - 1):
            if n % 2 == 0:
                weight = self.series[n // 2]
                if slope == 0:
                    found += weight * power * now
                elif slope == 1:  # d/drho of P_n / R^(n+1) is -sin P'_(n+1) / R^(n+2)
                    found -= weight * power / away * sine * rise_nxt
                else:
                    found -= weight * power / away * (n + 1) * nxt
            now, nxt = nxt, ((2 * n + 3) * cosine * nxt - (n + 1) * now) / (n + 2)
            rise, rise_nxt = rise_nxt, (2 * n + 3) * now + rise
            power = power / away
        return found


@lru_cache(maxsize=64)
def face_pair(radii_ratio: float) -> FacePair:
    """The energy for radii in this ratio, at most 1."""
    if not 0.0 < radii_ratio <= 1.0:
        raise ValueError(f"a ratio of radii of {radii_ratio:g}: the smaller of the larger is meant")
    rho = _rho_nodes(radii_ratio)
    zeta = np.geomspace(0.95 * LEAST_ZETA, 1.1 * FAR, NODES)
    edges = np.linspace(0.0, MOST_X, math.ceil(MOST_X / math.pi * PANELS_PER_PI) + 1)
    at, weight = np.polynomial.legendre.leggauss(POINTS)
    half = np.diff(edges)[:, None] / 2
    x = ((edges[:-1, None] + half) + half * at).ravel()
    charge = (half * weight).ravel() * j1(x) * j1(radii_ratio * x) / x**2
    energy = (j0(np.outer(rho, x)) * charge) @ np.exp(-np.outer(x, zeta))
    return FacePair(radii_ratio, RectBivariateSpline(rho, np.log(zeta), energy, kx=5, ky=5), _series(radii_ratio))


def _rho_nodes(radii_ratio: float) -> Floats:
    """From a little below 0 (w is even in rho) to a little beyond FAR."""
    nodes = [-0.35]
    while nodes[-1] < 1.1 * FAR:
        from_rims = min(abs(abs(nodes[-1]) - rim) for rim in (1.0 - radii_ratio, 1.0 + radii_ratio))
        nodes.append(nodes[-1] + min(STEP_RHO, FINE_RATIO * math.hypot(from_rims, LEAST_ZETA)))
    return np.array(nodes)


def _series(radii_ratio: float) -> Floats:
    """Weights of P_2m / R^(2m+1): the power series of J1(x) J1(b x) / x^2, times (2m)!."""
    one = [(-1) ** k / (math.factorial(k) * math.factorial(k + 1) * 2 ** (2 * k + 1)) for k in range(TERMS)]
    return np.array(
        [
            radii_ratio
            * math.factorial(2 * m)
            * sum(one[m - k] * one[k] * radii_ratio ** (2 * k) for k in range(m + 1))
            for m in range(TERMS)
        ]
    )
