"""The job's models: machine, cutters, blanks, pieces, settings. Frozen, units in every name.

A value may carry its unit ("1/4 in", "80 in/min", "1.1 kW": see ``units``); plain numbers have the unit of the name.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from .units import acceleration_mm_s2, length_mm, power_w, rate_mm_min, speed_rpm

Mm = Annotated[float, BeforeValidator(length_mm)]
PositiveMm = Annotated[float, BeforeValidator(length_mm), Field(gt=0)]
NonNegativeMm = Annotated[float, BeforeValidator(length_mm), Field(ge=0)]

MmMin = Annotated[float, BeforeValidator(rate_mm_min), Field(gt=0)]
MmS2 = Annotated[float, BeforeValidator(acceleration_mm_s2), Field(gt=0)]
Rpm = Annotated[float, BeforeValidator(speed_rpm), Field(gt=0)]
Watt = Annotated[float, BeforeValidator(power_w), Field(gt=0)]

CutterKind = Literal["flat", "ball", "bull", "tapered_ball", "v", "drill", "t_slot"]


class Model(BaseModel):
    """Frozen; unknown keys are refused (complaints.py names the nearest known one), and so are nan and inf."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class MovableBoard(Model):
    """The board the blank is fixed to, and that is shifted as one with it."""

    thickness_mm: PositiveMm
    size_x_mm: PositiveMm
    size_y_mm: PositiveMm
    hole_pitch_mm: PositiveMm
    hole_inset_mm: PositiveMm = 12.5
    bolt_places_mm: tuple[NonNegativeMm, ...] = ()
    bolt_head_height_mm: NonNegativeMm = 5.0
    bolt_head_diameter_mm: PositiveMm = 13.0
    repeatability_mm: NonNegativeMm = 0.1


class Shoe(Model):
    """A dust shoe: the circle about it, and its outline about the spindle axis where it is not round.

    The plan keeps the circle clear; the proof goes by the outline, which stays as it lies on the machine.
    """

    diameter_mm: PositiveMm
    below_nose_mm: PositiveMm
    outline_mm: tuple[tuple[Mm, Mm], ...] = ()


class Controller(Model):
    """What the machine's controller understands."""

    arcs: bool = True
    radius_arcs: bool = True
    canned_cycles: bool = False
    radius_compensation: bool = False
    probing: bool = False
    expressions: bool = False
    tool_change: bool = False
    units: Literal["mm", "inch"] = "mm"
    decimals: int = Field(default=3, ge=2, le=6)
    line_numbers: bool = False
    comments: bool = True


class Machine(Model):
    """A small router: travels, heights, spindle, feeds, controller."""

    name: str = "machine"
    travel_x_mm: PositiveMm
    travel_y_mm: PositiveMm
    travel_z_mm: PositiveMm
    nose_above_bed_mm: PositiveMm
    gantry_above_bed_mm: PositiveMm
    clear_width_mm: PositiveMm
    overhang_axis: Literal["x", "y"] = "x"
    moves: Literal["table", "gantry"] = "gantry"
    board: MovableBoard | None = None
    nose_diameter_mm: PositiveMm = 65.0
    nose_length_mm: PositiveMm = 80.0
    nut_diameter_mm: PositiveMm = 20.0
    nut_length_mm: PositiveMm = 20.0
    shoe: Shoe | None = None
    shoe_on: bool = False
    spindle_min_rpm: Rpm = 8000.0
    spindle_max_rpm: Rpm = 24000.0
    spindle_power_w: Watt = 800.0
    rapid_x_mm_min: MmMin = 5000.0
    rapid_y_mm_min: MmMin = 5000.0
    rapid_z_mm_min: MmMin = 2000.0
    feed_max_mm_min: MmMin = 4000.0
    acceleration_x_mm_s2: MmS2 = 300.0
    acceleration_y_mm_s2: MmS2 = 300.0
    acceleration_z_mm_s2: MmS2 = 150.0
    corner_deviation_mm: PositiveMm = 0.02
    controller: Controller = Controller()

    @property
    def support_z_bed_mm(self) -> float:
        """Height of the supporting face above the fixed spoilboard."""
        return self.board.thickness_mm if self.board else 0.0


