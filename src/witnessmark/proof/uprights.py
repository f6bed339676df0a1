"""Whether wood and movable board, where they lie on the bed, pass between the uprights.

The uprights stand ``clear_width_mm`` apart across the axis along which work may stick out, the middle of the travel
midway between them.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import Columns
from witnessmark.job.models import Machine
from witnessmark.job.placement import Placement, Rectangle, board_rectangle, rectangle_outline

from .finding import Finding
from .running import Pose

Floats = NDArray[np.float64]


def upright_findings(
    blank: Columns, wood: Columns, placement: Placement, pose: Pose, machine: Machine
) -> list[Finding]:
    """What reaches past an upright: the ``wood`` that is left, and the board centred under the whole ``blank``."""
    along = _extent(wood, placement)
    if along is None:
        return []
    found = []
    pitch_mm = wood.grid.pitch_mm
    past_mm = _past_mm(along, placement, pose, machine)
    if past_mm > pitch_mm:
        what = f"the wood reaches {past_mm:.1f} mm past the upright"
        remedies = ("shift the placement away from that upright", "make the blank smaller across the machine")
        found.append(_finding("wood meets upright", what, placement, past_mm, remedies))
    whole = _extent(blank, placement)
    board = board_rectangle(machine, whole) if whole else None
    past_mm = _past_mm(board, placement, pose, machine) if board else 0.0
    if past_mm > pitch_mm:
        what = f"the movable board reaches {past_mm:.1f} mm past the upright"
        remedies = ("shift the placement away from that upright", "use a narrower board")
        found.append(_finding("board meets upright", what, placement, past_mm, remedies))
    return found


def _finding(kind: str, what: str, placement: Placement, past_mm: float, remedies: tuple[str, ...]) -> Finding:
    return Finding(kind, what, "stop", None, "standing", placement.name, "", 0, past_mm, remedies)


def _extent(columns: Columns, placement: Placement) -> Rectangle | None:
    """The smallest upright rectangle round the wood, standing frame; None without wood."""
    top, grid = columns.top(placement.stand.rotation)
    wood = np.isfinite(top)
    if not wood.any():
        return None
    columns_of, rows_of = np.flatnonzero(wood.any(axis=0)), np.flatnonzero(wood.any(axis=1))
    half_mm = grid.pitch_mm / 2
    return (
        float(grid.x_mm[columns_of[0]]) - half_mm,
        float(grid.y_mm[rows_of[0]]) - half_mm,
        float(grid.x_mm[columns_of[-1]]) + half_mm,
        float(grid.y_mm[rows_of[-1]]) + half_mm,
    )


def _past_mm(rectangle_mm: Rectangle, placement: Placement, pose: Pose, machine: Machine) -> float:
    """How far a rectangle of the standing frame reaches past the nearer upright, in the pose the work lies in."""
    dx_mm, dy_mm, turn_rad = pose
    corners = np.array(rectangle_outline(rectangle_mm))
    cos, sin = math.cos(turn_rad), math.sin(turn_rad)
    turned = corners @ np.array([[cos, sin], [-sin, cos]])
    across = 1 if machine.overhang_axis == "x" else 0
    on_bed = turned[:, across] + placement.shift_mm[across] + (dx_mm, dy_mm)[across]
    middle_mm = (machine.travel_x_mm, machine.travel_y_mm)[across] / 2
    return float(np.abs(on_bed - middle_mm).max()) - machine.clear_width_mm / 2
