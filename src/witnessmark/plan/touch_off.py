"""The one reserved spot where every cutter of a placement is touched off.

Z zero is the supporting face, never the blank's top. The spot lies on that face beside the blank, where no program
cuts, within the travel, and with nut and nose clear of the blank's side. Where a short cutter would bring nut or
nose down beside the blank, a setting block of known height lifts it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.job.assembly import Assembly
from witnessmark.job.models import Machine
from witnessmark.job.placement import Obstacle, Rectangle, rectangle_of

SIDE_CLEAR_MM = 1.0  # nut or nose to the blank's side while touching off
BLOCKS_MM = (0.0, 25.0, 50.0)  # setting blocks a shop has or planes; tried from the lowest
BLOCK_EDGE_MM = 8.0  # room a setting block needs round the tip


@dataclass(frozen=True)
class Spot:
    """Where to touch off: standing frame, mm, and the setting block's height."""

    x_mm: float
    y_mm: float
    block_mm: float


def touch_off_spot(
    machine: Machine,
    assemblies: Sequence[Assembly],
    blank_mm: Rectangle,
    blank_height_mm: float,
    window_mm: Rectangle,
    keep_off: Sequence[Obstacle] = (),
) -> Spot | None:
    """The spot farthest from the blank that every cutter reaches, on the lowest setting block; else None.

    Hardware (``keep_off``) beside the spot is passed as the blank's side is.
    """
    face = _supporting_face(machine, blank_mm, window_mm)
    for block_mm in BLOCKS_MM:
        edge_mm = max(BLOCK_EDGE_MM if block_mm else 0.0, max(a.cutter.diameter_mm for a in assemblies) / 2)
        xs = np.arange(max(window_mm[0], face[0] + edge_mm), min(window_mm[2], face[2] - edge_mm) + 1e-9, 1.0)
        ys = np.arange(max(window_mm[1], face[1] + edge_mm), min(window_mm[3], face[3] - edge_mm) + 1e-9, 1.0)
        if not len(xs) or not len(ys):
            continue
        away = _away_from(blank_mm, xs[None, :], ys[:, None])
        need_mm = max(_beside_mm(assembly, blank_height_mm - block_mm) for assembly in assemblies)
        if block_mm:
            need_mm = max(need_mm, BLOCK_EDGE_MM)
        for hardware in keep_off:
            beside_mm = max(_beside_mm(assembly, hardware.z_to_mm - block_mm) for assembly in assemblies)
            to_it = _away_from(rectangle_of(hardware.outline_mm), xs[None, :], ys[:, None])
            away = np.where(to_it < max(beside_mm, edge_mm), -1.0, away)
        j, i = np.unravel_index(int(np.argmax(away)), away.shape)
        if away[j, i] >= need_mm:
            return Spot(float(xs[i]), float(ys[j]), block_mm)
    return None


def _supporting_face(machine: Machine, blank_mm: Rectangle, window_mm: Rectangle) -> Rectangle:
    """The movable board under the blank's middle, or the bed itself as far as the travel goes."""
    if machine.board is None:
        return window_mm
    x, y = (blank_mm[0] + blank_mm[2]) / 2, (blank_mm[1] + blank_mm[3]) / 2
    half_x, half_y = machine.board.size_x_mm / 2, machine.board.size_y_mm / 2
    return (x - half_x, y - half_y, x + half_x, y + half_y)


def _away_from(blank_mm: Rectangle, x_mm: np.ndarray, y_mm: np.ndarray) -> np.ndarray:
    """Distance from the blank's side, 0 inside it."""
    dx = np.maximum(np.maximum(blank_mm[0] - x_mm, x_mm - blank_mm[2]), 0.0)
    dy = np.maximum(np.maximum(blank_mm[1] - y_mm, y_mm - blank_mm[3]), 0.0)
    return np.asarray(np.hypot(dx, dy))


def _beside_mm(assembly: Assembly, wood_above_tip_mm: float) -> float:
    """How far from the blank's side the axis must stay when the wood stands this high above the tip."""
    radii = [step.radius_mm for step in assembly.steps if step.z_from_mm < wood_above_tip_mm]
    return max(radii, default=0.0) + SIDE_CLEAR_MM
