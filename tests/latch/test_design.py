"""A whole latch: its gates, its yield, what matters, what would better it, and the search for the smallest."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.catalog import species
from witnessmark.job.latch import Spreads, demonstration_latch
from witnessmark.latch.better import changes, cheapest
from witnessmark.latch.bolts import MagnetReturn, SpringReturn, driving_nmm, resisting, snaps_back
from witnessmark.latch.cam import Dwell
from witnessmark.latch.chances import Astray, Loose, drawn, works, yield_of
from witnessmark.latch.design import FRICTION_RATIO, Design
from witnessmark.latch.gates import GATES, Chance, Tables, margins
from witnessmark.latch.magnets import Disc, alternating, torque_and_pull
from witnessmark.latch.rods import Rod
from witnessmark.latch.search import magnets_ratio, search, uppers
from witnessmark.latch.skin import bend_mm
from witnessmark.wood.thin import across_mpa

CHERRY = species()["cherry, black"]
RING = alternating(Disc(8.0, 3.0, 1.35), 12.0, 4)
DESIGN = Design(
    key=RING,
    rotor=RING,
    skin_mm=3.0,
    web_mm=8.0,
    cam=Dwell(8.0, 5.0, 2.5, math.radians(65.0)),
    rod=Rod(5.0, 23.0),
    back=SpringReturn(0.05, 0.15),
    bolts=2,
    hole_mm=5.5,
    hole_deep_mm=6.0,
    over_mm=8.0,
    open_mm=1.0,
    holds_n=60.0,
    wood=CHERRY,
)
TWO = (Astray(),) * 2
LOOSE = Loose(0.02, 0.1, True, TWO)


def gate(design: Design, name: str, chance: Chance | None = None) -> np.ndarray:
    return margins(design, Tables.of(design), chance or Chance.none())[GATES.index(name)]


@pytest.mark.parametrize(
    "back", [SpringReturn(0.05, 0.15), MagnetReturn(Disc(6.0, 3.0, 1.3), 1.5)], ids=["spring", "magnet"]
)
def test_torque_and_return_are_those_of_their_own_modules(back):
    """As drawn, the gate is the net torque at the peak over what the cam asks for, both computed apart here."""
    design = replace(DESIGN, back=back)
    torque, pull = torque_and_pull(RING, RING, design.gap_mm, math.radians(design.turning.peak_deg))
    drives = float(torque) - FRICTION_RATIO * 4.0 * abs(float(pull))
    drag = FRICTION_RATIO * (design.rod.weight_n + design.side_n)
    asks = driving_nmm(design.cam, design.guide, resisting(back, design.rod, 5.0, drag), 2)
    assert gate(design, "torque")[0] == pytest.approx(drives / asks - 1.0, rel=0.01)
    back_by = snaps_back(back, design.rod, 5.0, FRICTION_RATIO, FRICTION_RATIO * design.side_n)
    assert gate(design, "returns")[0] == pytest.approx(back_by - 1.0, rel=1e-6)


def test_each_gate_falls_where_its_size_goes_too_far():
    """One size at a time, by hand: the gate it belongs to fails and no other that does not hang on it."""
    one = np.ones(1)
    for name, value, fails in [
        ("up_mm", 0.32, {"enters", "rattle"}),
        ("up_mm", -0.32, {"enters"}),
        ("aside_mm", 0.32, {"enters"}),
        ("hole_mm", 0.6, {"rattle"}),
        ("bolt_mm", 0.6, {"clear"}),
        ("bolt_mm", -1.8, {"engaged"}),
        ("depth_mm", -2.6, {"depth"}),
        ("season_mm", 0.95, {"free"}),
        ("friction_ratio", 0.6, {"torque"}),
        ("key_ratio", 0.2, {"torque"}),
    ]:
        by = margins(DESIGN, Tables.of(DESIGN), Chance.none().but(name, value * one))[:, 0]
        assert {g for g, margin in zip(GATES, by) if margin <= 0} == fails, (name, value)


def test_a_lower_hole_gives_to_rattle_what_it_takes_from_entering():
    """A tenth lower: the locked lid lifts a tenth less; a bolt that is central has a tenth less to spare below."""
    low = replace(DESIGN, lower_mm=0.1)
    assert gate(low, "rattle")[0] == pytest.approx(gate(DESIGN, "rattle")[0] + 0.1)
    assert gate(low, "enters")[0] == pytest.approx(gate(DESIGN, "enters")[0] - 0.1)
    higher = Chance.none().but("up_mm", np.array([0.1]))
    assert gate(low, "enters", higher)[0] == pytest.approx(gate(DESIGN, "enters")[0])


def test_a_skin_that_the_magnets_draw_down_is_told_and_works_never():
    """The demonstration's skin bends by hundredths; one of a fifth of a millimetre under strong magnets gives way."""
    assert 0.0 < DESIGN.skin_bends_mm < 0.2
    assert DESIGN.bent is not None
    assert DESIGN.dead_deg >= DESIGN.turning.dead_deg
    pull_n = np.abs(DESIGN.bent.pull_n).max()
    assert DESIGN.skin_bends_mm == pytest.approx(
        bend_mm(float(pull_n), DESIGN.across_mm / 2, DESIGN.skin_mm, across_mpa(CHERRY)), rel=1e-4
    )
    thin = replace(DESIGN, skin_mm=0.2)
    assert math.isinf(thin.skin_bends_mm)
    assert math.isinf(thin.dead_deg)
    assert gate(thin, "torque")[0] < 0
    assert not works(thin, Tables.of(thin), drawn(Spreads(), LOOSE, 1000)).any()


