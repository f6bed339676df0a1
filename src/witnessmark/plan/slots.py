"""Slots under wood that stays, by T-slot cutters in programs of their own: after all else in a placement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from witnessmark.field.grid import Heights
from witnessmark.job.frames import Rigid
from witnessmark.job.models import Cutter, Job
from witnessmark.path.join import Joiner
from witnessmark.path.request import CutRequest, CutterPath
from witnessmark.path.slots import NOWHERE, Slot, cut_slot, slots_in
from witnessmark.path.wood import Wood

from .spindle import reachable

Named = tuple[int, int, int]


@dataclass
class SlotsCut:
    """What has been cut of a piece's slots, placement by placement, and why the others were not, when last tried."""

    done: set[Named] = field(default_factory=set)
    left: dict[Named, str] = field(default_factory=dict)

    def paths(self, job: Job, request: CutRequest, stand: Rigid, top: Heights, most: Heights) -> list[CutterPath]:
        """Programs for the slots that open to a placement's side and are not cut yet; the wood's top stays."""
        cutters = [cutter for cutter in job.cutters if cutter.undercuts]
        slots = {_named(slot, stand): slot for slot in slots_in(request.solid)} if cutters else {}
        made = []
        for cutter in cutters:
            reach = reachable(cutter, job.machine, job.settings)
            joiner = Joiner(Wood(request.grid, top, cutter, most), request.safe_z_mm)
            heights_mm = (reach.lowest_tip_mm, reach.highest_tip_mm)
            for name, slot in slots.items():
                if name not in self.done:
                    self._note(name, slot, cutter, cut_slot(slot, request, reach.assembly, joiner, heights_mm))
            made.append(CutterPath(cutter.name, joiner.strokes(), top, most))
        return made

    def _note(self, name: Named, slot: Slot, cutter: Cutter, why: str) -> None:
        if not why:
            self.done.add(name)
            self.left.pop(name, None)
        elif why != NOWHERE or name not in self.left:  # from the wrong side that is all there is to say
            self.left[name] = f"{slot.words} is not cut by {cutter.name}: {why}"

    @property
    def notes(self) -> Sequence[str]:
        """Of the slots that no placement has cut."""
        return tuple(self.left.values())


def _named(slot: Slot, stand: Rigid) -> Named:
    """A slot by its middle in the piece's own frame: the same from both sides."""
    x, y, z = (round(value) for value in stand.inverse().apply(np.array(slot.middle_mm)).tolist())
    return (x, y, z)
