"""Every place where the blank could stand: side up and shift of the movable board on its hole pitch."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.job.errors import Trouble
from witnessmark.job.frames import Floats, standing
from witnessmark.job.models import Blank, Job, Machine, PieceSpec
from witnessmark.job.placement import Hold, Placement, Rectangle, rectangle_outline

from .board import bolt_heads, holes_off_middle_mm

DEFAULT_PITCH_MM = 25.0  # shift step where the machine has no movable board with holes
MOST_SHIFTS = 20  # to either side of the middle


@dataclass(frozen=True, eq=False)
class BlankBox:
    """The blank's two corners (3,) in the piece frame, mm."""

    lower_mm: Floats
    upper_mm: Floats

    @property
    def size_mm(self) -> Floats:
        return self.upper_mm - self.lower_mm


def blank_box(blank: Blank, piece_lower_mm: Floats, piece_upper_mm: Floats) -> BlankBox:
    """The blank round the piece: centred in x and y with ``below_mm`` of it beneath, or where its corner is said."""
    size = np.array([blank.size_x_mm, blank.size_y_mm, blank.size_z_mm])
    if blank.corner_mm is not None:
        corner = np.array(blank.corner_mm)
        return BlankBox(corner, corner + size)
    middle = np.round((piece_lower_mm + piece_upper_mm) / 2, 2)  # facets of a curve do not shift the blank
    half = size / 2
    lower = np.array([middle[0] - half[0], middle[1] - half[1], piece_lower_mm[2] - blank.below_mm])
    return BlankBox(lower, lower + size)


def shift_steps(
    length_mm: float, travel_mm: float, pitch_mm: float, room_mm: float = math.inf, off_mm: float = 0.0
) -> list[float]:
    """Shifts, multiples of the pitch, that could show another part of the blank; none where it has no room at all.

    ``room_mm``: how far off the middle of the travel the board's middle can lie before it meets something (the
    uprights); ``off_mm``: where it lies unshifted. Where the pitch is so fine that there are more than
    ``MOST_SHIFTS`` to either side, only every so manieth hole is looked at.
    """
    most_mm = max(0.0, min((length_mm - travel_mm) / 2 + pitch_mm, room_mm + abs(off_mm)))
    step_mm = pitch_mm * max(1, math.ceil(most_mm / pitch_mm / MOST_SHIFTS))
    count = int(most_mm / step_mm + 1e-9)
    steps = [k * step_mm for k in range(-count, count + 1)]
    return [step for step in steps if abs(off_mm + step) <= room_mm + 1e-9]


def candidates(job: Job, spec: PieceSpec, box: BlankBox, up: str) -> list[Placement]:
    """All shifts with the side ``up`` on top, without region, cutters or bolts' heads yet."""
    machine = job.machine
    stand = standing(up, box.lower_mm, box.upper_mm)
    corners = np.stack([stand.apply(box.lower_mm), stand.apply(box.upper_mm)])
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle = (low + high) / 2
    pitch_mm = machine.board.hole_pitch_mm if machine.board else DEFAULT_PITCH_MM
    off = (
        machine.travel_x_mm / 2 + holes_off_middle_mm(machine, "x"),
        machine.travel_y_mm / 2 + holes_off_middle_mm(machine, "y"),
    )
    cutters = tuple(cutter.name for cutter in job.planned_cutters)
    held = Hold("tape", rectangle_outline((low[0], low[1], high[0], high[1])))
    found = []
    for dx in _along(machine, "x", float(high[0] - low[0]), pitch_mm):
        for dy in _along(machine, "y", float(high[1] - low[1]), pitch_mm):
            shift = (off[0] - middle[0] + dx, off[1] - middle[1] + dy)
            found.append(
                Placement(
                    name="",
                    up=up,
                    stand=stand,
                    shift_mm=(round(float(shift[0]), 3), round(float(shift[1]), 3)),
                    support_z_bed_mm=machine.support_z_bed_mm,
                    region_mm=_rectangle(low, high),
                    cutters=cutters,
                    holds=(held,),
                )
            )
    return found


def with_bolt_heads(machine: Machine, place: Placement) -> Placement:
    """A candidate with the hardware that it has on the board."""
    return replace(place, obstacles=bolt_heads(machine, place, place.region_mm))


def _rectangle(low: Floats, high: Floats) -> Rectangle:
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def _along(machine: Machine, axis: str, length_mm: float, pitch_mm: float) -> list[float]:
    travel_mm = machine.travel_x_mm if axis == "x" else machine.travel_y_mm
    if axis == machine.overhang_axis:
        return shift_steps(length_mm, travel_mm, pitch_mm)
    room_mm = (machine.clear_width_mm - across_mm(machine, length_mm)) / 2
    return shift_steps(length_mm, travel_mm, pitch_mm, room_mm, holes_off_middle_mm(machine, axis))


def across_mm(machine: Machine, blank_across_mm: float) -> float:
    """What has to pass between the uprights: the blank or the board under it, whichever is wider."""
    board = machine.board
    if board is None:
        return blank_across_mm
    return max(blank_across_mm, board.size_y_mm if machine.overhang_axis == "x" else board.size_x_mm)


def upright_troubles(job: Job, spec: PieceSpec, box: BlankBox) -> list[Trouble]:
    """Why the blank on its board passes between the uprights nowhere; none where it does."""
    machine, axis = job.machine, "y" if job.machine.overhang_axis == "x" else "x"
    blank_mm = float(box.size_mm[1 if axis == "y" else 0])
    pitch_mm = machine.board.hole_pitch_mm if machine.board else DEFAULT_PITCH_MM
    if _along(machine, axis, blank_mm, pitch_mm):
        return []
    clear_mm, wide_mm = machine.clear_width_mm, across_mm(machine, blank_mm)
    if blank_mm > clear_mm:
        return [
            Trouble(
                f"job.toml, piece {spec.name}, blank.size_{axis}_mm",
                f"is wider than the {clear_mm:g} mm between the uprights",
                (
                    f"make the blank at most {clear_mm:g} mm along {axis}",
                    "turn the drawing by a quarter, so that its longer way lies along the open axis",
                    "measure machine.clear_width_mm again",
                ),
                f"by {blank_mm - clear_mm:.1f} mm",
            )
        ]
    if wide_mm > clear_mm:
        return [
            Trouble(
                f"job.toml, machine.board.size_{axis}_mm",
                f"is wider than the {clear_mm:g} mm between the uprights",
                (f"use a board at most {clear_mm:g} mm wide along {axis}", "measure machine.clear_width_mm again"),
                f"by {wide_mm - clear_mm:.1f} mm",
            )
        ]
    off_mm = abs(holes_off_middle_mm(machine, axis))
    return [
        Trouble(
            "job.toml, machine.board",
            "bolted in its holes, meets an upright wherever it is put",
            (
                f"use a board at most {clear_mm - 2 * off_mm:g} mm wide along {axis}",
                "see machine.board.bolt_places_mm",
            ),
            f"by {off_mm - (clear_mm - wide_mm) / 2:.1f} mm",
        )
    ]
