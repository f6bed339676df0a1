"""Faults put into a good program on purpose: each is found, and named."""

from __future__ import annotations

import numpy as np
import pytest
from workpiece import (
    BLANK_MAX,
    BLANK_MIN,
    FLAT,
    LEVELS,
    MACHINE,
    SETTINGS,
    Script,
    good_text,
    kinds,
    outside,
    placement,
    pocket,
    proven,
)

from witnessmark.job.errors import Refusal
from witnessmark.job.placement import Hold, Obstacle, rectangle_outline
from witnessmark.proof.finding import Finding
from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.verdict import ProgramText, Verdict


def found(verdict: Verdict, kind: str) -> list[Finding]:
    return [finding for finding in verdict.findings if finding.kind == kind]


def test_a_good_program_passes() -> None:
    """The program without faults is proven: nothing stops it, nothing is gouged, nothing is left."""
    verdict = proven(good_text())
    assert verdict.passed, [str(finding) for finding in verdict.findings]
    assert verdict.worst_gouge_mm < 0.01
    assert verdict.worst_left_mm < 0.1
    assert verdict.eased == ()


def test_a_shifted_line_is_a_gouge_at_that_line() -> None:
    """One line moved 0.4 mm into the block's side is told as a gouge of 0.4 mm at that line."""
    lines = good_text().splitlines()
    y = 75 - 18.0  # the front side's ring
    row = max(i for i, line in enumerate(lines) if line.startswith("G1 X128.000 Y57.000"))
    assert f"Y{y:.3f}" in lines[row]
    lines[row] = lines[row].replace("Y57.000", "Y57.400")
    verdict = proven("\n".join(lines))
    gouges = found(verdict, "gouge")
    assert kinds(verdict) >= {"gouge"}
    assert max(gouge.by_mm for gouge in gouges) == pytest.approx(0.4, abs=0.05)
    assert {gouge.line for gouge in gouges} & {row + 1, row + 2}


def test_a_deeper_z_is_a_gouge_of_the_floor() -> None:
    """A pocket cut 0.3 mm too deep is told as a gouge 0.3 mm deep, on the floor."""
    verdict = proven(outside(pocket(Script(), floor=11.7)).text())
    gouges = found(verdict, "gouge")
    assert gouges
    assert gouges[0].harm == "stop"
    assert gouges[0].by_mm == pytest.approx(0.3, abs=1e-4)
    assert gouges[0].place_mm is not None
    assert gouges[0].place_mm[2] == pytest.approx(12.0, abs=0.01)


def test_a_z_too_high_is_wood_left() -> None:
    """A pocket cut 0.3 mm too shallow leaves 0.3 mm of wood on its floor."""
    verdict = proven(outside(pocket(Script(), floor=12.3)).text())
    left = found(verdict, "leftover")
    assert kinds(verdict) == {"leftover"}
    assert max(finding.by_mm for finding in left) == pytest.approx(0.3, abs=0.01)


def test_a_shortened_stick_out_brings_the_nut_into_wood() -> None:
    """With the cutter 20 mm further into the collet the nut runs into the waste beside the block."""
    short = FLAT.model_copy(update={"stickout_mm": 15.0, "flute_length_mm": 15.0})
    verdict = proven(good_text(), cutter=short)
    contacts = found(verdict, "assembly contact")
    assert contacts
    assert contacts[0].harm == "stop"
    assert "collet nut" in contacts[0].what
    assert contacts[0].by_mm == pytest.approx(20.0 - 15.0, abs=0.1)
    assert contacts[0].line > 0


def test_a_stick_out_other_than_in_the_header_is_a_wrong_cutter() -> None:
    """The header's sizes are held against the cutter that is to be put in."""
    text = "(cutter: flat 6)\n(cutter sizes: flat 6 mm, flutes 25 mm, stick-out 45 mm, shank 6 mm)\n" + good_text()
    verdict = proven(text)
    assert kinds(verdict) == {"wrong cutter"}
    assert "stick-out 45" in found(verdict, "wrong cutter")[0].what


def test_a_swapped_cutter_is_named_by_the_header_and_by_the_wood() -> None:
    """A thicker cutter than the program's is named from its header; it gouges the block as well."""
    thick = FLAT.model_copy(update={"name": "flat 8", "diameter_mm": 8.0, "shank_diameter_mm": 8.0})
    verdict = proven("(cutter: flat 6)\n" + good_text(), cutter=thick)
    assert kinds(verdict) >= {"wrong cutter", "gouge"}
    assert verdict.walls.worst_gouge_mm == pytest.approx(1.0, abs=0.01)


