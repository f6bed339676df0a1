"""T-slot and keyseat cutters through the whole proof: what they leave, what they must not touch, what is told."""

from __future__ import annotations

from itertools import pairwise

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from workpiece import BLANK_MAX, BLANK_MIN, FLAT, MACHINE, SETTINGS, Script, kinds, placement

from witnessmark.job.models import Cutter
from witnessmark.proof.judge import blank_columns, prove, watch
from witnessmark.proof.verdict import ProgramText, Verdict
from witnessmark.shapes.solid import Solid

FLOOR, THICK, HALF = 8.0, 4.0, 8.0
TEE = Cutter(
    name="t-slot 16",
    kind="t_slot",
    diameter_mm=2 * HALF,
    flute_length_mm=THICK,
    stickout_mm=35.0,
    shank_diameter_mm=8.0,
    neck_diameter_mm=7.0,
    neck_length_mm=14.0,
)
FLAT_8 = FLAT.model_copy(update={"name": "flat 8", "diameter_mm": 8.0, "shank_diameter_mm": 8.0})
Block = manifold3d.Manifold


def drawn(floor: float = FLOOR, thick: float = THICK, half: float = HALF, end: float = 40.0) -> Solid:
    """The whole blank with a T-slot along x: 8 wide down to the floor, wider just over it; round where it ends."""
    block = Block.cube((64, 44, 20)).translate((-32, -22, 0))
    block -= Block.cube((40 + end, 8, 20)).translate((-40, -4, FLOOR))
    wide = Block.cube((40 + end, 2 * half, thick)).translate((-40, -half, floor))
    if end < 32:
        block -= Block.cylinder(20, 4, 4, 256).translate((end, 0, FLOOR))
        wide += Block.cylinder(thick, half, half, 256).translate((end, 0, floor))
    return Solid(block - wide)


def slot(end: float = 40.0) -> Script:
    script = Script()
    for z in (16.0, 12.0, FLOOR):
        script.over(-42, 0).down(z).along([(end, 0)])
    return script


def tee(z: float = FLOOR, y: float = 0.0, end: float = 45.0) -> Script:
    """In at one end, along, and out again where it came in."""
    return Script().over(-45, y).down(z).along([(end, y), (-45, y)])


def judged(*programs: tuple[Cutter, Script], solid: Solid | None = None, tee_cutter: Cutter = TEE) -> Verdict:
    place = placement()
    texts = [ProgramText(f"{k}.nc", "1", cutter.name, one.text()) for k, (cutter, one) in enumerate(programs)]
    wood = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
    return prove(texts, wood, solid or drawn(), MACHINE, [tee_cutter, FLAT_8], {"1": place}, SETTINGS)


def test_a_t_slot_is_proven():
    verdict = judged((FLAT_8, slot()), (TEE, tee()))
    assert verdict.passed, [str(f) for f in verdict.findings if f.harm == "stop"]
    assert verdict.worst_gouge_mm < 0.001
    assert verdict.worst_left_mm < 0.001


def test_the_wood_it_takes_is_that_of_the_drawing():
    verdict = judged((FLAT_8, slot()), (TEE, tee()))
    slot_mm3, tee_mm3 = (row.removed_mm3 for row in verdict.programs)
    assert slot_mm3 == pytest.approx(8 * 12 * 64, rel=1e-6)
    assert tee_mm3 == pytest.approx((16 - 8) * 4 * 64, rel=1e-6)
    row = verdict.programs[1]
    assert row.deepest_cut_mm == pytest.approx(THICK, abs=1e-4)
    assert row.widest_cut_mm == pytest.approx(8.0 * 64 / 90, rel=1e-3)  # 64 of the 90 mm of its way are in wood


