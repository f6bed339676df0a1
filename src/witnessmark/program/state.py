"""What the reader is told beforehand, and what is in force while it reads.

Frame   places are kept in the program frame: the coordinate system G54 as it was when the program began
Units   mm, mm/min, rpm, s
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .codes import Block
from .compensate import Leg
from .motion import Place
from .wrong import Wrong

NOWHERE: Place = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Given:
    """What the text alone does not say.

    start_mm: where the tip stands before the program (None: not known, motions are recorded once it is).
    origins_mm: origins of the systems 1 (G54) to 9 (G59.3) in machine coordinates; homes_mm: the places that G28
    and G30 go to, machine coordinates; lengths_mm: length offsets by H number; diameters_mm: cutters' diameters by D
    number; diameter_mm: that of the cutter in the spindle; parameters: values of #n;
    block_delete: lines that begin with / are left out.
    """

    start_mm: Place | None = None
    origins_mm: Mapping[int, Place] = field(default_factory=dict)
    homes_mm: Mapping[int, Place] = field(default_factory=dict)
    lengths_mm: Mapping[int, float] = field(default_factory=dict)
    diameters_mm: Mapping[int, float] = field(default_factory=dict)
    diameter_mm: float | None = None
    parameters: Mapping[int, float] = field(default_factory=dict)
    block_delete: bool = False


class State:
    """The modes in force. ``motion`` and ``cycle`` are codes times ten, as in ``codes``."""

    def __init__(self, given: Given) -> None:
        self.given = given
        self.parameters = dict(given.parameters)
        self.origins = dict(given.origins_mm)
        self.base = self.origins.get(1, NOWHERE)
        self.position = list(given.start_mm or NOWHERE)
        self.known = [given.start_mm is not None] * 3
        self.waiting: list[int] = []  # rows recorded before the place was known on every axis
        self.system = 1
        self.shift_92 = list(NOWHERE)
        self.kept_92 = list(NOWHERE)
        self.length_mm = 0.0
        self.offset = NOWHERE
        self.motion = 800
        self.plane = 17
        self.absolute = True
        self.per_minute = True
        self.scale = 1.0
        self.units_said = False
        self.feed_mm_min = 0.0
        self.feed_word = 0.0
        self.rpm = 0.0
        self.spindle_way = 0
        self.cutter = 0
        self.next_cutter = 0
        self.retract_to_r = False
        self.cycle_z_mm: float | None = None
        self.cycle_r_mm: float | None = None
        self.cycle_words: dict[str, float] = {}
        self.side = 0  # of the contour on which the cutter is kept: 1 left, -1 right, 0 none
        self.radius_mm = 0.0
        self.middle = (0.0, 0.0)  # where the cutter's middle was when it began
        self.legs: list[Leg] = []  # of the contour, told when it is whole
        self.ended = False
        self.refresh()

    def refresh(self) -> None:
        """Work out what is added to a coordinate word to reach the program frame."""
        origin = self.origins.get(self.system, self.base)
        x, y, z = (o - b + s for o, b, s in zip(origin, self.base, self.shift_92))
        self.offset = (x, y, z + self.length_mm)

    @property
    def spindle_rpm(self) -> float:
        return self.rpm * self.spindle_way

    @property
    def everywhere_known(self) -> bool:
        return all(self.known)

    def need_known(self, axes: tuple[int, ...]) -> None:
        """Wrong when the place along one of these axes is not known yet."""
        for axis in axes:
            if not self.known[axis]:
                raise Wrong(f"{'XYZ'[axis]} has not been given yet, so where this move starts is not known")

    def target(self, block: Block, axis: int) -> float:
        """Where an axis word goes, program frame, mm; without a word it stays."""
        letter, words = "xyz"[axis], block.words
        if letter not in words:
            return self.position[axis]
        if not self.absolute:
            self.need_known((axis,))
            return self.position[axis] + words[letter] * self.scale
        return words[letter] * self.scale + self.offset[axis]
