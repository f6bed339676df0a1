"""Whether the work lies level: heights read at a few places, the tilt they show, and what to put under which corner.

Question  how far does the work stand up at a corner, and how much must go under which one
Frame     heights above the supporting face; places in the standing frame
Units     mm, radians
Arrays    corners (4, 2): front left, front right, back right, back left
Method    the plane through the heights by least squares (pose.lying). What a tilt does is judged over all that is cut
          here: up and down over the corners, and sideways at the work's height. A shim under a corner lifts it to the
          level of the one that stands highest
Source    plane geometry; covariance: JCGM 100
Valid     a stiff blank: one that is bowed shows in the residuals
Refuses   fewer than three heights, or heights on one line (ValueError, from pose)
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.placement import Placement, Rectangle

from .pose import lying
from .readings import Reading, Shared, rows_of
from .typed import READ_U_MM, TOUCH_OFF_U_MM, made_u_mm

Floats = NDArray[np.float64]

CORNERS = ("front left", "front right", "back right", "back left")
THIN_MM = 0.03  # less than this is no shim
BOWED = 3.0  # a residual of more standard uncertainties than this is no reading error


@dataclass(frozen=True)
class Level:
    """``up_mm``: by how much the whole stands higher than planned, at its middle. ``tilt_rad``: about x and about y.

    ``off_mm``: the most that the tilt does to what is cut here, up or sideways; ``u_mm``: its standard uncertainty.
    ``shims_mm``: what to put under each corner (CORNERS) to make it level. ``bowed_mm``: the greatest residual.
    """

    up_mm: float
    tilt_rad: tuple[float, float]
    off_mm: float
    u_mm: float
    shims_mm: tuple[float, ...]
    bowed_mm: float
    bowed: bool
    tolerance_mm: float

    @property
    def holds(self) -> bool:
        """Whether it is level enough for the tolerance."""
        return self.off_mm <= self.tolerance_mm

    def words(self) -> str:
        """For the maker."""
        about_x, about_y = (math.degrees(t) for t in self.tilt_rad)
        lines = [
            f"it stands {self.up_mm:+.2f} mm off its planned height, tilted by {about_x:+.3f} degrees about x and "
            f"{about_y:+.3f} about y: at most {self.off_mm:.2f} mm where it is cut (known to {self.u_mm:.2f} mm)"
        ]
        if self.bowed:
            lines.append(
                f"  the heights do not lie in one plane (by {self.bowed_mm:.2f} mm): is it bowed, or twisted?"
            )
        if self.holds:
            return "\n".join([*lines, f"  level enough (tolerance {self.tolerance_mm:g} mm)"])
        under = [f"{mm:.2f} mm under the {name} corner" for name, mm in zip(CORNERS, self.shims_mm) if mm > THIN_MM]
        lines.append(f"  more than the tolerance of {self.tolerance_mm:g} mm: look for a chip underneath, or put")
        return "\n".join([*lines, f"  {', '.join(under)}, and read the heights again"])


def levelled(
    place: Placement,
    heights_mm: Mapping[int, float],
    blank_mm: Rectangle,
    work_height_mm: float,
    tolerance_mm: float,
    read_u_mm: float = READ_U_MM,
) -> Level:
    """From heights by the number of the placement's level places (from 1); ``blank_mm``: standing frame."""
    readings = [_reading(place, number, value, read_u_mm) for number, value in sorted(heights_mm.items())]
    rows, centres = rows_of(readings, [Shared("touch-off", "height", TOUCH_OFF_U_MM)])
    found = lying(rows, centres)
    dz, about_x, about_y = (float(v) for v in found.lie)
    x0, y0, x1, y1 = blank_mm
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    rise = np.column_stack([np.zeros(4), corners[:, 1], -corners[:, 0]])  # of dz, tilt about x, about y
    middle = rise.mean(axis=0)
    up = (rise - middle) @ found.lie
    sideways = work_height_mm * math.hypot(about_x, about_y)
    u_up = np.sqrt(np.einsum("ni,ij,nj->n", rise - middle, found.covariance, rise - middle))
    within = _cut_here(place, blank_mm)
    cut = np.column_stack([np.zeros(4), within[:, 1], -within[:, 0]]) - middle
    worst = float(np.abs(cut @ found.lie).max())
    residual = float(np.abs(found.residuals_mm).max(initial=0.0))
    alone_mm = math.sqrt(max(float(np.diag(rows.covariance_mm2).max()) - TOUCH_OFF_U_MM**2, 0.0))
    return Level(
        up_mm=dz + float(middle @ found.lie),
        tilt_rad=(about_x, about_y),
        off_mm=max(worst, sideways),
        u_mm=float(u_up.max()),
        shims_mm=tuple((up.max() - up).tolist()),
        bowed_mm=residual,
        bowed=len(readings) > 3 and residual > BOWED * alone_mm,
        tolerance_mm=tolerance_mm,
    )


def _cut_here(place: Placement, blank_mm: Rectangle) -> Floats:
    """The corners of what is finished here, within the blank, (4, 2)."""
    x0, y0 = (max(a, b) for a, b in zip(place.region_mm[:2], blank_mm[:2]))
    x1, y1 = (min(a, b) for a, b in zip(place.region_mm[2:], blank_mm[2:]))
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def _reading(place: Placement, number: int, value_mm: float, read_u_mm: float) -> Reading:
    touch = place.levels[number - 1]
    x, y, z = (float(v) for v in place.stand.apply(np.array(touch.point_mm)))
    u_mm = math.hypot(read_u_mm, made_u_mm(touch))
    at = (x + place.shift_mm[0], y + place.shift_mm[1], value_mm)
    return Reading(f"L{number}", "land", (x, y, z), (0.0, 0.0, 1.0), at, u_mm, 0.0, ("touch-off",))
