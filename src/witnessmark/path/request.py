"""What is asked of the cutter paths of one placement, and what comes back. Standing frame, mm."""

from __future__ import annotations

from dataclasses import dataclass, field

from witnessmark.field.grid import Grid, Heights
from witnessmark.job.assembly import Assembly
from witnessmark.job.models import Cutter, Settings
from witnessmark.job.placement import Bridge, Rectangle
from witnessmark.shapes.solid import Solid

from .strokes import Strokes


@dataclass(frozen=True)
class Hole:
    """An upright hole to drill: axis, heights of its mouth and of its bottom (the drill's tip), diameter."""

    x_mm: float
    y_mm: float
    mouth_z_mm: float
    bottom_z_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class Pocket:
    """A pocket with upright walls, cut exactly to its outline (closed ring), from ``top_z_mm`` to its bottom."""

    name: str
    outline_mm: tuple[tuple[float, float], ...]
    top_z_mm: float
    bottom_z_mm: float


@dataclass(frozen=True, eq=False)
class CutRequest:
    """One placement's cutting.

    ``region_mm`` is what is finished here (contours run over its edge by the seam overlap); the axis stays inside
    ``window_mm``; outer walls are cut down to ``through_z_mm``; no tip goes below ``lowest_tip_mm``;
    ``corner_z_mm``: how far down the outer walls are seen whole from here, so that smaller cutters may go into their
    corners (None: to the through height). ``safe_z_mm`` is the height of rapid joining moves, clear of everything.
    """

    solid: Solid
    grid: Grid
    top: Heights
    region_mm: Rectangle
    window_mm: Rectangle
    through_z_mm: float
    lowest_tip_mm: float
    safe_z_mm: float
    settings: Settings
    holes: tuple[Hole, ...] = ()
    pockets: tuple[Pocket, ...] = ()
    corner_z_mm: float | None = None
    most: Heights | None = None
    bridges: tuple[Bridge, ...] = ()

    @property
    def corners_to_mm(self) -> float:
        """Height down to which corners of the outer walls may be cut by smaller cutters."""
        return self.through_z_mm if self.corner_z_mm is None else min(self.through_z_mm, self.corner_z_mm)


@dataclass(frozen=True, eq=False)
class CutterTask:
    """A cutter and, if it is to rough, the lowest wanted and allowed tip at each cell centre (+inf: none).

    ``lowest_tip_mm``: how low the machine brings this one; None: as low as the request says of all.
    """

    cutter: Cutter
    assembly: Assembly
    rough_tips: Heights | None = None
    lowest_tip_mm: float | None = None


@dataclass(frozen=True, eq=False)
class CutterPath:
    """A cutter's strokes, the wood's top after them (and at most, anywhere in a cell), what was left out and why."""

    cutter_name: str
    strokes: Strokes
    top_after: Heights
    most_after: Heights
    notes: tuple[str, ...] = field(default=())