class Cutter(Model):
    """A cutter with its whole assembly's lengths. Stick-out is from the collet nut's face to the tip.

    A T-slot (or keyseat) cutter is a disc, as thick as its flutes are long, under a neck; without a neck of its own
    the shank is the neck.
    """

    name: str
    kind: CutterKind
    diameter_mm: PositiveMm
    flute_length_mm: PositiveMm
    stickout_mm: PositiveMm
    shank_diameter_mm: PositiveMm
    corner_radius_mm: NonNegativeMm = 0.0
    included_angle_deg: float = Field(default=0.0, ge=0, lt=180)
    neck_diameter_mm: NonNegativeMm = 0.0
    neck_length_mm: NonNegativeMm = 0.0
    flutes: int = Field(default=2, ge=1)
    centre_cutting: bool = True
    feed_mm_min: MmMin = 2000.0
    entry_feed_mm_min: MmMin = 600.0
    spindle_rpm: Rpm = 18000.0
    stepdown_mm: PositiveMm = 3.0
    stepover_mm: PositiveMm = 2.5

    @property
    def undercuts(self) -> bool:
        """Whether it cuts under wood that stays above it."""
        return self.kind == "t_slot"

    @property
    def plunges(self) -> bool:
        """Whether it can go straight down into wood."""
        return self.centre_cutting and not self.undercuts


class Hollow(Model):
    """Where a blank of stacked rings has no wood: heights above its underside, and corners in the piece's x, y."""

    z_from_mm: NonNegativeMm
    z_to_mm: PositiveMm
    outline_mm: tuple[tuple[Mm, Mm], ...]


class Blank(Model):
    """The block round the piece: size, and how much of it lies beyond the piece on each face."""

    size_x_mm: PositiveMm
    size_y_mm: PositiveMm
    size_z_mm: PositiveMm
    below_mm: NonNegativeMm = 0.0
    species: str = "cherry, black"
    grain_axis: Literal["x", "y", "z"] = "x"
    glue_lines_z_mm: tuple[Mm, ...] = ()
    layer_grains: tuple[Literal["x", "y", "round"], ...] = ()  # of each layer from below; (): all as grain_axis
    hollows: tuple[Hollow, ...] = ()
    corner_mm: tuple[Mm, Mm, Mm] | None = None  # its lowest corner, piece frame; None: the piece lies in its middle

    @model_validator(mode="after")
    def _a_grain_for_every_layer(self) -> Self:
        layers = len(self.glue_lines_z_mm) + 1
        if self.layer_grains and len(self.layer_grains) != layers:
            raise ValueError(f"layer_grains names {len(self.layer_grains)} layers, glue_lines_z_mm makes {layers}")
        return self


class PieceWish(Model):
    """What the maker wishes of one piece: its own first side up goes before the job's; forbidden sides add to it."""

    first_up: Literal["+z", "-z"] | None = None
    forbid_sides: tuple[str, ...] = ()


class Stage(Model):
    """Work that is not the router's, in its place between the placements; ``after`` 0: before the first."""

    after: int = Field(default=0, ge=0)
    kind: Literal["saw", "drill", "rest", "sand", "other"] = "other"
    words: str
    hours: float = Field(default=0.0, ge=0.0, le=2000.0)


class PieceLayer(Model):
    """A piece that is one layer of another: which heights of it, and the holes of the pins that hold it in place.

    ``pins_mm``: x, y of a pin's axis, and the heights from and to which its hole runs in this layer.
    """

    of: str
    from_mm: NonNegativeMm
    to_mm: PositiveMm
    pin_mm: NonNegativeMm = 0.0
    hole_mm: NonNegativeMm = 0.0
    pins_mm: tuple[tuple[Mm, Mm, NonNegativeMm, PositiveMm], ...] = ()

    @model_validator(mode="after")
    def _is_a_layer(self) -> Self:
        if self.to_mm <= self.from_mm:
            raise ValueError("a layer runs from a smaller to a larger height")
        if self.pins_mm and self.hole_mm <= 0.0:
            raise ValueError("pins_mm needs hole_mm")
        if any(not self.from_mm <= z0 < z1 <= self.to_mm for _, _, z0, z1 in self.pins_mm):
            raise ValueError("a pin's hole runs from a smaller to a larger height, within its layer")
        return self


