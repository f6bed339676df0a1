"""Where the movable board sits on the bed, told by hole numbers. Bed mm, from the front left corner of the travel.

Both long edges of the board carry a row of holes. Holes are numbered from 1 at the left (or front) end; two of each
row sit over fixed inserts in the spoilboard, and moving the board by whole holes is how a placement is reached.
The heads of the bolts in them are hardware that nothing may touch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from witnessmark.job.models import Machine
from witnessmark.job.placement import Obstacle, Placement, Rectangle, board_rectangle

WHOLE_MM = 0.01  # a shift this close to whole holes is taken as whole
HEAD_SIDES = 12  # a bolt's head as a prism round it


@dataclass(frozen=True)
class Seat:
    """The board on the bed, its holes, and the numbers of those over the fixed inserts (none: it lies between)."""

    board_mm: Rectangle
    inserts_mm: tuple[tuple[float, float], ...]
    bolted: tuple[int, ...]
    holes_each: int
    along: int  # the rows run along x (0) or y (1)
    first_mm: float
    pitch_mm: float
    rows_mm: tuple[float, float]

    @cached_property
    def holes_mm(self) -> tuple[tuple[tuple[float, float], ...], ...]:
        """Each hole's centre, row by row."""
        places = [self.first_mm + k * self.pitch_mm for k in range(self.holes_each)]
        return tuple(tuple(_xy(self.along, place, row) for place in places) for row in self.rows_mm)


def blank_on_bed(placement: Placement, blank_mm: Rectangle) -> Rectangle:
    """The blank's rectangle (standing frame) on the bed."""
    dx, dy = placement.shift_mm
    return (blank_mm[0] + dx, blank_mm[1] + dy, blank_mm[2] + dx, blank_mm[3] + dy)


def seat_of(machine: Machine, placement: Placement, blank_mm: Rectangle) -> Seat | None:
    """The board centred under the blank; None on a machine without one."""
    board = machine.board
    rectangle = board_rectangle(machine, blank_on_bed(placement, blank_mm))
    if board is None or rectangle is None:
        return None
    along = 0 if board.size_x_mm >= board.size_y_mm else 1
    length_mm = (board.size_x_mm, board.size_y_mm)[along]
    count = int((length_mm - 2 * board.hole_inset_mm) / board.hole_pitch_mm + 1e-9) + 1
    first_mm = rectangle[along] + (length_mm - (count - 1) * board.hole_pitch_mm) / 2
    rows_mm = (rectangle[1 - along] + board.hole_inset_mm, rectangle[3 - along] - board.hole_inset_mm)
    inserts_mm, bolted = _bolts(machine, along, first_mm, board.hole_pitch_mm if count > 1 else 1.0, count)
    inserts = tuple(_xy(along, place, row) for row in rows_mm for place in inserts_mm)
    return Seat(rectangle, inserts, bolted, count, along, first_mm, board.hole_pitch_mm, rows_mm)


def bolt_heads(machine: Machine, placement: Placement, blank_mm: Rectangle) -> tuple[Obstacle, ...]:
    """The bolts' heads on the board, standing frame; heads under the blank are left away (they are sunk there)."""
    board = machine.board
    if board is None or board.bolt_head_height_mm <= 0.0:
        return ()
    radius_mm = board.bolt_head_diameter_mm / 2
    return tuple(
        Obstacle("a bolt of the movable board", _round(x, y, radius_mm), 0.0, board.bolt_head_height_mm)
        for x, y in _bolts_standing(machine, placement, blank_mm)
        if not _under(blank_mm, x, y, radius_mm)
    )


def sunk_note(machine: Machine, placement: Placement, blank_mm: Rectangle) -> tuple[str, ...]:
    """What is to be said of bolts that lie under the blank."""
    board = machine.board
    if board is None or board.bolt_head_height_mm <= 0.0:
        return ()
    bolts = _bolts_standing(machine, placement, blank_mm)
    sunk = sum(_under(blank_mm, x, y, board.bolt_head_diameter_mm / 2) for x, y in bolts)
    return (f"{sunk} bolts lie under the blank: sink their heads below the board's face",) if sunk else ()


def _bolts_standing(machine: Machine, placement: Placement, blank_mm: Rectangle) -> list[tuple[float, float]]:
    """Where the bolts are, standing frame."""
    seat = seat_of(machine, placement, blank_mm)
    if seat is None or not seat.bolted:
        return []
    dx, dy = placement.shift_mm
    return [(x - dx, y - dy) for x, y in seat.inserts_mm]


def _under(blank_mm: Rectangle, x_mm: float, y_mm: float, radius_mm: float) -> bool:
    x0, y0, x1, y1 = blank_mm
    return x0 - radius_mm < x_mm < x1 + radius_mm and y0 - radius_mm < y_mm < y1 + radius_mm


def _round(x_mm: float, y_mm: float, radius_mm: float) -> tuple[tuple[float, float], ...]:
    """Corners of the regular polygon round a circle."""
    corner_mm = radius_mm / math.cos(math.pi / HEAD_SIDES)
    turns = [2 * math.pi * k / HEAD_SIDES for k in range(HEAD_SIDES)]
    return tuple((x_mm + corner_mm * math.cos(t), y_mm + corner_mm * math.sin(t)) for t in turns)


def _xy(along: int, place_mm: float, row_mm: float) -> tuple[float, float]:
    return (place_mm, row_mm) if along == 0 else (row_mm, place_mm)


def holes_off_middle_mm(machine: Machine, axis: str) -> float:
    """How far off the middle of the travel, along an axis, the board's middle lies when its holes meet the bolts."""
    board = machine.board
    along = "x" if board is None or board.size_x_mm >= board.size_y_mm else "y"
    if board is None or axis != along or not board.bolt_places_mm:
        return 0.0
    length_mm, travel_mm = (
        (board.size_x_mm, machine.travel_x_mm) if axis == "x" else (board.size_y_mm, machine.travel_y_mm)
    )
    count = int((length_mm - 2 * board.hole_inset_mm) / board.hole_pitch_mm + 1e-9) + 1
    first_mm = travel_mm / 2 - (count - 1) * board.hole_pitch_mm / 2
    off_mm = (board.bolt_places_mm[0] - first_mm) % board.hole_pitch_mm
    return off_mm - board.hole_pitch_mm if off_mm > board.hole_pitch_mm / 2 else off_mm


def _bolts(
    machine: Machine, along: int, hole_mm: float, pitch_mm: float, count: int
) -> tuple[list[float], tuple[int, ...]]:
    """Places of the fixed inserts along the rows, and the hole numbers over them here.

    Where the job does not say, the inserts lie under whole holes of the board centred on the travel, about a quarter
    of the travel to either side of its middle.
    """
    travel_mm = (machine.travel_x_mm, machine.travel_y_mm)[along]
    centred_mm = travel_mm / 2 - (count - 1) * pitch_mm / 2
    wanted = [math.floor((share * travel_mm - centred_mm) / pitch_mm + 0.5) for share in (0.25, 0.75)]
    stated = machine.board.bolt_places_mm if machine.board else ()
    inserts_mm = list(stated) or [centred_mm + k * pitch_mm for k in wanted]
    numbers = [(insert - hole_mm) / pitch_mm + 1 for insert in inserts_mm]
    whole = all(abs(n - round(n)) * pitch_mm < WHOLE_MM and 1 <= round(n) <= count for n in numbers)
    return inserts_mm, tuple(round(n) for n in numbers) if whole else ()
