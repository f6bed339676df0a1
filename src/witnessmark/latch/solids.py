"""The parts of a turn latch as solids, and what they take out of lid and body.

Question  what do rotor, key, case, bolts and keepers look like, and where do they lie
Frame     the rotor's axis is z; z = 0 the lid's lower face, up into the lid; the first bolt along x. Locked at a turn
          of ``turn_deg``, drawn in at 0
Units     mm
Method    the rotor is a disc with its magnets let into the top, a seat for its washer between them where these
          leave room, and its cam below. What draws the bolts back stands
          on edge in slots of the cam, open below, with the wood of the flank before it. The case, glued under the
          lid, holds it on a steel pin; each bolt lies in a slot of the case, open above, and a keeper is glued over
          it. A spring, where there is one, lies round the bolt in a wider chamber of its slot, between a pin across
          the bolt and the chamber's outer end. Round parts have ``SIDES`` sides, so that a hole's flats lie outside
          of its circle and a pin's corners on it. Corners that a cutter goes into or round have ``CORNER_MM``
Source    our own
Valid     as ``design``
Refuses   rooms too low for the rotor (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold

from .bolts import MagnetReturn
from .cam import polyline_mm
from .design import (
    CLEARANCE_MM,
    CROSS_PIN_MM,
    CROSS_PIN_PLAY_MM,
    INSIDE_MM,
    LINING_MM,
    PLAY_MM,
    RUNNING_MM,
    WALL_MM,
    Design,
)

Span = tuple[float, float]

SIDES, BALL_SIDES = 128, 48  # of a bolt: 0.005 mm too small between its corners
FLOOR_MM = 4.0  # of the case
CORNER_MM = 3.2  # a 6 mm cutter gets into it
RELIEF_MM = 1.55  # a 3 mm cutter
CASE_WALL_MM = 5.0  # round the rotor and beside the bolts
PIVOT_MM, PIVOT_DEEP_MM, PIVOT_PLAY_MM = 3.0, 5.0, 0.2  # a steel pin, glued into the case's floor
KEY_HIGH_MM, KEY_RIM_MM = 18.0, 3.0
BEYOND_MM, HIGH_MM = 1.0, 1e3


@dataclass(frozen=True)
class Room:
    """Where the latch goes: how deep the lid's pocket is, how far the bolts lie under the lid's lower face."""

    ceiling_mm: float
    below_mm: float

    def checked(self, design: Design) -> Room:
        """Refused where the rotor is higher than the room."""
        if self.tall_mm(design) < design.high_mm - 1e-9:
            short = design.high_mm - self.tall_mm(design)
            raise ValueError(f"the rotor needs {short:.1f} mm more: a deeper pocket, or bolts further down")
        return self

    def tall_mm(self, design: Design) -> float:
        """From the pocket's ceiling to below the rotor."""
        return self.ceiling_mm - self.foot_mm(design)

    def holes_mm(self, design: Design) -> float:
        """Height of the axis of the bolts' holes."""
        return -self.below_mm - design.lower_mm

    def foot_mm(self, design: Design) -> float:
        """Of the case's inside."""
        return -self.below_mm - design.cam_high_mm / 2 - RUNNING_MM


@dataclass(frozen=True, eq=False)
class Parts:
    """Solids in the latch's frame: the rotor unturned, bolts drawn in; and what is taken out of lid and body."""

    rotor: Manifold
    case: Manifold
    bolts: tuple[Manifold, ...]
    keepers: tuple[Manifold, ...]
    key: Manifold
    pocket: Manifold
    opening: Manifold
    holes: tuple[Manifold, ...]


def pin(radius_mm: float, low_mm: float, high_mm: float) -> Manifold:
    """An upright round part: its corners lie on the circle."""
    return Manifold.cylinder(high_mm - low_mm, radius_mm, radius_mm, SIDES).translate((0.0, 0.0, low_mm))


def bore(radius_mm: float, low_mm: float, high_mm: float) -> Manifold:
    """An upright round hole: its sides touch the circle."""
    return pin(radius_mm / math.cos(math.pi / SIDES), low_mm, high_mm)


def box(x_mm: Span, y_mm: Span, z_mm: Span) -> Manifold:
    """From and to along each axis."""
    size = tuple(span[1] - span[0] for span in (x_mm, y_mm, z_mm))
    return Manifold.cube(size).translate((x_mm[0], y_mm[0], z_mm[0]))