def test_a_program_that_calls_another_cutter_by_number_is_found_without_a_header() -> None:
    """The job's one cutter is T1: a program that calls T1 passes, one that calls T2 stops."""
    start = good_text().replace("S18000 M3", "T1 M6\nS18000 M3")
    assert start != good_text()
    controller = MACHINE.controller.model_copy(update={"tool_change": True})
    machine = MACHINE.model_copy(update={"controller": controller})
    assert kinds(proven(start, machine=machine)) == set()
    called = found(proven(start.replace("T1 M6", "T2 M6"), machine=machine), "wrong cutter")
    assert called[0].harm == "stop"
    assert "T2, and flat 6 is T1" in called[0].what


def test_a_missing_spindle_start_is_found() -> None:
    """Cutting with the spindle off stops the proof, at the first cutting line."""
    verdict = proven(good_text().replace("S18000 M3\n", ""))
    assert kinds(verdict) == {"spindle off while cutting"}
    assert found(verdict, "spindle off while cutting")[0].line > 0


def test_a_spindle_that_turns_backwards_or_too_fast_is_found() -> None:
    """M4 and a speed out of the machine's range are each named."""
    assert kinds(proven(good_text().replace("M3", "M4"))) == {"spindle turns backwards"}
    assert kinds(proven(good_text().replace("S18000", "S60000"))) == {"spindle speed out of range"}


def test_a_wrong_side_up_is_named() -> None:
    """A program for the other side is named from its header, and its pocket gouges the wrong face."""
    verdict = proven("(side up: +z)\n" + good_text(), place=placement(up="-z"))
    assert kinds(verdict) >= {"wrong side up", "gouge", "leftover"}


def test_a_ring_cut_free_is_loose_wood() -> None:
    """Where only the middle is held, the frame round the block comes loose when it is cut through."""
    middle = (Hold("tape", rectangle_outline((-20.0, -10.0, 20.0, 10.0))),)
    verdict = proven(good_text(), place=placement(holds=middle))
    assert kinds(verdict) == {"loose wood"}
    (loose,) = found(verdict, "loose wood")
    frame_mm2 = 64 * 44 - 62 * 42 + (4 - np.pi) * 3.0**2  # the cutter rounds the frame's inner corners
    assert loose.by_mm == pytest.approx(frame_mm2 * 20.0, rel=0.01)


def test_a_rapid_through_wood_is_found() -> None:
    """A joining move that is lowered into the wood is a stop, by the height of wood that it takes."""
    lines = good_text().splitlines()
    row = lines.index("G0 Z25.000", lines.index("G0 X72.000 Y57.000"))
    lines[row] = "G0 Z17.000"
    script = "\n".join([*lines[: row + 1], "G0 X100 Y75", "G0 Z25", *lines[row + 1 :]])
    verdict = proven(script)
    assert "rapid through wood" in kinds(verdict)
    assert found(verdict, "rapid through wood")[0].line == row + 2


@pytest.mark.parametrize(
    ("line", "axis", "by"), [("G0 X201", "x", 1.0), ("G0 Y-2.5", "y", 2.5), ("G0 Z46", "z", 1.0)]
)
def test_outside_travel_is_found_on_each_axis(line: str, axis: str, by: float) -> None:
    """A move beyond the travel is told with its axis, its line and how far (the tip's top: 100 - 55 = 45 mm)."""
    text = good_text().replace("M5\n", line + "\nM5\n")
    verdict = proven(text)
    assert kinds(verdict) == {"outside travel"}
    (finding,) = found(verdict, "outside travel")
    assert f"{axis} travel" in finding.what
    assert finding.by_mm == pytest.approx(by)
    assert text.splitlines()[finding.line - 1] == line


def test_a_bulging_arc_outside_travel_is_found() -> None:
    """An arc whose ends lie inside the travel but whose middle does not is found."""
    text = good_text().replace("M5\n", "G0 X190 Y60\nG3 X190 Y90 I0 J15 F1000\nM5\n")
    (finding,) = found(proven(text), "outside travel")
    assert finding.by_mm == pytest.approx(5.0, abs=0.01)


def test_a_plunge_without_centre_cutting_is_found() -> None:
    """A cutter that does not cut at its centre may not go straight down into wood."""
    hollow = FLAT.model_copy(update={"centre_cutting": False})
    assert kinds(proven(good_text(), cutter=hollow)) == {"plunge without centre cutting"}


def test_a_fast_plunge_is_a_note_and_no_stop() -> None:
    """Going straight down faster than the entry feed is worth a note."""
    verdict = proven(good_text().replace("F400", "F900"))
    assert verdict.passed
    assert found(verdict, "plunge feed")


def test_a_cut_deeper_than_the_flutes_is_found() -> None:
    """Cutting 20 mm at once with flutes of 12 mm is named, by 8 mm."""
    stubby = FLAT.model_copy(update={"flute_length_mm": 12.0})
    verdict = proven(outside(pocket(Script()), levels=(0.0,)).text(), cutter=stubby)
    flutes = found(verdict, "cutting deeper than the flutes")
    assert flutes
    assert flutes[0].by_mm == pytest.approx(8.0, abs=0.05)


