"""Room at the machine: what must be kept clear beyond its ends, and how far the dust shoe stays off the wood."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.job.models import Cutter, Job, Machine
from witnessmark.plan.model import PlacementPlan, ProgramInfo

from .scene import Scene
from .words import mm

TIGHT_MM = 1.0  # what sticks out by less needs no line of its own


@dataclass(frozen=True)
class FreeRoom:
    """How far work and board reach beyond the two ends of the travel (gantry moves), or before and behind the
    spindle once the table has carried them to the ends of its travel (table moves), mm."""

    axis: str
    low_mm: float
    high_mm: float


def free_room(machine: Machine, scene: Scene) -> FreeRoom:
    """Along the axis on which work may stick out."""
    k = 0 if machine.overhang_axis == "x" else 1
    boxes = [scene.blank_mm] + ([scene.seat.board_mm] if scene.seat is not None else [])
    low, high = min(box[k] for box in boxes), max(box[k + 2] for box in boxes)
    travel_mm = (machine.travel_x_mm, machine.travel_y_mm)[k]
    if machine.moves == "table":
        return FreeRoom(machine.overhang_axis, travel_mm - low, high)
    return FreeRoom(machine.overhang_axis, max(0.0, -low), max(0.0, high - travel_mm))


def room_line(machine: Machine, scene: Scene) -> str:
    """What to keep clear; '' where nothing sticks out."""
    room = free_room(machine, scene)
    ends = ("left", "right") if room.axis == "x" else ("front", "back")
    if machine.moves == "table":
        return (
            f"The table carries the work: keep clear {mm(room.low_mm, 0)} mm at the {ends[0]} of the spindle and "
            f"{mm(room.high_mm, 0)} mm at the {ends[1]}."
        )
    sticks = [(how_far, end) for how_far, end in zip((room.low_mm, room.high_mm), ends) if how_far > TIGHT_MM]
    if not sticks:
        return ""
    told = " and ".join(f"{mm(how_far, 0)} mm at the {end}" for how_far, end in sticks)
    return f"Keep clear beyond the travel: {told}."


def shoe_above_wood_mm(machine: Machine, cutter: Cutter, plan: PlacementPlan, program: ProgramInfo) -> float | None:
    """How far the shoe stays above the highest wood or hardware of a placement; None without a shoe.

    The least there can be: the tip at its lowest anywhere, beside the highest of all.
    """
    if machine.shoe is None:
        return None
    shoe_at_mm = program.lowest_tip_mm + cutter.stickout_mm + machine.nut_length_mm - machine.shoe.below_nose_mm
    highest_mm = max([float(plan.top_before.max()), *(part.z_to_mm for part in plan.placement.obstacles)])
    return shoe_at_mm - highest_mm


def shoe_words(job: Job, cutter: Cutter | None, plan: PlacementPlan, program: ProgramInfo) -> str:
    """Whether the shoe is on or off for a program; '' on a machine without one."""
    machine = job.machine
    if cutter is None or machine.shoe is None:
        return ""
    if machine.shoe_on:
        return "shoe on"
    clear_mm = shoe_above_wood_mm(machine, cutter, plan, program)
    if clear_mm is not None and clear_mm >= max(TIGHT_MM, job.settings.assembly_clearance_mm):
        return f"shoe on: {mm(clear_mm, 0)} mm clear"
    return "shoe off"
