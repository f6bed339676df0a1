"""Drawings of a placement: the work on the bed from above, and obliquely. PNG, lettered in DejaVu Sans."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
import shapely
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from witnessmark.job.models import Machine
from witnessmark.job.placement import Touch
from witnessmark.job.whole import written_whole
from witnessmark.plan.model import PlacementPlan
from witnessmark.shapes.solid import Solid

from .palette import BED, BOARD, INK, LETTERING, PIECE
from .relief import oblique, shade
from .scene import Scene

MM_PER_INCH = 25.4
DOTS_PER_INCH = 220
UNDER_MM = 6.0  # thickness of the strip of bed in the oblique view
ABOVE_WIDTH_MM, OBLIQUE_WIDTH_MM = 108.0, 76.0
SIDE_NAMES = {"left": (0, 0.6), "right": (1, 0.6), "front": (0.3, 0), "back": (0.3, 1)}


def draw_placement(
    plan: PlacementPlan, machine: Machine, number: int, out_dir: Path, solid: Solid | None = None
) -> tuple[Path, Path]:
    """Write both drawings of placement ``number`` (its colour) and return their files: from above, obliquely."""
    return draw_scene(Scene(number, plan, machine, solid), out_dir)


def draw_scene(scene: Scene, out_dir: Path) -> tuple[Path, Path]:
    """The same for a scene; the files' names begin with its stem."""
    stem = scene.stem or f"placement-{scene.number}"
    above, slanted = (out_dir / f"{stem}-{view}.png" for view in ("above", "oblique"))
    with matplotlib.rc_context(LETTERING):
        _save(draw_from_above(scene), above)
        _save(draw_obliquely(scene), slanted)
    return above, slanted


def _save(figure: Any, file: Path) -> None:
    with written_whole(file) as beside:
        figure.savefig(
            beside, dpi=DOTS_PER_INCH, format="png", metadata={"Software": None}, pil_kwargs={"compress_level": 2}
        )


def draw_from_above(scene: Scene) -> Any:
    """Travel, board with its holes, blank, piece, what is cut, clearance wood, touches, touch-off spot, holds."""
    x0, y0, x1, y1 = scene.shown_mm
    figure = Figure(figsize=(ABOVE_WIDTH_MM / MM_PER_INCH, ABOVE_WIDTH_MM * (y1 - y0) / (x1 - x0) / MM_PER_INCH))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(x0, x1), ylim=(y0, y1), aspect="equal", facecolor=BED)
    axes.axis("off")
    axes.add_patch(Rectangle((x0, y0), x1 - x0, y1 - y0, facecolor=BED, zorder=0))
    _board(axes, scene)
    _wood(axes, scene)
    _travel(axes, scene)
    _marks(axes, scene)
    return figure


def _board(axes: Any, scene: Scene) -> None:
    """The movable board with both rows of holes; those over the fixed inserts are black, their numbers bold."""
    seat = scene.seat
    if seat is None:
        return
    _box(axes, seat.board_mm, facecolor=BOARD, edgecolor="#777777", linewidth=0.6, zorder=1)
    for side, row in zip((-1, 1), seat.holes_mm):
        upright = len(row) > 1 and row[0][0] == row[1][0]  # rows that run from front to back
        away = (12.0 * side, 0.0) if upright else (0.0, 10.5 * side)
        for number, (x, y) in enumerate(row, start=1):
            bolted = number in seat.bolted
            face = {"facecolor": INK if bolted else "white", "edgecolor": INK, "lw": 0.4}
            axes.add_patch(Circle((x, y), 6.5 if bolted else 3.0, **face, zorder=6))
            if bolted or ((number in (1, len(row)) or number % 5 == 0) and _alone(number, seat.bolted)):
                letters = {"fontsize": 7.5 if bolted else 6.0, "weight": "bold" if bolted else "normal"}
                axes.text(x + away[0], y + away[1], str(number), ha="center", va="center", zorder=7, **letters)


def _alone(number: int, bolted: tuple[int, ...]) -> bool:
    """Whether a hole's number has room beside those of the bolted holes."""
    return all(abs(number - other) > 1 for other in bolted)


