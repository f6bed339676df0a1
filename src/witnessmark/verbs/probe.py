"""probe: the program by which a touch probe reads a placement, and the readings from what it says."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from witnessmark.job.names import file_stem
from witnessmark.job.placement import Placement
from witnessmark.job.units import MM_PER_INCH
from witnessmark.job.whole import write_text_whole
from witnessmark.locate.typed import axis_of, expected_mm
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.touches import FINDER_MM
from witnessmark.program.probe import Target, results_of, write_probe

from .placed import placed
from .text import program_text

FREE_MM = 10.0  # and from an edge of the blank, where nothing stands
BEYOND_MM = 6.0  # so much further than planned it looks for the face
ABOVE_MM = 8.0  # over a height that is probed downward
SAFE_MM = 8.0  # over the blank, on the way


def probe_program(folder: Path | str, piece: str | None, placement: str, stylus_mm: float) -> Path:
    """Write ``out/probe/...nc``; refused where the controller does not probe, or a touch is beyond the travel."""
    workshop, plan, place = placed(folder, piece, placement)
    box = blank_box(plan.piece.blank, *workshop.solids[plan.piece.name].bounds_mm)
    entries = [
        ("piece", plan.piece.name),
        ("placement", place.name),
        ("side up", place.up),
        ("probe", f"stylus {stylus_mm:g} mm; z 0 is the supporting face, touched off with the stylus"),
        ("results", "write down or copy x y z at each stop, in this order: then witnessmark find --results"),
    ]
    targets = targets_of(place, stylus_mm)
    text = write_probe(targets, workshop.job.machine, float(box.size_mm[2]) + SAFE_MM, entries)
    path = workshop.folder.out("probe", f"{file_stem(plan.piece.name)}-{file_stem(place.name)}-probe.nc")
    write_text_whole(path, text)
    return path


def probe_results(
    folder: Path | str, piece: str | None, placement: str, stylus_mm: float, results: Path
) -> tuple[dict[int, float], dict[int, float]]:
    """What the touches and the heights read, by number, from a file of results."""
    workshop, _, place = placed(folder, piece, placement)
    unit_mm = MM_PER_INCH if workshop.job.machine.controller.units == "inch" else 1.0
    found = results_of(program_text(results), targets_of(place, stylus_mm), str(results), unit_mm)
    touches = {int(name): value for name, value in found.items() if not name.startswith("L")}
    return touches, {int(name[1:]): value for name, value in found.items() if name.startswith("L")}


def targets_of(place: Placement, stylus_mm: float) -> list[Target]:
    """Heights first, then every touch, in the order of their numbers."""
    targets = []
    for number, touch in enumerate(place.levels, 1):
        x, y, z = expected_mm(place, touch, 0.0)
        targets.append(Target(f"L{number} {touch.name}", (x, y, z + ABOVE_MM), 2, -(ABOVE_MM + BEYOND_MM)))
    for number, touch in enumerate(place.touches, 1):
        if touch.kind == "bore":
            continue  # its middle takes four trips: read it by hand
        axis = axis_of(place, touch)
        normal = place.stand.rotation @ np.array(touch.normal)
        at = np.array(expected_mm(place, touch, stylus_mm / 2))
        apart = FREE_MM if touch.known_from == "measured" else FINDER_MM - stylus_mm / 2
        away = apart / abs(float(normal[axis]))  # along the axis, at the planned place across it, as readings are
        way = math.copysign(1.0, float(normal[axis]))
        start = [float(v) for v in at]
        start[axis] += way * away
        targets.append(
            Target(f"{number} {touch.name}", (start[0], start[1], start[2]), axis, -way * (away + BEYOND_MM))
        )
    return targets
