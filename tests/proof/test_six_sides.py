"""Blanks that stand on an end or an edge: holes, pockets and grooves cut from any of the six sides, proven whole."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
from workpiece import BLANK_MAX, BLANK_MIN, FLAT, MACHINE, SETTINGS, Script, kinds, rectangle

from witnessmark.job.frames import SIDES, standing
from witnessmark.job.placement import Placement
from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.verdict import ProgramText, Verdict
from witnessmark.shapes.solid import Solid

TALL = MACHINE.model_copy(update={"nose_above_bed_mm": 180.0, "gantry_above_bed_mm": 150.0, "travel_z_mm": 160.0})
BORE_RADIUS, DEEP = 4.0, 12.0
MIDDLES = {"+x": (32.0, 5.0, 10.0), "-x": (-32.0, 5.0, 10.0), "+y": (7.0, 22.0, 10.0), "-y": (7.0, -22.0, 10.0),
           "+z": (-18.0, -12.0, 20.0), "-z": (-18.0, -12.0, 0.0)}  # fmt: skip
Block = manifold3d.Manifold


def block() -> manifold3d.Manifold:
    return Block.cube((64, 44, 20)).translate((-32, -22, 0))


def place(up: str, quarter_turns: int = 0) -> Placement:
    return Placement(
        name=up, up=up, stand=standing(up, BLANK_MIN, BLANK_MAX, quarter_turns), shift_mm=(100.0, 75.0),
        support_z_bed_mm=0.0, region_mm=(-60.0, -60.0, 60.0, 60.0), cutters=("flat 6",), quarter_turns=quarter_turns,
    )  # fmt: skip


def bore_from(up: str, deep: float = DEEP, radius: float = BORE_RADIUS) -> manifold3d.Manifold:
    """A round hole into the middle of a side, as it lies in the piece."""
    axis = np.array(standing(up, BLANK_MIN, BLANK_MAX).rotation)[2]
    turn = {"x": (0, 90, 0), "y": (-90, 0, 0), "z": (0, 0, 0)}[up[1]]
    start = np.array(MIDDLES[up]) - (deep if up[0] == "+" else 0.0) * np.abs(axis)
    return Block.cylinder(deep, radius, radius, 512).rotate(turn).translate(start.tolist())


def drawn(*ups: str, deep: float = DEEP) -> Solid:
    solid = block()
    for up in ups:
        solid -= bore_from(up, deep)
    return Solid(solid)


def helix(at: Placement, deep: float = DEEP, off: tuple[float, float] = (0.0, 0.0), grow: float = 0.0) -> str:
    """A bore by a helix and a full circle at the bottom, into the middle of the side that is up."""
    x, y, top = at.stand.apply(np.array(MIDDLES[at.up]))
    x, y = x + at.shift_mm[0] + off[0], y + at.shift_mm[1] + off[1]
    out = BORE_RADIUS - 3.0 + grow
    lines = ["G17 G21 G40 G49 G54 G80 G90 G94", "S18000 M3", f"G0 Z{top + 8:.3f}", f"G0 X{x + out:.4f} Y{y:.4f}",
             f"G1 Z{top + 0.5:.3f} F400"]  # fmt: skip
    z = top
    while z > top - deep + 1e-9:
        z = max(z - 2.0, top - deep)
        lines.append(f"G3 X{x + out:.4f} Y{y:.4f} Z{z:.4f} I{-out:.4f} J0 F800")
    lines += [f"G3 X{x + out:.4f} Y{y:.4f} I{-out:.4f} J0", f"G1 X{x:.4f} Y{y:.4f}", f"G0 Z{top + 8:.3f}", "M5", "M2"]
    return "\n".join(lines) + "\n"


def judged(programs: dict[str, str], solid: Solid, turns: dict[str, int] | None = None) -> Verdict:
    """One program a side, in their order."""
    places = {up: place(up, (turns or {}).get(up, 0)) for up in programs}
    texts = [ProgramText(f"{up}.nc", up, "flat 6", text) for up, text in programs.items()]
    return prove(texts, blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS), solid, TALL, [FLAT], places, SETTINGS)


def stops(verdict: Verdict) -> list[str]:
    return [str(finding) for finding in verdict.findings if finding.harm == "stop"]


@pytest.mark.parametrize("up", SIDES)
def test_a_bore_into_any_side_is_proven(up):
    verdict = judged({up: helix(place(up))}, drawn(up))
    assert verdict.passed, stops(verdict)
    assert verdict.worst_gouge_mm < 0.002  # chords of the helix and of the drawn cylinder
    assert verdict.worst_left_mm < 0.05
    assert verdict.programs[0].removed_mm3 == pytest.approx(np.pi * BORE_RADIUS**2 * DEEP, rel=0.02)


@pytest.mark.parametrize("quarter_turns", [1, 2, 3])
def test_however_it_is_turned_about_the_upright(quarter_turns):
    at = place("+x", quarter_turns)
    verdict = judged({"+x": helix(at)}, drawn("+x"), {"+x": quarter_turns})
    assert verdict.passed, stops(verdict)


def test_bores_from_all_six_sides_one_after_the_other():
    verdict = judged({up: helix(place(up)) for up in SIDES}, drawn(*SIDES))
    assert verdict.passed, stops(verdict)
    assert {floors.side for floors in verdict.floors} == set(SIDES)
    gone = 64 * 44 * 20 - verdict.columns_after.volume_mm3()
    overlap_mm = 2 * DEEP - 20  # those from above and from below meet
    assert gone == pytest.approx((6 * DEEP - overlap_mm) * np.pi * BORE_RADIUS**2, rel=0.02)


@pytest.mark.parametrize("up", ["+x", "-x", "+y", "-y"])
@pytest.mark.parametrize("first", ["-z", "none"])
def test_too_deep_by_a_little_is_a_gouge_where_it_is(up, first):
    programs = {} if first == "none" else {first: helix(place(first))}
    solid = drawn(up) if first == "none" else drawn(first, up)
    verdict = judged({**programs, up: helix(place(up), DEEP + 0.08)}, solid)
    gouge = next(f for f in verdict.findings if f.kind == "gouge")
    axis = "xyz".index(up[1])
    assert gouge.place_mm is not None
    assert gouge.place_mm[axis] == pytest.approx(MIDDLES[up][axis] - np.sign(MIDDLES[up][axis]) * DEEP)
    assert gouge.by_mm == pytest.approx(0.08, abs=1e-3)
    assert gouge.file == f"{up}.nc"


@pytest.mark.parametrize("up", ["+x", "-y"])
def test_too_shallow_is_wood_left(up):
    verdict = judged({"+z": helix(place("+z")), up: helix(place(up), DEEP - 0.2)}, drawn("+z", up))
    assert kinds(verdict) == {"leftover"}
    left = [f for f in verdict.findings if f.kind == "leftover"]
    axis = "xyz".index(up[1])
    bottom = MIDDLES[up][axis] - np.sign(MIDDLES[up][axis]) * DEEP
    assert all(f.place_mm is not None and abs(f.place_mm[axis] - bottom) < 0.3 for f in left)


@pytest.mark.parametrize("up", ["-x", "+y"])
def test_beside_its_place_it_is_a_gouge_of_the_bores_wall(up):
    verdict = judged({"+z": helix(place("+z")), up: helix(place(up), off=(0.15, 0.0))}, drawn("+z", up))
    assert {"gouge", "leftover"} <= kinds(verdict)
    assert max(f.by_mm for f in verdict.findings if f.kind == "gouge") == pytest.approx(0.15, abs=2e-3)


def test_a_bore_that_was_not_made_is_wood_left():
    verdict = judged({"+z": helix(place("+z"))}, drawn("+z", "+x"))
    assert "leftover" in kinds(verdict)
    with_another = judged({"+z": helix(place("+z")), "-x": helix(place("-x"))}, drawn("+z", "-x", "+x"))
    assert "leftover" in kinds(with_another)


def test_a_side_cut_that_breaks_into_a_pocket_cut_from_above():
    """A pocket from above, and a bore from an end that opens into it: what both take is nobody's fault."""
    solid = Solid(block() - Block.cube((20, 18, 14)).translate((2, -4, 6)) - bore_from("+x", 20.0))
    pocket = Script()
    for z in (16.0, 12.0, 8.0, 6.0):
        pocket.over(7, 5, 25).down(z).along([(17, 5), (7, 5)])
        pocket.along([(x + 12, y + 5) for x, y in rectangle(7, 6)])
        pocket.along([(x + 12, y + 5) for x, y in rectangle(7, 3)])
    verdict = judged({"+z": pocket.text(), "+x": helix(place("+x"), 20.0)}, solid)
    assert verdict.passed, stops(verdict)
    assert {round(each.radius_mm, 6) for each in verdict.eased} == {3.0}  # the pocket's corners


