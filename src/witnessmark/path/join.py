"""Joining tracks into one unbroken chain of strokes that starts and ends at the safe height.

Rapid moves are made only at the safe height, straight up to it, and straight down to where no wood can stand. At the
same height a short straight way through allowed ground is fed; a step down to the next level right below is fed as an
entry along the track.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from .bridges import Bridges
from .entry import TooShort, is_point_like, plunged, ramped
from .strokes import CUT, ENTRY, RAPID, Strokes
from .track import Track
from .wood import Wood

Floats = NDArray[np.float64]

ABOVE_WOOD_MM = 1.0  # where a rapid move down ends, above the most wood that can stand there
START_MM = 0.2  # an entry begins this much above the wood
TOUCH_MM = 0.05  # less wood than this under the tip needs no entry
HOP_MM = 2.0  # how far sideways the next level's start may be to step down to it without going up
SAME_MM = 1e-9
LINK_MM = 25.0  # the longest feed from one track to the next at one height


class Joiner:
    """Builds the chain; cuts the wood as it goes."""

    def __init__(
        self, wood: Wood, safe_z_mm: float, bridges: Bridges | None = None, least_ramp_mm: float = 0.0
    ) -> None:
        self._wood = wood
        self._least_ramp_mm = least_ramp_mm
        self._bridges = bridges or Bridges((), 0.0)
        self._safe_z_mm = safe_z_mm
        self._chains: list[Floats] = []  # (k, 3) each
        self._modes: list[NDArray[np.int8]] = []
        self._down = False
        self.left_out = 0
        self.left_out_mm = 0.0

    @property
    def place_mm(self) -> Floats | None:
        """Where the tip is now (3,); None before the first track."""
        return self._chains[-1][-1] if self._chains else None

    @property
    def xy_mm(self) -> Floats | None:
        return None if self.place_mm is None else self.place_mm[:2]

    def follow(
        self,
        track: Track,
        ground: shapely.Geometry | None = None,
        above: shapely.Geometry | None = None,
        plunge: bool = False,
    ) -> bool:
        """Cut a track. ``ground`` (prepared) is where the axis may feed straight to its start at the track's height;
        ``above`` the same at the height where the cutter now is, to step down onto a track just below.

        ``plunge``: a cutter that cuts at its centre may go straight down into a ring too small to go down along.
        False, and counted, where the track is too short to enter the wood along it.
        """
        if self.xy_mm is not None:
            track = track.started_near(self.xy_mm)
        track = self._bridges.over(track).started_low()
        start = track.points_mm[0]
        lift_mm = self._fed_over(start, ground, above)
        try:
            if lift_mm is not None:
                down, chain = self._entered(track, lift_mm, plunge)
                self._feed(start + np.array([0.0, 0.0, lift_mm]), CUT)
            else:
                lift_mm = self._lift_mm(start)
                down, chain = self._entered(track, lift_mm, plunge)
                self._go_over(start, lift_mm)
        except TooShort:
            self.left_out += 1
            self.left_out_mm += track.length_mm
            return False
        self._run(down, ENTRY)
        self._run(chain, CUT)
        self._wood.cut(np.vstack([down, chain]))
        return True

    def _entered(self, track: Track, lift_mm: float, plunge: bool) -> tuple[Floats, Floats]:
        if plunge and self._least_ramp_mm == 0.0 and is_point_like(track):
            return plunged(track, lift_mm)
        return ramped(track, lift_mm, self._least_ramp_mm)

    def rise(self) -> None:
        """Straight up to the safe height."""
        if self._down:
            self._add(np.array([*self._here[:2], self._safe_z_mm]), RAPID)
            self._down = False

    def strokes(self) -> Strokes:
        """The finished chain, ended at the safe height."""
        self.rise()
        if not self._chains:
            return Strokes(np.array([[0.0, 0.0, self._safe_z_mm]]), np.zeros(0, dtype=np.int8))
        return Strokes(np.vstack(self._chains), np.concatenate(self._modes or [np.zeros(0, dtype=np.int8)]))

    def peck(self, places_mm: Floats, modes: list[int]) -> None:
        """Run a ready-made series (n, 3) that begins above its first place, with the mode of each stroke."""
        self._go_over(places_mm[0], 0.0)
        for place, mode in zip(places_mm[1:], modes):
            self._add(place, mode)
        self._wood.cut(places_mm)

    def under(self, places_mm: Floats) -> None:
        """Cut along places (n, 3) under wood that stays, from and to where nothing stands over the cutter.

        The wood's top stays as it is.
        """
        self._go_over(places_mm[0], 0.0)
        self._run(places_mm, CUT)

    def touches_mm(self, places_mm: Floats) -> Floats:
        """The height (n,) at which the cutter, coming straight down over places (n, 3), first meets wood."""
        return self._wood.touching_mm(places_mm)

    def _fed_over(
        self, start: Floats, level: shapely.Geometry | None, above: shapely.Geometry | None
    ) -> float | None:
        """Height left to sink at the start if it can be fed to from here; None if the cutter must be lifted."""
        if not self._down:
            return None
        here = self._here
        away_mm, below_mm = float(np.hypot(*(start - here)[:2])), float(here[2] - start[2])
        ground, most_mm = (level, LINK_MM) if below_mm < 1e-6 else (above, HOP_MM)
        if ground is None or below_mm < -1e-6 or away_mm > most_mm:
            return None
        if away_mm > 1e-9 and not shapely.covers(ground, shapely.LineString([here[:2], start[:2]])):
            return None
        if self._bridges.in_the_way(here, start):
            return None
        return max(0.0, below_mm)

    def _lift_mm(self, start: Floats) -> float:
        """Height above a start from which wood has to be entered; 0 where the tip meets none.

        A shaving too thin for the grid counts only for a cutter that does not cut at its centre: others go through.
        """
        seen = self._wood.touching_mm if self._least_ramp_mm == 0.0 else self._wood.surely_clear_mm
        wood_mm = float(seen(start[None])[0] - start[2])
        return wood_mm + START_MM if wood_mm > TOUCH_MM else 0.0

    def _go_over(self, start: Floats, lift_mm: float) -> None:
        """Up, over, rapidly down to just above the wood, and fed down to where the entry starts."""
        self.rise()
        above = np.array([*start[:2], self._safe_z_mm])
        if not self._chains:
            self._chains.append(above[None])
        elif np.hypot(*(self._here - above)[:2]) > 1e-9:
            self._add(above, RAPID)
        wood_mm = float(self._wood.surely_clear_mm(start[None])[0])
        near_mm = max(wood_mm, float(start[2]) + lift_mm) + ABOVE_WOOD_MM
        if near_mm < self._safe_z_mm:
            self._add(np.array([*start[:2], near_mm]), RAPID)
        self._down = True
        self._feed(start + np.array([0.0, 0.0, lift_mm]), ENTRY)

    def _feed(self, place: Floats, mode: int) -> None:
        if np.abs(place - self._here).max() > SAME_MM:
            if mode == CUT:
                self._wood.cut(np.vstack([self._here, place]))
            self._add(place, mode)

    def _run(self, chain: Floats, mode: int) -> None:
        """Go through a chain (n, 3), leaving out places that repeat the one before."""
        steps = np.diff(np.vstack([self._here, chain]), axis=0)
        fresh = chain[np.abs(steps).max(axis=1) > SAME_MM]
        if len(fresh):
            self._chains.append(fresh)
            self._modes.append(np.full(len(fresh), mode, dtype=np.int8))

    def _add(self, place: Floats, mode: int) -> None:
        self._chains.append(place[None])
        self._modes.append(np.full(1, mode, dtype=np.int8))

    @property
    def _here(self) -> Floats:
        return self._chains[-1][-1]
