"""What a fitted box is made from: an outline and a few sizes. Kept in a box file beside job.toml; lengths in mm."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from .models import Mm, Model, NonNegativeMm, PositiveMm
from .rewrite import fresh_text
from .toml_file import load_model
from .units import length_mm

Closing = Literal["rebate", "lip", "flat"]
PARTS = ("body", "lid")
TRAY = "tray"

BOX_FILE = "box.toml"
_OPENING = (
    'A fitted box. Lengths are in mm; a length in another unit carries it: "1/4 in", "2.5 cm".',
    "Change a size and plan again: the shapes of body, lid and trays are made from this file each time it is read.",
)

LEAST_WALL_MM = 1.5  # thinner wood is a veneer, and no router leaves it standing


class Pair(Model):
    """Sizes along x and y."""

    x_mm: PositiveMm
    y_mm: PositiveMm


class BoxOutline(Model):
    """One of: a drawing, traced points, a formula in t from 0 to 2 pi (x and y, or r), or a rounded rectangle."""

    file: str | None = None
    unit: Literal["mm", "cm", "m", "inch"] | None = None
    x: str | None = None
    y: str | None = None
    r: str | None = None
    rectangle: Pair | None = None
    corner_radius_mm: NonNegativeMm = 0.0
    size_x_mm: PositiveMm | None = None
    size_y_mm: PositiveMm | None = None
    turn_deg: float = Field(default=0.0, ge=-360, le=360)

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = [self.file is not None, self.r is not None, self.rectangle is not None]
        kinds.append(self.x is not None or self.y is not None)
        if sum(kinds) != 1:
            raise ValueError("give one of: file, x and y, r, rectangle")
        if (self.x is None) != (self.y is None):
            raise ValueError("a formula for x needs one for y, and the other way round")
        if self.rectangle and 2 * self.corner_radius_mm > min(self.rectangle.x_mm, self.rectangle.y_mm):
            raise ValueError("corner_radius_mm is more than half of the rectangle's shorter side")
        return self


class Scoop(Model):
    """A hollow in the outside of the wall at the rim, for a fingertip under the lid; ``at_deg`` from x, seen from
    the middle of the box."""

    at_deg: float = Field(ge=-360, le=360)
    width_mm: PositiveMm = 22.0
    depth_mm: PositiveMm = 2.5


class Tray(Model):
    """A tray that follows the inside outline; trays lie on each other, the first on a ledge in the body."""

    height_mm: PositiveMm
    wall_mm: PositiveMm = 5.0
    floor_mm: PositiveMm = 4.0
    dividers_x_mm: tuple[Mm, ...] = ()
    dividers_y_mm: tuple[Mm, ...] = ()
    notch_width_mm: NonNegativeMm = 0.0
    notch_depth_mm: NonNegativeMm = 0.0
    notches_deg: tuple[Annotated[float, Field(ge=-360, le=360)], ...] = ()


class Box(Model):
    """A body and a lid of one outline, with what goes inside."""

    outline: BoxOutline
    inside_height_mm: PositiveMm
    wall_mm: PositiveMm = 9.0
    floor_mm: PositiveMm = 8.0
    lid_mm: PositiveMm = 12.0
    closing: Closing = "rebate"
    lip_mm: PositiveMm = 4.0
    rebate_mm: PositiveMm = 5.0
    gap_mm: Annotated[float, BeforeValidator(length_mm), Field(ge=0.05)] = 0.3
    cutter_mm: PositiveMm = 6.0
    dividers_x_mm: tuple[Mm, ...] = ()
    dividers_y_mm: tuple[Mm, ...] = ()
    divider_mm: PositiveMm = 6.0
    ledge_mm: PositiveMm = 4.0
    tray_gap_mm: Annotated[float, BeforeValidator(length_mm), Field(ge=0.05)] = 0.5
    trays: tuple[Tray, ...] = ()
    scoops: tuple[Scoop, ...] = ()
    dome_mm: NonNegativeMm = 0.0
    lid_edge_mm: NonNegativeMm = 0.0
    foot_edge_mm: NonNegativeMm = 0.0

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        for wrong, words in self._troubles():
            if wrong:
                raise ValueError(words)
        return self

    def _troubles(self) -> tuple[tuple[bool, str], ...]:
        trays_mm = sum(tray.height_mm for tray in self.trays)
        stands_mm = self.wall_mm - self.lip_mm - (self.gap_mm if self.closing == "lip" else 0.0)
        rests = "rebate's ledge" if self.closing == "rebate" else "lip that stands up inside"
        deepest_mm = max((scoop.depth_mm for scoop in self.scoops), default=0.0)
        thin = f"would be thinner than {LEAST_WALL_MM} mm"
        return (
            (min(self.wall_mm, self.floor_mm, self.lid_mm) < LEAST_WALL_MM, f"wall, floor or lid {thin}"),
            (
                self.closing != "flat" and min(self.lip_mm, stands_mm) < LEAST_WALL_MM,
                f"lip_mm {self.lip_mm:g} in a wall of {self.wall_mm:g} mm: the lip or the {rests} {thin}",
            ),
            (
                self.closing != "flat" and self.rebate_mm <= self.gap_mm,
                f"rebate_mm {self.rebate_mm:g} is no more than gap_mm {self.gap_mm:g}: nothing would hold the lid",
            ),
            (
                self.closing == "lip" and self.lid_mm < self.rebate_mm + self.gap_mm + LEAST_WALL_MM,
                f"a lid of {self.lid_mm:g} mm is too thin over a lip of {self.rebate_mm:g} mm",
            ),
            (
                bool(self.trays) and trays_mm + 2 * self.tray_gap_mm >= self.inside_height_mm,
                f"the trays are {trays_mm:g} mm high together; the inside is {self.inside_height_mm:g} mm",
            ),
            (
                any(t.floor_mm >= t.height_mm or t.notch_depth_mm > t.height_mm - t.floor_mm for t in self.trays),
                "a tray's floor or notch is deeper than the tray is high",
            ),
            (
                any(2 * tray.notch_depth_mm > tray.notch_width_mm for tray in self.trays),
                "a tray's notch is deeper than half its width",
            ),
            (
                any(tray.notches_deg and not tray.notch_width_mm * tray.notch_depth_mm for tray in self.trays),
                "a tray with notches_deg needs notch_width_mm and notch_depth_mm",
            ),
            (
                bool(self.scoops) and deepest_mm > (self.lip_mm if self.closing == "rebate" else self.wall_mm) - 1.0,
                f"a scoop {deepest_mm:g} mm deep would break through the rim: leave 1 mm of it",
            ),
            (
                self.lid_edge_mm >= self.lid_mm or self.foot_edge_mm > self.floor_mm,
                "an edge is rounded by more than the lid or the floor is thick",
            ),
        )

    @property
    def part_names(self) -> tuple[str, ...]:
        """The parts in the order they are made: body, lid, tray 1, tray 2, ..."""
        return (*PARTS, *(f"{TRAY} {k + 1}" for k in range(len(self.trays))))

    @property
    def rim_mm(self) -> float:
        """Height of the body's highest face above its foot."""
        return self.floor_mm + self.inside_height_mm + (self.rebate_mm if self.closing == "rebate" else 0.0)

    @property
    def shoulder_mm(self) -> float:
        """Height of the face that the lid's edge rests on."""
        return self.rim_mm - (self.rebate_mm if self.closing == "lip" else 0.0)

    @property
    def ceiling_mm(self) -> float:
        """Height above the foot up to which the inside is clear."""
        return self.floor_mm + self.inside_height_mm


def load_box(path: Path) -> Box:
    """The box that a file states; a Refusal holds everything that is wrong with it."""
    return load_model(path, Box, "name the box file as it stands in the folder", "or make one: witnessmark box")


def box_text(box: Box) -> str:
    """A fresh box file that states every size, each under a line on what it is."""
    return fresh_text(box, _OPENING)
