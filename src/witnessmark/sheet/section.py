"""A cut through the wood with everything that turns with the cutter standing in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights
from witnessmark.field.profile import profile_vector, surface_height
from witnessmark.job.assembly import Assembly

from .palette import ALARM, INK, PIECE, WOOD, WOOD_CUT_EARLIER

Floats = NDArray[np.float64]

STEEL = {
    "cut": "#9aa4ad",
    "neck": "#b8c0c7",
    "shank": "#b8c0c7",
    "nut": "#7d8790",
    "nose": "#5f6870",
    "shoe": "#c9ccd0",
}
TOUCHING_MM = 0.01  # deeper than this the picture calls it a hit
ABOVE_MM = 14.0  # how much of the spindle nose is drawn above the wood


@dataclass(frozen=True, eq=False)
class Section:
    """Heights along a line, all (n,): the uncut wood, what is left of it, the piece (-inf where there is none)."""

    along_mm: Floats
    uncut_mm: Floats
    left_mm: Floats
    piece_mm: Floats
    pitch_mm: float


def section_through(
    grid: Grid, uncut: Heights, left: Heights, piece: Heights, spot_mm: tuple[float, float], axis: Literal["x", "y"]
) -> Section:
    """The section along an axis of the standing frame through a spot."""
    i = int(np.clip((spot_mm[0] - grid.x0_mm) / grid.pitch_mm, 0, grid.nx - 1))
    j = int(np.clip((spot_mm[1] - grid.y0_mm) / grid.pitch_mm, 0, grid.ny - 1))
    line = (j, slice(None)) if axis == "x" else (slice(None), i)
    along_mm = grid.x_mm if axis == "x" else grid.y_mm
    cut, rest, made = (np.asarray(field[line], dtype=np.float64) for field in (uncut, left, piece))
    return Section(along_mm, cut, rest, made, grid.pitch_mm)


def worst_axis(
    grid: Grid, left: Heights, tip_mm: tuple[float, float, float], assembly: Assembly
) -> Literal["x", "y"]:
    """The axis along which the section shows the deeper hit."""
    depth = {}
    for axis in ("x", "y"):
        cut = section_through(grid, left, left, left, tip_mm[:2], axis)  # type: ignore[arg-type]
        centre = tip_mm[0] if axis == "x" else tip_mm[1]
        depth[axis] = max((deep for _, deep in hits(cut, assembly, centre, tip_mm[2])), default=0.0)
    return "x" if depth["x"] >= depth["y"] else "y"


def hits(cut: Section, assembly: Assembly, centre_mm: float, tip_z_mm: float) -> list[tuple[str, float]]:
    """Which rigid steps stand in the wood that is left along this line, and how deep at most, mm."""
    found = []
    for step in assembly.rigid_steps():
        under = np.abs(cut.along_mm - centre_mm) <= step.radius_mm
        deep = float(np.max(cut.left_mm[under], initial=-np.inf)) - (tip_z_mm + step.z_from_mm)
        if deep > TOUCHING_MM:
            found.append((step.kind, deep))
    return found


def draw_section(
    axes: Any, cut: Section, assembly: Assembly, centre_mm: float, tip_z_mm: float, around_mm: float = 60.0
) -> list[tuple[str, float]]:
    """Draw the section round the spindle axis, hits in vermillion and hatched; returns them."""
    edges = np.concatenate([cut.along_mm - cut.pitch_mm / 2, cut.along_mm[-1:] + cut.pitch_mm / 2])
    for heights, colour in ((cut.uncut_mm, WOOD_CUT_EARLIER), (cut.left_mm, WOOD), (cut.piece_mm, PIECE)):
        shown = np.where(np.isfinite(heights), heights, 0.0)
        shown = np.minimum(shown, cut.left_mm) if colour == PIECE else shown
        axes.stairs(shown, edges, baseline=0.0, fill=True, color=colour, alpha=0.75 if colour == PIECE else 1.0, lw=0)
    axes.stairs(cut.left_mm, edges, baseline=None, color=INK, lw=0.8)
    top_mm = max(float(cut.uncut_mm.max()), tip_z_mm + assembly.tip_below_nose_mm) + ABOVE_MM
    for step in assembly.steps:
        low, high = tip_z_mm + step.z_from_mm, min(tip_z_mm + step.z_to_mm, top_mm)
        if high > low:
            xs, ys = _turned(centre_mm, step.radius_mm, low, high, assembly if step.kind == "cut" else None)
            axes.fill(xs, ys, facecolor=STEEL[step.kind], edgecolor=INK, lw=0.7, zorder=4)
            if step.kind in ("nut", "nose"):
                axes.text(
                    centre_mm,
                    (low + high) / 2,
                    step.kind,
                    fontsize=7,
                    color="white",
                    ha="center",
                    va="center",
                    zorder=6,
                )
    found = hits(cut, assembly, centre_mm, tip_z_mm)
    _alarm(axes, cut, assembly, centre_mm, tip_z_mm)
    axes.axvline(centre_mm, color=INK, lw=0.5, ls=(0, (8, 2, 1, 2)), zorder=7)
    axes.axhline(0.0, color=INK, lw=1.2)
    axes.set(xlim=(centre_mm - around_mm, centre_mm + around_mm), ylim=(-4.0, top_mm), aspect="equal")
    return found


def _turned(
    centre_mm: float, radius_mm: float, low_mm: float, high_mm: float, cutter: Assembly | None
) -> tuple[Floats, Floats]:
    """The outline of a turned part; the cutting part with its own end."""
    across = np.linspace(-radius_mm, radius_mm, 33)
    bottom = np.full_like(across, low_mm)
    if cutter is not None:
        bottom = low_mm + np.minimum(_end(cutter, np.abs(across)), high_mm - low_mm)
    xs = centre_mm + np.concatenate([across, across[::-1]])
    return xs, np.concatenate([bottom, np.full_like(across, high_mm)])


def _end(assembly: Assembly, r_mm: Floats) -> Floats:
    """Height of the cutter's own lower surface at radius r above its tip."""
    cutter = assembly.cutter
    profile = profile_vector(cutter.kind, cutter.diameter_mm, cutter.corner_radius_mm, cutter.included_angle_deg)
    return np.array([surface_height(float(r), profile) for r in r_mm])


def _alarm(axes: Any, cut: Section, assembly: Assembly, centre_mm: float, tip_z_mm: float) -> None:
    """Where a rigid step and wood that is left share a place."""
    edges = np.concatenate([cut.along_mm - cut.pitch_mm / 2, cut.along_mm[-1:] + cut.pitch_mm / 2])
    for step in assembly.rigid_steps():
        low, high = tip_z_mm + step.z_from_mm, tip_z_mm + step.z_to_mm
        inside = (np.abs(cut.along_mm - centre_mm) <= step.radius_mm) & (cut.left_mm > low + TOUCHING_MM)
        if inside.any():
            shared = np.where(inside, np.minimum(cut.left_mm, high), low)
            axes.stairs(
                shared,
                edges,
                baseline=low,
                fill=True,
                facecolor=ALARM,
                edgecolor="white",
                hatch="xxxx",
                lw=0,
                zorder=5,
            )