def _wood(axes: Any, scene: Scene) -> None:
    """The field after this placement, lit; clearance wood hatched; the piece's outline; the names of the sides."""
    grid = scene.grid
    extent = (grid.x0_mm, grid.x0_mm + grid.nx * grid.pitch_mm, grid.y0_mm, grid.y0_mm + grid.ny * grid.pitch_mm)
    lit = np.clip(scene.colours * shade(scene.plan.top_after, grid.pitch_mm)[..., None], 0, 1)
    image = axes.imshow(lit, extent=extent, origin="lower", interpolation="antialiased", zorder=2)
    blank = _box(axes, scene.blank_mm, fill=False, edgecolor=INK, linewidth=1.0, zorder=5)
    image.set_clip_path(blank)
    if scene.cleared.any():
        x, y, there = grid.x_mm, grid.y_mm, scene.cleared.astype(float)
        with matplotlib.rc_context({"hatch.linewidth": 0.5, "hatch.color": scene.colour}):
            axes.contourf(x, y, there, levels=[0.5, 1.5], colors="none", hatches=["/////"], zorder=3)
        axes.contour(x, y, there, levels=[0.5], colors=scene.colour, linewidths=0.5, zorder=3)
    for ring in _rings(scene.outline):
        axes.plot(*ring.T, color=PIECE, linewidth=0.9, zorder=4)
    x0, y0, x1, y1 = scene.blank_mm
    for name, (fx, fy) in SIDE_NAMES.items():
        inset_x, inset_y = (8 * (1 - 2 * fx) if fx in (0, 1) else 0), (8 * (1 - 2 * fy) if fy in (0, 1) else 0)
        axes.text(
            x0 + fx * (x1 - x0) + inset_x, y0 + fy * (y1 - y0) + inset_y, name, fontsize=6.5, color=INK,
            ha="center", va="center", rotation=90 if fx in (0, 1) else 0, zorder=5,
        )  # fmt: skip


def _travel(axes: Any, scene: Scene) -> None:
    machine = scene.machine
    travel = (0.0, 0.0, machine.travel_x_mm, machine.travel_y_mm)
    _box(axes, travel, fill=False, edgecolor=INK, linewidth=1.1, linestyle=(0, (5, 3)), zorder=6)
    axes.plot([0], [0], marker="+", markersize=11, markeredgewidth=1.4, color=INK, zorder=7)
    axes.text(5, 17, "x 0, y 0", fontsize=6.5, zorder=8, bbox=_label())
    dx, dy = scene.plan.placement.shift_mm
    rx0, ry0, rx1, ry1 = scene.plan.placement.region_mm
    bx0, by0, bx1, by1 = scene.blank_mm
    region = (max(rx0 + dx, bx0), max(ry0 + dy, by0), min(rx1 + dx, bx1), min(ry1 + dy, by1))
    _box(axes, region, fill=False, edgecolor=scene.colour, linewidth=2.2, zorder=6)


def _marks(axes: Any, scene: Scene) -> None:
    """Touches, the touch-off spot, bridges, hardware and clamps."""
    placement = scene.plan.placement
    shift = np.array(placement.shift_mm)
    for number, touch in enumerate(placement.touches, start=1):
        _touch(axes, scene, number, touch)
    if placement.touch_off_mm is not None:
        _touch_off(axes, *(np.array(placement.touch_off_mm) + shift))
    for bridge in placement.bridges:
        ring = np.array(bridge.outline_mm) + shift
        axes.fill(*ring.T, facecolor="white", edgecolor=INK, hatch="|||", lw=0.9, zorder=7)
    for bridge in placement.bridges[:1]:
        x, y = np.array(bridge.outline_mm).mean(axis=0) + shift
        axes.annotate("bridge", (x, y), (x + 14, y + 14), fontsize=7, weight="bold", zorder=9, bbox=_label())
    for obstacle in placement.obstacles:
        axes.fill(*(np.array(obstacle.outline_mm) + shift).T, facecolor="#555555", edgecolor=INK, lw=0.6, zorder=6)
    for hold in placement.holds:
        if hold.kind != "tape":
            ring = np.array(hold.outline_mm) + shift
            axes.fill(*ring.T, facecolor="none", edgecolor=INK, hatch="xxx", lw=0.8, zorder=6)


