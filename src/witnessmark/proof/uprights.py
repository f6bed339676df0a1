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


def upright_findings(wood: Columns, placement: Placement, pose: Pose, machine: Machine) -> list[Finding]:
    """What reaches past an upright: the ``wood`` that is left (in the frame of the axis that is upright), and the
    board centred under the whole blank."""
    box_mm = wood.box_mm()
    if box_mm is None:
        return []
    along, found = _standing(box_mm, placement), []
    pitch_mm = wood.grid.pitch_mm
    past_mm = _past_mm(along, placement, pose, machine)
    if past_mm > pitch_mm:
        what = f"the wood reaches {past_mm:.1f} mm past the upright"
        remedies = ("shift the placement away from that upright", "make the blank smaller across the machine")
        found.append(_finding("wood meets upright", what, placement, past_mm, remedies))
    board = board_rectangle(machine, _standing(wood.ends_mm, placement))
    past_mm = _past_mm(board, placement, pose, machine) if board else 0.0
    if past_mm > pitch_mm:
        what = f"the movable board reaches {past_mm:.1f} mm past the upright"
        remedies = ("shift the placement away from that upright", "use a narrower board")
        found.append(_finding("board meets upright", what, placement, past_mm, remedies))
    return found


def _finding(kind: str, what: str, placement: Placement, past_mm: float, remedies: tuple[str, ...]) -> Finding:
    return Finding(kind, what, "stop", None, "standing", placement.name, "", 0, past_mm, remedies)


def _standing(box_mm: Rectangle, placement: Placement) -> Rectangle:
    """A rectangle of the frame of the axis that is upright, as it stands."""
    x0, y0, x1, y1 = box_mm
    ends = placement.in_axis_frame().stand.apply(np.array([[x0, y0, 0.0], [x1, y1, 0.0]]))[:, :2]
    (left, front), (right, back) = ends.min(axis=0).tolist(), ends.max(axis=0).tolist()
    return (left, front, right, back)


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
