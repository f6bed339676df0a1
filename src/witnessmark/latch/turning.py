"""How a rotor follows its key: the greatest torque, where else it would lock, and how far the key turns for nothing.

Question  does the rotor turn with the key, how far may it lag, and can it be found only where it should be
Units     degrees for the maker, radians inside; N mm, N
Method    the curve of torque over the key's lead (see ``magnets``). It rests where the torque is nothing and brings
          it back (rising through zero); such a rest counts where the torque beside it is worth feeling. Rubbing: the
          pull (or push) presses the rotor on a washer at ``rub_radius_mm``
Source    plane statics (textbook)
Valid     slow turning, Coulomb's friction
Refuses   as ``magnets`` (ValueError)
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .magnets import Ring, torque_and_pull

Floats = NDArray[np.float64]

STEP_DEG = 0.5
WORTH_RATIO = 0.15  # of the greatest torque: a rest that holds less is not felt as one


@dataclass(frozen=True)
class Rest:
    """Where the rotor lies still behind the key, and the torque that it takes to pull it out of there."""

    lead_deg: float
    holds_nmm: float


@dataclass(frozen=True, eq=False)
class Turning:
    """The curve (``lead_deg``, ``torque_nmm``, ``pull_n``; over a whole turn, from -180) and what it comes to.

    ``dead_deg``: the key's lead that rubbing eats up; ``slips_deg``: the lead at which the rotor lets go of the key.
    """

    lead_deg: Floats
    torque_nmm: Floats
    pull_n: Floats
    rubbed_nmm: Floats
    peak_nmm: float
    peak_deg: float
    net_nmm: float
    dead_deg: float
    slips_deg: float
    rests: tuple[Rest, ...]

    @property
    def others(self) -> tuple[Rest, ...]:
        """Where it would lock besides in line with the key."""
        return tuple(rest for rest in self.rests if abs(rest.lead_deg) > STEP_DEG)

    def range_deg(self, needed_nmm: float) -> tuple[float, float] | None:
        """Leads from the first to the last at which it drives more than is needed; None: nowhere."""
        ahead = (self.lead_deg >= 0) & (self.lead_deg <= self.slips_deg)
        able = self.lead_deg[ahead & (self.torque_nmm - self.rubbed_nmm >= needed_nmm)]
        return (float(able[0]), float(able[-1])) if len(able) else None


def turning(key: Ring, rotor: Ring, gap_mm: float, rub_ratio: float = 0.0, rub_radius_mm: float = 0.0) -> Turning:
    """``rub_ratio``: friction of the rotor on what it is drawn against."""
    lead = np.arange(-180.0, 180.0 + STEP_DEG / 2, STEP_DEG)
    torque, pull = torque_and_pull(key, rotor, gap_mm, np.radians(lead))
    rubbed = rub_ratio * rub_radius_mm * np.abs(pull)
    rests = tuple(_rests(lead, torque))
    slips = _slip(lead, torque)
    ahead = (lead >= 0) & (lead <= slips)
    best = int(np.argmax(np.where(ahead, torque, -np.inf)))
    net = torque - rubbed
    return Turning(
        lead_deg=lead,
        torque_nmm=torque,
        pull_n=pull,
        rubbed_nmm=rubbed,
        peak_nmm=max(0.0, float(torque[best])),
        peak_deg=float(lead[best]),
        net_nmm=max(0.0, float(net[ahead].max())),
        dead_deg=_first(lead, net, ahead),
        slips_deg=slips,
        rests=rests,
    )


def _first(lead: Floats, net: Floats, ahead: NDArray[np.bool_]) -> float:
    """The lead from which on the rotor moves, between two of the curve; inf where it never does."""
    moved = np.flatnonzero(ahead & (net > 0))
    if not len(moved):
        return math.inf
    after = int(moved[0])
    before = after - 1
    return float(lead[before] + (lead[after] - lead[before]) * net[before] / (net[before] - net[after]))


def _slip(lead: Floats, torque: Floats) -> float:
    """The first lead above 0 from which the rotor is not drawn on any more; 180 where it always is."""
    falls = (lead[:-1] > 0) & (torque[:-1] > 0) & (torque[1:] <= 0)
    return float(lead[:-1][falls][0]) if falls.any() else 180.0


def _rests(lead: Floats, torque: Floats) -> Iterator[Rest]:
    """Each place where the torque rises through zero, with the lesser of the peaks on either side of it."""
    once = torque[:-1]  # the last is the first again
    worth = WORTH_RATIO * float(np.abs(once).max())
    if worth < 1e-9:
        return
    positive = once > 1e-9 * np.abs(once).max()
    rising = np.flatnonzero(~np.roll(positive, 1) & positive)
    count = len(once)
    for at in rising.tolist():
        ahead = _peak(once, at, 1, count)
        behind = _peak(-once, at - 1, -1, count)
        holds = min(ahead, behind)
        if holds >= worth:
            x0, x1, y0, y1 = lead[at - 1], lead[at], once[at - 1], once[at]
            where = x1 if at == 0 else x0 + (x1 - x0) * (0.0 - y0) / (y1 - y0)
            where = round(float(where), 3) % 360.0
            yield Rest(where - 360.0 if where > 180.0 else where, holds)


def _peak(torque: Floats, start: int, step: int, count: int) -> float:
    """The greatest value from a place on, as long as it stays above zero."""
    best, at = 0.0, start
    for _ in range(count):
        value = float(torque[at % count])
        if value <= 0.0 and at != start:
            break
        best = max(best, value)
        at += step
    return best


@dataclass(frozen=True)
class Reversal:
    """One magnet the wrong way up: whose, which (from 1), and how the rotor follows then."""

    ring: str
    which: int
    turning: Turning


def reversals(key: Ring, rotor: Ring, gap_mm: float) -> tuple[Reversal, ...]:
    """What each magnet put in the wrong way up would do; magnets that the pattern makes alike are named once."""
    found: list[Reversal] = []
    for name, ring in (("key", key), ("rotor", rotor)):
        seen: list[Floats] = []
        for which in range(len(ring.signs)):
            wrong = ring.turned_about(which)
            how = turning(wrong, rotor, gap_mm) if name == "key" else turning(key, wrong, gap_mm)
            if not any(np.allclose(how.torque_nmm, other, atol=1e-6) for other in seen):
                seen.append(how.torque_nmm)
                found.append(Reversal(name, which + 1, how))
    return tuple(found)
