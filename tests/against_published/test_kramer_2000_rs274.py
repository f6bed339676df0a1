"""The reader against the rules of the interpreter it follows.

Authority: T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000.
Table 4 (modal groups) and items 1 to 13 of Table 8 (order of execution) are as quoted from the report; every rule
marked "from memory" below is the report's as remembered, without the report at hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from witnessmark.program.motion import MotionTable
from witnessmark.program.read import read
from witnessmark.program.state import Given

FROM_123 = Given(start_mm=(1.0, 2.0, 3.0))
FROM_0 = Given(start_mm=(0.0, 0.0, 0.0))


def errors(table: MotionTable) -> list[str]:
    return [remark.what for remark in table.remarks if remark.harm == "error"]


def run(body: str, given: Given = FROM_0) -> MotionTable:
    table = read(f"G21\n{body}\nM2\n", given)
    assert errors(table) == []
    return table


def refused(body: str, given: Given = FROM_0) -> str:
    wrong = errors(read(f"G21\n{body}\nM2\n", given))
    assert wrong, "the reader should have refused this"
    return wrong[0]


def ends(table: MotionTable) -> list[tuple[float, ...]]:
    return [tuple(np.round(row, 9).tolist()) for row in table.end_mm]


def test_spaces_and_case_count_for_nothing() -> None:
    """NISTIR 6556, format of a line (from memory): 'g0x +0. 12 34y 7' is 'G0 X+0.1234 Y7'."""
    assert ends(run("g0x +0. 12 34y 7")) == [(0.1234, 7.0, 0.0)]


@pytest.mark.parametrize(("text", "value"), [("-.5", -0.5), ("+7.", 7.0), ("007", 7.0)])
def test_forms_of_numbers(text: str, value: float) -> None:
    """NISTIR 6556, numbers (from memory): signs, bare points and leading noughts are numbers."""
    assert ends(run(f"G0 X{text}"))[0][0] == value


@pytest.mark.parametrize("text", ["", ".", "-", "1e3", "1.2.3", "--1"])
def test_what_is_no_number(text: str) -> None:
    """NISTIR 6556, numbers (from memory): at least one digit, at most one point, no exponent."""
    assert refused(f"G0 X{text}")


@pytest.mark.parametrize(
    ("expression", "value"),
    [
        ("[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5),
        ("[1 + 2 * 3 ** 2]", 19.0),
        ("[10 MOD 4]", 2.0),
        ("FIX[2.8]", 2.0),
        ("FIX[-2.8]", -3.0),
        ("FUP[2.8]", 3.0),
        ("FUP[-2.8]", -2.0),
        ("SIN[30]", 0.5),
        ("ATAN[1]/[1]", 45.0),
        ("SQRT[ABS[-9]]", 3.0),
        ("[1 AND 0]", 0.0),
        ("[1 OR 0]", 1.0),
        ("[1 XOR 1]", 0.0),
    ],
)
def test_expressions(expression: str, value: float) -> None:
    """NISTIR 6556, expressions (from memory): the report's example comes to 0.5; functions take degrees."""
    assert run(f"G0 X[{expression}] Y1").end_mm[0, 0] == pytest.approx(value, abs=1e-12)


def test_settings_take_effect_after_the_line() -> None:
    """NISTIR 6556, parameter settings (from memory): with #3 = 15, '#3=6 G1 X#3' goes to 15 and leaves 6."""
    assert ends(run("F100\n#3=15\n#3=6 G1 X#3\nX#3")) == [(15.0, 0.0, 0.0), (6.0, 0.0, 0.0)]


def test_the_last_setting_wins_and_parameters_nest() -> None:
    """NISTIR 6556, parameters (from memory): '#3=15 #3=6' leaves 6; ##2 is the parameter that #2 names."""
    assert ends(run("#3=15 #3=6 #2=3\nG0 X##2")) == [(6.0, 0.0, 0.0)]


# NISTIR 6556, Table 4 (as quoted from the report): at most one word of a modal group on a line
TABLE_4 = [
    ("G0", "G1"),
    ("G2", "G81"),
    ("G38.2", "G80"),
    ("G17", "G18"),
    ("G90", "G91"),
    ("G93", "G94"),
    ("G20", "G21"),
    ("G40", "G41"),
    ("G43", "G49"),
    ("G98", "G99"),
    ("G54", "G59.3"),
    ("G61", "G64"),
    ("M3", "M5"),  # M groups from memory
    ("M0", "M2"),
    ("M7", "M9"),
]


