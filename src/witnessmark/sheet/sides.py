"""How to put the blank down, in words: which side is up, which edge faces you, how it is turned."""

from __future__ import annotations

import numpy as np

from witnessmark.job.frames import Rigid
from witnessmark.job.placement import Placement

# the blank's six sides as they are marked on it, by their direction in the piece frame
SIDES = {"+z": "TOP", "-z": "UNDER", "+x": "RIGHT", "-x": "LEFT", "+y": "BACK", "-y": "FRONT"}


def side_towards(stand: Rigid, direction: tuple[int, int, int]) -> str:
    """The name of the side that faces a direction of the standing frame."""
    towards = stand.rotation.T @ np.array(direction)
    axis = int(np.argmax(np.abs(towards)))
    return SIDES[("+" if towards[axis] > 0 else "-") + "xyz"[axis]]


def lying(placement: Placement) -> str:
    """Which side is up, which faces you and which is on the left."""
    up, near, left = (side_towards(placement.stand, way) for way in ((0, 0, 1), (0, -1, 0), (-1, 0, 0)))
    return f"{up} up, {near} towards you, {left} on the left"


def turning(before: Placement | None, now: Placement) -> str:
    """What to do with the blank between two placements."""
    if before is None:
        return "Put the blank down."
    same = np.allclose(before.stand.rotation, now.stand.rotation)
    if same:
        return "Leave the blank on its board; move the board."
    if {before.up, now.up} == {"+z", "-z"} and before.quarter_turns == now.quarter_turns == 0:
        return "Take the blank off and roll it over about the turning axis: its left end stays on the left."
    return "Take the blank off and put it down anew."
