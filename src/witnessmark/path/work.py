"""One cutter at work: what is asked, the no-go areas, the wood, the room above, and the chain being built."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from witnessmark.job.models import Cutter, Settings
from witnessmark.job.placement import Rectangle

from .contours import LeftOut
from .join import Joiner
from .lowest import Lowest, lowest_over
from .nogo import NoGo, round_edge_mm
from .request import CutRequest, CutterTask
from .room import Room
from .wood import Wood


@dataclass(frozen=True, eq=False)
class Work:
    """What every kind of cutting with one cutter shares."""

    request: CutRequest
    task: CutterTask
    nogo: NoGo
    wood: Wood
    joiner: Joiner
    room: Room
    left_out: dict[str, LeftOut]

    @property
    def cutter(self) -> Cutter:
        return self.task.cutter

    @property
    def settings(self) -> Settings:
        return self.request.settings

    @property
    def radius_mm(self) -> float:
        return self.task.cutter.diameter_mm / 2

    @property
    def edge_mm(self) -> float:
        """Radius of the rounding of the cutter's edge; 0 for a flat one."""
        return round_edge_mm(self.task.cutter)

    @cached_property
    def lowest(self) -> Lowest:
        """The exact lowest tip over the solid, for this cutter."""
        return lowest_over(self.request.solid.triangles, self.wood.profile)

    def missed(self, what: str) -> LeftOut:
        """Where to count what has to be left out of the walls, floors or tops."""
        return self.left_out.setdefault(what, LeftOut(self.request.region_mm))


def around_mm(request: CutRequest, tasks: Sequence[CutterTask]) -> Rectangle:
    """The region with the overlap and room for the widest cutter's offset beyond it."""
    widest_mm = max((task.cutter.diameter_mm for task in tasks), default=0.0)
    margin_mm = request.settings.seam_overlap_mm + request.settings.trench_mm + 2 * widest_mm + 2.0
    x0, y0, x1, y1 = request.region_mm
    return (x0 - margin_mm, y0 - margin_mm, x1 + margin_mm, y1 + margin_mm)
