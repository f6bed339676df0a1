"""One program run on the wood as it stands: read, carried back, cut and watched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights
from witnessmark.field.profile import profile_vector
from witnessmark.job.assembly import Assembly, assembly_of
from witnessmark.job.models import Cutter, Machine, Settings
from witnessmark.job.placement import Placement
from witnessmark.program.motion import MotionTable
from witnessmark.program.moves import back_to_standing, carried_back

from .charges import Dock
from .climbing import climbing_chords
from .contact import watched
from .finding import Finding
from .states import cutting_findings, header_findings, plunge_findings, support_findings, travel_findings
from .verdict import ProgramText

Floats = NDArray[np.float64]
Pose = tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Ran:
    """What one program did: rows (k, 9) in the standing frame, the motion of each, and what was found."""

    table: MotionTable
    rows: Floats
    parent: NDArray[np.int64]
    profile: Floats
    cut_mm: Floats
    findings: list[Finding]


def profile_of(cutter: Cutter) -> Floats:
    """The cutter's profile (6,) for the field kernels."""
    return profile_vector(cutter.kind, cutter.diameter_mm, cutter.corner_radius_mm, cutter.included_angle_deg)


def rows_of(table: MotionTable, shift_mm: tuple[float, float], turn_rad: float) -> tuple[Floats, NDArray[np.int64]]:
    """Move rows in the frame that lies turned and shifted in the program frame, in order, and their motions."""
    carried = carried_back(table, shift_mm[0], shift_mm[1], turn_rad)
    if not len(carried.chorded):
        return carried.rows, carried.parent
    chords, owner = climbing_chords(table, carried.chorded)
    rows = np.zeros((len(chords), 9))
    rows[:, 0:3] = back_to_standing(chords[:, 0:3], shift_mm[0], shift_mm[1], turn_rad)
    rows[:, 3:6] = back_to_standing(chords[:, 3:6], shift_mm[0], shift_mm[1], turn_rad)
    parent = np.concatenate([carried.parent, owner])
    order = np.argsort(parent, kind="stable")
    return np.concatenate([carried.rows, rows])[order], parent[order]


def run_program(
    program: ProgramText,
    table: MotionTable,
    placement: Placement,
    cutter: Cutter,
    machine: Machine,
    settings: Settings,
    pose: Pose,
    heights: Heights,
    grid: Grid,
) -> Ran:
    """Cut ``heights`` (standing frame, in place) with a program and find what is wrong with it on the way."""
    dx_mm, dy_mm, turn_rad = pose
    shift = (placement.shift_mm[0] + dx_mm, placement.shift_mm[1] + dy_mm)
    assembly: Assembly = assembly_of(cutter, machine, machine.shoe_on)
    as_written, written_parent = rows_of(table, (0.0, 0.0), 0.0)
    rows, parent = rows_of(table, shift, turn_rad)
    dock = Dock(program.file, placement.name, table.line, table.end_mm)
    found = header_findings(table, program, cutter, placement)
    found += travel_findings(as_written, written_parent, dock, assembly, machine)
    found += support_findings(table, dock)
    profile = profile_of(cutter)
    cut_mm, seen = watched(rows, parent, heights, grid, profile, assembly, placement, settings, dock)
    found += seen
    found += cutting_findings(table, cut_mm, dock, cutter, machine)
    found += plunge_findings(table, cut_mm, dock, cutter)
    return Ran(table, rows, parent, profile, cut_mm, found)
