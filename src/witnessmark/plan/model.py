"""What planning comes to: the placements of a piece in order, and what each one does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from witnessmark.field.grid import Grid, Heights
from witnessmark.job.models import PieceSpec
from witnessmark.job.placement import Placement
from witnessmark.path.request import Pocket

from .rehearsal import Rehearsal

WASTE = "waste beyond the piece: "  # begins the note on the blank's ends: with the boards, where there is a cut list
COUNTED = "choices of placements were evaluated on the real floors"  # a note for who plans, not for the bench


@dataclass(frozen=True)
class ProgramInfo:
    """One program file: a cutter in a placement."""

    file: str
    placement: str
    cutter: str
    minutes: float
    cutting_m: float
    fingerprint: str = ""
    lowest_tip_mm: float = 0.0  # above the supporting face, anywhere in the program


@dataclass(frozen=True)
class Eased:
    """A concave corner no listed cutter fits: where (piece frame), and the radius it is left with."""

    place_mm: tuple[float, float, float]
    radius_mm: float
    leftover_mm: float


@dataclass(frozen=True, eq=False)
class PlacementPlan:
    """A placement with what is cut there. Fields lie on ``grid`` in the standing frame, mm above the support."""

    placement: Placement
    cuts: str
    grid: Grid
    top_before: Heights
    top_after: Heights
    clearance: Heights  # depth of clearance wood cut per cell, 0 where none
    removed_mm3: float
    clearance_mm3: float
    tips: Heights | None = None  # lowest wanted and allowed roughing tips, +inf where none
    wanted: Heights | None = None  # the same without the clearance cuts; not kept on disk
    programs: tuple[ProgramInfo, ...] = ()
    pockets: tuple[Pocket, ...] = ()  # touch lands cut here
    rehearsal: Rehearsal | None = None  # None: no place here is fit to come down over
    pace_mm3_min: float = 0.0  # wood that the main cutter takes in a minute at its stepdown, stepover and feed


@dataclass(frozen=True, eq=False)
class PiecePlan:
    """A piece's placements in order, and how the search went."""

    piece: PieceSpec
    placements: tuple[PlacementPlan, ...]
    bound: int
    evaluated: int
    pruned: Mapping[str, int]  # candidates that were not looked at, by what discarded them
    eased: tuple[Eased, ...] = ()
    notes: tuple[str, ...] = field(default=())
    short_mm2: float = 0.0  # what is surely out of reach, seen from above; known while planning only
