"""A turn latch with all its sizes: key, skin, rotor, cam, bolts and their holes; what they come to together.

Question  which sizes does a latch of these parts have
Frame     heights downward from the skin's lower face; radii about the rotor's axis
Units     mm, N, N mm
Method    magnets in the rotor's top follow those of the key (``turning``); its cam throws the bolts against what
          draws them back (``cam``, ``bolts``). Return magnets stand in the cam behind its low flanks, where they face
          the bolts when these are to come in. What the rotor's magnets draw sideways on a steel bolt is taken as on
          a wide plate as near (more than it is)
Source    see the modules named; least walls, play and clearances: our own choice
Valid     bolts along radii at one height, evenly round; slow turning
Refuses   as the modules named (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from witnessmark.job.catalog import Species
from witnessmark.wood.thin import across_mpa

from .bolts import Coil, MagnetReturn, Pulled, Return, SpringReturn, pulled
from .cam import Dwell, Guide, jams_rad, pressure_angle_rad
from .magnets import Ring, torque_and_pull
from .rods import Rod, plate_pull_n
from .skin import rests_mm
from .turning import Turning, turning
from .washer import Washer, washer_of

LINING_MM = 0.3  # cloth or felt under the key
CLEARANCE_MM = 0.5  # the washer between rotor and skin: its thickness keeps the rotor's rim off
WALL_MM = 1.5  # wood round a magnet in the rotor, and under it
RUNNING_MM = 0.5  # round and below the rotor
INSIDE_MM = 0.5  # a bolt that is drawn in lies as far inside the guide's mouth
GUIDE_MM = 15.0
END_MM = 4.0  # of the guide before and behind a spring's chamber
CROSS_PIN_MM, CROSS_PIN_PLAY_MM = 1.5, 0.5  # the pin that the spring pushes, and its room behind
COIL_PLAY_MM = 0.5  # round a spring
CHAMBER_DEEPER_MM = 2.5  # than the case's inside, at most
BESIDE_CAM_MM = 1.0
PLAY_MM = 0.1  # of a bolt in its guide
SEAT_MM = 0.1  # a magnet's seat over its diameter, and its depth, before the year is known (``seats``)
FRICTION_RATIO = 0.3  # steel on wood (0.2 to 0.6 in tables seen)


def coil_of(back: Return) -> Coil | None:
    """The spring round each bolt, where its sizes are known."""
    return back.coil if isinstance(back, SpringReturn) else None


def chamber_mm(coil: Coil) -> float:
    """The length of a spring's chamber."""
    return CROSS_PIN_PLAY_MM + CROSS_PIN_MM + coil.rest_mm


def guide_mm(back: Return) -> float:
    """The guide's length, a spring's chamber in it."""
    coil = coil_of(back)
    return max(GUIDE_MM, chamber_mm(coil) + 2 * END_MM) if coil else GUIDE_MM


def bolt_mm(cam: Dwell, diameter_mm: float, back: Return) -> float:
    """Of a bolt that rests on the cam's low side and ends inside the guide's mouth."""
    return cam.throw_mm + BESIDE_CAM_MM + diameter_mm / 2 + guide_mm(back) - INSIDE_MM


