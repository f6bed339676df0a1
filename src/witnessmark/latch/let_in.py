"""The latch let into a lid and a body: where it stands in them, and what of them is cut away for it.

Question  how deep is the lid's pocket, how far down do the bolts lie, and what do lid and body look like afterwards
Frame     the lid's and the body's own; ``stands_mm``: the lid's z = 0 over the body's, closed
Units     mm
Method    the pocket's ceiling is a skin under the lowest spot of the lid's upper face over it; the bolts lie as far
          under the body's wood as is wished, where that is lowest over their holes. A hole by ``bridge`` is a slot
          milled from above, and over it a recess into which a block is glued: nothing faces inward
Source    our own
Valid     lid and body upright as drawn; the lid flat below
Refuses   where there is no wood, or too little room (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold

from witnessmark.job.latch import HolesBy, Place
from witnessmark.job.models import Cutter

from .bolts import SpringReturn
from .design import Design
from .solids import BEYOND_MM, CORNER_MM, HIGH_MM, SIDES, Parts, Room, arm_mm, bore, box, parts_of
from .undercut import disc_for, slot

BRIDGE_BESIDE_MM, BRIDGE_BEHIND_MM = 5.0, 12.0  # the block lies on wood beside and behind the slot
KEEPER_MM = 1.5  # of a keeper over a spring
LEAST_LEFT_MM = 3.0  # of the body under the opening
LEAST_POKE_MM = 2.5  # a pin narrower than that bends
POKE_BESIDE_MM = 0.1  # a drill no wider than the bolt's hole by more
FLAT_RATIO = 0.1  # a face that rises less than so much to the side looks up


@dataclass(frozen=True, eq=False)
class LetIn:
    """A design in its place: the room found, its parts (latch frame), and where that frame is."""

    design: Design
    place: Place
    stands_mm: float
    lid: Manifold
    body: Manifold
    room: Room
    cutters: tuple[Cutter, ...] = ()

    @staticmethod
    def of(
        design: Design,
        place: Place,
        stands_mm: float,
        lid: Manifold,
        body: Manifold,
        cutters: tuple[Cutter, ...] = (),
    ) -> LetIn:
        """``lid`` and ``body`` whole, each in its own frame; ``cutters``: of the job."""
        _has_seats(design)
        over = _within(lid, design, place)
        top_mm = min(_top_mm(body, design, place, k) for k in range(design.bolts))
        below_mm = stands_mm - (top_mm - design.over_mm - design.hole_mm / 2) - design.lower_mm
        found = LetIn(design, place, stands_mm, lid, body, Room(over - design.skin_mm, below_mm), cutters)
        found.room.checked(design)
        if below_mm < max(design.rod.diameter_mm, design.chamber_wide_mm / 2 + KEEPER_MM):
            raise ValueError(f"the bolts would lie {below_mm:.1f} mm under the lid: more wood over them (over_mm)")
        left_mm = stands_mm + found.parts.case.bounding_box()[2] - BEYOND_MM - body.bounding_box()[2]
        if left_mm < LEAST_LEFT_MM:
            raise ValueError(
                f"{left_mm:.1f} mm of the body would be left under the case: less over_mm, or a flat rod"
            )
        return found

    @property
    def holes(self) -> tuple[HolesBy, ...]:
        """How each bolt's hole is made."""
        return self.place.holes_of(self.design.bolts)

    @cached_property
    def parts(self) -> Parts:
        return parts_of(self.design, self.room)

    @property
    def cut_lid(self) -> Manifold:
        """The lid with the rotor's pocket."""
        return self.lid - self.in_lid(self.parts.pocket)

    @property
    def opened_body(self) -> Manifold:
        """The body as the job's cutters make it: with the opening for the case, what a bridge needs, slots that a
        T-slot cutter undercuts, and poke-holes that a drill makes."""
        cut = self.parts.opening
        for k in self._bridged:
            cut += self._turned(self._slot(), k) + self._turned(self._recess(), k)
        for k in self.undercut:
            cut += self._turned(self._under(), k)
        for k in self.poked:
            cut += self.pokes[k]
        return self.body - self.in_body(cut)

    @property
    def closed_body(self) -> Manifold:
        """The body ready to be used: bridges glued in or holes drilled, and the poke-holes."""
        whole = self.opened_body
        for block in self.bridges.values():
            whole += self.in_body(block)
        made = {*self._bridged, *self.undercut}
        drilled = (hole for k, hole in enumerate(self.parts.holes) if k not in made)
        for hole in (*drilled, *self.pokes):
            whole -= self.in_body(hole)
        return whole

    @cached_property
    def pokes(self) -> tuple[Manifold, ...]:
        """Upright holes under the bolts' tips: a pin pushed up one of them pushes a jammed bolt back."""
        up = [
            bore(self.poke_wide_mm(k) / 2, -HIGH_MM, self.room.holes_mm(self.design)).translate((self.poke_mm, 0, 0))
            for k in range(self.design.bolts)
        ]
        return tuple(self._turned(hole, k) for k, hole in enumerate(up))

    @property
    def poked(self) -> tuple[int, ...]:
        """The bolts whose poke-holes programs drill: those of bridges, open at both ends."""
        return self._bridged if self._poke_drill_mm else ()

    def poke_wide_mm(self, bolt: int) -> float:
        """The width of a bolt's poke-hole: the drill's, or by hand the bolt's hole's own."""
        return self._poke_drill_mm if bolt in self.poked else self.design.hole_mm

    @cached_property
    def _poke_drill_mm(self) -> float:
        """The widest drill that fits and gets past the middle from both ends; 0 where there is none."""
        deep_mm = self.poke_deep_mm - self.design.hole_mm / 2
        fits = (
            cutter.diameter_mm
            for cutter in self.cutters
            if cutter.kind == "drill"
            and LEAST_POKE_MM <= cutter.diameter_mm <= self.design.hole_mm + POKE_BESIDE_MM
            and cutter.flute_length_mm >= deep_mm / 2 + cutter.diameter_mm
        )
        return max(fits, default=0.0)

    @property
    def poke_mm(self) -> float:
        """From the rotor's axis to a poke-hole's."""
        wall, half = self.design.mouth_mm + self.design.open_mm, self.design.hole_mm / 2
        return wall + max(self.design.hole_deep_mm, half) - half

    @property
    def poke_deep_mm(self) -> float:
        """From the body's foot up to the holes' axis."""
        return self.stands_mm + self.room.holes_mm(self.design) - float(self.body.bounding_box()[2])

    @cached_property
    def bridges(self) -> dict[int, Manifold]:
        """By bolt: the block over its slot, in the latch's frame; as wide and long as the body's wood there."""
        wood = self.from_body(self.body) - self.parts.opening
        return {k: self._turned(self._recess(), k) ^ wood for k in self._bridged}

    @property
    def _bridged(self) -> tuple[int, ...]:
        return tuple(k for k, by in enumerate(self.holes) if by == "bridge")

    @property
    def undercut(self) -> tuple[int, ...]:
        """The bolts whose holes a T-slot cutter of the job makes as slots."""
        by_disc = tuple(k for k, by in enumerate(self.holes) if by == "undercut")
        return by_disc if self._disc else ()

    @property
    def _disc(self) -> Cutter | None:
        return disc_for(self.design, self.cutters)

    def in_lid(self, solid: Manifold) -> Manifold:
        """From the latch's frame into the lid's."""
        return solid.rotate((0.0, 0.0, self.place.first_deg)).translate((self.place.x_mm, self.place.y_mm, 0.0))

    def in_body(self, solid: Manifold) -> Manifold:
        """From the latch's frame into the body's."""
        return self.in_lid(solid).translate((0.0, 0.0, self.stands_mm))

    def from_lid(self, solid: Manifold) -> Manifold:
        """From the lid's frame into the latch's."""
        return solid.translate((-self.place.x_mm, -self.place.y_mm, 0.0)).rotate((0.0, 0.0, -self.place.first_deg))

    def from_body(self, solid: Manifold) -> Manifold:
        """From the body's frame into the latch's."""
        return self.from_lid(solid.translate((0.0, 0.0, -self.stands_mm)))

    def _turned(self, solid: Manifold, bolt: int) -> Manifold:
        return solid.rotate((0.0, 0.0, 360.0 * bolt / self.design.bolts))

    def _slot(self) -> Manifold:
        """From above, round at its end."""
        design, wall = self.design, self.design.mouth_mm + self.design.open_mm
        half, low = design.hole_mm / 2, self.room.holes_mm(design) - design.hole_mm / 2
        last = self.poke_mm
        straight = box((wall - BEYOND_MM, last), (-half, half), (low, HIGH_MM))
        return straight + bore(half, low, HIGH_MM).translate((last, 0.0, 0.0))

    def _under(self) -> Manifold:
        assert self._disc is not None
        return slot(self.design, self.room, self._disc, arm_mm(self.design) + self.design.open_mm)

    def _recess(self) -> Manifold:
        design, wall = self.design, self.design.mouth_mm + self.design.open_mm
        long, half = design.hole_deep_mm + BRIDGE_BEHIND_MM, design.hole_mm / 2 + BRIDGE_BESIDE_MM
        area = CrossSection.square((long + 2 * CORNER_MM + BEYOND_MM, 2 * half)).translate(
            (wall - 2 * CORNER_MM - BEYOND_MM, -half)
        )
        for step_mm in (-CORNER_MM, CORNER_MM):
            area = area.offset(step_mm, JoinType.Round, circular_segments=SIDES)
        area ^= CrossSection.square((long + 2 * BEYOND_MM, 2 * half)).translate((wall - BEYOND_MM, -half))
        low = self.room.holes_mm(design) + design.hole_mm / 2
        return area.extrude(HIGH_MM - low).translate((0.0, 0.0, low))