@pytest.mark.parametrize("off", [-0.3, -0.1, 0.1, 0.3])
def test_a_wrong_height_is_a_gouge_of_a_hidden_face_told_with_its_line(off):
    verdict = judged((FLAT_8, slot()), (TEE, tee(FLOOR + off)))
    gouges = [f for f in verdict.findings if f.kind == "gouge"]
    assert gouges
    assert {f.file for f in gouges} == {"1.nc"}
    assert {f.line for f in gouges} == {7}
    assert gouges[0].place_mm is not None
    assert gouges[0].place_mm[2] == pytest.approx(FLOOR if off < 0 else FLOOR + THICK)
    assert abs(off) - 0.051 <= gouges[0].by_mm <= abs(off) + 1e-6


@pytest.mark.parametrize("off", [-0.04, 0.04])
def test_a_height_within_the_tolerance_is_none(off):
    assert judged((FLAT_8, slot()), (TEE, tee(FLOOR + off))).passed


def test_a_thinner_disc_leaves_wood_on_the_hidden_ceiling():
    thin = TEE.model_copy(update={"flute_length_mm": 3.7})
    verdict = judged((FLAT_8, slot()), (thin, tee()), tee_cutter=thin)
    assert "leftover" in kinds(verdict)
    assert "gouge" not in kinds(verdict)
    both = judged((FLAT_8, slot()), (thin, tee()), (thin, tee(FLOOR + 0.3)), tee_cutter=thin)
    assert both.passed


@pytest.mark.parametrize("y", [-0.3, 0.3])
def test_beside_its_line_it_gouges_one_wall_and_leaves_wood_on_the_other(y):
    verdict = judged((FLAT_8, slot()), (TEE, tee(y=y)))
    assert {"gouge", "leftover"} <= kinds(verdict)
    gouge = next(f for f in verdict.findings if f.kind == "gouge")
    assert gouge.by_mm == pytest.approx(0.3, abs=1e-3)
    assert gouge.place_mm is not None
    assert HALF - 0.01 <= np.sign(y) * gouge.place_mm[1] <= HALF + 1.0  # on the wall, or on the end face beside it


def test_without_the_slot_the_neck_runs_into_wood():
    verdict = judged((TEE, tee()))
    contact = next(f for f in verdict.findings if f.kind == "assembly contact")
    assert "neck" in contact.what
    assert contact.by_mm == pytest.approx(20 - FLOOR - THICK, abs=1e-3)
    assert contact.certainty == "certain"


def test_a_neck_wider_than_the_slot_runs_into_wood():
    stout = TEE.model_copy(update={"neck_diameter_mm": 9.0})
    verdict = judged((FLAT_8, slot()), (stout, tee()), tee_cutter=stout)
    assert any("neck" in f.what for f in verdict.findings if f.kind == "assembly contact")


def test_raised_inside_the_slot_it_goes_through_the_wood_above():
    """A rapid straight up from the middle of the slot: the disc tears the lips off."""
    script = Script().over(-45, 0).down(FLOOR).along([(0, 0)])
    verdict = judged((FLAT_8, slot()), (TEE, script))
    assert {"rapid through wood", "gouge"} <= kinds(verdict)


def test_going_straight_down_into_wood_is_a_plunge_it_cannot_make():
    script = Script().over(0, 0).down(FLOOR).along([(45, 0)])
    assert "plunge without centre cutting" in kinds(judged((FLAT_8, slot()), (TEE, script)))


def test_a_blind_t_slot_with_round_ends_is_proven_and_with_square_ones_eased():
    run = ((FLAT_8, slot(10.0)), (TEE, tee(end=10.0)))
    assert judged(*run, solid=drawn(end=10.0)).passed
    square = Block.cube((64, 44, 20)).translate((-32, -22, 0))
    square -= Block.cube((40 + 14, 8, 20)).translate((-40, -4, FLOOR))
    square -= Block.cube((40 + 18, 2 * HALF, THICK)).translate((-40, -HALF, FLOOR))
    verdict = judged(*run, solid=Solid(square))
    assert verdict.passed, [str(f) for f in verdict.findings if f.harm == "stop"]
    assert {place.radius_mm for place in verdict.eased} == {4.0, 8.0}
    hidden = [place for place in verdict.eased if place.radius_mm == 8.0]
    assert all(FLOOR - 0.2 <= place.z_from_mm <= place.z_to_mm <= FLOOR + THICK + 0.2 for place in hidden)
    assert max(place.leftover_mm for place in hidden) <= HALF * (np.sqrt(2) - 1) + 0.01  # a corner's diagonal


