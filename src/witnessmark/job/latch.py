"""What a hidden latch should do and what is on hand for it. Kept in a latch file beside job.toml; lengths in mm."""

from __future__ import annotations

from pathlib import Path
from typing import Literal, Self

from pydantic import Field, model_validator

from .models import Mm, Model, NonNegativeMm, PositiveMm
from .rewrite import fresh_text, rewritten
from .toml_file import file_text, load_model, tables_of, validated
from .whole import write_text_whole

LATCH_FILE = "latch.toml"
_OPENING = (
    'A hidden latch: the wish, and the hardware on hand. Lengths are in mm; "1/4 in" or "2.5 cm" carry their unit.',
    "Change a line and design again: witnessmark latch.",
)

Grade = Literal["N35", "N38", "N40", "N42", "N45", "N48", "N50", "N52"]


class OnHand(Model):
    """Hardware in the drawer."""

    name: str


class CountedOnHand(OnHand):
    """Hardware of which there are so many."""

    count: int = Field(default=8, ge=1, le=10_000)


class MagnetOnHand(CountedOnHand):
    """Round magnets, magnetised along their axis, and their grade."""

    diameter_mm: PositiveMm
    thickness_mm: PositiveMm
    grade: Grade = "N42"


class RodOnHand(OnHand):
    """Round bar of mild steel, to be cut to length for bolts."""

    diameter_mm: PositiveMm
    length_mm: PositiveMm


class SpringOnHand(CountedOnHand):
    """A compression spring: what it pushes with when the bolt is drawn in, and how much more a millimetre adds."""

    rate_n_mm: float = Field(gt=0, le=100)
    rest_n: float = Field(ge=0, le=100)
    inside_mm: PositiveMm | None = None  # the four sizes: of one that is to have a seat in the case
    outside_mm: PositiveMm | None = None
    rest_mm: PositiveMm | None = None
    pressed_mm: PositiveMm | None = None

    @model_validator(mode="after")
    def _sizes_go_together(self) -> Self:
        inside, outside, rest, pressed = self.inside_mm, self.outside_mm, self.rest_mm, self.pressed_mm
        if inside is None and outside is None and rest is None and pressed is None:
            return self
        if inside is None or outside is None or rest is None or pressed is None:
            raise ValueError("give all four of inside_mm, outside_mm, rest_mm and pressed_mm, or none")
        if inside >= outside:
            raise ValueError("inside_mm is not less than outside_mm")
        if pressed >= rest:
            raise ValueError("pressed_mm is not less than rest_mm")
        return self


class Spreads(Model):
    """Standard deviations of how true things come out; measure yours where you can."""

    skin_mm: NonNegativeMm = 0.10
    hole_place_mm: NonNegativeMm = 0.08  # of a bolt's hole against its bolt, sideways and in height, each
    hole_mm: NonNegativeMm = 0.03  # of a hole's diameter
    bolt_mm: NonNegativeMm = 0.10  # of a bolt's length
    depth_mm: NonNegativeMm = 0.10  # of a hole's depth
    friction_ratio: float = Field(default=0.06, ge=0, le=0.5)


class Wish(Model):
    """What the latch should do, and how much room there is."""

    bolts: int = Field(default=2, ge=1, le=4)
    skin_mm: PositiveMm = 3.0  # wood that is left over the rotor
    throw_mm: PositiveMm = 5.0
    holds_n: float = Field(default=60.0, gt=0, le=5000)  # a pull on the locked lid
    across_most_mm: PositiveMm = 60.0  # of the rotor and the key
    high_most_mm: PositiveMm = 30.0  # from the skin to below the bolts
    over_mm: PositiveMm = 8.0  # wood over the bolts' holes
    open_mm: NonNegativeMm = 1.0  # between lid and wall, where a bolt lies free
    works_ratio: float = Field(default=0.99, gt=0, lt=1)  # of boxes built like this


class HoldWish(Model):
    """For ``kind = "hold"``: magnets that only hold a lid down."""

    count: int = Field(default=2, ge=1, le=50)  # magnets in the lid
    plate: bool = False  # steel in the body in place of magnets
    wood_mm: PositiveMm = 1.0  # wood, glue and air between
    lid_n: float = Field(default=5.0, ge=0, le=500)
    deep_mm: PositiveMm = 200.0  # from the edge that is lifted to the other
    inset_mm: NonNegativeMm = 12.0  # of the magnets, from the edge that is lifted
    lifts_n: float = Field(default=6.0, gt=0, le=500)
    lifts_most_n: float = Field(default=20.0, gt=0, le=500)


class SlideWish(Model):
    """For ``kind = "slide"``: a bolt with a magnet in it, slid from outside."""

    skin_mm: PositiveMm = 4.0
    play_mm: NonNegativeMm = 0.5
    long_mm: PositiveMm = 40.0  # of the bolt's steel
    wide_mm: PositiveMm = 12.0  # the largest magnet that goes into the bolt
    spare_n: float = Field(default=0.5, gt=0, le=100)


HolesBy = Literal["bridge", "undercut", "stand", "guide", "right angle", "lean"]


class DrillTools(Model):
    """What there is to drill sideways with, by hand."""

    angle_head_mm: NonNegativeMm = 0.0  # 0: none
    chuck_mm: PositiveMm = 20.0
    bit_mm: PositiveMm = 60.0