@pytest.mark.parametrize(("one", "other"), [pair for pair in TABLE_4 if pair != ("M7", "M9")])
def test_words_of_one_group_exclude_each_other(one: str, other: str) -> None:
    """Table 4: two words of one modal group on a line are an error."""
    assert "exclude" in refused(f"{one} {other} X1 F100")


def test_g28_and_g1_both_want_the_axes() -> None:
    """NISTIR 6556 (from memory): an axis-using word of group 0 and one of group 1 on a line are an error."""
    assert "both want" in refused("G28 G1 X1")


def test_axis_words_need_a_motion() -> None:
    """NISTIR 6556 (from memory): axis words that no code uses are an error, also after G80."""
    assert "no motion in force" in refused("G80\nX1")


def test_table_8_spindle_starts_before_the_move() -> None:
    """Table 8: in 'G1 X10 F100 S8000 M3' feed, speed and spindle act before the motion."""
    table = run("G1 X10 F100 S8000 M3")
    assert (table.feed_mm_min[0], table.spindle_rpm[0]) == (100.0, 8000.0)


def test_table_8_spindle_stops_before_the_retract() -> None:
    """Table 8: 'M5 G0 Z50' stops the spindle before the motion."""
    table = run("S8000 M3\nG0 X1\nM5 G0 Z50")
    assert table.spindle_rpm.tolist() == [8000.0, 0.0]


def test_table_8_units_before_motion() -> None:
    """Table 8: 'G20 G0 X1' goes one inch."""
    assert ends(run("G20 G0 X1")) == [(25.4, 0.0, 0.0)]


def test_table_8_distance_mode_before_motion() -> None:
    """Table 8: 'G91 X1' with G1 in force is incremental."""
    assert ends(run("G1 X5 F100\nG91 X1")) == [(5.0, 0.0, 0.0), (6.0, 0.0, 0.0)]


def test_table_8_motion_before_the_end() -> None:
    """Table 8: 'G0 X1 M30' moves first, and nothing after it is read."""
    table = read("G21\nG0 X1 M30\nG0 X2\n", FROM_0)
    assert ends(table) == [(1.0, 0.0, 0.0)]
    assert any("not read" in remark.what for remark in table.remarks)


def test_table_8_dwell_before_motion() -> None:
    """Table 8: 'G0 Z5 G4 P1' dwells before it moves."""
    table = run("G0 Z5 G4 P1")
    assert table.kind.tolist() == [4, 0]
    assert table.dwell_s.tolist() == [1.0, 0.0]
    assert table.start_mm[0].tolist() == [0.0, 0.0, 0.0]


def test_table_8_feed_before_units() -> None:
    """Table 8: F acts before a change of units on its line, so the feed is still in mm, and that is said."""
    table = run("G20 G1 X1 F100")
    assert table.feed_mm_min[0] == 100.0
    assert any("before the change of units" in remark.what for remark in table.remarks)


def test_arc_by_centre() -> None:
    """NISTIR 6556, arcs (from memory): 'G17 G2 X10 Y16 I3 J4 Z9' from (7, 7): centre (10, 11), radius 5."""
    table = run("G17 G2 X10 Y16 I3 J4 Z9 F100", Given(start_mm=(7.0, 7.0, 5.0)))
    assert table.centre_mm[0, :2].tolist() == [10.0, 11.0]
    assert ends(table) == [(10.0, 16.0, 9.0)]


def test_arc_by_radius_goes_the_short_way_round() -> None:
    """NISTIR 6556, arcs (from memory): 'G17 G2 X10 Y15 R20 Z5' has its ends 20 from the centre, on its right."""
    table = run("G17 G2 X10 Y15 R20 Z5 F100", Given(start_mm=(0.0, 0.0, 0.0)))
    centre = table.centre_mm[0, :2]
    assert math.dist(centre, (0, 0)) == pytest.approx(20.0)
    assert math.dist(centre, (10, 15)) == pytest.approx(20.0)
    assert 10 * centre[1] - 15 * centre[0] < 0  # clockwise and short: the centre lies right of the chord
    longer = run("G17 G2 X10 Y15 R-20 Z5 F100")
    assert 10 * longer.centre_mm[0, 1] - 15 * longer.centre_mm[0, 0] > 0


