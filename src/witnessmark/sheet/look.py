"""The one picture of the first question: where will my spindle hit, and what must I leave?"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Patch, Rectangle
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights
from witnessmark.job.assembly import Assembly
from witnessmark.job.placement import Rectangle as Box
from witnessmark.job.whole import written_whole

from .palette import ALARM, INK, LETTERING, PIECE, PLACEMENTS, WOOD, mixed, rgb
from .relief import shade
from .section import draw_section, section_through, worst_axis

MM_PER_INCH = 25.4
DOTS_PER_INCH = 160
CUT_MM = 0.02
LINE_LETTERS, MOST_LINES = 76, 12
CLEAR_COLOUR = PLACEMENTS[4]


@dataclass(frozen=True, eq=False)
class LookView:
    """What the picture shows; fields (ny, nx) on ``grid`` in the standing frame, mm above the supporting face.

    ``uncut``: the wood before; ``left``: the wood as it stands when the worst tip is reached; ``piece``: the piece's
    top, -inf where it is not; ``hits``: by kind ("nut", "nose", ...) the cells of uncut wood that it would meet;
    ``clear``: depth of wood to be cleared for it; ``leave``: wood that must stay, if any beyond the piece.
    ``worst_tip_mm``: where the section is drawn (standing frame).
    """

    title: str
    grid: Grid
    uncut: Heights
    left: Heights
    piece: Heights
    window_mm: Box
    assembly: Assembly
    worst_tip_mm: tuple[float, float, float]
    hits: Mapping[str, NDArray[np.bool_]] = field(default_factory=dict)
    clear: Heights | None = None
    leave: NDArray[np.bool_] | None = None
    answers: tuple[str, ...] = ()


def draw_look(view: LookView, file: Path) -> Path:
    """Write the picture (PNG): plan view, section through the worst place, and the answers in words."""
    with matplotlib.rc_context(LETTERING | {"font.size": 9.0}):
        figure = Figure(figsize=(280 / MM_PER_INCH, 150 / MM_PER_INCH))
        figure.text(0.02, 0.955, view.title, fontsize=13, weight="bold", va="center", parse_math=False)
        plan = figure.add_axes((0.05, 0.16, 0.52, 0.75))
        cut = figure.add_axes((0.63, 0.36, 0.35, 0.54))
        axis = worst_axis(view.grid, view.left, view.worst_tip_mm, view.assembly)
        _plan(plan, view, axis)
        _cut(cut, view, axis)
        figure.text(0.605, 0.285, _wrapped(view.answers), fontsize=7.5, va="top", linespacing=1.35, parse_math=False)
        with written_whole(file) as beside:
            figure.savefig(beside, dpi=DOTS_PER_INCH, format="png", metadata={"Software": None})
    return file


def _wrapped(answers: tuple[str, ...]) -> str:
    """As many lines as the picture has room for; the rest is said in words beside it."""
    lines = [line for answer in answers for line in textwrap.wrap(answer, LINE_LETTERS, subsequent_indent="   ")]
    return "\n".join(lines if len(lines) <= MOST_LINES else [*lines[: MOST_LINES - 1], "..."])


def _plan(axes: Any, view: LookView, axis: str) -> None:
    grid = view.grid
    extent = (grid.x0_mm, grid.x0_mm + grid.nx * grid.pitch_mm, grid.y0_mm, grid.y0_mm + grid.ny * grid.pitch_mm)
    colours = np.tile(rgb(WOOD), (*grid.shape, 1))
    legend = [Patch(facecolor=WOOD, edgecolor=INK, label="wood")]
    if view.leave is not None and view.leave.any():
        colours[view.leave] = mixed(WOOD, PIECE, 0.35)
        legend.append(Patch(facecolor=mixed(WOOD, PIECE, 0.35), edgecolor=INK, label="wood to leave"))
    cleared = view.clear > CUT_MM if view.clear is not None else np.zeros(grid.shape, dtype=bool)
    if cleared.any():
        colours[cleared] = rgb(CLEAR_COLOUR)
        legend.append(Patch(facecolor=CLEAR_COLOUR, edgecolor=INK, label="wood to clear first"))
    lit = colours * shade(view.left, grid.pitch_mm)[..., None]
    there_is = np.isfinite(view.uncut) & (view.uncut > 0)
    shown = np.dstack([np.clip(lit, 0, 1), there_is])
    axes.imshow(shown, extent=extent, origin="lower", interpolation="antialiased")
    there = np.isfinite(view.piece).astype(float)
    axes.contour(grid.x_mm, grid.y_mm, there, levels=[0.5], colors=PIECE, linewidths=1.2)
    legend.append(Patch(facecolor="none", edgecolor=PIECE, label="the piece"))
    for kind, hatch in (("nose", "xxx"), ("nut", "///"), ("neck", "..."), ("shank", "..."), ("shoe", "\\\\\\")):
        met = view.hits.get(kind)
        if met is not None and met.any():
            with matplotlib.rc_context({"hatch.linewidth": 0.6, "hatch.color": ALARM}):
                axes.contourf(
                    grid.x_mm, grid.y_mm, met.astype(float), levels=[0.5, 1.5], colors="none", hatches=[hatch]
                )
            legend.append(Patch(facecolor="white", edgecolor=ALARM, hatch=hatch, label=f"the {kind} would hit"))
    x0, y0, x1, y1 = view.window_mm
    axes.add_patch(Rectangle((x0, y0), x1 - x0, y1 - y0, fill=False, edgecolor=INK, lw=1.2, ls=(0, (5, 3))))
    legend.append(Patch(facecolor="none", edgecolor=INK, ls=(0, (4, 2)), label="travel"))
    line = {"color": INK, "lw": 0.7, "ls": (0, (8, 2, 1, 2))}
    axes.axhline(view.worst_tip_mm[1], **line) if axis == "x" else axes.axvline(view.worst_tip_mm[0], **line)
    margin = 12.0
    axes.set(
        xlim=(min(extent[0], x0) - margin, max(extent[1], x1) + margin),
        ylim=(min(extent[2], y0) - margin, max(extent[3], y1) + margin),
        aspect="equal", xlabel="mm", anchor="N",
    )  # fmt: skip
    axes.legend(handles=legend, loc="upper center", bbox_to_anchor=(0.5, -0.1), ncol=4, frameon=False, fontsize=8.5)


def _cut(axes: Any, view: LookView, axis: str) -> None:
    tip = view.worst_tip_mm
    centre_mm = tip[0] if axis == "x" else tip[1]
    cut = section_through(view.grid, view.uncut, view.left, view.piece, tip[:2], axis)  # type: ignore[arg-type]
    around_mm = max(1.6 * max(step.radius_mm for step in view.assembly.steps), 45.0)
    found = draw_section(axes, cut, view.assembly, centre_mm, tip[2], around_mm)
    words = ", ".join(f"{kind} {deep:.1f} mm into the wood" for kind, deep in found)
    title = f"Section on the dash-dot line:\n{words or 'only the flutes touch wood'}"
    axes.set_title(title, fontsize=8.5, loc="left")
    axes.set_anchor("N")
    axes.set(xlabel="mm", ylabel="mm above the board")
