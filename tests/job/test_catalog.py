"""The catalog: every row valid and sourced, and usable in a job as it stands."""

from __future__ import annotations

import pytest

from witnessmark.job.assembly import assembly_of
from witnessmark.job.catalog import cutters, machines, nearest_species, species, unknown_woods
from witnessmark.job.demonstration import demonstration_cutters, demonstration_job, demonstration_machine
from witnessmark.job.files import job_from_text
from witnessmark.job.rewrite import new_job_text

GROUPS = {
    "strength": ("specific_gravity_ratio", "moe_gpa", "mor_mpa", "compression_across_mpa", "shear_mpa", "hardness_n"),
    "elastic": ("elastic_radial_ratio", "elastic_tangential_ratio"),
    "shrink": ("shrink_radial_pct", "shrink_tangential_pct", "shrink_volume_pct"),
    "change": ("change_radial_per_pct", "change_tangential_per_pct"),
}


@pytest.mark.parametrize("name", list(species()))
def test_every_wood_says_where_its_values_are_from(name: str) -> None:
    """A group of values has a source and a word on how it was verified exactly when it has values."""
    wood = species()[name]
    for group, keys in GROUPS.items():
        has_values = any(getattr(wood, key) is not None for key in keys)
        assert has_values == bool(getattr(wood, f"{group}_source"))
        assert has_values == bool(getattr(wood, f"{group}_verified"))


@pytest.mark.parametrize("name", list(species()))
def test_the_values_of_a_wood_are_those_of_wood(name: str) -> None:
    """Wood shrinks more round the rings than across them, is weaker pulled than pressed, and lighter than water."""
    wood = species()[name]
    if wood.shrink_radial_pct and wood.shrink_tangential_pct and wood.shrink_volume_pct:
        assert wood.shrink_radial_pct < wood.shrink_tangential_pct < wood.shrink_volume_pct
        both_pct = wood.shrink_radial_pct + wood.shrink_tangential_pct
        assert 0.9 * both_pct < wood.shrink_volume_pct < 1.15 * both_pct
    if wood.change_radial_per_pct and wood.change_tangential_per_pct:
        assert wood.change_radial_per_pct < wood.change_tangential_per_pct
    if wood.specific_gravity_ratio:
        assert 0.2 < wood.specific_gravity_ratio < 1.0
    if wood.tension_across_mpa and wood.compression_across_mpa and wood.mor_mpa:
        assert wood.tension_across_mpa < wood.mor_mpa / 10


def test_rows_marked_as_not_to_be_used_are_left_out() -> None:
    """Two coefficients recalled from memory contradict their own shrinkage: they are not carried."""
    assert species()["western redcedar"].change_radial_per_pct is None
    assert species()["redwood, old-growth"].change_tangential_per_pct is None


@pytest.mark.parametrize("machine", list(machines()))
@pytest.mark.parametrize("cutter", list(cutters()))
def test_every_cutter_holds_together_on_every_machine_that_turns_fast_enough(machine: str, cutter: str) -> None:
    """A listed cutter passes the checks of a job on each listed machine, at a speed and feed that machine has."""
    spindle = machines()[machine].machine
    listed = cutters()[cutter]
    assert listed.source
    assert listed.verified
    fitted = listed.cutter.model_copy(
        update={
            "spindle_rpm": min(listed.cutter.spindle_rpm, spindle.spindle_max_rpm),
            "feed_mm_min": min(listed.cutter.feed_mm_min, spindle.feed_max_mm_min),
        }
    )
    job = demonstration_job().model_copy(update={"machine": spindle, "cutters": (fitted,)})
    assert job_from_text(new_job_text(job)) == job
    assert assembly_of(fitted, spindle).tip_below_nose_mm == fitted.stickout_mm + spindle.nut_length_mm


def test_the_demonstration_is_listed_as_it_is_used() -> None:
    """The catalog's first machine and its cutters are those of the demonstration."""
    assert machines()["three-hundred router"].machine == demonstration_machine()
    for cutter in demonstration_cutters():
        assert cutters()[cutter.name].cutter == cutter


def test_a_wood_is_found_however_its_name_is_turned() -> None:
    """Order of words, capitals and small slips do not matter; a word like none finds none."""
    assert nearest_species("Black Walnut") == "walnut, black"
    assert nearest_species("SUGAR MAPEL") == "maple, sugar"
    assert nearest_species("granite") == ""


def test_an_unlisted_wood_is_told_and_not_refused() -> None:
    """A job in a wood without values is a job; a line says which wood is meant most likely."""
    job = demonstration_job()
    assert unknown_woods(job) == ()
    body = job.pieces[0]
    other = body.model_copy(update={"blank": body.blank.model_copy(update={"species": "Black cherry"})})
    job = job.model_copy(update={"pieces": (other,)})
    assert unknown_woods(job) == (
        'body: no values are listed for the wood "Black cherry"; did you mean "cherry, black"?',
    )
