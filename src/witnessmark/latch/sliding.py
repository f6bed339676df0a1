"""A bolt that is slid from outside: a magnet in the hand drags one in the bolt along, through the wood.

Question  with what force does the bolt follow, how far does it lag, and how far may it
Units     mm, N
Arrays    ``aside_mm`` (n,): how far the hand's magnet is ahead
Method    drag and pull of two discs aside (see ``discs``); the pull presses the bolt against the skin, which rubs,
          and so does its weight
Source    plane statics (textbook)
Valid     slow sliding along a straight way; no iron near
Refuses   as ``magnets`` (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .magnets import Disc, pair_forces_n

Floats = NDArray[np.float64]

STEP_MM = 0.1
FURTHEST = 3.0  # diameters of the larger magnet


@dataclass(frozen=True, eq=False)
class Sliding:
    """The curves, and what they come to: the greatest force left to move the bolt, where; from what lag on it moves
    of itself, and from where the hand loses it."""

    aside_mm: Floats
    drag_n: Floats
    pull_n: Floats
    net_n: Floats
    most_n: float
    most_at_mm: float
    lags_mm: float
    loses_mm: float


def sliding(hand: Disc, in_bolt: Disc, gap_mm: float, weight_n: float, friction_ratio: float) -> Sliding:
    """``weight_n``: of the bolt with its magnet."""
    furthest = FURTHEST * max(hand.diameter_mm, in_bolt.diameter_mm)
    aside = np.arange(0.0, furthest + STEP_MM / 2, STEP_MM)
    drag, pull = pair_forces_n(hand, in_bolt, gap_mm, aside)
    net = drag - friction_ratio * (np.abs(pull) + weight_n)
    best = int(np.argmax(net))
    moves = np.flatnonzero(net > 0)
    lags, loses = (float(aside[moves[0]]), float(aside[best])) if len(moves) else (math.inf, 0.0)
    return Sliding(aside, drag, pull, net, float(net[best]), float(aside[best]), lags, loses)