def _touch(axes: Any, scene: Scene, number: int, touch: Touch) -> None:
    """T1, T2 ... with an arrow along which the face is touched; a mark seen from above for a height."""
    move = scene.plan.placement.standing_to_program @ scene.plan.placement.stand
    x, y, _ = move.apply(np.array(touch.point_mm))
    nx, ny, _ = move.rotation @ np.array(touch.normal)
    level = abs(nx) + abs(ny) > 0.1
    if level:
        arrow = {"arrowstyle": "-|>", "color": INK, "lw": 1.3, "shrinkA": 0, "shrinkB": 0}
        axes.annotate("", (x, y), (x + 24 * nx, y + 24 * ny), zorder=8, arrowprops=arrow)
    else:
        axes.plot([x], [y], marker="v", color=INK, markersize=5, zorder=8)
    at = (x + 33 * nx, y + 33 * ny) if level else (x, y + 11)
    axes.text(*at, f"T{number}", fontsize=7.5, weight="bold", ha="center", va="center", zorder=9, bbox=_label())


def _touch_off(axes: Any, x_mm: float, y_mm: float) -> None:
    axes.add_patch(Circle((x_mm, y_mm), 7.0, facecolor="white", edgecolor=INK, lw=1.2, zorder=8))
    axes.plot([x_mm - 10, x_mm + 10], [y_mm, y_mm], color=INK, lw=0.9, zorder=9)
    axes.plot([x_mm, x_mm], [y_mm - 10, y_mm + 10], color=INK, lw=0.9, zorder=9)
    left = x_mm > sum(axes.get_xlim()) / 2  # the words stay within the picture
    at_mm, side = (x_mm - 13, "right") if left else (x_mm + 13, "left")
    axes.text(at_mm, y_mm, "touch-off", fontsize=7, weight="bold", ha=side, va="center", zorder=9, bbox=_label())


def draw_obliquely(scene: Scene) -> Any:
    """The work on its board after this placement, lit, from the front; dashed: the travel, level with the blank."""
    grid, heights, colours = scene.on_board()
    view = oblique(heights, colours, grid, base_mm=-scene.machine.support_z_bed_mm - UNDER_MM)
    top_mm = float(scene.plan.top_before.max())
    tx, ty = scene.machine.travel_x_mm, scene.machine.travel_y_mm
    travel = np.array([view.place_px(x, y, top_mm) for x, y in ((0, 0), (tx, 0), (tx, ty), (0, ty), (0, 0))])
    high, wide = view.image.shape[:2]
    left, right = min(0.0, travel[:, 0].min() - 8), max(float(wide), travel[:, 0].max() + 8)
    top, bottom = min(0.0, travel[:, 1].min() - 8), max(float(high), travel[:, 1].max() + 8)
    size_mm = (OBLIQUE_WIDTH_MM, OBLIQUE_WIDTH_MM * (bottom - top) / (right - left))
    figure = Figure(figsize=(size_mm[0] / MM_PER_INCH, size_mm[1] / MM_PER_INCH))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.imshow(np.clip(view.image, 0, 1), interpolation="antialiased")
    axes.axis("off")
    axes.plot(*travel.T, color=INK, linewidth=0.9, linestyle=(0, (5, 3)))
    x0, y0, x1, _ = scene.blank_mm
    front = view.place_px((x0 + x1) / 2, y0, top_mm / 2)
    axes.text(*front, "front", fontsize=6.5, color="white", ha="center", va="center", rotation=-14)
    axes.set(xlim=(left, right), ylim=(bottom, top))
    return figure


def _box(axes: Any, box_mm: tuple[float, float, float, float], **style: Any) -> Any:
    patch = Rectangle((box_mm[0], box_mm[1]), box_mm[2] - box_mm[0], box_mm[3] - box_mm[1], **style)
    axes.add_patch(patch)
    return patch


def _label() -> dict[str, Any]:
    return {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}


def _rings(area: shapely.Geometry | None) -> list[Any]:
    if area is None:
        return []
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    return [np.asarray(ring.coords) for part in parts for ring in (part.exterior, *part.interiors)]