def test_equal_ends_make_a_full_circle() -> None:
    """NISTIR 6556, arcs (from memory): centre form with its end at its start is a full circle."""
    table = run("G2 X0 Y0 I5 F100")
    assert len(table) == 1
    assert table.centre_mm[0].tolist() == [5.0, 0.0, 0.0]


@pytest.mark.parametrize(("apart_mm", "right"), [(0.0019, True), (0.0021, False)])
def test_radii_may_differ_by_two_thousandths(apart_mm: float, right: bool) -> None:
    """NISTIR 6556, arcs (from memory): ends more than 0.002 mm apart in radius are an error."""
    table = read(f"G21\nG3 X{10 + apart_mm:.4f} Y0 I5 J0 F100\nM2", FROM_0)
    assert (errors(table) == []) == right


@pytest.mark.parametrize(("apart_in", "right"), [(0.00019, True), (0.00021, False)])
def test_radii_may_differ_by_two_ten_thousandths_of_an_inch(apart_in: float, right: bool) -> None:
    """NISTIR 6556, arcs (from memory): in inches the limit is 0.0002 inch."""
    table = read(f"G20\nG3 X{1 + apart_in:.5f} Y0 I.5 J0 F100\nM2", FROM_0)
    assert (errors(table) == []) == right


@pytest.mark.parametrize(
    "body",
    [
        "G2 X0 Y0 R5 F100",
        "G2 X20 Y0 R9.99 F100",
        "G2 X10 F100",
        "G2 I5 F100",
        "G2 X10 I5 R5 F100",
        "G2 X10 K5 F100",
        "G18 G2 X10 J5 F100",
    ],
)
def test_what_is_no_arc(body: str) -> None:
    """NISTIR 6556, arcs (from memory): no full circle by R, R not too small, centre and end words of the plane."""
    assert refused(body)


def test_offsets_are_from_the_start_in_both_distance_modes() -> None:
    """NISTIR 6556, arcs (from memory): I J are from the start whether G90 or G91 is in force."""
    table = run("G0 X10 Y10\nG91 G3 X10 Y0 I5 J0 F100")
    assert table.centre_mm[1, :2].tolist() == [15.0, 10.0]
    assert ends(table)[1] == (20.0, 10.0, 0.0)


def test_inverse_time_feed() -> None:
    """NISTIR 6556, feed modes (from memory): with G93, F2 makes a move in half a minute; each needs its own F."""
    assert run("G93 G1 X30 F2").feed_mm_min[0] == 60.0
    assert "its own F" in refused("G93 G1 X30 F2\nX40")


def test_coordinate_systems_and_machine_coordinates() -> None:
    """NISTIR 6556, coordinate systems (from memory): G55 adds its own origin; G53 is one line in machine places."""
    given = Given(start_mm=(0.0, 0.0, 0.0), origins_mm={1: (100.0, 50.0, -40.0), 2: (110.0, 50.0, -40.0)})
    assert ends(run("G55 G0 X1\nG53 G0 X100\nX2", given)) == [(11.0, 0.0, 0.0), (0.0, 0.0, 0.0), (12.0, 0.0, 0.0)]
    assert ends(run("G10 L2 P1 X103\nG0 X1", given)) == [(4.0, 0.0, 0.0)]


def test_g92_declares_the_place() -> None:
    """NISTIR 6556, G92 (from memory): at X4 with no offset, 'G92 X7' makes the offset -3; G92.1 takes it away."""
    assert ends(run("G0 X4\nG92 X7\nG0 X8\nG92.1\nG0 X8")) == [(4.0, 0, 0), (5.0, 0, 0), (8.0, 0, 0)]
    assert ends(run("G0 X4\nG92 X7\nG92.2\nG92.3\nG0 X8")) == [(4.0, 0, 0), (5.0, 0, 0)]


def test_length_offsets_are_added_to_z() -> None:
    """NISTIR 6556, G43 (from memory): the offset of slot H is added to Z from the next move on; G49 ends it."""
    given = Given(start_mm=(0.0, 0.0, 0.0), lengths_mm={3: 12.5})
    assert ends(run("G43 H3\nG0 Z1\nG49\nZ2", given)) == [(0, 0, 13.5), (0, 0, 2.0)]


