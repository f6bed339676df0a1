"""A program that touches a placement's faces and heights with a touch probe, and what its results say.

Question  where does the stylus touch, written by the machine itself
Frame     program frame
Units     mm
Method    for each touch: high over the work to beside the face, down by feed, towards it by G38.2 until it trips, a
          stop (M0) at which the number may be read off, back, and up. A height is probed downward. A probe that does
          not trip within its way is an error of the machine, as the standard has it
Source    NIST IR 6556: G38.2 and M0 (from memory)
Valid     controllers that take G38.2; touches open from above
Refuses   a controller without it, places outside the travel, results that are none (Refusal)
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.job.errors import refuse
from witnessmark.job.models import Machine
from witnessmark.job.units import MM_PER_INCH

from .header import header_lines
from .number import counts, shown, shown_count

FAST_MM_MIN = 600.0  # down beside the work, and back
SLOW_MM_MIN = 60.0  # towards the face
LARGEST_RESULTS = 100_000  # characters
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


@dataclass(frozen=True)
class Target:
    """A touch to probe: from beside it (x, y, z of the tip) along ``axis`` (0, 1, 2) by ``way_mm`` at most."""

    name: str
    start_mm: tuple[float, float, float]
    axis: int
    way_mm: float


def write_probe(
    targets: Sequence[Target], machine: Machine, safe_z_mm: float, entries: Sequence[tuple[str, str]]
) -> str:
    """The program; its results are the machine's x, y, z at each trip, in order."""
    controller = machine.controller
    if not controller.probing:
        what = "the controller is said to take no probing moves (G38.2)"
        raise refuse(
            "machine.controller.probing", what, "type readings instead", "or set it true if its manual says so"
        )
    inch = controller.units == "inch"
    step_mm = 10.0**-controller.decimals * (MM_PER_INCH if inch else 1.0)
    travel = np.array([machine.travel_x_mm, machine.travel_y_mm])

    def word(axis: int, value_mm: float) -> str:
        return "XYZ"[axis] + shown_count(int(counts(np.array([value_mm]), step_mm)[0]), controller.decimals)

    def feed(feed_mm_min: float) -> str:
        return f"F{shown(feed_mm_min / (MM_PER_INCH if inch else 1.0), 2)}"

    lines = [f"G17 {'G20' if inch else 'G21'} G40 G49 G54 G80 G90 G94", "M5", f"G0 {word(2, safe_z_mm)}"]
    for target in targets:
        x, y, z = target.start_mm
        end = target.start_mm[target.axis] + target.way_mm
        reach = np.array([[x, y], [end, y] if target.axis == 0 else [x, end] if target.axis == 1 else [x, y]])
        if (reach < 0).any() or (reach > travel).any():
            what = f"the probe would leave the travel at x {x:.1f} y {y:.1f}"
            raise refuse(f"touch {target.name}", what, "read this placement by hand")
        if controller.comments:
            lines += header_lines([("touch", target.name)])
        lines += [f"G0 {word(0, x)} {word(1, y)}", f"G1 {word(2, z)} {feed(FAST_MM_MIN)}"]
        lines += [f"G38.2 {word(target.axis, end)} {feed(SLOW_MM_MIN)}", "M0"]
        back = target.start_mm[target.axis]
        lines += [f"G1 {word(target.axis, back)} {feed(FAST_MM_MIN)}", f"G0 {word(2, safe_z_mm)}"]
    header = header_lines(list(entries)) if controller.comments else []
    return "\n".join([*header, *lines, "M2", ""])


def results_of(
    text: str, targets: Sequence[Target], where: str = "results", unit_mm: float = 1.0
) -> dict[str, float]:
    """The numbers of a pasted or saved result by touch: a line for each trip, either x y z in the program's order, or
    the touch's name and its one number. ``unit_mm``: of the numbers. Refusal where they are neither."""
    if len(text) > LARGEST_RESULTS:
        raise refuse(where, "is longer than any result", "give the lines of the trips alone")
    lines = [line for line in text.splitlines() if _NUMBER.search(line)]
    by_name = {target.name.split()[0].upper(): target for target in targets}
    named = [line.replace("=", " ").replace(",", " ").split() for line in lines]
    if lines and all(len(parts) == 2 and parts[0].upper() in by_name for parts in named):
        return {parts[0].upper(): unit_mm * _finite(parts[1], where) for parts in named}
    if len(lines) != len(targets):
        what = f"has {len(lines)} lines with numbers, and {len(targets)} places were probed"
        raise refuse(
            where, what, "give one line for each trip, in the program's order", "or the touch and its number"
        )
    found = {}
    for line, target in zip(lines, targets):
        numbers = _NUMBER.findall(line)
        if len(numbers) < 3:
            raise refuse(where, f"holds no x, y and z: {line[:60]}", "give x y z of each trip")
        found[target.name.split()[0].upper()] = unit_mm * _finite(numbers[-3:][target.axis], where)
    return found


def _finite(text: str, where: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise refuse(where, f"holds what is no number: {text[:40]}", "type it again")
    return value
