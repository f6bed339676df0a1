"""What no placement reaches: named with its reason, and a change that works."""

import manifold3d

from witnessmark.job.demonstration import demonstration_job
from witnessmark.job.models import Blank, Job, PieceSpec
from witnessmark.plan.change import KNOBS
from witnessmark.plan.piece import plan_piece
from witnessmark.shapes.solid import Solid

Cube = manifold3d.Manifold.cube


def job_for(**changes: float | bool) -> Job:
    """The demonstration's machine with its flat 6 alone, changed."""
    job = demonstration_job()
    changed = job.cutters[0].model_copy(update=changes)
    settings = job.settings.model_copy(update={"plan_pitch_mm": 0.5})
    return job.model_copy(update={"cutters": (changed,), "settings": settings})


def spec_for(solid: Solid, round_mm: float = 60.0) -> PieceSpec:
    size = solid.bounds_mm[1] - solid.bounds_mm[0]
    blank = Blank(size_x_mm=size[0] + round_mm, size_y_mm=size[1] + round_mm, size_z_mm=size[2])
    return PieceSpec(name="piece", shape="piece.stl", blank=blank)


def words(job: Job, solid: Solid) -> str:
    plan = plan_piece(job, spec_for(solid), solid)
    return "\n".join([*plan.notes, *(note for step in plan.placements for note in step.placement.notes)])


def narrow_deep_pocket() -> Solid:
    """A block 44 high with an upright pocket 16 wide and 38 deep: the nut does not go in."""
    return Solid(Cube((90, 60, 44), True) - Cube((60, 16, 38), True).translate((0, 0, 44 / 2 - 38 / 2)))


def test_a_pocket_deeper_than_the_stick_out_is_named_and_the_change_works() -> None:
    """The nut is the reason; the stick-out that the plan asks for, when set, reaches everything."""
    job = job_for(stickout_mm=34.0, flute_length_mm=30.0)
    solid = narrow_deep_pocket()
    said = words(job, solid)
    assert "out of reach" in said
    assert "nut meets piece" in said
    assert "to reach everything: set flat 6" in said
    asked = next(
        (changed, spec)
        for knob in KNOBS[:1]
        for text, changed, spec in knob(job, spec_for(solid))
        if f"to reach everything: {text}" in said
    )
    plan = plan_piece(asked[0], asked[1], solid)
    assert not any("out of reach" in note for step in plan.placements for note in step.placement.notes)


def test_a_piece_within_reach_gets_no_such_note() -> None:
    """A plain block with a shallow pocket is planned without a word of reach."""
    solid = Solid(Cube((90, 60, 20), True) - Cube((60, 30, 10), True).translate((0, 0, 10)))
    said = words(job_for(), solid)
    assert "reach everything" not in said
    assert "hidden" not in said


def test_an_undercut_is_named() -> None:
    """A floor under an overhang is named as an undercut."""
    solid = Solid(Cube((90, 60, 30), True) - Cube((60, 30, 8), True) - Cube((60, 12, 30), True).translate((0, 0, 15)))
    assert "an undercut" in words(job_for(), solid)


def test_a_pocket_too_small_for_a_ramp_needs_a_cutter_that_cuts_at_its_centre() -> None:
    """A blind hole hardly wider than the cutter is shut to one that does not cut at its centre, open to the other."""
    hole = manifold3d.Manifold.cylinder(10, 3.6, 3.6, 64).translate((0, 0, 5))
    solid = Solid(Cube((60, 60, 20), True) - hole)
    open_job, shut_job = job_for(), job_for(centre_cutting=False)
    small = {"wall_allowance_mm": 0.0, "plan_pitch_mm": 0.25}
    open_job, shut_job = (
        job.model_copy(update={"settings": job.settings.model_copy(update=small)}) for job in (open_job, shut_job)
    )
    assert "entry" not in words(open_job, solid)
    assert "entry" in words(shut_job, solid)
