"""Moving the work instead of the programs: which way to tap the board, at which end, and by how much.

Question  how is the board to be moved so that the work lies as planned
Frame     program frame: x to the right, y to the back
Units     mm, radians
Method    what lies at p under the plan lies at R(turn) p + shift + d: the way back at the middles of the two ends
          that lie farthest apart. Taps along the length shift all of it, taps across it, one at each end, turn it
Source    plane geometry
Valid     small turns
Refuses   nothing
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from witnessmark.job.placement import Placement, Rectangle

NOTHING_MM = 0.005
WAYS = (("to the left", "to the right"), ("to the front", "to the back"))


@dataclass(frozen=True)
class Tap:
    """One push: where, which way, how far."""

    where: str
    way: str
    by_mm: float

    def words(self) -> str:
        return f"{self.where} {self.by_mm:.2f} mm {self.way}"


def taps(place: Placement, blank_mm: Rectangle, pose: tuple[float, float, float]) -> tuple[Tap, ...]:
    """The pushes that bring the work back; ``blank_mm``: standing frame; none where it lies as planned."""
    x0, y0, x1, y1 = blank_mm
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    if x1 - x0 >= y1 - y0:
        along, ends = 0, (("the left end", np.array([x0, middle[1]])), ("the right end", np.array([x1, middle[1]])))
    else:
        along, ends = 1, (("the front end", np.array([middle[0], y0])), ("the back end", np.array([middle[0], y1])))
    found = [_tap("all of it", along, _back(middle, pose)[along])]
    found += [_tap(name, 1 - along, _back(at, pose)[1 - along]) for name, at in ends]
    return tuple(tap for tap in found if tap.by_mm >= NOTHING_MM)


def _back(at_mm: np.ndarray, pose: tuple[float, float, float]) -> np.ndarray:
    """From where a place of the standing frame lies to where it should."""
    dx, dy, turn = pose
    c, s = math.cos(turn), math.sin(turn)
    return np.asarray(at_mm - (np.array([[c, -s], [s, c]]) @ at_mm + np.array([dx, dy])))


def _tap(where: str, axis: int, by_mm: float) -> Tap:
    return Tap(where, WAYS[axis][int(by_mm > 0)], abs(float(by_mm)))