def test_a_blind_t_slot_that_stops_short_is_a_fault():
    verdict = judged((FLAT_8, slot(10.0)), (TEE, tee(end=9.7)), solid=drawn(end=10.0))
    assert "leftover" in kinds(verdict)


def test_a_rebate_cut_openly_with_its_side():
    """At the block's edge nothing hides what it cuts: a rebate 4 deep and 6 wide, the disc reaching the top."""
    block = Block.cube((64, 44, 20)).translate((-32, -22, 0))
    solid = Solid(block - Block.cube((80, 20, 4)).translate((-40, 16, 16)))
    run = Script().over(-45, 24).down(16.0).along([(45, 24)])
    verdict = judged((TEE, run), solid=solid)
    assert verdict.passed, [str(f) for f in verdict.findings if f.harm == "stop"]
    deep = judged((TEE, Script().over(-45, 24).down(15.8).along([(45, 24)])), solid=solid)
    assert "gouge" in kinds(deep)


def test_a_skin_that_is_left_hanging_over_an_open_face_is_wood_left():
    """A thinner, wider disc runs under the top from outside of the block: 1 mm stays above, out of the neck's way."""
    block = Block.cube((64, 44, 20)).translate((-32, -22, 0))
    solid = Solid(block - Block.cube((80, 20, 4)).translate((-40, 16, 16)))
    wide = TEE.model_copy(update={"diameter_mm": 24.0, "flute_length_mm": 3.0})
    run = Script().over(-50, 28).down(16.0).along([(50, 28)])
    verdict = judged((wide, run), solid=solid, tee_cutter=wide)
    assert kinds(verdict) == {"leftover"}
    again = Script().over(-50, 28).down(17.0).along([(50, 28)])
    assert judged((wide, run), (wide, again), solid=solid, tee_cutter=wide).passed


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6), st.integers(2, 6))
def test_splitting_moves_changes_no_verdict(seed: int, parts: int) -> None:
    """Random sloping ways through slot and wood: contacts, what is taken and how deep stay the same."""
    rng = np.random.default_rng(seed)
    points = np.column_stack([rng.uniform(-40, 40, 5), rng.uniform(-14, 14, 5), rng.uniform(5, 19, 5)])
    points = np.round(points, 3)
    shares = np.linspace(0.0, 1.0, parts + 1)[1:]
    fine = [points[0], *(a + s * (b - a) for a, b in pairwise(points) for s in shares)]
    found = []
    for places in (points, np.array(fine)):
        lines = ["G17 G21 G90 G94", "S18000 M3", "G0 Z40"]
        for k, (x, y, z) in enumerate(places):
            at = f"X{x + 100:.6f} Y{y + 75:.6f}"
            lines += [f"G0 {at}", f"G1 Z{z:.6f} F400"] if k == 0 else [f"G1 {at} Z{z:.6f}"]
        texts = [
            ProgramText("0.nc", "1", FLAT_8.name, slot().text()),
            ProgramText("1.nc", "1", TEE.name, "\n".join(lines)),
        ]
        wood = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
        verdict = watch(texts, wood, MACHINE, [TEE, FLAT_8], {"1": placement()}, SETTINGS)
        contacts = [f for f in verdict.findings if f.kind == "assembly contact" and f.certainty == "certain"]
        found.append(
            (max((f.by_mm for f in contacts), default=0.0), verdict.programs[1], verdict.columns_after.volume_mm3())
        )
    (one, row, left), (other, split_row, split_left) = found
    assert one == pytest.approx(other, abs=2e-3)
    assert row.removed_mm3 == pytest.approx(split_row.removed_mm3, rel=1e-3, abs=0.1)
    assert left == pytest.approx(split_left, rel=1e-5)
