"""The planner says whether the work stays where it is, and holds what is small in a frame of its waste."""

from __future__ import annotations

import manifold3d
import pytest
import shapely

from witnessmark.job.demonstration import demonstration_job
from witnessmark.job.models import Blank, Holding, PieceSpec, Wish
from witnessmark.plan.bridges import bridges_for
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.search import lay_out
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.upright import upright

ROTOR = upright(shapely.Point(0, 0).buffer(13.0, quad_segs=24), 10.0)
BLOCK = Solid(manifold3d.Manifold.cube((80.0, 60.0, 20.0), True).translate((0.0, 0.0, 10.0)))


def spec_for(solid: Solid, more_mm: float = 60.0) -> PieceSpec:
    low, high = solid.bounds_mm
    x, y, z = (float(v) for v in high - low)
    blank = Blank(size_x_mm=x + more_mm, size_y_mm=y + more_mm, size_z_mm=z + 2.0)
    return PieceSpec(name="piece", shape="piece.stl", blank=blank)


@pytest.fixture(scope="module")
def job():
    asked = demonstration_job()
    settings = asked.settings.model_copy(update={"plan_pitch_mm": 1.0})
    return asked.model_copy(update={"wish": Wish(), "settings": settings})


def said(plan) -> list[str]:
    return [note for step in plan.placements for note in step.placement.notes if note.startswith("the work may")]


def test_a_block_on_good_tape_stays(job):
    plan = plan_piece(job, spec_for(BLOCK), BLOCK)
    assert not said(plan)
    (note,) = [note for note in plan.notes if note.startswith("held:")]
    assert float(note.split("bears ")[1].split(" times")[0]) > 2.0


def test_poor_tape_is_named_with_its_remedies(job):
    poor = job.model_copy(update={"holding": Holding(tape_pull_n_cm2=0.2, tape_shear_n_cm2=0.3)})
    plan = plan_piece(poor, spec_for(BLOCK), BLOCK)
    (note,) = said(plan)[-1:]
    assert "leave bridges" in note
    assert "times as much" in note
    assert "of the stepdown" in note


def test_a_rotor_is_held_by_a_frame_that_is_left_round_it(job):
    """5 cm2 of tape do not hold it against twice the push: bridges to the waste do; far better tape would."""
    spec = spec_for(ROTOR)
    layout = lay_out(job, spec, ROTOR)
    held = bridges_for(job, spec, ROTOR, layout)
    assert len(held.bridges) >= 3
    assert "too small to be held on its own face" in held.notes[0]
    strong = job.model_copy(update={"holding": Holding(tape_pull_n_cm2=60.0, tape_shear_n_cm2=60.0)})
    assert bridges_for(strong, spec, ROTOR, layout).bridges == ()


def test_in_its_frame_the_rotor_rests_on_all_of_the_waste(job):
    plan = plan_piece(job, spec_for(ROTOR), ROTOR)
    assert plan.placements[-1].placement.bridges
    assert not said(plan)
