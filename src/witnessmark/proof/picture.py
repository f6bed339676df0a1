"""The made piece against the drawn one, as a picture: floors from both sides, and the walls from above.

Colours: "berlin" of Crameri, F. (2018), Scientific colour maps, Zenodo; perceptually uniform, diverging, readable
with colour-vision deficiencies (Crameri, Shephard and Heron 2020, Nature Communications 11, 5444; from memory).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure

from witnessmark.job.frames import axis_rotation
from witnessmark.job.whole import written_whole

from .floors import Floors
from .verdict import Verdict

COLOURS = "berlin"
MOST_CELLS = 700  # a side of the picture; finer fields show the worst of each block of cells
MOST_MARKS = 60
MOST_ACROSS = 4  # pictures beside each other
WIDE_IN = 13.0
SEEN_AXES = {"z": ("x", "y"), "x": ("-z", "y"), "y": ("x", "-z")}  # of the frame of each axis
_OUTSIDE = "0.93"
_MARK = "#d55e00"  # vermilion of Okabe and Ito


def write_deviation_png(verdict: Verdict, path: Path) -> None:
    """Draw the deviation along the normal, mm, with a legend; written beside and renamed."""
    limit_mm = 2.0 * max(verdict.gouge_tolerance_mm, verdict.allowance_mm)
    scale = Normalize(-limit_mm, limit_mm)
    across = min(len(verdict.floors) + 1, MOST_ACROSS)
    down = -(-(len(verdict.floors) + 1) // across)
    high_in = 4.4 * down
    figure = Figure(figsize=(WIDE_IN, high_in))  # laid out by hand: found by the library it takes twice as long
    FigureCanvasAgg(figure)
    figure.subplots_adjust(
        left=0.6 / WIDE_IN, right=1 - 1.2 / WIDE_IN, bottom=0.5 / high_in, top=1 - 0.75 / high_in, wspace=0.22
    )
    axes = figure.subplots(down, across, squeeze=False).ravel()[: len(verdict.floors) + 1]
    for empty in figure.axes[len(axes) :]:
        empty.remove()
    for ax, floors in zip(axes, verdict.floors):
        _draw_floors(ax, floors, scale)
    _draw_walls(axes[-1], verdict, scale)
    title = "proven" if verdict.passed else "not proven"
    figure.suptitle(f"{verdict.piece or 'piece'}: {title}; made against drawn, along the normal")
    beside = figure.add_axes((1 - 0.95 / WIDE_IN, 0.12, 0.2 / WIDE_IN, 0.7))
    bar = figure.colorbar(ScalarMappable(scale, COLOURS), cax=beside, extend="both")
    bar.set_label("mm; wood left above 0, cut into the piece below")
    bar.ax.axhline(verdict.allowance_mm, color="white", lw=1.0)
    bar.ax.axhline(-verdict.gouge_tolerance_mm, color="white", lw=1.0)
    with written_whole(path) as new:
        figure.savefig(new, dpi=110, format="png", metadata={"Software": None})


def _dress(ax: Any, title: str, axes: tuple[str, str] = ("x", "y")) -> None:
    ax.set_title(title, fontsize=10)
    ax.set_aspect("equal")
    ax.set_facecolor(_OUTSIDE)
    ax.set_xlabel(f"{axes[0]}, mm")
    ax.set_ylabel(f"{axes[1]}, mm")


def _draw_floors(ax: Any, floors: Floors, scale: Normalize) -> None:
    deviation = floors.deviation
    grid = deviation.grid
    shown = _worst_of_blocks(deviation.by_mm, -(-max(grid.shape) // MOST_CELLS))
    y0, y1 = grid.y0_mm, grid.y0_mm + grid.ny * grid.pitch_mm
    if floors.up < 0:  # the seen frame has y turned round; the picture keeps the piece's
        shown, (y0, y1) = shown[::-1], (-y1, -y0)
    extent = (grid.x0_mm, grid.x0_mm + grid.nx * grid.pitch_mm, y0, y1)
    ax.imshow(shown, origin="lower", extent=extent, cmap=COLOURS, norm=scale, interpolation="nearest")
    for faults in (floors.gouges, floors.left):
        if len(faults.by_mm):
            _mark(ax, faults.at_mm @ axis_rotation(floors.side).T, faults.by_mm)
    side = floors.side if floors.up > 0 else f"{floors.side} (seen through)"
    _dress(ax, f"shallow faces, side {side}", SEEN_AXES[floors.side[1]])


def _mark(ax: Any, at_mm: Any, by_mm: Any) -> None:
    worst = np.argsort(-by_mm, kind="stable")[:MOST_MARKS]
    ax.plot(at_mm[worst, 0], at_mm[worst, 1], "x", color=_MARK, ms=4)


def _worst_of_blocks(by_mm: Any, block: int) -> Any:
    """The field thinned by ``block``, keeping of each block the value farthest from zero."""
    if block <= 1:
        return by_mm
    ny, nx = -(-by_mm.shape[0] // block), -(-by_mm.shape[1] // block)
    padded = np.full((ny * block, nx * block), np.nan, dtype=np.float32)
    padded[: by_mm.shape[0], : by_mm.shape[1]] = by_mm
    blocks = padded.reshape(ny, block, nx, block).swapaxes(1, 2).reshape(ny, nx, -1)
    which = np.nanargmax(np.where(np.isnan(blocks), -1.0, np.abs(blocks)), axis=2)
    return np.take_along_axis(blocks, which[:, :, None], axis=2)[:, :, 0]


def _draw_walls(ax: Any, verdict: Verdict, scale: Normalize) -> None:
    walls = verdict.walls
    sample = walls.sampled_mm
    if len(sample):
        order = np.argsort(np.abs(sample[:, 3]), kind="stable")
        ax.scatter(sample[order, 0], sample[order, 1], c=sample[order, 3], cmap=COLOURS, norm=scale, s=2, lw=0)
    if len(walls.gouges):
        at = walls.gouges.at_mm
        ax.scatter(at[:, 0], at[:, 1], c=-walls.gouges.by_mm, cmap=COLOURS, norm=scale, s=14, marker="s", lw=0)
        _mark(ax, at, walls.gouges.by_mm)
    for place in verdict.eased:
        ax.plot(*place.place_mm[:2], "o", mfc="none", mec="0.3", ms=9)
    _dress(ax, "walls from above (ring: eased, no cutter fits)")
