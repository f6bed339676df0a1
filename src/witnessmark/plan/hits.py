"""Where nut, nose or shoe would hit wood that is still there, if the wanted cuts were made without clearance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.dilate import lowered_by, underside_over
from witnessmark.field.grid import Heights
from witnessmark.job.assembly import Assembly

from .model import PlacementPlan
from .spindle import Reachable

TOUCH_MM = 0.05


@dataclass(frozen=True, eq=False)
class Hit:
    """One part of the assembly: cells (ny, nx) of wood in its way, how deep at most, and where the tip then is."""

    kind: str
    cells: NDArray[np.bool_]
    deepest_mm: float
    place_mm: tuple[float, float, float]


def hits_without_clearance(step: PlacementPlan, spindle: Reachable) -> tuple[list[Hit], Heights]:
    """What would be hit, worst first, and the wood's top after the wanted cuts alone."""
    wanted = step.wanted if step.wanted is not None else step.tips
    assert wanted is not None
    left = np.minimum(step.top_before, lowered_by(wanted, step.grid, spindle.profile))
    found = []
    for part, size in zip(_wide(spindle.assembly), spindle.steps[_wide_rows(spindle.assembly)]):
        under = underside_over(wanted, step.grid, size[None, :])
        deep = np.where(np.isfinite(under), left - under, 0.0)
        cells = deep > TOUCH_MM
        if cells.any():
            j, i = divmod(int(np.argmax(deep)), deep.shape[1])
            found.append(Hit(part, cells, float(deep[j, i]), _tip_over(step, wanted, j, i, size, float(under[j, i]))))
    return sorted(found, key=lambda hit: -hit.deepest_mm), left


def _wide_rows(assembly: Assembly) -> list[int]:
    radius_mm = assembly.cutter.diameter_mm / 2
    return [k for k, step in enumerate(assembly.rigid_steps()) if step.radius_mm > radius_mm + 1e-6]


def _wide(assembly: Assembly) -> list[str]:
    steps = assembly.rigid_steps()
    return [steps[k].kind for k in _wide_rows(assembly)]


def _tip_over(
    step: PlacementPlan, wanted: Heights, j: int, i: int, size: NDArray[np.float64], under_mm: float
) -> tuple[float, float, float]:
    """The wanted tip whose part comes down over cell (j, i)."""
    grid = step.grid
    x, y = grid.x_mm, grid.y_mm
    near = np.hypot(x[None, :] - x[i], y[:, None] - y[j]) <= size[0]
    tips = np.where(near, wanted, np.inf)
    b, a = np.unravel_index(int(np.argmin(tips)), tips.shape)
    return (float(x[a]), float(y[b]), float(under_mm - size[1]))
