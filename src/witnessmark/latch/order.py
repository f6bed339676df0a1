"""In which order parts go together: found by taking the whole apart, one part at a time, along a straight way.

Question  what must go in before what, and from where
Units     mm
Method    a part can be taken off where, moved along one of its ways, it meets nothing that is still there: swept from
          step to step (exactly where it is convex: the hull of both ends). What was taken off last goes in first
Source    assembly by disassembly: Wilson and Latombe, Artificial Intelligence 71 (1994) 371-396 (from memory)
Valid     one part at a time, straight ways; parts that were modelled touching may share ``TOUCH_MM3``
Refuses   nothing: what cannot be taken apart comes back as stuck
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from manifold3d import Manifold

Way = tuple[float, float, float]

STEP_MM = 1.0
TOUCH_MM3 = 0.5
UP: Way = (0.0, 0.0, 1.0)
DOWN: Way = (0.0, 0.0, -1.0)


@dataclass(frozen=True, eq=False)
class Body:
    """A part where it is when assembled, and the ways it may go in by, as directions in which it is taken off."""

    solid: Manifold
    ways: Sequence[Way] = (UP,)
    convex: bool = False


@dataclass(frozen=True)
class Step:
    """A part that goes in, and the direction in which it moves to its place."""

    name: str
    way: Way


@dataclass(frozen=True)
class Order:
    """Steps from the first part on (it lies there: its way says nothing); parts that nothing could be taken from."""

    steps: tuple[Step, ...]
    stuck: tuple[str, ...]


def order_of(parts: Mapping[str, Body]) -> Order:
    """``parts``: those named first are taken off last where there is a choice."""
    left = dict(parts)
    off: list[Step] = []
    while len(left) > 1:
        found = next((step for name in reversed(list(left)) if (step := _taken_off(name, left))), None)
        if found is None:
            return Order((), tuple(left))
        off.append(found)
        del left[found.name]
    steps = [Step(name, DOWN) for name in left] + [Step(s.name, _back(s.way)) for s in reversed(off)]
    return Order(tuple(steps), ())


def _back(way: Way) -> Way:
    x, y, z = way
    return (-x + 0.0, -y + 0.0, -z + 0.0)


def _taken_off(name: str, left: Mapping[str, Body]) -> Step | None:
    others = [body.solid for other, body in left.items() if other != name]
    ways = (way for way in left[name].ways if all(_passes(left[name], way, other) for other in others))
    return next((Step(name, way) for way in ways), None)


def _passes(body: Body, way: Way, other: Manifold) -> bool:
    """Whether the part gets past one other, moved till both are apart."""
    mine, its = body.solid.bounding_box(), other.bounding_box()
    far_mm = min(
        ((its[k + 3] - mine[k]) if step > 0 else (mine[k + 3] - its[k])) / abs(step)
        for k, step in enumerate(way)
        if abs(step) > 1e-9
    )
    if far_mm <= 0:
        return True
    beside = any(
        mine[k + 3] + max(0.0, far_mm * way[k]) < its[k] or mine[k] + min(0.0, far_mm * way[k]) > its[k + 3]
        for k in range(3)
    )
    if beside:
        return True
    if body.convex:
        swept = Manifold.batch_hull([body.solid, _moved(body.solid, way, far_mm)])
        return bool((swept ^ other).volume() <= TOUCH_MM3)
    count = max(1, math.ceil(far_mm / STEP_MM))
    return all((_moved(body.solid, way, far_mm * k / count) ^ other).volume() <= TOUCH_MM3 for k in range(count))


def _moved(solid: Manifold, way: Way, by_mm: float) -> Manifold:
    return solid.translate((way[0] * by_mm, way[1] * by_mm, way[2] * by_mm))