def test_the_work_as_it_stands_is_what_was_left_of_it():
    """Half of the block goes from above: from the end a cut then runs through air where that was."""
    half = Script()
    for z in (16.0, 12.0, 8.0, 4.0):
        for y in (-20.0, -15.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0, 24.0):
            half.over(36, y).down(z).along([(3, y)])
    verdict = judged({"+z": half.text(), "+x": helix(place("+x"))}, drawn("+x"))
    through_air = verdict.programs[1].removed_mm3
    assert through_air < 0.35 * np.pi * BORE_RADIUS**2 * DEEP


def test_a_nut_that_meets_the_work_standing_on_end_is_told():
    short = FLAT.model_copy(update={"stickout_mm": 10.0, "flute_length_mm": 8.0})
    at = place("+x")
    text = ProgramText("+x.nc", "+x", "flat 6", helix(at, 16.0))
    columns = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
    verdict = prove([text], columns, drawn("+x", deep=16.0), TALL, [short], {"+x": at}, SETTINGS)
    assert "assembly contact" in kinds(verdict)


def test_a_placement_that_does_not_stand_on_its_side_is_refused():
    from witnessmark.job.errors import Refusal

    wrong = Placement(
        name="+x", up="+x", stand=standing("+y", BLANK_MIN, BLANK_MAX), shift_mm=(0.0, 0.0), support_z_bed_mm=0.0,
        region_mm=(0.0, 0.0, 1.0, 1.0), cutters=("flat 6",),
    )  # fmt: skip
    text = ProgramText("+x.nc", "+x", "flat 6", "M2\n")
    with pytest.raises(Refusal, match="does not stand as the blank does"):
        prove([text], blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS), drawn(), TALL, [FLAT], {"+x": wrong}, SETTINGS)
