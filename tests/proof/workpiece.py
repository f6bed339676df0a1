"""A small block to prove programs on: a step-sided block with a pocket, its machine, cutters and hand-made programs.

The programs are plain RS-274 text put together here, without the project's writer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import manifold3d
import numpy as np

from witnessmark.field.columns import Columns
from witnessmark.job.frames import standing
from witnessmark.job.models import Cutter, Machine, Settings
from witnessmark.job.placement import Hold, Placement, rectangle_outline
from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.verdict import ProgramText, Verdict
from witnessmark.shapes.solid import Solid

HIGH = 20.0
BLANK_MIN, BLANK_MAX = np.array([-32.0, -22.0, 0.0]), np.array([32.0, 22.0, HIGH])
SHIFT = (100.0, 75.0)
SETTINGS = Settings(proof_pitch_mm=0.25)

MACHINE = Machine(
    name="test router",
    travel_x_mm=200.0,
    travel_y_mm=150.0,
    travel_z_mm=60.0,
    nose_above_bed_mm=100.0,
    gantry_above_bed_mm=70.0,
    clear_width_mm=300.0,
)
FLAT = Cutter(
    name="flat 6",
    kind="flat",
    diameter_mm=6.0,
    flute_length_mm=25.0,
    stickout_mm=35.0,
    shank_diameter_mm=6.0,
    entry_feed_mm_min=400.0,
)
BALL = FLAT.model_copy(update={"name": "ball 6", "kind": "ball"})


def block_with_pocket() -> Solid:
    """50 x 30 x 20 mm, with a pocket of 20 x 12 x 8 mm whose corners are round (radius 3.2)."""
    block = manifold3d.Manifold.cube((50, 30, HIGH)).translate((-25, -15, 0))
    across = manifold3d.CrossSection.square((20 - 6.4, 12 - 6.4), center=True)
    rounded = across.offset(3.2, manifold3d.JoinType.Round, circular_segments=256)
    return Solid(block - manifold3d.Manifold.extrude(rounded, 8).translate((0, 0, HIGH - 8)))


def rectangle(half_x: float, half_y: float) -> list[tuple[float, float]]:
    return [(-half_x, -half_y), (half_x, -half_y), (half_x, half_y), (-half_x, half_y), (-half_x, -half_y)]


@dataclass
class Script:
    """A program in the making; places are given in the piece frame (= standing frame here)."""

    shift: tuple[float, float] = SHIFT
    lines: list[str] = field(default_factory=lambda: ["G17 G21 G40 G49 G54 G80 G90 G94", "S18000 M3", "G0 Z25"])

    def at(self, x: float, y: float) -> str:
        return f"X{x + self.shift[0]:.3f} Y{y + self.shift[1]:.3f}"

    def over(self, x: float, y: float, safe: float = 25.0) -> Script:
        """Raise, and a rapid to a place."""
        self.lines += [f"G0 Z{safe:.3f}", f"G0 {self.at(x, y)}"]
        return self

    def down(self, z: float, feed: float = 400.0) -> Script:
        self.lines.append(f"G1 Z{z:.3f} F{feed:.0f}")
        return self

    def along(self, points: list[tuple[float, float]], feed: float = 1500.0) -> Script:
        for i, (x, y) in enumerate(points):
            self.lines.append(f"G1 {self.at(x, y)}" + (f" F{feed:.0f}" if i == 0 else ""))
        return self

    def text(self) -> str:
        return "\n".join([*self.lines, "G0 Z25", "M5", "M2"]) + "\n"


LEVELS = (16.0, 12.0, 8.0, 4.0, 0.0)


def cut_corners(half_x: float, half_y: float, by: float) -> list[tuple[float, float]]:
    """A ring of a rectangle with its corners cut off, so that it stays inside the round corners of the pocket."""
    x, y = half_x, half_y
    return [
        (-x, -y + by),
        (-x + by, -y),
        (x - by, -y),
        (x, -y + by),
        (x, y - by),
        (x - by, y),
        (-x + by, y),
        (-x, y - by),
        (-x, -y + by),
    ]


def outside(script: Script, levels: tuple[float, ...] = LEVELS, out: float = 3.0) -> Script:
    """Round the block on each level, the cutter's centre ``out`` from its sides."""
    path = rectangle(25 + out, 15 + out)
    for z in levels:
        script.over(*path[0]).down(z).along(path[1:])
    return script


def pocket(script: Script, floor: float = 12.0, reach: float = 0.0, corner: float = 0.2) -> Script:
    """Clear the pocket in two levels down to ``floor``; ``reach`` moves its last ring outward."""
    for z in (16.0, floor):
        inner = [(-5.0, 0.0), (5.0, 0.0), (-5.0, 0.0)]
        script.over(-5, 0).down(z).along(inner[1:])
        script.along(rectangle(5.5, 1.5)).along(cut_corners(7.0 + reach, 3.0 + reach, corner))
    return script


def good_text() -> str:
    return outside(pocket(Script())).text()


def placement(name: str = "1", up: str = "+z", holds: tuple[Hold, ...] | None = None, **more: object) -> Placement:
    everything = (Hold("tape", rectangle_outline((-32.0, -22.0, 32.0, 22.0))),)
    return Placement(
        name=name,
        up=up,
        stand=standing(up, BLANK_MIN, BLANK_MAX),
        shift_mm=SHIFT,
        support_z_bed_mm=0.0,
        region_mm=(-40.0, -30.0, 40.0, 30.0),
        cutters=("flat 6",),
        holds=everything if holds is None else holds,
        **more,  # type: ignore[arg-type]
    )


def proven(
    text: str,
    cutter: Cutter = FLAT,
    place: Placement | None = None,
    machine: Machine = MACHINE,
    solid: Solid | None = None,
    settings: Settings = SETTINGS,
    columns: Columns | None = None,
    poses: dict[str, tuple[float, float, float]] | None = None,
) -> Verdict:
    """The verdict on one program for the block."""
    place = place or placement()
    wood = columns or blank_columns(BLANK_MIN, BLANK_MAX, settings)
    program = ProgramText("one.nc", place.name, cutter.name, text)
    return prove(
        [program], wood, solid or block_with_pocket(), machine, [cutter], {place.name: place}, settings, poses=poses
    )


def kinds(verdict: Verdict) -> set[str]:
    """The kinds of findings that stop the work."""
    return {finding.kind for finding in verdict.findings if finding.harm == "stop"}


def ball_rings(
    step: float, lean_rad: float, high: float, half_x: float, half_y: float, off: float = 0.0
) -> list[str]:
    """Rings of a 6 mm ball round a boss whose walls lean ``lean_rad``; its top measures 2 half_x by 2 half_y.

    The ball touches the walls; ``off`` moves it along their normal (negative: into the wood).
    """
    radius = 3.0
    script = Script()
    tip = high
    while tip > -radius:
        out = (high - tip - radius) * math.tan(lean_rad) + (radius + off) / math.cos(lean_rad)
        path = rectangle(half_x + out, half_y + out)
        script.over(*path[0], safe=high + 5).down(tip).along(path[1:])
        tip -= step
    return script.lines
