"""Round magnets, stacks of them and rings of such stacks: what a key does to a rotor under the skin.

Question  with what torque does a rotor follow a key that leads it by some angle, and how are they pulled together
Frame     rings face each other on one axis; angles from one magnet of each, the key's lead counted from the rotor's
Units     mm, N, N mm, tesla, radians
Arrays    leads and gaps of any shapes that broadcast
Method    the four pairs of faces of every pair of magnets (see ``discs``); torque = dW/dlead, pull = dW/dgap
Source    charge model of an evenly magnetised disc (textbook)
Valid     as ``discs``; no iron near
Refuses   sizes of nothing, rings whose magnets overlap (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .discs import face_pair

Floats = NDArray[np.float64]

PER_MM3 = 2.5  # N mm for 1 T, 1 T and 1 mm3: pi / mu0
DENSITY_KG_M3 = 7500.0  # of sintered neodymium magnets (7400 to 7800: a maker's table)


@dataclass(frozen=True)
class Disc:
    """A round magnet, or ``stack`` of them one on another, magnetised along its axis."""

    diameter_mm: float
    thickness_mm: float
    remanence_t: float
    stack: int = 1

    def __post_init__(self) -> None:
        if min(self.diameter_mm, self.thickness_mm, self.remanence_t) <= 0 or self.stack < 1:
            raise ValueError("a magnet has a diameter, a thickness and a remanence above 0, and a stack at least one")

    @property
    def length_mm(self) -> float:
        return self.thickness_mm * self.stack

    @property
    def radius_mm(self) -> float:
        return self.diameter_mm / 2

    @property
    def mass_kg(self) -> float:
        return math.pi * self.radius_mm**2 * self.length_mm * DENSITY_KG_M3 * 1e-9


@dataclass(frozen=True)
class Ring:
    """Magnets evenly round a circle, the first at angle 0; ``signs``: +1 where the north pole faces the other ring
    as it should for the pattern, else -1."""

    disc: Disc
    radius_mm: float
    signs: tuple[int, ...]

    def __post_init__(self) -> None:
        if not self.signs or any(sign not in (-1, 1) for sign in self.signs):
            raise ValueError("a ring has magnets, each with its sign +1 or -1")
        count = len(self.signs)
        if count > 1 and 2 * self.radius_mm * math.sin(math.pi / count) < self.disc.diameter_mm:
            raise ValueError(f"{count} magnets of {self.disc.diameter_mm:g} mm overlap on a circle so small")

    @property
    def angles_rad(self) -> Floats:
        return np.arange(len(self.signs), dtype=np.float64) * np.float64(2 * math.pi / len(self.signs))

    @property
    def places_mm(self) -> Floats:
        """x, y of their axes, (n, 2)."""
        angles = self.angles_rad
        return self.radius_mm * np.column_stack([np.cos(angles), np.sin(angles)])

    def turned_about(self, which: int) -> Ring:
        """The same with one magnet put in the wrong way up."""
        return replace(self, signs=tuple(-s if k == which else s for k, s in enumerate(self.signs)))


def alternating(disc: Disc, radius_mm: float, poles: int) -> Ring:
    """Neighbours show opposite poles."""
    return Ring(disc, radius_mm, tuple(1 if k % 2 == 0 else -1 for k in range(poles)))


def alike(disc: Disc, radius_mm: float, poles: int) -> Ring:
    """All show the same pole."""
    return Ring(disc, radius_mm, (1,) * poles)


def pair_pull_n(one: Disc, other: Disc, gap_mm: ArrayLike, aside_mm: ArrayLike = 0.0) -> Floats:
    """How strongly two magnets that face each other with unlike poles attract along their axes."""
    return _slopes(one, other, np.asarray(aside_mm, np.float64), np.asarray(gap_mm, np.float64))[1]


def pair_drag_n(one: Disc, other: Disc, gap_mm: ArrayLike, aside_mm: ArrayLike) -> Floats:
    """How strongly they pull each other back into line."""
    return _slopes(one, other, np.asarray(aside_mm, np.float64), np.asarray(gap_mm, np.float64))[0]


def pair_forces_n(one: Disc, other: Disc, gap_mm: ArrayLike, aside_mm: ArrayLike) -> tuple[Floats, Floats]:
    """Drag and pull at once."""
    return _slopes(one, other, np.asarray(aside_mm, np.float64), np.asarray(gap_mm, np.float64))


def torque_nmm(key: Ring, rotor: Ring, gap_mm: ArrayLike, lead_rad: ArrayLike) -> Floats:
    """What drives the rotor after a key that leads it."""
    return torque_and_pull(key, rotor, gap_mm, lead_rad)[0]


def pull_n(key: Ring, rotor: Ring, gap_mm: ArrayLike, lead_rad: ArrayLike) -> Floats:
    """What presses the rotor towards the key."""
    return torque_and_pull(key, rotor, gap_mm, lead_rad)[1]


def torque_and_pull(key: Ring, rotor: Ring, gap_mm: ArrayLike, lead_rad: ArrayLike) -> tuple[Floats, Floats]:
    """Both at once: N mm, N."""
    gap, lead = np.broadcast_arrays(np.asarray(gap_mm, np.float64), np.asarray(lead_rad, np.float64))
    between = (key.angles_rad[:, None] - rotor.angles_rad[None, :]).ravel()
    signs = np.outer(key.signs, rotor.signs).ravel().astype(np.float64)
    torque, pull = np.zeros(gap.shape), np.zeros(gap.shape)
    for angle, sign in _apart(between, signs):
        turn = lead + angle
        across = 2.0 * key.radius_mm * rotor.radius_mm
        aside = np.sqrt(np.maximum(key.radius_mm**2 + rotor.radius_mm**2 - across * np.cos(turn), 0.0))
        back, along = _slopes(key.disc, rotor.disc, aside, gap)
        arm = np.divide(across / 2 * np.sin(turn), aside, out=np.zeros(aside.shape), where=aside > 1e-9)
        torque += sign * back * arm
        pull += sign * along
    return torque, pull


def _apart(between: Floats, signs: Floats) -> list[tuple[float, float]]:
    """Angles between pairs of magnets, each once, and how many more attract than repel there."""
    angles = np.round(np.mod(between, 2 * math.pi), 9) % round(2 * math.pi, 9)
    found: dict[float, float] = {}
    for angle, sign in zip(angles.tolist(), signs.tolist()):
        found[angle] = found.get(angle, 0.0) + sign
    return [(angle, sign) for angle, sign in found.items() if sign]


def _slopes(one: Disc, other: Disc, aside_mm: Floats, gap_mm: Floats) -> tuple[Floats, Floats]:
    """(drag back into line, pull together) of an attracting pair, N."""
    large, small = max(one.radius_mm, other.radius_mm), min(one.radius_mm, other.radius_mm)
    pair = face_pair(round(small / large, 9))
    force = PER_MM3 * one.remanence_t * other.remanence_t * large * small  # N mm of w, over the larger radius
    rho = np.asarray(aside_mm / large)
    back, along = np.zeros(np.broadcast(rho, gap_mm).shape), np.zeros(np.broadcast(rho, gap_mm).shape)
    ends = ((0.0, 1.0), (one.length_mm, -1.0), (other.length_mm, -1.0), (one.length_mm + other.length_mm, 1.0))
    for further, sign in ends:
        zeta = (gap_mm + further) / large
        back -= sign * pair.aside(rho, zeta)
        along -= sign * pair.away(rho, zeta)
    return force * back, force * along