def test_cycle_example_a() -> None:
    """NISTIR 6556, canned cycles, first example (from memory): 'G90 G81 G98 X4 Y5 Z1.5 R2.8' from (1, 2, 3)."""
    table = run("G90 G81 G98 X4 Y5 Z1.5 R2.8 F100", FROM_123)
    assert ends(table) == [(4, 5, 3), (4, 5, 2.8), (4, 5, 1.5), (4, 5, 3)]
    assert table.kind.tolist() == [0, 0, 1, 0]


def test_cycle_example_b() -> None:
    """NISTIR 6556, canned cycles, second example (from memory): G91 and three repeats from (1, 2, 3)."""
    table = run("G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3 F100", FROM_123)
    wanted: list[tuple[float, ...]] = [(1, 2, 4.8)]
    for x, y in ((5, 7), (9, 12), (13, 17)):
        wanted += [(x, y, 4.8), (x, y, 4.2), (x, y, 4.8)]
    assert ends(table) == wanted


def test_retract_to_r_and_sticky_words() -> None:
    """NISTIR 6556, canned cycles (from memory): G99 goes up to R; Z and R stay in force for the next hole."""
    assert ends(run("G81 G99 X1 Z-2 R1 F100\nX2", Given(start_mm=(0.0, 0.0, 9.0)))) == [
        (1, 0, 9),
        (1, 0, 1),
        (1, 0, -2),
        (1, 0, 1),
        (2, 0, 1),
        (2, 0, -2),
        (2, 0, 1),
    ]


def test_dwell_at_the_bottom() -> None:
    """NISTIR 6556, G82 (from memory): feed down, dwell P, rapid out."""
    table = run("G82 G99 X0 Y0 Z-2 R1 P0.5 F100", Given(start_mm=(0.0, 0.0, 1.0)))
    assert table.kind.tolist() == [1, 4, 0]
    assert table.dwell_s[1] == 0.5


def test_pecks() -> None:
    """NISTIR 6556, G83 (from memory; R and 0.254 mm least certain): out to R and back to 0.254 above the bottom."""
    table = run("G83 G99 X0 Y0 Z-4 R1 Q2 F100", Given(start_mm=(0.0, 0.0, 1.0)))
    assert table.end_mm[:, 2].tolist() == pytest.approx([-1, 1, -0.746, -3, 1, -2.746, -4, 1])
    assert table.kind.tolist() == [1, 0, 0, 1, 0, 0, 1, 0]


@pytest.mark.parametrize(
    "body",
    ["G81 Z-2 R1", "G81 X1 Z-2 R1 L0", "G81 X1 Z2 R1", "G93 G81 X1 Z-2 R1 F1", "G83 X1 Z-2 R1", "G82 X1 Z-2 R1"],
)
def test_cycle_errors(body: str) -> None:
    """NISTIR 6556, canned cycles (from memory): L not positive, R below Z, G93, Q or P missing are errors."""
    if body == "G81 Z-2 R1":  # X and Y may be left out as long as one of X Y Z stands there
        assert ends(run(body + " F100", Given(start_mm=(0.0, 0.0, 1.0)))) == [(0, 0, -2), (0, 0, 1)]
    else:
        assert refused(body)


def spindle(table: MotionTable) -> list[float]:
    return table.spindle_rpm.tolist()


def test_tapping_turns_back_on_the_way_out() -> None:
    """NISTIR 6556, G84 (from memory): feed in, the spindle turned round, feed out to R, and round again."""
    table = run("S500 M3 G84 G99 X0 Y0 Z-4 R1 F100\nG0 Z9", Given(start_mm=(0.0, 0.0, 1.0)))
    assert table.kind.tolist() == [1, 1, 0]
    assert table.end_mm[:, 2].tolist() == [-4, 1, 9]
    assert spindle(table) == [500, -500, 500]
    assert "M3" in refused("G84 X1 Z-2 R1", FROM_0)
    assert "M3" in refused("S500 M4 G84 X1 Z-2 R1", FROM_0)


def test_boring_with_a_stop() -> None:
    """NISTIR 6556, G86 (from memory): feed in, dwell P, spindle stopped, rapid out, spindle on again."""
    table = run("S500 M4 G86 G99 X0 Y0 Z-4 R1 P0.5 F100\nX3", Given(start_mm=(0.0, 0.0, 1.0)))
    assert table.kind.tolist() == [1, 4, 0, 0, 1, 4, 0]
    assert spindle(table) == [-500, -500, 0, -500, -500, -500, 0]


