"""The sweep against a dense second implementation, on programs drawn at random."""

from __future__ import annotations

import numpy as np
import pytest
from reference_sweep import remove_reference

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.field.sweep import remove

GRID = Grid(-2.0, -1.0, 0.4, 130, 140)
CUTTERS = {
    "flat": ("flat", 6.0),
    "ball": ("ball", 6.0),
    "bull": ("bull", 6.0, 1.0),
    "sharp V": ("v", 12.0, 0.0, 60.0),
    "blunt V": ("v", 6.0, 0.0, 120.0),
    "tapered ball": ("tapered_ball", 6.0, 1.0, 14.0),
}


def random_program(rng, count=12):
    """A chain of lines (one upright, two level, one nearly upright), two arcs and a full turn."""
    points = np.array([25.0, 20.0, -8.0]) + np.cumsum(rng.normal(0, [3, 3, 1.5], (count + 1, 3)), 0)
    points[4] = points[3] + [0, 0, -4]
    points[6] = points[5] + [8, 0, 0]
    points[7] = points[6] + [0, 7, 0]
    points[9] = points[8] + [0.01, 0.01, 5]
    moves = np.zeros((count + 3, 9))
    moves[:count, :3], moves[:count, 3:6] = points[:-1], points[1:]
    for k in (0, 1):
        r, begin, end = rng.uniform(1, 12), *rng.uniform(0, 2 * np.pi, 2)
        x, y = rng.uniform(10, 30, 2)
        moves[count + k] = [
            *(x + r * np.cos(begin), y + r * np.sin(begin), -5.0),
            *(x + r * np.cos(end), y + r * np.sin(end), -5.0),
            *(x, y, 1 + k),
        ]
    moves[count + 2] = [30, 20, -6, 30, 20, -6, 25, 20, 2]
    return moves


@pytest.mark.parametrize("cutter", CUTTERS)
@pytest.mark.parametrize("seed", range(3))
def test_heights_agree_with_the_dense_reference(cutter, seed):
    """Each cell lies between the reference's answers for rims 0 and 4e-6 mm larger, to float32 rounding."""
    profile = profile_vector(*CUTTERS[cutter])
    moves = random_program(np.random.default_rng(seed))
    heights = GRID.full(0.0)
    remove(heights, GRID, moves, profile)
    least = remove_reference(GRID.full(0.0), GRID, moves, profile, slack=0.0)
    most = remove_reference(GRID.full(0.0), GRID, moves, profile, slack=4e-6)
    assert (heights <= least + 1e-4).all()
    assert (heights >= most - 1e-4).all()
    assert (heights < -1.0).sum() > 500
