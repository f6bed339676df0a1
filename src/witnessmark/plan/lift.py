"""Cutters lifted over the blank, and the blank under the gantry: what is short, and only remedies that mend it.

Each remedy is a change that can be made (a cutter is clamped by its shank and never by its flutes, a board keeps
some thickness, a blank still holds its piece), and is tried with the test that found the trouble before it is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations

from witnessmark.job.errors import Trouble
from witnessmark.job.models import Cutter, Job, Machine, PieceSpec, Settings

from .spindle import reachable

LIFT_MM = 1.0  # the tip passes this far above the blank
LEAST_BOARD_MM = 6.0  # thinner boards do not lie flat under bolts (common practice, no source)
LEAST_STICKOUT_MM = 10.0  # nothing shorter is sold as a router cutter (common practice, no source)
LEAST_LAYER_MM = 6.0
TENTH_MM = 0.1  # remedies are told in tenths, rounded to the safe side


@dataclass(frozen=True)
class Setting:
    """One cutter in a machine with a blank on its board; ``least_blank_mm`` is as thin as the piece lets it be."""

    machine: Machine
    settings: Settings
    cutter: Cutter
    blank_mm: float
    least_blank_mm: float

    @property
    def lift_short_mm(self) -> float:
        """How far the tip at the top of Z is below what lifts it over the blank; 0 or less is enough."""
        return self.blank_mm + LIFT_MM - reachable(self.cutter, self.machine, self.settings).highest_tip_mm

    @property
    def gantry_short_mm(self) -> float:
        """How far the blank stands above the underside of the gantry; 0 or less is enough."""
        return self.blank_mm - (self.machine.gantry_above_bed_mm - self.machine.support_z_bed_mm)


Short = Callable[[Setting], float]


@dataclass(frozen=True)
class Knob:
    """A length that can be made less: what it is now, its least, the setting with another one, and it in words."""

    now_mm: Callable[[Setting], float]
    least_mm: Callable[[Setting], float]
    turned: Callable[[Setting, float], Setting]
    words: Callable[[Setting, Setting, float], str]

    def target_mm(self, setup: Setting, less_mm: float) -> float:
        """The tenth of a mm that is at least so much less, though never below the least."""
        return max(_tenth_down(self.now_mm(setup) - less_mm), _tenth_up(self.least_mm(setup)))


def lift_troubles(job: Job, spec: PieceSpec, blank_height_mm: float, piece_height_mm: float) -> list[Trouble]:
    """Cutters that cannot be lifted over the blank, and a blank too high for the gantry."""
    least_mm = min(blank_height_mm, piece_height_mm + spec.blank.below_mm)
    setups = [Setting(job.machine, job.settings, cutter, blank_height_mm, least_mm) for cutter in job.planned_cutters]
    troubles = []
    short_mm = setups[0].gantry_short_mm
    if short_mm > 0:
        found = remedies(setups[0], lambda setup: setup.gantry_short_mm, (BOARD, BLANK))
        what = "the blank stands higher than the underside of the gantry"
        troubles.append(Trouble(f"piece {spec.name}", what, found, f"by {short_mm:.1f} mm"))
    for setup in setups:
        short_mm = setup.lift_short_mm
        if short_mm > 0:
            found = remedies(setup, lambda setup: setup.lift_short_mm, (STICK_OUT, BOARD, BLANK))
            where = f"piece {spec.name}, cutter {setup.cutter.name}"
            what = "cannot be lifted over the blank at the top of Z"
            troubles.append(Trouble(where, what, found, f"short by {short_mm:.1f} mm"))
    return troubles


def remedies(setup: Setting, short: Short, knobs: tuple[Knob, ...]) -> tuple[str, ...]:
    """Each single change that mends it; else the smallest combination; else why none does, and what is left to do."""
    for count in range(1, len(knobs) + 1):
        found = [words for words in (_together(setup, short, some) for some in combinations(knobs, count)) if words]
        if found:
            return tuple(found) if count == 1 else (found[0],)
    return tuple(_beyond(setup, short, knobs))


def _together(setup: Setting, short: Short, knobs: tuple[Knob, ...]) -> str:
    """These changes in words, all but the last as far as they go; '' where they do not mend it."""
    said = []
    for knob in knobs:
        target_mm = knob.target_mm(setup, short(setup))
        less_mm = _tenth_up(knob.now_mm(setup) - target_mm)
        if less_mm <= 0:
            return ""
        after = knob.turned(setup, target_mm)
        said.append(knob.words(setup, after, less_mm))
        setup = after
    return " and ".join(said) if short(setup) <= 0 else ""


def _beyond(setup: Setting, short: Short, knobs: tuple[Knob, ...]) -> Iterator[str]:
    """Where no change of this set-up does: by how much all of them fall short, and other cutters, layers, mounts."""
    most = setup
    for knob in knobs:
        least_mm = _tenth_up(knob.least_mm(most))
        most = knob.turned(most, least_mm) if least_mm < knob.now_mm(most) else most
    short_mm, now_mm = _tenth_up(short(most)), _tenth_up(short(setup))
    if STICK_OUT in knobs:
        yield f"no stick-out, board or blank thickness does it: at their least it is still short by {short_mm:.1f} mm"
        stickout_mm = _tenth_down(setup.cutter.stickout_mm - now_mm)
        if stickout_mm >= LEAST_STICKOUT_MM and _does(_with_stick_out(setup, stickout_mm), short):
            yield f"use a shorter cutter, flutes and all: stick-out at most {stickout_mm:.1f} mm"
        higher = {"nose_above_bed_mm": setup.machine.nose_above_bed_mm + now_mm}
        if _does(replace(setup, machine=setup.machine.model_copy(update=higher)), short):
            yield f"mount the spindle at least {now_mm:.1f} mm higher, if its clamp allows it"
    else:
        yield f"no thickness of board or blank does it: at their least it is still {short_mm:.1f} mm too high"
    layer_mm = _tenth_down(setup.blank_mm - now_mm)
    if layer_mm >= LEAST_LAYER_MM and _does(replace(setup, blank_mm=layer_mm), short):
        yield f"make it in pinned layers (witnessmark layers), each from a blank at most {layer_mm:.1f} mm high"


def _does(setup: Setting, short: Short) -> bool:
    return short(setup) <= 0


def _tenth_up(length_mm: float) -> float:
    return round(math.ceil(length_mm / TENTH_MM - 1e-6) * TENTH_MM, 1)


def _tenth_down(length_mm: float) -> float:
    return round(math.floor(length_mm / TENTH_MM + 1e-6) * TENTH_MM, 1)


def _with_stick_out(setup: Setting, stickout_mm: float) -> Setting:
    return replace(setup, cutter=setup.cutter.model_copy(update={"stickout_mm": stickout_mm}))


def _deeper_words(before: Setting, after: Setting, less_mm: float) -> str:
    stickout_mm = after.cutter.stickout_mm
    words = f"set the cutter at least {less_mm:.1f} mm deeper into the collet (stick-out {stickout_mm:.1f} mm"
    lowest_mm = reachable(after.cutter, after.machine, after.settings).lowest_tip_mm
    if lowest_mm > reachable(before.cutter, before.machine, before.settings).lowest_tip_mm + TENTH_MM / 2:
        words += f"; its tip then comes no lower than {lowest_mm:.1f} mm above the board"
    return words + ")"


def _with_board(setup: Setting, thickness_mm: float) -> Setting:
    board = setup.machine.board
    if board is None:
        return setup
    thinner = board.model_copy(update={"thickness_mm": thickness_mm})
    return replace(setup, machine=setup.machine.model_copy(update={"board": thinner}))


STICK_OUT = Knob(
    lambda setup: setup.cutter.stickout_mm,
    lambda setup: max(setup.cutter.flute_length_mm, LEAST_STICKOUT_MM),
    _with_stick_out,
    _deeper_words,
)
BOARD = Knob(
    lambda setup: setup.machine.support_z_bed_mm,
    lambda setup: min(LEAST_BOARD_MM, setup.machine.support_z_bed_mm),
    _with_board,
    lambda before, after, less_mm: (
        f"use a movable board at least {less_mm:.1f} mm thinner ({after.machine.support_z_bed_mm:.1f} mm)"
    ),
)
BLANK = Knob(
    lambda setup: setup.blank_mm,
    lambda setup: setup.least_blank_mm,
    lambda setup, height_mm: replace(setup, blank_mm=height_mm),
    lambda before, after, less_mm: f"plane the blank at least {less_mm:.1f} mm thinner ({after.blank_mm:.1f} mm)",
)
