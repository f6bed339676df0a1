"""A pebble, which has no face to stand on: cut from both sides, held by bridges, proven."""

from dataclasses import replace
from pathlib import Path

import manifold3d
import pytest

from witnessmark.job.files import load_job
from witnessmark.plan.store import load_plans, save_plans
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.new import first_job, new
from witnessmark.verbs.prove import prove


@pytest.fixture(scope="module")
def pebble(tmp_path_factory) -> Path:
    """A job folder with its programs written, one flat cutter, coarse grids."""
    root = tmp_path_factory.mktemp("pebble")
    shape = root / "pebble.stl"
    write_stl(Solid(manifold3d.Manifold.sphere(1.0, 48).scale((16.0, 12.0, 7.0))), shape)
    job = first_job(shape, LookSizes((300, 400, 90), 6, 45, (20, 20), 65))
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.5})
    folder = new(root / "job", shape, job.model_copy(update={"settings": settings}))
    plan(folder)
    program(folder)
    return folder


def test_it_is_proven_and_the_bridges_are_told(pebble) -> None:
    """No loose wood, nothing left but by the bridges, and the maker is told to saw them through."""
    verdict = prove(pebble).verdicts["pebble"]
    assert verdict.passed, [f.what for f in verdict.findings if f.harm == "stop"]
    assert verdict.worst_gouge_mm <= 0.05
    assert verdict.worst_left_mm <= verdict.allowance_mm
    (told,) = [f for f in verdict.findings if f.kind == "bridges"]
    assert "saw them through" in told.remedies[0]


def test_wood_left_where_the_plan_has_no_bridge_is_a_finding(pebble) -> None:
    """The same programs judged by a plan that knows of no bridges: what they leave is named as left on the piece."""
    job, stored, fields = load_job(pebble), pebble / "out" / "plan.toml", pebble / "out" / "fields"
    plans = load_plans(job, stored, fields)
    bare = [
        replace(step, placement=replace(step.placement, bridges=()))
        for step in plans[0].placements
        if step.placement.bridges
    ]
    assert len(bare) == len(plans[0].placements)
    save_plans([replace(plans[0], placements=tuple(bare))], stored, fields)
    try:
        verdict = prove(pebble).verdicts["pebble"]
    finally:
        save_plans(plans, stored, fields)
    assert not verdict.passed
    assert {f.kind for f in verdict.findings if f.harm == "stop"} == {"leftover"}