def test_boring_with_a_stop_and_a_hand() -> None:
    """NISTIR 6556, G88 (from memory): feed in, dwell P, spindle stopped; the cutter is brought up by hand."""
    table = read("G21\nS500 M3 G88 G99 X0 Y0 Z-4 R1 P0.5 F100\nM2\n", Given(start_mm=(0.0, 0.0, 1.0)))
    assert spindle(table) == [500, 500, 0]
    assert [remark.harm for remark in table.remarks if "by hand" in remark.what] == ["note"]


def test_back_boring() -> None:
    """NISTIR 6556, G87 (from memory): in beside the hole with the spindle held, up to K in it, and out again."""
    body = "S500 M3 G87 G98 X10 Y20 Z-8 R2 I-3 J1 K-5 F100"
    table = run(body, Given(start_mm=(0.0, 0.0, 4.0)))
    assert ends(table) == [
        (10, 20, 4),
        (10, 20, 2),
        (7, 21, 2),
        (7, 21, -8),
        (10, 20, -8),
        (10, 20, -5),
        (10, 20, -8),
        (7, 21, -8),
        (7, 21, 4),
        (10, 20, 4),
    ]
    assert table.kind.tolist() == [0, 0, 0, 0, 0, 1, 1, 0, 0, 0]
    assert spindle(table) == [500, 500, 0, 0, 0, 500, 500, 0, 0, 0]
    in_steps = run("G91 S500 M3 G87 G98 X10 Y20 Z-10 R-2 I-3 J1 K3 F100", Given(start_mm=(0.0, 0.0, 4.0)))
    assert ends(in_steps) == ends(table)
    assert "needs J and K" in refused("S500 M3 G87 X1 Z-2 R1 I2", FROM_0)


def test_cycles_in_the_other_planes() -> None:
    """NISTIR 6556, canned cycles (from memory): in G18 a hole runs along Y, in G19 along X."""
    assert ends(run("G18 G81 G98 X4 Y0.5 Z5 R1.5 F100", FROM_123)) == [(4, 2, 5), (4, 1.5, 5), (4, 0.5, 5), (4, 2, 5)]
    assert ends(run("G19 G81 G99 X-1 Y4 Z5 R0 F100", FROM_123)) == [(1, 4, 5), (0, 4, 5), (-1, 4, 5), (0, 4, 5)]


def test_probing() -> None:
    """NISTIR 6556, G38.2 (from memory): at feed with the spindle still; where it stopped is in #5061 to #5063."""
    table = read("G21\nG38.2 X1 Z-4 F50\nG0 Z5\nX[#5061 + 2] Z#5063\nM2\n", FROM_0)
    assert errors(table) == []
    assert table.kind.tolist() == [5, 0, 0]
    assert ends(table) == [(1, 0, -4), (1, 0, 5), (3, 0, -4)]
    assert any("only the machine knows" in remark.what for remark in table.remarks)
    assert "closer than 0.254" in refused("G38.2 Z-0.2 F50")
    assert "standing still" in refused("S500 M3 G38.2 Z-2 F50")
    assert "inverse time" in refused("G93 G38.2 Z-2 F50")
    assert "needs X, Y or Z" in refused("G38.2 F50")


def test_comments_messages_and_demarcation() -> None:
    """NISTIR 6556, comments and demarcation (from memory): (...) is no code; a second % ends the program."""
    table = read("%\nG21 (MSG, raise the cutter)\nG0 (up) X1\n%\nG0 X2\n", FROM_0)
    assert ends(table) == [(1, 0, 0)]
    assert errors(table) == []


def test_block_delete() -> None:
    """NISTIR 6556, block delete (from memory): with the switch on, lines that begin with / are left out."""
    assert ends(run("/G0 X1\nG0 X2")) == [(1, 0, 0), (2, 0, 0)]
    assert ends(run("/G0 X1\nG0 X2", Given(start_mm=(0.0, 0.0, 0.0), block_delete=True))) == [(2, 0, 0)]


def test_long_lines_are_refused() -> None:
    """NISTIR 6556, format of a line (from memory): at most 256 characters."""
    assert ends(run("G0 X1" + " " * 251)) == [(1, 0, 0)]
    assert "256 are allowed" in refused("G0 X1" + " " * 252)
