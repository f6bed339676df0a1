"""The pile of boards: what is on hand, with its defects and price, and the sizes that sawing and planing take."""

from __future__ import annotations

from pathlib import Path
from typing import Self

from pydantic import Field, model_validator

from .models import Model, NonNegativeMm, PositiveMm
from .rewrite import fresh_text
from .toml_file import load_model

BOARDS_FILE = "boards.toml"
_OPENING = (
    'The boards on hand. Length runs along the grain. Lengths are in mm, or carry their unit: "8 ft" is not known, '
    '"96 in" is.',
    "What is left of a board after a cut list comes back here as an offcut: witnessmark boards --done.",
)


class Defect(Model):
    """A knot, a split or sapwood to stay clear of: a rectangle, from the board's one end and one edge."""

    from_end_mm: NonNegativeMm
    to_end_mm: PositiveMm
    from_edge_mm: NonNegativeMm
    to_edge_mm: PositiveMm

    @model_validator(mode="after")
    def _is_a_place(self) -> Self:
        if self.to_end_mm <= self.from_end_mm or self.to_edge_mm <= self.from_edge_mm:
            raise ValueError("a defect runs from a smaller to a larger distance")
        return self


class Board(Model):
    """One board, or several alike (``count``; then none has defects)."""

    name: str
    species: str = "cherry, black"
    length_mm: PositiveMm
    width_mm: PositiveMm
    thickness_mm: PositiveMm
    price: float = Field(default=0.0, ge=0, le=1e9)  # of one, in the maker's own money
    count: int = Field(default=1, ge=1, le=200)
    rings: str = Field(default="flat", pattern="^(flat|quarter|rift)$")  # how the annual rings lie
    defects: tuple[Defect, ...] = ()

    @model_validator(mode="after")
    def _defects_lie_on_it(self) -> Self:
        if self.defects and self.count > 1:
            raise ValueError("boards with defects are listed one by one")
        for defect in self.defects:
            if defect.to_end_mm > self.length_mm or defect.to_edge_mm > self.width_mm:
                raise ValueError("a defect reaches beyond the board")
        return self


class Sawing(Model):
    """What sawing, jointing and planing take."""

    kerf_mm: NonNegativeMm = 3.2
    end_mm: NonNegativeMm = 20.0  # cut off each end of a board: checks and stones
    edge_mm: NonNegativeMm = 2.0  # jointed off each edge of a board
    joint_mm: NonNegativeMm = 1.0  # jointed off each edge of a strip
    plane_mm: NonNegativeMm = 1.5  # planed off each face of a board
    long_mm: NonNegativeMm = 10.0  # strips are cut longer by this, trimmed after glueing
    least_offcut_mm: PositiveMm = 200.0  # shorter ends are firewood
    widest_strip_mm: PositiveMm = 150.0  # wider strips cup (common practice, no source)
    ring_wood_mm: PositiveMm = 5.0  # left round the hollow of a ring for the cutter


class Glueing(Model):
    """What glue and clamps do; the glue maker's sheet goes before these (common practice, no source)."""

    glue_g_m2: float = Field(default=180.0, gt=0, le=2000)
    open_minutes: float = Field(default=8.0, gt=0, le=600)
    spread_m2_min: float = Field(default=0.08, gt=0, le=10)
    pressure_mpa: float = Field(default=1.0, gt=0, le=5)
    clamp_n: float = Field(default=4000.0, gt=0, le=100_000)  # of one clamp, tightened by hand


class Boards(Model):
    """The file: boards and sawing allowances."""

    boards: tuple[Board, ...] = ()
    sawing: Sawing = Sawing()
    glueing: Glueing = Glueing()

    @model_validator(mode="after")
    def _each_name_once(self) -> Self:
        names = [board.name for board in self.boards]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"two boards are called {twice[0][:40]}")
        return self


def load_boards(path: Path) -> Boards:
    """The boards of a file; a Refusal holds everything that is wrong with it."""
    return load_model(path, Boards, "name the file of your boards", "or make one: witnessmark boards FOLDER --start")


def boards_text(boards: Boards) -> str:
    """A fresh file of boards, each value under a line on what it is."""
    return fresh_text(boards, _OPENING)