class Chosen(Model):
    """The turn latch that was settled on, of the hardware on hand: written by ``witnessmark latch --use``."""

    key_magnet: str
    key_stack: int = Field(default=1, ge=1, le=10)
    rotor_magnet: str
    rotor_stack: int = Field(default=1, ge=1, le=10)
    poles: Literal[2, 4, 6]
    circle_mm: PositiveMm  # on which the magnets' middles lie: its radius
    web_mm: PositiveMm
    rod: str
    low_mm: PositiveMm
    rise_deg: float = Field(gt=0, le=180)
    back: str  # a magnet or a spring
    recess_mm: NonNegativeMm = 0.0
    hole_mm: PositiveMm
    hole_deep_mm: PositiveMm
    lower_mm: NonNegativeMm = 0.0


class Place(Model):
    """Where in the box the latch is: the pieces that it is let into, and its axis on the body's x and y."""

    lid: str = "lid"
    body: str = "body"
    x_mm: Mm = 0.0
    y_mm: Mm = 0.0
    first_deg: float = Field(default=0.0, ge=-360, le=360)  # the way of the first bolt, from x
    stands_mm: NonNegativeMm | None = None  # the lid's lowest face over the body's foot; a box file knows
    holes: HolesBy | tuple[HolesBy, ...] = "bridge"  # one for all bolts, or one for each

    def holes_of(self, bolts: int) -> tuple[HolesBy, ...]:
        """How each bolt's hole is made."""
        return (self.holes,) * bolts if isinstance(self.holes, str) else self.holes


class Latch(Model):
    """The file: the kind, the wish, the hardware, and how true things come out."""

    kind: Literal["turn", "hold", "slide"] = "turn"
    wood: str = "cherry, black"
    wish: Wish = Wish()
    hold: HoldWish = HoldWish()
    slide: SlideWish = SlideWish()
    spreads: Spreads = Spreads()
    tools: DrillTools = DrillTools()
    place: Place | None = None
    chosen: Chosen | None = None
    magnets: tuple[MagnetOnHand, ...]
    rods: tuple[RodOnHand, ...]
    springs: tuple[SpringOnHand, ...] = ()

    @model_validator(mode="after")
    def _something_of_each(self) -> Self:
        if self.hold.lifts_most_n <= self.hold.lifts_n:
            raise ValueError("hold.lifts_most_n is not more than hold.lifts_n")
        if not self.magnets or not self.rods:
            raise ValueError("give the magnets and the rods on hand, one of each at least")
        every: tuple[OnHand, ...] = (*self.magnets, *self.rods, *self.springs)
        names = [item.name for item in every]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"two things are called {twice[0][:40]}")
        if self.place and len(self.place.holes_of(self.wish.bolts)) != self.wish.bolts:
            raise ValueError(
                f"place.holes names {len(self.place.holes)} ways for {self.wish.bolts} bolts: one, or so many"
            )
        if self.chosen:
            self._on_hand(self.chosen)
        return self

    def _on_hand(self, chosen: Chosen) -> None:
        magnets, rods = ({item.name for item in of} for of in (self.magnets, self.rods))
        back = magnets | {spring.name for spring in self.springs}
        wanted = (
            ("key_magnet", chosen.key_magnet, magnets),
            ("rotor_magnet", chosen.rotor_magnet, magnets),
            ("rod", chosen.rod, rods),
            ("back", chosen.back, back),
        )
        for key, name, there in wanted:
            if name not in there:
                raise ValueError(f"chosen.{key} {name[:40]!r} is none of what is on hand: {', '.join(sorted(there))}")

    @property
    def let_in(self) -> bool:
        """Whether it is cut into the pieces of the job: settled on, and with a place."""
        return self.kind == "turn" and self.chosen is not None and self.place is not None


def demonstration_latch() -> Latch:
    """What lies in a drawer: three sizes of magnets, two rods, a spring. Our own."""
    return Latch(
        magnets=(
            MagnetOnHand(name="disc 6x3", diameter_mm=6.0, thickness_mm=3.0, count=20),
            MagnetOnHand(name="disc 8x3", diameter_mm=8.0, thickness_mm=3.0, grade="N45", count=16),
            MagnetOnHand(name="disc 10x5", diameter_mm=10.0, thickness_mm=5.0, grade="N42", count=8),
        ),
        rods=(
            RodOnHand(name="rod 5", diameter_mm=5.0, length_mm=1000.0),
            RodOnHand(name="rod 4", diameter_mm=4.0, length_mm=500.0),
        ),
        springs=(SpringOnHand(name="soft spring", rate_n_mm=0.05, rest_n=0.15, count=6),),
    )


def load_latch(path: Path) -> Latch:
    """The latch of a file; a Refusal holds everything that is wrong with it."""
    return load_model(path, Latch, "name the latch file", "or make one: witnessmark latch FOLDER --start")


def save_latch(latch: Latch, folder: Path) -> None:
    """Write the latch file of a folder; where there is one, its comments, order and spelling of values are kept."""
    path = folder / LATCH_FILE
    text = latch_text(latch)
    if path.is_file():
        text = rewritten(file_text(path), latch)
    if validated(Latch, tables_of(text, LATCH_FILE), LATCH_FILE) != ([], latch):
        raise RuntimeError(f"{LATCH_FILE} as rewritten does not read back as it was meant; the old file is untouched")
    write_text_whole(path.resolve(), text)


def latch_text(latch: Latch) -> str:
    """A fresh latch file, each value under a line on what it is."""
    return fresh_text(latch, _OPENING)
