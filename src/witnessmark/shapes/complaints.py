"""What can be wrong with a mesh, as records in a maker's words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.errors import Trouble

Harm = Literal["stop", "warning", "note"]
Point = tuple[float, float, float]

PLACES_SHOWN = 5


@dataclass(frozen=True)
class Complaint:
    """``stop``: no solid can be made of it; ``warning``: look at it; ``note``: good to know. Places are mm."""

    kind: str
    what: str
    harm: Harm
    places_mm: tuple[Point, ...] = ()
    remedies: tuple[str, ...] = ()

    def __str__(self) -> str:
        return self.what + places_in_words(self.places_mm)


@dataclass(frozen=True)
class Health:
    """Everything found about a mesh; ``bodies`` counts its separate shells."""

    complaints: tuple[Complaint, ...]
    size_mm: Point
    bodies: int

    @property
    def sound(self) -> bool:
        """Whether a solid can be made of it."""
        return not any(complaint.harm == "stop" for complaint in self.complaints)

    def has(self, kind: str) -> bool:
        return any(complaint.kind == kind for complaint in self.complaints)

    def troubles(self, where: str) -> tuple[Trouble, ...]:
        """The complaints that stop, as troubles of a refusal."""
        return tuple(Trouble(where, str(c), c.remedies) for c in self.complaints if c.harm == "stop")

    def with_complaints(self, more: Iterable[Complaint]) -> Health:
        return Health((*self.complaints, *more), self.size_mm, self.bodies)


def some_places(places_mm: NDArray[np.float64]) -> tuple[Point, ...]:
    """A few of many places (n, 3), spread over the list."""
    picks = np.unique(np.linspace(0, len(places_mm) - 1, min(PLACES_SHOWN, len(places_mm))).astype(int))
    return tuple((float(x), float(y), float(z)) for x, y, z in places_mm[picks])


def places_in_words(places_mm: tuple[Point, ...]) -> str:
    """ " at x 1.0 y 2.0 z 3.0, ..." or nothing."""
    if not places_mm:
        return ""
    return " at " + "; ".join(f"x {x:.1f} y {y:.1f} z {z:.1f}" for x, y, z in places_mm)