def parts_of(design: Design, room: Room) -> Parts:
    """All of them."""
    room.checked(design)
    turns_deg = [360.0 * k / design.bolts for k in range(design.bolts)]
    foot_mm = room.foot_mm(design)
    return Parts(
        rotor=_rotor(design, room),
        case=_case(design, room, turns_deg),
        bolts=tuple(_bolt(design, room).rotate((0.0, 0.0, turn)) for turn in turns_deg),
        keepers=tuple(_keeper(design, room).rotate((0.0, 0.0, turn)) for turn in turns_deg),
        key=_key(design, room),
        pocket=bore(design.across_mm / 2, -BEYOND_MM, room.ceiling_mm),
        opening=_upright(outline(design, design.open_mm), foot_mm - FLOOR_MM - BEYOND_MM, BEYOND_MM),
        holes=tuple(_hole(design, room).rotate((0.0, 0.0, turn)) for turn in turns_deg),
    )


def thrown_mm(design: Design, turn_deg: float) -> float:
    """How far a bolt is out, the rotor turned so far."""
    radius, _ = design.cam.pitch_mm(np.radians([0.0, turn_deg]))
    return float(radius[1] - radius[0])


def _rotor(design: Design, room: Room) -> Manifold:
    top = room.ceiling_mm - CLEARANCE_MM
    cam_top, cam_foot = -room.below_mm + design.cam_high_mm / 2, -room.below_mm - design.cam_high_mm / 2
    ring = polyline_mm(design.cam)
    if _area(ring) < 0:
        ring = ring[::-1]
    cam = CrossSection([ring]).extrude(cam_top - cam_foot).translate((0.0, 0.0, cam_foot))
    solid = pin(design.across_mm / 2 - RUNNING_MM, cam_top, top) + cam
    disc = design.rotor.disc
    seat = bore(disc.radius_mm + design.seat_mm / 2, top - disc.length_mm - design.seat_mm, top + BEYOND_MM)
    for angle in design.rotor.angles_rad.tolist():
        x, y = design.rotor.radius_mm * math.cos(angle), design.rotor.radius_mm * math.sin(angle)
        solid -= seat.translate((x, y, 0.0))
    if design.washer.in_mm:
        solid -= bore(design.washer.seat_mm, top - design.washer.in_mm, top + BEYOND_MM)
    solid -= bore(PIVOT_MM / 2 + PIVOT_PLAY_MM / 2, cam_foot - BEYOND_MM, cam_foot + PIVOT_DEEP_MM)
    if isinstance(design.back, MagnetReturn):
        magnet, low = design.back.disc, design.cam.low_mm
        outer = low - design.back.recess_mm + design.seat_mm / 2
        half = magnet.radius_mm + design.seat_mm / 2
        seat = _relieved(outer - magnet.length_mm - design.seat_mm, outer, half)
        slot = _upright(seat, cam_foot - BEYOND_MM, -room.below_mm + half)
        for k in range(design.bolts):
            solid -= slot.rotate((0.0, 0.0, 360.0 * k / design.bolts))
    return solid


def _relieved(from_mm: float, to_mm: float, half_mm: float) -> CrossSection:
    """A rectangle across the x axis, with a round of the cutter in each corner, so that a square edge goes in."""
    relief = CrossSection.circle(RELIEF_MM, SIDES)
    in_mm = RELIEF_MM / math.sqrt(2.0)
    area = CrossSection.square((to_mm - from_mm, 2 * half_mm)).translate((from_mm, -half_mm))
    for x in (from_mm + in_mm, to_mm - in_mm):
        for y in (-half_mm + in_mm, half_mm - in_mm):
            area += relief.translate((x, y))
    return area


def _area(ring: np.ndarray) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def arm_mm(design: Design) -> float:
    """Half the width of the case's arms."""
    return max(design.rod.diameter_mm, design.chamber_wide_mm) / 2 + CASE_WALL_MM


def outline(design: Design, more_mm: float = 0.0) -> CrossSection:
    """The case's outside, or with ``more_mm`` all round the opening for it."""
    half = arm_mm(design)
    whole = CrossSection.circle(design.across_mm / 2 + CASE_WALL_MM, SIDES)
    arm = CrossSection.square((design.mouth_mm, 2 * half)).translate((0.0, -half))
    for k in range(design.bolts):
        whole += arm.rotate(360.0 * k / design.bolts)
    for step_mm in (CORNER_MM, -2 * CORNER_MM, CORNER_MM + more_mm):  # hollow corners filled, others rounded
        whole = whole.offset(step_mm, JoinType.Round, circular_segments=SIDES)
    return whole


def _upright(area: CrossSection, low_mm: float, high_mm: float) -> Manifold:
    return area.extrude(high_mm - low_mm).translate((0.0, 0.0, low_mm))


