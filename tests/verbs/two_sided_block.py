"""A small block with a pocket from above and one from beneath, planned for a small machine, its programs written."""

from __future__ import annotations

import math
from pathlib import Path

import manifold3d
import numpy as np

from witnessmark.job.placement import Placement
from witnessmark.locate.typed import axis_of, expected_mm
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.new import first_job, new


def planned_block(folder: Path, window: bool = False) -> Path:
    """The job's folder, below ``folder``; ``window``: with an opening right through near one
    end, and its faces those of the blank."""
    box = manifold3d.Manifold.cube
    body = box((110.0, 60.0, 22.0)).translate((-55.0, -30.0, 0.0))
    body -= box((80.0, 40.0, 20.0)).translate((-40.0, -20.0, 15.0))
    body -= box((60.0, 30.0, 6.0)).translate((-30.0, -15.0, 0.0))
    if window:
        body -= box((16.0, 24.0, 40.0)).translate((20.0, -12.0, -5.0))
    shape = folder / "block.stl"
    write_stl(Solid(body), shape)
    made = first_job(shape, LookSizes((300, 400, 90), 6, 45, (20, 20), 65))
    piece = made.pieces[0]
    sizes = {"size_x_mm": 200.0, "size_y_mm": 150.0} | ({"size_z_mm": 22.0, "below_mm": 0.0} if window else {})
    blank = piece.blank.model_copy(update=sizes)
    settings = made.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.25})
    made = made.model_copy(update={"settings": settings, "pieces": (piece.model_copy(update={"blank": blank}),)})
    kept = new(folder / "job", shape, made)
    plan(kept)
    program(kept)
    return Path(kept)


def numbers_read(
    place: Placement, pose: tuple[float, float, float], stylus_mm: float, noise_mm: float = 0.0, seed: int = 0
) -> dict[int, float]:
    """What the machine says at every touch of a placement whose work lies at ``pose``: x, y, turn off its plan."""
    dx, dy, turn = pose
    rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    rng, numbers = np.random.default_rng(seed), {}
    for k, touch in enumerate(place.touches, 1):
        point = place.stand.apply(np.array(touch.point_mm))
        normal = rotation @ (place.stand.rotation @ np.array(touch.normal))[:2]
        at = rotation @ point[:2] + np.array(place.shift_mm) + [dx, dy]
        there = np.array(expected_mm(place, touch, stylus_mm / 2)[:2])
        axis = axis_of(place, touch)
        across = 1 - axis
        radius_mm = 0.0 if touch.kind == "bore" else stylus_mm / 2
        value = (radius_mm + normal @ at - normal[across] * there[across]) / normal[axis]
        numbers[k] = float(value + noise_mm * rng.standard_normal())
    return numbers
