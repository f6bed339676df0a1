"""Where steps are to be expected along the outline that a placement finishes, drawn from above on the bed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import shapely
from matplotlib import rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from numpy.typing import NDArray

from witnessmark.job.placement import Placement, Touch
from witnessmark.job.whole import written_whole
from witnessmark.locate.mismatch import steps_u_mm
from witnessmark.locate.outline import outline_places
from witnessmark.locate.typed import STEP_U_MM
from witnessmark.shapes.solid import Solid

from .palette import ALARM, INK, LETTERING, WOOD

COLOURS = "cividis"  # readable with colour-vision deficiencies (Nunez, Anderton and Renslow 2018, from memory)
NORMAL_95 = 1.96
ARROW_MM = 22.0


def draw_steps(
    place: Placement, standing_piece: Solid, covariance: NDArray[np.float64], tolerance_mm: float, path: Path
) -> Path | None:
    """Draw what each place's step stays under in 95 of 100 cases; None where no outline is finished.

    ``covariance`` (6, 6): of the work's place (mismatch.joined_covariance).
    """
    places, normals = outline_places(place, standing_piece)
    if not len(places):
        return None
    steps = NORMAL_95 * np.hypot(steps_u_mm(covariance, places, normals), STEP_U_MM)
    shift = np.array(place.shift_mm)
    with rc_context(LETTERING):
        figure = Figure(figsize=(7.5, 6.0), layout="constrained")
        FigureCanvasAgg(figure)
        ax = figure.subplots()
        for part in shapely.get_parts(standing_piece.silhouette()):
            ring = np.array(part.exterior.coords)[:, :2] + shift
            ax.fill(ring[:, 0], ring[:, 1], color=WOOD, lw=0.5, ec="0.6", zorder=1)
        for hold in place.holds:  # the blank, as it is held
            ring = np.array([*hold.outline_mm, hold.outline_mm[0]]) + shift
            ax.plot(ring[:, 0], ring[:, 1], color="0.5", lw=0.8, zorder=2)
        scale = Normalize(0.0, max(tolerance_mm, float(steps.max())))
        at = places[:, :2] + shift
        ax.scatter(at[:, 0], at[:, 1], c=steps, cmap=COLOURS, norm=scale, s=16, lw=0, zorder=3)
        worst = int(np.argmax(steps))
        ax.plot(*at[worst], "o", mfc="none", mec=ALARM, mew=1.6, ms=12, zorder=4)
        for number, touch in enumerate(place.touches, 1):
            _touch(ax, place, touch, number)
        bar = figure.colorbar(ScalarMappable(scale, COLOURS), ax=ax, shrink=0.8)
        bar.set_label("step that is not exceeded in 95 of 100 cases, at each place by itself, mm")
        bar.ax.axhline(tolerance_mm, color=ALARM, lw=1.5)
        title = f"placement {place.name}: steps to expect, the greatest {steps[worst]:.3f} mm (ring)"
        ax.set_title(f"{title}; tolerance {tolerance_mm:g} mm (line in the scale)")
        ax.set_aspect("equal")
        ax.set_xlabel("x of the machine, mm")
        ax.set_ylabel("y of the machine, mm")
        with written_whole(path) as beside:
            figure.savefig(beside, dpi=130, format="png", metadata={"Software": None})
    return path


def _touch(ax: Any, place: Placement, touch: Touch, number: int) -> None:
    """An arrow onto the face from where the stylus comes."""
    to = place.stand.apply(np.array(touch.point_mm))[:2] + np.array(place.shift_mm)
    away = (place.stand.rotation @ np.array(touch.normal))[:2]
    start = to + ARROW_MM * away
    ax.plot(*start, " ")  # so that it lies within the picture
    ax.annotate(  # type: ignore[attr-defined]
        f"T{number}",
        to,
        xytext=start,
        color=INK,
        ha="center",
        va="center",
        arrowprops={"arrowstyle": "->", "lw": 0.9},
    )
