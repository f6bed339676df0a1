"""What a machine can do with a cutter, as plain numbers for the fields below: profile, steps, heights of the tip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.field.profile import profile_vector
from witnessmark.job.assembly import Assembly, assembly_of
from witnessmark.job.frames import Floats
from witnessmark.job.models import Cutter, Job, Machine, Settings


@dataclass(frozen=True, eq=False)
class Reachable:
    """A cutter in the machine: profile (6,), rigid steps (k, 3), the tip's range above the supporting face, mm."""

    assembly: Assembly
    profile: Floats
    steps: Floats
    lowest_tip_mm: float
    highest_tip_mm: float

    @property
    def cutter(self) -> Cutter:
        return self.assembly.cutter


def reachable(cutter: Cutter, machine: Machine, settings: Settings) -> Reachable:
    """The numbers of a cutter in this machine; the assembly grows sideways by the clearance asked for."""
    assembly = assembly_of(cutter, machine, machine.shoe_on)
    profile = profile_vector(cutter.kind, cutter.diameter_mm, cutter.corner_radius_mm, cutter.included_angle_deg)
    clear_mm = settings.assembly_clearance_mm
    steps = np.array(
        [
            (step.radius_mm + (clear_mm if step.kind not in ("neck", "shank") else 0.0), step.z_from_mm, step.z_to_mm)
            for step in assembly.rigid_steps()
        ]
    )
    highest = machine.nose_above_bed_mm - assembly.tip_below_nose_mm - machine.support_z_bed_mm
    return Reachable(assembly, profile, steps, max(0.0, highest - machine.travel_z_mm), highest)


def main_cutter(job: Job) -> Cutter:
    """The cutter that clears most: the widest flat or bull-nosed one, else the widest there is."""
    flat = [cutter for cutter in job.planned_cutters if cutter.kind in ("flat", "bull")]
    return max(flat or list(job.planned_cutters), key=lambda cutter: cutter.diameter_mm)


def finishing_cutters(job: Job) -> tuple[Cutter, ...]:
    """The cutters that go round whole walls: the main one and the balls. Smaller ones only go where there is room."""
    main = main_cutter(job)
    return tuple(cutter for cutter in job.cutters if cutter.name == main.name or cutter.kind == "ball")