def test_a_cut_into_the_board_is_found() -> None:
    """A tip below the supporting face stops the proof."""
    verdict = proven(outside(pocket(Script()), levels=(*LEVELS[:-1], -0.4)).text())
    assert kinds(verdict) == {"into the supporting face"}
    assert found(verdict, "into the supporting face")[0].by_mm == pytest.approx(0.4)


def test_feeds_are_judged() -> None:
    """No feed at all is a stop; a feed above the machine's is a warning."""
    text = good_text()
    first = text.index("F400")
    assert "no feed" in kinds(proven(text.replace(" F400", "").replace(" F1500", "")))
    assert first > 0
    fast = proven(text.replace("F1500", "F9000"))
    assert fast.passed
    assert found(fast, "feed too fast")


def test_hardware_in_the_way_is_found_by_part() -> None:
    """A clamp that the cutter passes over, but the nut does not, is told as touched by the nut."""
    clamp = Obstacle("front clamp", rectangle_outline((-10.0, -40.0, 10.0, -25.0)), 0.0, 36.0)
    verdict = proven(good_text(), place=placement(obstacles=(clamp,)))
    hardware = found(verdict, "hardware touched")
    assert hardware
    assert all(finding.harm == "stop" for finding in hardware)
    assert any("collet nut" in finding.what and "front clamp" in finding.what for finding in hardware)
    low = Obstacle("front clamp", rectangle_outline((-10.0, -40.0, 10.0, -25.0)), 0.0, 30.0)
    assert proven(good_text(), place=placement(obstacles=(low,))).passed


def test_cutting_on_the_touch_off_spot_is_found() -> None:
    """A move that comes down on the reserved spot is named; one that passes high above it is not."""
    spot = placement(touch_off_mm=(45.0, 0.0))
    text = good_text().replace("M5\n", "G0 X145 Y76\nG1 Z0.1 F400\nG0 Z25\nM5\n")
    verdict = proven(text, place=spot)
    assert kinds(verdict) == {"touch-off spot cut"}
    assert proven(text.replace("Z0.1", "Z10"), place=spot).passed


def test_wood_higher_than_the_gantry_is_found() -> None:
    """The wood as it stands must pass under the gantry."""
    low = MACHINE.model_copy(update={"gantry_above_bed_mm": 15.0})
    assert kinds(proven(good_text(), machine=low)) == {"gantry meets wood"}


def test_unknown_words_stop_the_proof() -> None:
    """What the reader cannot carry out is never passed over."""
    verdict = proven(good_text().replace("M5\n", "G187 P1\nM5\n"))
    assert "cannot be read" in kinds(verdict)


def test_a_blank_that_lies_askew_is_gouged_and_a_corrected_pose_is_not() -> None:
    """With the work 0.3 mm off the same program gouges; told where the work lies, the judge says so."""
    verdict = proven(good_text(), poses={"1": (0.3, 0.0, 0.0)})
    assert verdict.walls.worst_gouge_mm == pytest.approx(0.3, abs=0.02)
    moved = Script(shift=(100.3, 75.0))
    assert proven(outside(pocket(moved)).text(), poses={"1": (0.3, 0.0, 0.0)}).passed


def test_a_turned_blank_is_judged_in_its_turned_place() -> None:
    """A turn of 0.01 rad about the origin of the piece takes its corners 0.25 mm sideways into the cutter."""
    verdict = proven(good_text(), poses={"1": (0.0, 0.0, 0.01)})
    assert "gouge" in kinds(verdict)
    assert verdict.walls.worst_gouge_mm == pytest.approx(0.25, abs=0.05)


def test_unknown_placements_and_cutters_are_refused_together() -> None:
    """All that does not fit together is told at once, before anything is cut."""
    wood = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
    programs = [ProgramText("a.nc", "9", "flat 6", ""), ProgramText("b.nc", "1", "ball 60", "")]
    from workpiece import block_with_pocket

    with pytest.raises(Refusal) as refusal:
        prove(programs, wood, block_with_pocket(), MACHINE, [FLAT], {"1": placement()}, SETTINGS)
    assert len(refusal.value.troubles) == 2


def test_findings_come_worst_first() -> None:
    """Stops before warnings before notes, and what breaks the machine first."""
    text = good_text().replace("S18000 M3\n", "").replace("M5\n", "G0 X900\nM5\n").replace("F1500", "F9000")
    verdict = proven(text)
    order = [finding.harm for finding in verdict.findings]
    assert order == sorted(order, key=["stop", "warning", "note"].index)
    assert verdict.findings[0].kind == "outside travel"
    assert np.isfinite(verdict.seconds)