def _case(design: Design, room: Room, turns_deg: list[float]) -> Manifold:
    foot_mm = room.foot_mm(design)
    solid = _upright(outline(design), foot_mm - FLOOR_MM, 0.0)
    solid -= bore(design.across_mm / 2, foot_mm, BEYOND_MM)
    half = (design.rod.diameter_mm + PLAY_MM) / 2
    slot = box((0.0, design.mouth_mm + BEYOND_MM), (-half, half), (-room.below_mm - half, BEYOND_MM))
    if design.chamber:
        half = design.chamber_wide_mm / 2
        slot += _upright(_relieved(*design.chamber, half), -room.below_mm - half, BEYOND_MM)
    for turn in turns_deg:
        solid -= slot.rotate((0.0, 0.0, turn))
    return solid - bore((PIVOT_MM + design.seat_mm) / 2, foot_mm - FLOOR_MM - BEYOND_MM, foot_mm + BEYOND_MM)


def _bolt(design: Design, room: Room) -> Manifold:
    """Drawn in: its inner ball on the cam's low side; with the pin across it that a spring pushes."""
    r = design.rod.diameter_mm / 2
    first, last = design.cam.low_mm + r, design.mouth_mm - INSIDE_MM - r
    ball = Manifold.sphere(r, BALL_SIDES)
    shank = Manifold.cylinder(last - first, r, r, BALL_SIDES).rotate((0.0, 90.0, 0.0)).translate((first, 0.0, 0.0))
    whole = shank + ball.translate((first, 0.0, 0.0)) + ball.translate((last, 0.0, 0.0))
    if design.coil and design.chamber:
        radius, long = CROSS_PIN_MM / 2, design.coil.outside_mm
        across = Manifold.cylinder(long, radius, radius, BALL_SIDES, True).rotate((90.0, 0.0, 0.0))
        whole += across.translate((design.chamber[0] + CROSS_PIN_PLAY_MM + radius, 0.0, 0.0))
    return whole.translate((0.0, 0.0, -room.below_mm))


def coils(design: Design, room: Room) -> tuple[Manifold, ...]:
    """The springs, as plain tubes, each as long as it is while its bolt is drawn in; none where magnets draw."""
    coil = design.coil
    if coil is None or design.chamber is None:
        return ()
    tube = Manifold.cylinder(coil.rest_mm, coil.outside_mm / 2, coil.outside_mm / 2, BALL_SIDES)
    tube -= Manifold.cylinder(coil.rest_mm, coil.inside_mm / 2, coil.inside_mm / 2, BALL_SIDES)
    lying = tube.rotate((0.0, 90.0, 0.0)).translate((design.chamber[1] - coil.rest_mm, 0.0, -room.below_mm))
    return tuple(lying.rotate((0.0, 0.0, 360.0 * k / design.bolts)) for k in range(design.bolts))


def _keeper(design: Design, room: Room) -> Manifold:
    """A stick over the bolt, from the rotor's room to the mouth, flush with the case."""
    r = design.rod.diameter_mm / 2
    start = design.across_mm / 2 + RUNNING_MM
    stick = box((start, design.mouth_mm), (-r, r), (-room.below_mm + r + PLAY_MM / 2, 0.0))
    if design.chamber:
        stick -= box(design.chamber, (-2 * r, 2 * r), (-HIGH_MM, -room.below_mm + design.chamber_wide_mm / 2))
    return stick


def _hole(design: Design, room: Room) -> Manifold:
    """In the body: from the opening's wall on."""
    wall = design.mouth_mm + design.open_mm
    hole = bore(design.hole_mm / 2, wall - BEYOND_MM, wall + design.hole_deep_mm)
    return hole.rotate((0.0, 90.0, 0.0)).translate((0.0, 0.0, room.holes_mm(design)))


def key_rim_mm(design: Design) -> float:
    """The key's radius."""
    return design.key.radius_mm + design.key.disc.radius_mm + KEY_RIM_MM


def _key(design: Design, room: Room) -> Manifold:
    """On the lid: its magnets let into its foot, which stands on its lining."""
    foot_mm = room.ceiling_mm + design.skin_mm + LINING_MM
    disc = design.key.disc
    solid = pin(key_rim_mm(design), foot_mm, foot_mm + max(KEY_HIGH_MM, disc.length_mm + WALL_MM + 3.0))
    seat = bore(disc.radius_mm + design.seat_mm / 2, foot_mm - BEYOND_MM, foot_mm + disc.length_mm + design.seat_mm)
    for angle in design.key.angles_rad.tolist():
        solid -= seat.translate((design.key.radius_mm * math.cos(angle), design.key.radius_mm * math.sin(angle), 0.0))
    return solid