@dataclass(frozen=True)
class Design:
    """Every size that decides how the latch works."""

    key: Ring
    rotor: Ring
    skin_mm: float
    web_mm: float
    cam: Dwell
    rod: Rod
    back: Return
    bolts: int
    hole_mm: float
    hole_deep_mm: float
    over_mm: float
    open_mm: float
    holds_n: float
    wood: Species
    seat_mm: float = SEAT_MM
    lower_mm: float = 0.0  # by so much the holes are meant to lie lower than the bolts: the lid rattles less

    @property
    def gap_mm(self) -> float:
        """From the key's magnets to the rotor's."""
        return LINING_MM + self.skin_mm + CLEARANCE_MM

    @property
    def cam_high_mm(self) -> float:
        """The cam's thickness: over the bolt, and over a return magnet in its flank."""
        magnet_mm = self.back.disc.diameter_mm + 2.0 if isinstance(self.back, MagnetReturn) else 0.0
        return max(self.rod.diameter_mm + 1.0, magnet_mm)

    @property
    def washer(self) -> Washer:
        return washer_of(self.rotor)

    @property
    def washer_thick_mm(self) -> float:
        """What keeps rotor and skin apart, and what of it lies in its seat."""
        return CLEARANCE_MM + self.washer.in_mm

    @property
    def across_mm(self) -> float:
        """The rotor's pocket."""
        rim = self.rotor.radius_mm + self.rotor.disc.radius_mm + WALL_MM
        return 2.0 * (max(rim, self.cam.low_mm + self.cam.throw_mm) + RUNNING_MM)

    @property
    def high_mm(self) -> float:
        """From under the skin to below the rotor."""
        return CLEARANCE_MM + self.rotor.disc.length_mm + self.web_mm + self.cam_high_mm + RUNNING_MM

    @property
    def guide(self) -> Guide:
        return Guide(self.cam.throw_mm + BESIDE_CAM_MM, guide_mm(self.back), FRICTION_RATIO, FRICTION_RATIO)

    @property
    def bolt_mm(self) -> float:
        """A bolt's length over its balls."""
        return bolt_mm(self.cam, self.rod.diameter_mm, self.back)

    @property
    def mouth_mm(self) -> float:
        """From the axis to the guide's mouth, where the latch ends."""
        return self.cam.low_mm + self.bolt_mm + INSIDE_MM

    @property
    def coil(self) -> Coil | None:
        return coil_of(self.back)

    @property
    def chamber(self) -> tuple[float, float] | None:
        """From and to where on the bolt's way a spring's chamber is; None: none."""
        end = self.mouth_mm - END_MM
        return (end - chamber_mm(self.coil), end) if self.coil else None

    @property
    def chamber_wide_mm(self) -> float:
        return self.coil.outside_mm + COIL_PLAY_MM if self.coil else 0.0

    @property
    def chamber_lacks(self) -> str:
        """Why a spring's chamber cannot be as it comes out; nothing where it can, or there is none."""
        if self.chamber and self.chamber[0] < self.across_mm / 2 + END_MM / 2:
            return "the spring's chamber would break into the rotor's pocket: a shorter spring"
        if self.chamber_wide_mm / 2 > self.cam_high_mm / 2 + RUNNING_MM + CHAMBER_DEEPER_MM:
            return "the spring's chamber would break through the case's floor: a narrower spring"
        return ""

    @property
    def turn_deg(self) -> float:
        """The key's turn from open to locked."""
        return 180.0 / self.cam.lobes

    @property
    def out_mm(self) -> float:
        """How far a thrown bolt stands in its hole."""
        return self.cam.throw_mm - INSIDE_MM - self.open_mm

    @cached_property
    def turning(self) -> Turning:
        return turning(self.key, self.rotor, self.gap_mm, FRICTION_RATIO, self.washer.radius_mm)

    @property
    def side_n(self) -> float:
        """What the rotor's magnets draw a bolt up with, at most."""
        away_mm = self.web_mm + (self.cam_high_mm - self.rod.diameter_mm) / 2
        return plate_pull_n(self.rotor.disc, away_mm) * min(1.0, self.rod.diameter_mm / self.rotor.disc.diameter_mm)

    @cached_property
    def skin_bends_mm(self) -> float:
        """Where key and rotor pull most, nothing else holding it up; inf where it would give way altogether."""
        most_deg = self.turning.lead_deg[int(np.argmax(np.abs(self.turning.pull_n)))]
        lead = np.radians([most_deg])

        def pull_n(bends_mm: float) -> float:
            gap_mm = self.gap_mm - bends_mm
            return math.inf if gap_mm <= 0 else abs(float(torque_and_pull(self.key, self.rotor, gap_mm, lead)[1][0]))

        return rests_mm(pull_n, self.across_mm / 2, self.skin_mm, across_mpa(self.wood))

    @cached_property
    def bent(self) -> Turning | None:
        """How the rotor follows with the skin given way as far as it does; None where it gives way altogether."""
        if math.isinf(self.skin_bends_mm):
            return None
        gap_mm = self.gap_mm - self.skin_bends_mm
        return turning(self.key, self.rotor, gap_mm, FRICTION_RATIO, self.washer.radius_mm)

    @property
    def dead_deg(self) -> float:
        """What the key turns for nothing at most, the skin flat or bent."""
        return max(self.turning.dead_deg, self.bent.dead_deg if self.bent else math.inf)

    @property
    def lid(self) -> Pulled:
        return pulled(self.rod, self.out_mm, self.over_mm, self.open_mm, self.wood, self.bolts)

    @property
    def confused_deg(self) -> tuple[float, ...]:
        """Other places where the rotor locks to the key and the cam does not repeat: the key could be put on so."""
        period = 360.0 / self.cam.lobes
        return tuple(
            rest.lead_deg
            for rest in self.turning.others
            if abs((rest.lead_deg + period / 2) % period - period / 2) > 2.0
        )

    @cached_property
    def jam_room_deg(self) -> float:
        """From the steepest push to where it jams."""
        turn = np.linspace(0.0, math.pi / self.cam.lobes, 361)
        return math.degrees(jams_rad(self.guide) - float(pressure_angle_rad(self.cam, turn).max()))
