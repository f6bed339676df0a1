"""The assembled latch through the whole turn of its key: what touches what, and how near the rest comes.

Question  do the parts turn and slide without meeting, and do the bolts end up in their holes
Frame     as ``solids``
Units     mm, mm3
Method    exact solids (manifold3d): at every degree the rotor is turned, the bolts moved as the cam moves them, and
          each pair that moves against each other is cut and its least gap taken
Source    Manifold's boolean operations and least gap
Valid     parts as drawn; facets of round parts (``SIDES``) are 0.03 % of their radius
Refuses   nothing
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold

from .design import Design
from .solids import Parts, thrown_mm

STEP_DEG = 1.0
LOOKED_MM = 3.0  # gaps wider than this are told as this
BESIDE_MM = 1.0  # beyond that, a piece is cut off
TOUCH_MM3 = 0.05  # the cam's polyline and the balls' facets, where bolt and cam touch


@dataclass(frozen=True)
class Near:
    """Two parts: the most that they share, at which turn, and their least gap over all turns."""

    one: str
    other: str
    shared_mm3: float
    at_deg: float
    gap_mm: float

    @property
    def meets(self) -> bool:
        """Whether they cannot both be there."""
        return self.shared_mm3 > TOUCH_MM3


def through_the_turn(
    design: Design,
    parts: Parts,
    lid: Manifold | None = None,
    body: Manifold | None = None,
    step_deg: float = STEP_DEG,
) -> tuple[Near, ...]:
    """Every pair that matters, the nearest first; ``lid`` and ``body`` in the latch's frame, cut for it."""
    lid, body = (_near(solid, design, parts) if solid is not None else None for solid in (lid, body))
    worst: dict[tuple[str, str], Near] = {}
    for step in range(round(design.turn_deg / step_deg) + 1):
        turn_deg = step * step_deg
        for one, other, a, b in _pairs(design, parts, turn_deg, lid, body, first=step == 0):
            shared = (a ^ b).volume()
            known = worst.get((one, other))
            look = known.gap_mm if known else LOOKED_MM  # only a lesser one is of interest
            gap = 0.0 if shared > 0.0 or look <= 0.0 else a.min_gap(b, look)
            if known is None:
                worst[one, other] = Near(one, other, shared, turn_deg, gap)
            else:
                at = turn_deg if shared > known.shared_mm3 else known.at_deg
                worst[one, other] = Near(one, other, max(shared, known.shared_mm3), at, min(gap, known.gap_mm))
    return tuple(sorted(worst.values(), key=lambda near: (-near.shared_mm3, near.gap_mm)))


def _near(solid: Manifold, design: Design, parts: Parts) -> Manifold:
    """What of a piece the moving parts can come near to: the rest is many facets for nothing."""
    moving = [np.array(part.bounding_box()).reshape(2, 3) for part in (parts.rotor, parts.case, *parts.bolts)]
    beside = LOOKED_MM + BESIDE_MM
    reach = design.cam.throw_mm + beside + max(math.hypot(*np.abs(box[:, :2]).max(axis=0)) for box in moving)
    low, high = min(box[0, 2] for box in moving) - beside, max(box[1, 2] for box in moving) + beside
    return solid ^ Manifold.cube((2 * reach, 2 * reach, high - low)).translate((-reach, -reach, low))


def _pairs(
    design: Design, parts: Parts, turn_deg: float, lid: Manifold | None, body: Manifold | None, first: bool
) -> Iterator[tuple[str, str, Manifold, Manifold]]:
    """Names and solids at a turn; those that do not move against each other only once."""
    rotor = parts.rotor.rotate((0.0, 0.0, turn_deg))
    out = thrown_mm(design, turn_deg)
    yield "rotor", "case", rotor, parts.case
    if lid is not None:
        yield "rotor", "lid", rotor, lid
    for k, (bolt, keeper) in enumerate(zip(parts.bolts, parts.keepers)):
        angle = 360.0 * k / design.bolts
        moved = bolt.rotate((0.0, 0.0, -angle)).translate((out, 0.0, 0.0)).rotate((0.0, 0.0, angle))
        yield "rotor", f"bolt {k + 1}", rotor, moved
        yield "case", f"bolt {k + 1}", parts.case, moved
        yield f"keeper {k + 1}", f"bolt {k + 1}", keeper, moved
        yield "rotor", f"keeper {k + 1}", rotor, keeper
        if body is not None:
            yield "body", f"bolt {k + 1}", body, moved
    if first and body is not None:
        yield "body", "case", body, parts.case
