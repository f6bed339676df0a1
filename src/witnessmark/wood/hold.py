"""Whether the work stays where it is: what holds it against what the cutter pushes.

Question  how many times the cutter's push would it take to slide the work off, or to tip it
Units     N, mm, mm2, mm3
Arrays    contact (ny, nx) bool: cells where the work rests on its support
Method    sliding: tape in shear and clamps by friction against the push; tipping: the push at its height bends the
          work off the support, the tape is pulled hardest at the edge of what rests (section modulus of the
          contact, straight distribution), and the cutter's lift adds to it
Source    mechanics; friction of wood on wood 0.25 to 0.5 dry (pages quoting handbook tables); no published figure was
          found for tape and adhesive on wood: the maker's own pull test counts, and the default is a low guess
Valid     flat, clean faces; tape as fresh as the one that was tested
Refuses   nothing: sizes come from the job's checked models
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.catalog import Species
from witnessmark.job.models import Cutter, Holding, Settings
from witnessmark.shapes.rings import Area

from .force import UNCERTAIN_RATIO, Cut, tooth_n

LIFT_RATIO = 0.5  # of the push, upward: spiral flutes pull (common practice, no source)
CELL_MM = 1.0


@dataclass(frozen=True)
class Contact:
    """What rests: its area, and its section moduli about its middle, along x and along y."""

    area_mm2: float
    modulus_x_mm3: float
    modulus_y_mm3: float

    @staticmethod
    def of_cells(rests: NDArray[np.bool_], pitch_mm: float) -> Contact:
        """Of cells of a grid."""
        rows, columns = (index.astype(np.float64) for index in np.nonzero(rests))
        return _contact(columns * pitch_mm, rows * pitch_mm, pitch_mm)

    @staticmethod
    def of_area(area: Area) -> Contact:
        """Of an area in plan view."""
        if area.is_empty:
            return Contact(0.0, 0.0, 0.0)
        x0, y0, x1, y1 = area.bounds
        cell = max(CELL_MM, max(x1 - x0, y1 - y0) / 400)
        x, y = np.meshgrid(np.arange(x0 + cell / 2, x1, cell), np.arange(y0 + cell / 2, y1, cell))
        inside = shapely.contains_xy(area, x, y)
        return _contact(x[inside], y[inside], cell)


def _contact(x: NDArray[np.float64], y: NDArray[np.float64], cell_mm: float) -> Contact:
    if not len(x):
        return Contact(0.0, 0.0, 0.0)
    area = len(x) * cell_mm**2

    def modulus(at: NDArray[np.float64]) -> float:
        off = at - at.mean()
        return float((off**2).sum() * cell_mm**2 + area * cell_mm**2 / 12) / float(np.abs(off).max() + cell_mm / 2)

    return Contact(area, modulus(x), modulus(y))


@dataclass(frozen=True)
class Push:
    """The hardest push of a cutter while it finishes at a height, and while it cuts a slot along the support."""

    cutter: str
    finishing_n: float
    slot_n: float
    at_mm: float


@dataclass(frozen=True)
class Margin:
    """How many times the push the hold bears, by sliding and by tipping."""

    slides_ratio: float
    tips_ratio: float
    push: Push

    @property
    def least_ratio(self) -> float:
        return min(self.slides_ratio, self.tips_ratio)


def hardest(cutters: list[Cutter], wood: Species | None, settings: Settings, at_mm: float) -> Push:
    """The push of the cutter that pushes hardest, twice what is reckoned, since it is known no better."""
    found = []
    for cutter in cutters:
        thin = Cut(cutter.stepdown_mm, max(settings.wall_allowance_mm, cutter.stepover_mm / 4))
        slot = Cut(cutter.stepdown_mm, cutter.diameter_mm)
        finishing_n, slot_n = (UNCERTAIN_RATIO * tooth_n(cutter, wood, cut) for cut in (thin, slot))
        found.append(Push(cutter.name, finishing_n, slot_n, at_mm))
    return max(found, key=lambda push: push.slot_n)


def margin(contact: Contact, push: Push, holding: Holding) -> Margin:
    """What holds against what pushes; 0 where nothing rests."""
    clamps_n = holding.clamps * holding.clamp_n
    taped_cm2 = contact.area_mm2 / 100.0 * holding.tape_covers_ratio
    shear_n = taped_cm2 * holding.tape_shear_n_cm2 + clamps_n * holding.friction_ratio
    slides = shear_n / max(push.slot_n, push.finishing_n)
    if contact.area_mm2 <= 0.0:
        return Margin(slides, 0.0, push)
    bears_mpa = holding.tape_covers_ratio * holding.tape_pull_n_cm2 / 100.0 + clamps_n / contact.area_mm2
    modulus = min(contact.modulus_x_mm3, contact.modulus_y_mm3)
    pulls_mpa = push.finishing_n * push.at_mm / modulus + LIFT_RATIO * push.finishing_n / contact.area_mm2
    return Margin(slides, bears_mpa / pulls_mpa, push)
