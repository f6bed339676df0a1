"""Wishes of one piece, wood that stays because a side is forbidden, and layouts that cut nothing."""

import re

import pytest

from witnessmark.job.checks import Parts, cross_checks
from witnessmark.job.demonstration import box_job
from witnessmark.job.errors import Refusal
from witnessmark.job.models import Blank, Job, PieceSpec, PieceWish, Wish
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.search import layout_of
from witnessmark.shapes.simple import straight_box

BOX = straight_box(size_x_mm=70, size_y_mm=40, height_mm=20, hollow_mm=10, wall_mm=6)
SPEC = PieceSpec(name="box", shape="box.stl", blank=Blank(size_x_mm=140, size_y_mm=110, size_z_mm=22))


def job_with(**machine: float) -> Job:
    """The box's machine, changed, with no wish of its own, on a coarse grid."""
    job = box_job()
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0})
    changed = {"settings": settings, "wish": Wish(), "machine": job.machine.model_copy(update=machine)}
    return job.model_copy(update=changed)


def wished(**wish: object) -> PieceSpec:
    return SPEC.model_copy(update={"wish": PieceWish.model_validate(wish)})


@pytest.mark.parametrize("first", ["+z", "-z"])
def test_a_pieces_own_first_side_goes_before_the_jobs(first: str) -> None:
    """Whatever the job insists on, the piece's own first side is up first."""
    job = job_with().model_copy(update={"wish": Wish(first_up="-z")})
    assert layout_of(job, wished(first_up=first), BOX).sides[0].up == first


def test_a_needed_side_that_is_forbidden_is_told_with_its_wood_and_what_allowing_it_does() -> None:
    """The hollow (at most 58 x 28 x 10 mm) and 2 mm over the whole piece stay, less the hollow's round corners."""
    plan = plan_piece(job_with(), wished(forbid_sides=["+z"]), BOX)
    (told,) = [note for note in plan.notes if "is forbidden" in note]
    found = re.search(r"([\d.]+) cm3\)", told)
    assert found
    most_cm3 = 5.8 * 2.8 * 1.0 + 7.0 * 4.0 * 0.2
    assert 0.8 * most_cm3 < float(found[1]) < 1.3 * most_cm3  # cells of 2 mm, and a skin beside the piece
    assert "in as many placements" in told  # from the rim alone: the foot is the blank's own


def test_a_forbidden_side_that_is_not_needed_is_no_note() -> None:
    """From the rim alone the box is cut whole: foot and blank share a face."""
    plan = plan_piece(job_with(), wished(forbid_sides=["-z"]), BOX)
    assert not any("is forbidden" in note for note in plan.notes)


@pytest.mark.parametrize(
    ("own", "whole", "key"),
    [
        (PieceWish(forbid_sides=("up",)), Wish(), "forbid_sides"),
        (PieceWish(first_up="+z"), Wish(forbid_sides=("+z",)), "first_up"),
        (PieceWish(forbid_sides=("-z",)), Wish(first_up="-z"), "forbid_sides"),
        (PieceWish(forbid_sides=("-z",)), Wish(forbid_sides=("+z",)), "forbid_sides"),
    ],
)
def test_a_pieces_wish_that_cannot_be_met_is_refused_with_its_key(own: PieceWish, whole: Wish, key: str) -> None:
    """A side that is none, and wishes against the job's, name the piece's key and a remedy."""
    spec = SPEC.model_copy(update={"wish": own})
    troubles = cross_checks(Parts(None, (), ((0, spec),), None, whole), None, "job.toml")
    assert [trouble.where for trouble in troubles] == [f'job.toml, pieces[1].wish.{key} of "box"']
    assert troubles[0].remedies


def test_nothing_reached_for_short_z_names_place_cause_and_the_least_travel_that_does() -> None:
    """With 40 mm of Z the travel is to blame, not the nut; the travel named does it and 2 mm less does not."""
    with pytest.raises(Refusal) as refused:
        plan_piece(job_with(travel_z_mm=40.0), SPEC, BOX)
    for trouble in refused.value.troubles:
        assert re.search(r"cm2 is out of reach near x .* travel z, short by", trouble.what)
        assert "nut" not in trouble.what
    (remedy,) = [one for one in refused.value.troubles[0].remedies if "along Z" in one]
    found = re.search(r"\(([\d.]+) mm\)", remedy)
    assert found
    assert layout_of(job_with(travel_z_mm=float(found[1])), SPEC, BOX).unreached == 0
    assert layout_of(job_with(travel_z_mm=float(found[1]) - 2.0), SPEC, BOX).unreached > 0


def test_the_candidates_add_up() -> None:
    """Evaluated and pruned are all sides, meeting heights (7 here) and whole holes (a small blank has one place)."""
    layout = layout_of(job_with(), SPEC, BOX, turned=True)
    assert (layout.evaluated, sum(layout.pruned.values())) == (2, 12)
