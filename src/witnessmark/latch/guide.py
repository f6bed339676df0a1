"""A drill guide for holes that face inward: a block that hangs on the rim, lies on the wall, and holds a drill level.

Question  which blocks, let down into the opening, bring a drill to each bolt's place
Frame     as ``solids``, the hole along x
Units     mm
Method    a block as long as its bore, a shoulder that lies on the rim and, under the bore, a nose that lies on the
          wall, less the body itself at its bolts: so nose and shoulder are fitted to what is really there. A wedge
          behind it, low down, keeps it there. The gaps between leave room for a cutter. One block serves every bolt
          before whose hole it would lie on wall and rim; the others get a further one
Source    plane geometry; a bore of two and a half drills: common practice, no source
Valid     bodies cut from above: what is free above the wood is free to let the block down
Refuses   an opening too narrow beside a bolt (ValueError)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from manifold3d import Manifold

from .inward import BORE_RATIO, GAP_MM, around
from .let_in import LetIn
from .solids import bore, box

BESIDE_MM, UNDER_MM = 8.0, 7.0  # wood beside the bore, and under it
SHOULDER_MM, OVER_MM = 14.0, 7.0  # how far it lies on the rim, and how thick
FIT_MM, FLOOR_MM = 0.1, 0.5  # from all but the nose to the wall, and to a floor: the rim alone says how high
NOSE_MM, INTO_MM = 2.5, 3.0  # what lies on the wall, under the bore: wider than this by the bore, each side
ROOM_MM = 7.0  # from there up to the shoulder, for a cutter to go round
HIGH_MM = 500.0
NEAR_MM = 0.05
FAR_MM = 300.0  # a wedge spans no more


@dataclass(frozen=True, eq=False)
class Guide:
    """The block in its place before the first of its bolts' holes; what room there is behind it for a wedge (inf:
    none near, clamp it)."""

    bolts: tuple[int, ...]
    block: Manifold
    bore_long_mm: float
    behind_mm: float

    @property
    def words(self) -> str:
        behind = f"the {self.behind_mm:.0f} mm behind it, under the drill"
        wedge = f"a wedge in {behind}" if self.behind_mm < FAR_MM else "a clamp"
        return (
            f"{bolts_words(self.bolts)}: hang the guide on the rim, press it to the wall before the hole with "
            f"{wedge}; drill through its bore of {self.bore_long_mm:.0f} mm, a collar on the drill for the depth."
        )

    @property
    def upright(self) -> Manifold:
        """As a piece: its bore upright, the wall's side above, on its foot."""
        turned = self.block.rotate((0.0, -90.0, 0.0))
        return turned.translate((0.0, 0.0, -float(turned.bounding_box()[2])))


def bolts_words(bolts: Sequence[int]) -> str:
    """Which bolts, counted from 1."""
    return f"Bolt{'s' * (len(bolts) > 1)} {' and '.join(str(bolt + 1) for bolt in bolts)}"


def guides_of(let_in: LetIn) -> tuple[Guide, ...]:
    """The fewest blocks, bolt by bolt: each takes all that it can of those which are left."""
    left = [bolt for bolt, by in enumerate(let_in.holes) if by == "guide"]
    found = []
    while left:
        guide = guide_of(let_in, (left[0],))
        for bolt in left[1:]:
            try:
                guide = guide_of(let_in, (*guide.bolts, bolt))
            except Unlike:
                continue
        found.append(guide)
        left = [bolt for bolt in left if bolt not in guide.bolts]
    return tuple(found)


class Unlike(ValueError):
    """Walls or rims before which one block does not lie on both."""


def guide_of(let_in: LetIn, bolts: tuple[int, ...]) -> Guide:
    """One block for some of the bolts; ``Unlike`` where their walls or rims differ."""
    design, room = let_in.design, let_in.room
    wall, long = design.mouth_mm + design.open_mm, BORE_RATIO * design.hole_mm
    half = design.hole_mm / 2 + BESIDE_MM
    opened = let_in.from_body(let_in.body) - let_in.parts.opening
    bodies = [opened.rotate((0.0, 0.0, -360.0 * k / design.bolts)) for k in bolts]
    rim = max(_top_mm(body ^ box((wall, wall + SHOULDER_MM), (-half, half), (-HIGH_MM, HIGH_MM))) for body in bodies)
    back, low = wall - GAP_MM - long, room.holes_mm(design) - design.hole_mm / 2 - UNDER_MM
    broad = box((back, wall + INTO_MM), (-half, half), (low, rim + OVER_MM))
    meets = [float((broad ^ body).bounding_box()[0]) for body in bodies if not (broad ^ body).is_empty()]
    front = min([wall, *meets]) - FIT_MM
    if front - back < long / 2:
        which = ", ".join(str(bolt + 1) for bolt in bolts)
        what = f"the opening is too narrow beside bolt {which} for a guide {2 * half:.0f} mm wide"
        raise (ValueError if len(bolts) == 1 else Unlike)(f"{what}: another way to make its hole (place.holes)")
    nose = design.hole_mm / 2 + NOSE_MM
    block = box((back, front), (-half, half), (low, rim + OVER_MM))
    block += box((back, wall + SHOULDER_MM), (-half, half), (rim, rim + OVER_MM))
    block += box(
        (back, wall + INTO_MM), (-nose, nose), (low, min(room.holes_mm(design) - design.hole_mm, rim - ROOM_MM))
    )
    for body in bodies:
        block -= body
        block -= body.trim_by_plane((0.0, 0.0, -1.0), 0.5 - room.holes_mm(design)).translate(
            (0.0, 0.0, FLOOR_MM)
        )  # no floor
    block -= _along(design.hole_mm / 2, back - INTO_MM, wall + INTO_MM, room.holes_mm(design))
    for k, body in zip(bolts, bodies, strict=True):
        for way, where in (((NEAR_MM * 4, 0.0, 0.0), "wall"), ((0.0, 0.0, -NEAR_MM * 4), "rim")):
            if (block.translate(way) ^ body).volume() < NEAR_MM:
                raise Unlike(f"the guide would not lie on the {where} at bolt {k + 1}")
    behind = min(around(let_in, k).across_mm for k in bolts) - GAP_MM - long
    return Guide(bolts, block, long, behind)


def _top_mm(wood: Manifold) -> float:
    return -HIGH_MM if wood.is_empty() else float(wood.bounding_box()[5])


def _along(radius_mm: float, from_mm: float, to_mm: float, high_mm: float) -> Manifold:
    """A bore along x at a height."""
    return bore(radius_mm, from_mm, to_mm).rotate((0.0, 90.0, 0.0)).translate((0.0, 0.0, high_mm))
