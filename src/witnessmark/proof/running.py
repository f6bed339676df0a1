"""One program run on the wood as it stands: read, carried back, cut and watched."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.chords import chords
from witnessmark.field.profile import profile_vector
from witnessmark.job.assembly import Assembly, assembly_of
from witnessmark.job.models import Cutter, Machine, Settings
from witnessmark.job.placement import Placement
from witnessmark.program.motion import ARC_CCW, ARC_CW, PROBE, MotionTable
from witnessmark.program.moves import back_to_standing, carried_back

from .charges import Dock
from .contact import watched
from .controller import controller_findings
from .finding import Finding
from .hardware import hardware_findings, touch_off_findings
from .loads import Taken
from .states import cutting_findings, header_findings, plunge_findings, support_findings, travel_findings
from .under import watched_under
from .verdict import ProgramText
from .wood import Wood

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Pose = tuple[float, float, float]

FAR_MM = 10_000.0
MOST_TURNS = 1000
_COLUMNS = [f.name for f in fields(MotionTable) if f.name not in ("remarks", "header", "used")]


@dataclass(frozen=True, eq=False)
class Ran:
    """What one program did: rows (k, 9) in the standing frame, the motion of each, and what was found."""

    table: MotionTable
    rows: Floats
    parent: Ints
    taken: Taken
    findings: list[Finding]


def profile_of(cutter: Cutter) -> Floats:
    """The cutter's profile (6,) for the field kernels."""
    return profile_vector(
        cutter.kind,
        cutter.diameter_mm,
        cutter.corner_radius_mm,
        cutter.included_angle_deg,
        cutter.flute_length_mm,
    )


def rows_of(
    table: MotionTable, shift_mm: tuple[float, float], turn_rad: float, kept: NDArray[np.bool_] | None = None
) -> tuple[Floats, Ints]:
    """Move rows in the frame that lies turned and shifted in the program frame, in order, and their motions.

    ``kept`` (n,) leaves out motions that are not to be cut.
    """
    numbers = np.arange(len(table)) if kept is None else np.flatnonzero(kept)
    part = _only(table, numbers)
    carried = carried_back(part, shift_mm[0], shift_mm[1], turn_rad)
    climbing = carried.chorded
    straight, owner = chords(
        part.start_mm[climbing],
        part.end_mm[climbing],
        part.centre_mm[climbing],
        part.plane[climbing],
        part.kind[climbing] == ARC_CCW,
        part.turns[climbing],
    )
    straight[:, 0:3] = back_to_standing(straight[:, 0:3], shift_mm[0], shift_mm[1], turn_rad)
    straight[:, 3:6] = back_to_standing(straight[:, 3:6], shift_mm[0], shift_mm[1], turn_rad)
    parent = np.concatenate([carried.parent, climbing[owner]]).astype(np.int64)
    order = np.argsort(parent, kind="stable")
    return np.concatenate([carried.rows, straight])[order], numbers[parent[order]]


def _only(table: MotionTable, numbers: Ints) -> MotionTable:
    """The table with these motions alone."""
    if len(numbers) == len(table):
        return table
    return replace(table, **{name: getattr(table, name)[numbers] for name in _COLUMNS})


def absurd_motions(table: MotionTable) -> NDArray[np.bool_]:
    """Motions so far off, or so often round, that no router could follow: they are told, and not cut."""
    arc = (table.kind == ARC_CW) | (table.kind == ARC_CCW)
    far = np.abs(np.concatenate([table.start_mm, table.end_mm], axis=1)).max(axis=1, initial=0.0)
    to_centre = np.abs(np.nan_to_num(table.start_mm - table.centre_mm)).max(axis=1, initial=0.0)
    return (far > FAR_MM) | (arc & ((to_centre > FAR_MM) | (table.turns > MOST_TURNS)))


def run_program(
    program: ProgramText,
    table: MotionTable,
    placement: Placement,
    cutter: Cutter,
    machine: Machine,
    settings: Settings,
    pose: Pose,
    wood: Wood,
) -> Ran:
    """Cut the wood, which stands as the placement says, with a program and find what is wrong with it on the way."""
    dx_mm, dy_mm, turn_rad = pose
    shift = (placement.shift_mm[0] + dx_mm, placement.shift_mm[1] + dy_mm)
    assembly: Assembly = assembly_of(cutter, machine, machine.shoe_on)
    absurd = absurd_motions(table)
    as_written, written_parent = rows_of(table, (0.0, 0.0), 0.0, ~absurd)
    cuts = ~absurd & (table.kind != PROBE)  # a probe stops where it touches
    rows, parent = rows_of(table, shift, turn_rad, cuts)
    dock = Dock(program.file, placement.name, table.line, table.end_mm)
    found = header_findings(table, program, cutter, placement)
    found += controller_findings(table, program, machine.controller)
    found += _absurd_findings(absurd, dock)
    found += travel_findings(as_written, written_parent, dock, assembly, machine)
    found += support_findings(table, dock)
    rotation = placement.in_axis_frame().stand.rotation
    if cutter.undercuts:
        taken, seen = watched_under(rows, parent, wood, rotation, assembly, settings, dock, turn_rad)
    else:
        heights, grid = wood.columns.top(rotation)
        heights, profile = np.ascontiguousarray(heights, dtype=np.float32), profile_of(cutter)
        taken, seen = watched(rows, parent, heights, grid, profile, assembly, settings, dock, turn_rad)
        wood.lowered(heights, rotation)
        del heights
    found += seen
    found += hardware_findings(rows, parent, assembly, placement, dock, turn_rad)
    found += touch_off_findings(rows, parent, assembly, placement, dock)
    found += cutting_findings(table, taken.depth_mm, dock, cutter, machine)
    found += plunge_findings(table, taken.depth_mm, dock, cutter)
    return Ran(table, rows, parent, taken, found)


def _absurd_findings(absurd: NDArray[np.bool_], dock: Dock) -> list[Finding]:
    return dock.charge(
        "outside travel",
        "stop",
        absurd,
        np.full(len(absurd), FAR_MM),
        lambda i: f"it goes {FAR_MM / 1000:.0f} m away or more than {MOST_TURNS} times round; it was not followed",
        ("correct this line", "check the program's units"),
    )