def test_sizes_add_up():
    """A bolt reaches from the cam's low side to just inside the mouth; the pocket holds magnets, wall and play."""
    assert DESIGN.gap_mm == pytest.approx(0.3 + 3.0 + 0.5)
    assert DESIGN.bolt_mm == pytest.approx(5.0 + 1.0 + 2.5 + 15.0 - 0.5)
    assert DESIGN.mouth_mm == pytest.approx(8.0 + DESIGN.bolt_mm + 0.5)
    assert DESIGN.across_mm == pytest.approx(2 * (12.0 + 4.0 + 1.5 + 0.5))
    assert DESIGN.high_mm == pytest.approx(0.5 + 3.0 + 8.0 + 6.0 + 0.5)
    assert DESIGN.turn_deg == 90.0
    assert DESIGN.confused_deg == ()  # 180 degrees on, two lobes are the same
    three = replace(DESIGN, cam=Dwell(8.0, 5.0, 2.5, 0.8, 3))
    assert three.confused_deg == (180.0,)


def test_the_yield_is_what_its_normal_law_says_where_one_size_alone_is_loose():
    """Only the bolts' length: clear fails above 0.5 mm; with a spread of 0.25 mm, 1 - Phi(2) = 2.275 % (tables) of
    the bolts, and a latch with the longest of its two."""
    tight = Spreads(skin_mm=0, hole_place_mm=0, hole_mm=0, bolt_mm=0.25, depth_mm=0, friction_ratio=0)
    found = yield_of(DESIGN, tight, Loose(0.0, 0.0, True, TWO), 200_000)
    works = (1 - 0.02275) ** 2
    assert found.works_ratio == pytest.approx(works, abs=5 * found.error_ratio)
    assert dict(found.fails_ratio)["clear"] == pytest.approx(1 - works, abs=0.002)
    assert found.matters[0].name == "bolt_mm"
    assert found.matters[0].rises_ratio == pytest.approx(1 - found.works_ratio)
    assert all(row.rises_ratio == 0.0 for row in found.matters[1:] if row.name != "back_ratio")


@settings(max_examples=10, deadline=None)
@given(st.floats(0.0, 0.3), st.floats(0.0, 0.15))
def test_looser_making_never_works_more_often(place_mm, more_mm):
    """Holes' places with a wider spread, the same draws otherwise (within five standard errors)."""
    tables = Tables.of(DESIGN)
    tight, wide = (
        works(DESIGN, tables, drawn(Spreads(hole_place_mm=spread), LOOSE, 20_000)).mean()
        for spread in (place_mm, place_mm + more_mm)
    )
    assert wide <= tight + 5 * math.sqrt(0.25 / 20_000)


def test_the_least_change_is_the_first_that_does():
    rough = Spreads(hole_place_mm=0.16)
    every = changes(DESIGN, rough, LOOSE)
    before = yield_of(DESIGN, rough, LOOSE, 50_000).works_ratio
    guided = next(change for change in every if "guide" in change.words and "drill" in change.words)
    assert guided.works_ratio > before + 0.05
    wished = guided.works_ratio - 0.001
    assert cheapest(DESIGN, rough, LOOSE, wished).works_ratio >= wished
    both = cheapest(DESIGN, rough, LOOSE, 1.0)
    assert " and " in both.words
    assert both.works_ratio >= max(change.works_ratio for change in every) - 0.005


def test_the_search_finds_a_latch_that_does_what_is_wished():
    """Out of the drawer of the demonstration: within its room, of what is there, and as good as it says."""
    latch = demonstration_latch()
    found = search(latch, CHERRY, Loose(magnets_ratio(latch), 0.1, False, TWO))
    assert found.enough
    design, wish = found.design, latch.wish
    assert design.across_mm <= wish.across_most_mm
    assert design.high_mm <= wish.high_most_mm
    counts = {item.name: item.count for item in (*latch.magnets, *latch.springs)}
    assert all(count <= counts.get(name, count) for name, count in found.takes)
    assert (margins(design, Tables.of(design), Chance.none()) > 0).all()
    spring = isinstance(design.back, SpringReturn)
    again = yield_of(design, latch.spreads, Loose(0.03, 0.1, spring, TWO), 100_000)
    assert again.works_ratio == pytest.approx(found.works_ratio, abs=0.005)
    assert design.confused_deg == ()
    assert design.jam_room_deg > 0


def test_fast_torques_of_the_search_are_those_of_the_rings():
    latch = demonstration_latch()
    for upper in uppers(latch)[::150]:
        lead = np.radians(np.arange(4.0, 61.0, 3.0))
        torque, pull = torque_and_pull(upper.key, upper.rotor, 0.3 + latch.wish.skin_mm + 0.5, lead)
        room_mm = upper.rotor.radius_mm - upper.rotor.disc.radius_mm - 0.95  # wood and play beside the washer
        washer_mm = min(4.0, room_mm // 0.5 * 0.5) if room_mm >= 2.0 else 4.0
        assert upper.net_nmm == pytest.approx(float((torque - 0.3 * washer_mm * np.abs(pull)).max()), rel=1e-6)


def test_a_wish_too_great_says_what_is_lacking():
    latch = demonstration_latch()
    thick = latch.model_copy(update={"wish": latch.wish.model_copy(update={"skin_mm": 25.0})})
    found = search(thick, CHERRY, Loose(magnets_ratio(thick), 0.1, False, TWO))
    assert found.design is None
    assert "thinner skin" in found.lacks[0]
    narrow = latch.model_copy(update={"wish": latch.wish.model_copy(update={"across_most_mm": 9.0})})
    assert "fits within 9 mm" in search(narrow, CHERRY, Loose(magnets_ratio(narrow), 0.1, False, TWO)).lacks[0]