class PieceSpec(Model):
    """A piece to make: its shape file (relative to the job folder), its blank, and what is wished of it alone."""

    name: str
    shape: str
    blank: Blank
    shape_unit: Literal["mm", "cm", "m", "inch"] | None = None
    part: str | None = None  # which part, where the shape is a box file
    thickness_mm: PositiveMm | None = None  # of the piece, where the shape is an outline
    layer: PieceLayer | None = None  # which layer of the shape it is, where it is cut in layers
    wish: PieceWish = PieceWish()
    stages: tuple[Stage, ...] = ()


class Settings(Model):
    """Allowances and tolerances."""

    wall_allowance_mm: NonNegativeMm = 0.3
    floor_allowance_mm: NonNegativeMm = 0.3
    scallop_mm: PositiveMm = 0.05
    gouge_tolerance_mm: PositiveMm = 0.05
    leftover_tolerance_mm: PositiveMm = 0.05
    through_overlap_mm: NonNegativeMm = 0.5
    trench_mm: NonNegativeMm = 3.0
    travel_slack_mm: NonNegativeMm = 3.0
    seam_overlap_mm: PositiveMm = 4.0
    safe_above_wood_mm: PositiveMm = 5.0
    plan_pitch_mm: PositiveMm = 0.5
    proof_pitch_mm: PositiveMm = 0.2
    assembly_clearance_mm: NonNegativeMm = 0.5
    longest_program_minutes: float = Field(default=0.0, ge=0.0, le=10_000.0)  # 0: as long as it takes


class Holding(Model):
    """What holds the work on its support: tape and adhesive by the maker's own pull test, clamps on the waste.

    No published figure was found for tape and adhesive on wood; the defaults are low guesses of our own.
    """

    tape_pull_n_cm2: float = Field(default=10.0, ge=0, le=500)
    tape_shear_n_cm2: float = Field(default=10.0, ge=0, le=500)
    tape_covers_ratio: float = Field(default=0.6, ge=0, le=1)
    clamps: int = Field(default=0, ge=0, le=100)
    clamp_n: float = Field(default=300.0, ge=0, le=100_000)
    friction_ratio: float = Field(default=0.3, ge=0, le=2)
    enough_ratio: float = Field(default=2.0, ge=1, le=100)


class Season(Model):
    """The year of the place where the piece will live, and what the wood's moisture is now, by meter."""

    dry_c: float = Field(default=20.0, ge=-20, le=60)
    dry_humidity_pct: float = Field(default=35.0, gt=0, lt=100)
    damp_c: float = Field(default=20.0, ge=-20, le=60)
    damp_humidity_pct: float = Field(default=65.0, gt=0, lt=100)
    moisture_pct: float = Field(default=8.0, gt=0, lt=28)


class LetIn(Model):
    """Hardware let into a piece, metal say: its size along and across the grain, and the room cut round it (both
    sides together)."""

    name: str
    piece: str
    along_mm: PositiveMm
    across_mm: PositiveMm
    gap_mm: NonNegativeMm = 0.2


class Wish(Model):
    """What the maker insists on or forbids, for every piece."""

    first_up: Literal["+z", "-z"] | None = None
    forbid_sides: tuple[str, ...] = ()
    max_placements: int = Field(default=8, ge=1)


class Job(Model):
    """Everything the maker knows."""

    name: str
    machine: Machine
    cutters: tuple[Cutter, ...]
    pieces: tuple[PieceSpec, ...]
    settings: Settings = Settings()
    holding: Holding = Holding()
    season: Season | None = None
    hardware: tuple[LetIn, ...] = ()
    wish: Wish = Wish()

    @model_validator(mode="after")
    def _hardware_has_its_piece(self) -> Self:
        names = {piece.name for piece in self.pieces} | {piece.layer.of for piece in self.pieces if piece.layer}
        for one in self.hardware:
            if one.piece not in names:
                raise ValueError(f'hardware "{one.name[:40]}" is let into "{one.piece[:40]}", which is no piece')
        return self

    @property
    def planned_cutters(self) -> tuple[Cutter, ...]:
        """The cutters that the plan writes programs for: those that cut nothing but what lies open from above."""
        return tuple(cutter for cutter in self.cutters if not cutter.undercuts)
