"""A placement: which side is up and where on the bed the blank stands for one part of the cutting."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from .frames import Rigid, axis_rotation
from .models import Machine

Rectangle = tuple[float, float, float, float]  # x from, y from, x to, y to, mm


@dataclass(frozen=True)
class Hold:
    """Wood resting on the supporting face inside ``outline_mm`` (standing frame, closed ring (n, 2)) is held."""

    kind: Literal["tape", "clamp", "bolt"]
    outline_mm: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Obstacle:
    """Hardware nothing may touch: an upright prism, standing frame, mm; z above the supporting face."""

    name: str
    outline_mm: tuple[tuple[float, float], ...]
    z_from_mm: float
    z_to_mm: float


@dataclass(frozen=True)
class Bridge:
    """Wood left standing across the cut round the piece, to be sawn through in the end: an upright prism,
    standing frame, mm; z above the supporting face."""

    outline_mm: tuple[tuple[float, float], ...]
    z_from_mm: float
    z_to_mm: float

    def moved(self, to: Rigid) -> Bridge:
        """The same in another frame whose z runs along this one's, up or down."""
        xy = np.array(self.outline_mm)
        ends = [to.apply(np.column_stack([xy, np.full(len(xy), z)])) for z in (self.z_from_mm, self.z_to_mm)]
        low_mm, high_mm = sorted(float(end[0, 2]) for end in ends)
        return Bridge(tuple((float(p[0]), float(p[1])) for p in ends[0]), low_mm, high_mm)


@dataclass(frozen=True)
class Touch:
    """A feature whose place in the piece frame is known, by which a later placement is found."""

    name: str
    kind: Literal["face", "land", "bore", "corner"]
    point_mm: tuple[float, float, float]
    normal: tuple[float, float, float]
    known_from: str


@dataclass(frozen=True)
class Placement:
    """How the blank stands (piece -> standing), where (standing -> bed), and what is cut there.

    ``region_mm`` is the rectangle of the standing frame that this placement is to finish.
    """

    name: str
    up: str
    stand: Rigid
    shift_mm: tuple[float, float]
    support_z_bed_mm: float
    region_mm: Rectangle
    cutters: tuple[str, ...]
    quarter_turns: int = 0
    holds: tuple[Hold, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    touches: tuple[Touch, ...] = ()
    levels: tuple[Touch, ...] = ()  # lands whose heights tell whether it lies level
    bridges: tuple[Bridge, ...] = ()
    touch_off_mm: tuple[float, float] | None = None
    touch_off_block_mm: float = 0.0  # height of the setting block under the tip; 0: on the supporting face itself
    through_z_mm: float = 0.0  # standing height down to which outer walls are cut here (the meeting height)
    corner_z_mm: float | None = (
        None  # down to here the outer walls are seen whole: smaller cutters may go into corners
    )
    expected_step_mm: float | None = None  # where it meets others, with all touches read, in 95 of 100 cases
    notes: tuple[str, ...] = field(default=())

    @property
    def standing_to_program(self) -> Rigid:
        """Program frame: bed x, y; z above the supporting face."""
        return Rigid.shift(self.shift_mm[0], self.shift_mm[1], 0.0)

    @property
    def piece_to_bed(self) -> Rigid:
        lift = Rigid.shift(self.shift_mm[0], self.shift_mm[1], self.support_z_bed_mm)
        return lift @ self.stand

    def window_mm(self, travel_x_mm: float, travel_y_mm: float, slack_mm: float = 0.0) -> Rectangle:
        """Where the spindle axis can go, in the standing frame; ``slack_mm`` is kept for corrections."""
        x, y = self.shift_mm
        return (slack_mm - x, slack_mm - y, travel_x_mm - slack_mm - x, travel_y_mm - slack_mm - y)

    def in_axis_frame(self) -> Placement:
        """The same placement of a piece that is described in the frame of the axis that stands upright (see
        ``frames.axis_rotation``): there +z or -z is up."""
        if self.up[1] == "z":
            return self
        return replace(self, up=self.up[0] + "z", stand=self.stand @ Rigid(axis_rotation(self.up).T, np.zeros(3)))

    def named(self, name: str) -> Placement:
        return replace(self, name=name)


def rectangle_outline(rectangle_mm: Rectangle) -> tuple[tuple[float, float], ...]:
    """The four corners of a rectangle, counter-clockwise."""
    x0, y0, x1, y1 = rectangle_mm
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def rectangle_of(outline_mm: tuple[tuple[float, float], ...]) -> Rectangle:
    """The smallest upright rectangle round an outline."""
    xs, ys = zip(*outline_mm)
    return (min(xs), min(ys), max(xs), max(ys))


def board_rectangle(machine: Machine, blank_mm: Rectangle) -> Rectangle | None:
    """The movable board, centred under the blank, in the blank's frame; None on a machine without one."""
    board = machine.board
    if board is None:
        return None
    x, y = (blank_mm[0] + blank_mm[2]) / 2, (blank_mm[1] + blank_mm[3]) / 2
    half_x, half_y = board.size_x_mm / 2, board.size_y_mm / 2
    return (x - half_x, y - half_y, x + half_x, y + half_y)


def inside_outline(outline_mm: tuple[tuple[float, float], ...], x_mm: np.ndarray, y_mm: np.ndarray) -> np.ndarray:
    """Which points (broadcast x, y) lie inside a closed ring (even-odd rule)."""
    inside = np.zeros(np.broadcast(x_mm, y_mm).shape, dtype=bool)
    xs, ys = zip(*outline_mm)
    for x0, y0, x1, y1 in zip(xs, ys, (*xs[1:], xs[0]), (*ys[1:], ys[0])):
        if y0 == y1:
            continue
        crosses = (y_mm >= min(y0, y1)) & (y_mm < max(y0, y1))
        inside ^= crosses & (x_mm < x0 + (y_mm - y0) * (x1 - x0) / (y1 - y0))
    return inside
