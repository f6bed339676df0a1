"""Where the movable board sits on the bed, told by hole numbers. Bed mm, from the front left corner of the travel.

Both long edges of the board carry a row of holes. Holes are numbered from 1 at the left (or front) end; two of each
row sit over fixed inserts in the spoilboard, and moving the board by whole holes is how a placement is reached.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.job.models import Machine
from witnessmark.job.placement import Placement, Rectangle

WHOLE_MM = 0.01  # a shift this close to whole holes is taken as whole


@dataclass(frozen=True)
class Seat:
    """The board on the bed, its holes, and the numbers of those over the fixed inserts (none: it lies between)."""

    board_mm: Rectangle
    holes_mm: tuple[tuple[tuple[float, float], ...], ...]  # rows; each hole's centre
    inserts_mm: tuple[tuple[float, float], ...]
    bolted: tuple[int, ...]
    holes_each: int


def blank_on_bed(placement: Placement, blank_mm: Rectangle) -> Rectangle:
    """The blank's rectangle (standing frame) on the bed."""
    dx, dy = placement.shift_mm
    return (blank_mm[0] + dx, blank_mm[1] + dy, blank_mm[2] + dx, blank_mm[3] + dy)


def seat_of(machine: Machine, placement: Placement, blank_mm: Rectangle) -> Seat | None:
    """The board centred under the blank; None on a machine without one."""
    board = machine.board
    if board is None:
        return None
    on_bed = blank_on_bed(placement, blank_mm)
    x, y = (on_bed[0] + on_bed[2]) / 2, (on_bed[1] + on_bed[3]) / 2
    rectangle = (x - board.size_x_mm / 2, y - board.size_y_mm / 2, x + board.size_x_mm / 2, y + board.size_y_mm / 2)
    along = 0 if board.size_x_mm >= board.size_y_mm else 1
    length_mm = (board.size_x_mm, board.size_y_mm)[along]
    count = int((length_mm - 2 * board.hole_inset_mm) / board.hole_pitch_mm + 1e-9) + 1
    first_mm = rectangle[along] + (length_mm - (count - 1) * board.hole_pitch_mm) / 2
    places_mm = [first_mm + k * board.hole_pitch_mm for k in range(count)]
    rows_mm = (rectangle[1 - along] + board.hole_inset_mm, rectangle[3 - along] - board.hole_inset_mm)
    holes = tuple(tuple(_xy(along, place, row) for place in places_mm) for row in rows_mm)
    inserts_mm, bolted = _bolts(machine, along, places_mm, count)
    inserts = tuple(_xy(along, place, row) for row in rows_mm for place in inserts_mm)
    return Seat(rectangle, holes, inserts, bolted, count)


def _xy(along: int, place_mm: float, row_mm: float) -> tuple[float, float]:
    return (place_mm, row_mm) if along == 0 else (row_mm, place_mm)


def _bolts(machine: Machine, along: int, places_mm: list[float], count: int) -> tuple[list[float], tuple[int, ...]]:
    """Places of the fixed inserts along the rows, and the hole numbers over them here.

    The inserts lie under whole holes of the board centred on the travel, about a quarter of the travel to either
    side of its middle.
    """
    travel_mm = (machine.travel_x_mm, machine.travel_y_mm)[along]
    pitch_mm = places_mm[1] - places_mm[0] if count > 1 else 1.0
    centred_mm = travel_mm / 2 - (count - 1) * pitch_mm / 2
    wanted = [math.floor((share * travel_mm - centred_mm) / pitch_mm + 0.5) for share in (0.25, 0.75)]
    inserts_mm = [centred_mm + k * pitch_mm for k in wanted]
    numbers = [(insert - places_mm[0]) / pitch_mm + 1 for insert in inserts_mm]
    whole = all(abs(n - round(n)) * pitch_mm < WHOLE_MM and 1 <= round(n) <= count for n in numbers)
    return inserts_mm, tuple(round(n) for n in numbers) if whole else ()