def _has_seats(design: Design) -> None:
    """Refused where a spring draws the bolts back that has no room in the case, or whose sizes are not known."""
    if not isinstance(design.back, SpringReturn):
        return
    if design.back.coil is None:
        sizes = "inside_mm, outside_mm, rest_mm, pressed_mm"
        raise ValueError(f"its spring has no seat without its sizes: give it {sizes}, or let magnets draw (back)")
    lacks = design.back.coil.lacks(design.rod.diameter_mm, design.cam.throw_mm) or design.chamber_lacks
    if lacks:
        raise ValueError(lacks)


def _within(lid: Manifold, design: Design, place: Place) -> float:
    """Height of the lowest spot of the lid's upper face over the pocket."""
    around = bore(design.across_mm / 2, -HIGH_MM, HIGH_MM).translate((place.x_mm, place.y_mm, 0.0))
    inside = lid ^ around
    if inside.is_empty() or inside.volume() < 0.5 * math.pi / 4 * design.across_mm**2 * design.skin_mm:
        raise ValueError("there is no lid over the rotor: another place (place.x_mm, place.y_mm)")
    mesh = inside.to_mesh64()
    corner = np.asarray(mesh.vert_properties[:, :3], dtype=np.float64)[np.asarray(mesh.tri_verts, dtype=np.int64)]
    cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    up = cross[:, 2] > FLAT_RATIO * np.linalg.norm(cross, axis=1)
    return float(corner[up][:, :, 2].min())


def _top_mm(body: Manifold, design: Design, place: Place, bolt: int) -> float:
    """Height of the body's wood over a bolt's hole."""
    wall, half = design.mouth_mm + design.open_mm, design.hole_mm / 2
    over = box((wall, wall + design.hole_deep_mm), (-half, half), (-HIGH_MM, HIGH_MM))
    turn_deg = place.first_deg + 360.0 * bolt / design.bolts
    wood = body ^ over.rotate((0.0, 0.0, turn_deg)).translate((place.x_mm, place.y_mm, 0.0))
    if wood.is_empty():
        what = f"there is no wood of the body where bolt {bolt + 1} comes out, {wall:.0f} mm from the rotor's axis"
        raise ValueError(f"{what}: turn it (place.first_deg), or another place")
    return float(wood.bounding_box()[5])
