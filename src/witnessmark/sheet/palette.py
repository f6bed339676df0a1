"""Colours and lettering of the drawings.

Placements take the colours of Okabe and Ito (2008), "Color Universal Design" (hex values from memory), told apart
with every common kind of colour vision; a number always stands beside the colour.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BLACK = "#000000"
PLACEMENTS = ("#0072B2", "#E69F00", "#009E73", "#CC79A7", "#56B4E9", "#D55E00", "#F0E442")
ALARM = "#D55E00"  # vermillion: where something would hit

WOOD = "#dcb892"
WOOD_CUT_EARLIER = "#efdcc4"
BOARD = "#dfe0d8"
BED = "#b9bec2"
INK = "#222222"
PIECE = "#7a3b1d"

LETTERING: dict[str, Any] = {"font.family": "DejaVu Sans", "font.size": 8.0, "axes.linewidth": 0.6}


def placement_colour(number: int) -> str:
    """The colour of placement ``number``, counted from 1."""
    return PLACEMENTS[(number - 1) % len(PLACEMENTS)]


def rgb(hex_colour: str) -> Floats:
    """ "#rrggbb" to three shares of 1."""
    return np.array([int(hex_colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])


def mixed(one: str, other: str, share_ratio: float) -> Floats:
    """``share_ratio`` of the second colour in the first."""
    return np.asarray(rgb(one) * (1 - share_ratio) + rgb(other) * share_ratio)
