"""Random short programs, one side after the other, against mesh booleans of the swept solids: volume and distance.

Every cutter here is convex (a T-slot cutter's disc, and what is over it, count apart), so that a straight move sweeps
the hull of its two end places; manifold3d does the booleans.
"""

from __future__ import annotations

import math
from itertools import pairwise

import manifold3d
import numpy as np
import pytest
from manifold3d import Manifold
from workpiece import BLANK_MAX, BLANK_MIN, FLAT, MACHINE

from witnessmark.job.frames import side_rotation, standing
from witnessmark.job.models import Cutter, Settings
from witnessmark.job.placement import Placement
from witnessmark.proof.judge import blank_columns, watch
from witnessmark.proof.verdict import ProgramText

AROUND = 192
FAR = 90.0
PLACES = 150
SETTINGS = Settings(proof_pitch_mm=0.2)
SHIFT = (100.0, 75.0)
CUTTERS = {
    "flat": FLAT,
    "ball": FLAT.model_copy(update={"name": "ball", "kind": "ball"}),
    "v": FLAT.model_copy(update={"name": "v", "kind": "v", "diameter_mm": 12.0, "included_angle_deg": 90.0}),
    "t_slot": FLAT.model_copy(
        update={"name": "t", "kind": "t_slot", "diameter_mm": 14.0, "flute_length_mm": 3.0, "shank_diameter_mm": 5.0}
    ),
}


def cutter_points(cutter: Cutter) -> np.ndarray:
    """Corners of the cutter with its tip at 0: a turned profile, to far above all wood but for a disc."""
    radius = cutter.diameter_mm / 2
    if cutter.kind == "ball":
        lean = np.linspace(0.0, math.pi / 2, 48)
        rings = [*zip(radius * np.sin(lean), radius * (1 - np.cos(lean))), (radius, FAR)]
    elif cutter.kind == "v":
        slope = 1 / math.tan(math.radians(cutter.included_angle_deg) / 2)
        rings = [(1e-6, 0.0), (radius, radius * slope), (radius, FAR)]
    else:
        rings = [(radius, 0.0), (radius, cutter.flute_length_mm if cutter.undercuts else FAR)]
    turn = np.linspace(0, 2 * math.pi, AROUND, endpoint=False)
    return np.concatenate(
        [np.column_stack([r * np.cos(turn), r * np.sin(turn), np.full(AROUND, z)]) for r, z in rings]
    )


def swept(cutter: Cutter, points: np.ndarray) -> Manifold:
    """The union of the hulls of joined moves through the points."""
    shape = cutter_points(cutter)
    hulls = [Manifold.hull_points(np.concatenate([shape + a, shape + b])) for a, b in pairwise(points)]
    return Manifold.batch_boolean(hulls, manifold3d.OpType.Add)


def random_points(rng: np.random.Generator, up: str) -> np.ndarray:
    """Where the tip goes, standing frame: over the blank as it stands, and into it."""
    corners = np.stack([BLANK_MIN, BLANK_MAX]) @ side_rotation(up).T
    low, high = corners.min(axis=0), corners.max(axis=0)
    tall = high[2] - low[2]
    return np.column_stack(
        [rng.uniform(low[0], high[0], 5), rng.uniform(low[1], high[1], 5), rng.uniform(tall - 9, tall - 0.5, 5)]
    )


def text_of(points: np.ndarray) -> str:
    lines = ["G17 G21 G40 G49 G54 G80 G90 G94", "S18000 M3"]
    for k, (x, y, z) in enumerate(points):
        feed = "G0" if k == 0 else "G1"
        lines.append(f"{feed} X{x + SHIFT[0]:.4f} Y{y + SHIFT[1]:.4f} Z{z:.4f}" + (" F900" if k == 1 else ""))
    return "\n".join([*lines, "M2"]) + "\n"


def placement(up: str) -> Placement:
    return Placement(
        name=up, up=up, stand=standing(up, BLANK_MIN, BLANK_MAX), shift_mm=SHIFT, support_z_bed_mm=0.0,
        region_mm=(-60.0, -60.0, 60.0, 60.0), cutters=tuple(CUTTERS),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("sides", "kinds"),
    [
        (("+z",), ("flat",)),
        (("+z", "-z"), ("ball", "flat")),
        (("-z", "+z"), ("v", "ball")),
        (("+z",), ("t_slot",)),
        (("-z", "+z"), ("t_slot", "t_slot")),
        (("+x",), ("ball",)),
        (("+z", "+x"), ("flat", "ball")),
        (("-y", "+z", "-x"), ("flat", "t_slot", "v")),
        (("-x", "+y", "+z", "-z"), ("ball", "flat", "flat", "ball")),
    ],
)
@pytest.mark.parametrize("seed", [0, 1])
def test_what_is_left_of_the_blank(sides: tuple[str, ...], kinds: tuple[str, ...], seed: int) -> None:
    rng = np.random.default_rng(1000 * seed + len(sides))
    left = Manifold.cube(tuple(BLANK_MAX - BLANK_MIN)).translate(tuple(BLANK_MIN))
    texts, gone = [], 0.0
    for up, kind in zip(sides, kinds):
        points = random_points(rng, up)
        texts.append(ProgramText(f"{up}.nc", up, CUTTERS[kind].name, text_of(np.round(points, 4))))
        back = standing(up, BLANK_MIN, BLANK_MAX).inverse()
        before = left.volume()
        left -= swept(CUTTERS[kind], points).transform(back.matrix34())
        gone += before - left.volume()
    wood = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
    grid = wood.grid
    found = watch(texts, wood, MACHINE, list(CUTTERS.values()), {up: placement(up) for up in sides}, SETTINGS)
    columns = found.columns_after
    assert columns.volume_mm3() == pytest.approx(left.volume(), abs=0.01 * gone + 15.0)
    # by places: wood in one of them is wood in the other, but for those within a cell of the surface
    row, column = rng.integers(0, grid.ny, PLACES), rng.integers(0, grid.nx, PLACES)
    z = rng.uniform(BLANK_MIN[2] + 0.01, BLANK_MAX[2] - 0.01, PLACES)
    inside = np.zeros(PLACES, dtype=bool)
    for k, cell in enumerate(row * grid.nx + column):
        mine = slice(columns.first[cell], columns.first[cell + 1])
        inside[k] = ((columns.low[mine] < z[k]) & (z[k] < columns.high[mine])).any()
    probe = 0.21  # half the diagonal of a cell of 0.2 mm, in space, and what the meshes' facets are off
    for k in range(PLACES):
        at = (grid.x_mm[column[k]], grid.y_mm[row[k]], z[k])
        near = Manifold.cube((2 * probe,) * 3, center=True).translate(at) ^ left
        share = near.volume() / (2 * probe) ** 3
        if share < 1e-9 or share > 1 - 1e-9:
            assert inside[k] == (share > 0.5)
