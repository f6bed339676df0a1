"""What is written is what is read back: the writer and the reader share nothing but the number format."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from witnessmark.job.errors import Refusal
from witnessmark.job.models import Controller, Cutter, Machine
from witnessmark.path.strokes import CUT, ENTRY, RAPID, Strokes
from witnessmark.program.fit import fit_arcs
from witnessmark.program.motion import ARC_CCW, ARC_CW, DWELL, LINE, MotionTable
from witnessmark.program.read import read
from witnessmark.program.write import ProgramSpec, write_program

CUTTER = Cutter(
    name="flat 6",
    kind="flat",
    diameter_mm=6,
    flute_length_mm=32,
    stickout_mm=45,
    shank_diameter_mm=6,
    feed_mm_min=1800,
    entry_feed_mm_min=500,
)


def machine(**controller: object) -> Machine:
    return Machine(
        travel_x_mm=300,
        travel_y_mm=400,
        travel_z_mm=90,
        nose_above_bed_mm=155,
        gantry_above_bed_mm=95,
        clear_width_mm=500,
        feed_max_mm_min=1500,
        controller=Controller(**controller),
    )


def spec(of: Machine, **more: object) -> ProgramSpec:
    return ProgramSpec("chest", "body", "foot up", "-z", CUTTER, 2, of, **more)


PLACES = st.tuples(st.floats(1, 299), st.floats(1, 399), st.floats(5, 85))
PATHS = st.lists(st.tuples(PLACES, st.sampled_from([RAPID, CUT, ENTRY])), min_size=2, max_size=30)
CONTROLLERS = st.builds(
    lambda **words: words,
    arcs=st.booleans(),
    units=st.sampled_from(["mm", "inch"]),
    decimals=st.integers(3, 6),
    line_numbers=st.booleans(),
    comments=st.booleans(),
    tool_change=st.booleans(),
)


@settings(max_examples=150, deadline=None)
@given(PATHS, CONTROLLERS)
def test_straight_strokes_come_back(path: list, words: dict) -> None:
    """Every stroke comes back in order, in its mode, at its feed, within half the least decimal on each axis."""
    points = np.array([place for place, _ in path])
    mode = np.array([m for _, m in path[1:]], dtype=np.int8)
    assume(np.ptp(points, axis=0).max() > 0.01)
    table = read(write_program(Strokes(points, mode), spec(machine(**words))))
    assert table.remarks == ()
    half_mm = 0.5001 * 10.0 ** -words["decimals"] * (25.4 if words["units"] == "inch" else 1.0)
    moves = table.kind != DWELL
    places = np.vstack([table.start_mm[moves][:1], table.end_mm[moves]])
    at = 0
    for k, point in enumerate(points):
        while at < len(places) and not np.all(np.abs(places[at] - point) <= half_mm):
            at += 1
        assert at < len(places), f"place {k} is missing"
    if np.any(np.abs(np.diff(points, axis=0)) > 2 * half_mm, axis=1).all():
        first = 1 if abs(points[0, 2] - points[:, 2].max()) > half_mm else 0  # the way down to the start
        strokes = slice(first, first + len(mode))
        assert table.kind[moves][strokes].tolist() == np.where(mode == RAPID, 0, 1).tolist()
        feeds = table.feed_mm_min[moves][strokes]
        assert feeds[mode == CUT] == pytest.approx(1500.0, abs=0.3)
        assert feeds[mode == ENTRY] == pytest.approx(500.0, abs=0.3)
        assert np.all(feeds[mode != RAPID] <= 1500.0)


def sampled(table: MotionTable) -> shapely.LineString:
    """The table's way in x, y: arcs by 200 points each, worked out here and not by the project."""
    places: list[tuple[float, float]] = []
    for i in np.flatnonzero(table.kind != DWELL):
        a, b, c = table.start_mm[i], table.end_mm[i], table.centre_mm[i]
        places.append((a[0], a[1]))
        if table.kind[i] in (ARC_CW, ARC_CCW):
            begin, end = math.atan2(a[1] - c[1], a[0] - c[0]), math.atan2(b[1] - c[1], b[0] - c[0])
            turn = (end - begin) % math.tau if table.kind[i] == ARC_CCW else -((begin - end) % math.tau)
            radius = math.dist(a[:2], c[:2])
            for t in np.linspace(0, 1, 200):
                places.append(
                    (c[0] + radius * math.cos(begin + t * turn), c[1] + radius * math.sin(begin + t * turn))
                )
        places.append((b[0], b[1]))
    return shapely.LineString(places)


def farthest_mm(one: shapely.LineString, other: shapely.LineString) -> float:
    """How far the corners of one line (thinned to about 2000) lie from another line."""
    corners = np.asarray(one.coords)
    corners = corners[:: max(1, len(corners) // 2000)]
    return float(shapely.distance(shapely.points(corners), other).max())


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0.5, 90),
    st.floats(0.5, 90),
    st.floats(0, math.tau),
    st.floats(0.3, math.tau),
    st.floats(0.0002, 0.02),
    st.booleans(),
    st.sampled_from([("mm", 2), ("mm", 3), ("mm", 4), ("inch", 4)]),
)
def test_arcs_stay_within_their_tolerance(
    rx: float, ry: float, begin: float, turn: float, sagitta_mm: float, clockwise: bool, form: tuple[str, int]
) -> None:
    """Ellipses and circles in chords: what is read back is within the stated tolerance of them, both ways."""
    chord_rad = 2 * math.sqrt(2 * sagitta_mm / max(rx, ry))
    count = int(min(max(turn / chord_rad, 4), 400))
    angle = begin + np.linspace(0, turn, count) * (-1 if clockwise else 1)
    points = np.column_stack([150 + rx * np.cos(angle), 200 + ry * np.sin(angle), np.full(count, 30.0)])
    of = machine(units=form[0], decimals=form[1])
    table = read(write_program(Strokes(points, np.full(count - 1, CUT, dtype=np.int8)), spec(of)))
    assert [remark for remark in table.remarks if remark.harm == "error"] == []
    step_mm = 10.0 ** -form[1] * (25.4 if form[0] == "inch" else 1.0)
    bound_mm = 0.005 + 0.71 * step_mm + 1e-6
    wanted, found = shapely.LineString(points[:, :2]), sampled(table)
    assert farthest_mm(found, wanted) <= bound_mm
    assert farthest_mm(wanted, found) <= bound_mm + 90 * (math.pi / 200) ** 2 / 8  # the samples' own chords


def circle(radius_mm: float, chords: int) -> Strokes:
    angle = np.linspace(0, math.tau, chords + 1)
    points = np.column_stack(
        [150 + radius_mm * np.cos(angle), 200 + radius_mm * np.sin(angle), np.full(chords + 1, 9.0)]
    )
    return Strokes(points, np.full(chords, CUT, dtype=np.int8))


def test_a_fine_circle_becomes_two_arcs() -> None:
    """720 chords of a circle of 40 mm (0.0004 mm off) come back as half circles, about its centre."""
    table = read(write_program(circle(40.0, 720), spec(machine())))
    arcs = table.kind == ARC_CCW
    assert arcs.sum() in (2, 3)
    assert np.all(np.abs(table.centre_mm[arcs][:, :2] - [150, 200]) <= 0.01)


def test_no_arcs_for_a_controller_that_takes_none() -> None:
    """The same circle stays 720 lines."""
    table = read(write_program(circle(40.0, 720), spec(machine(arcs=False))))
    assert not np.any((table.kind == ARC_CCW) | (table.kind == ARC_CW))
    assert np.sum(table.kind == 1) == 720


def test_a_coarse_polygon_keeps_its_corners() -> None:
    """An octagon is no circle: no arc may stand for it."""
    assert np.sum(read(write_program(circle(40.0, 8), spec(machine()))).kind >= 2) == 1  # the dwell alone


def test_arcs_do_not_bulge_out_of_the_travel() -> None:
    """A polygon whose sides touch the edge of the travel keeps them straight: an arc would go 0.004 mm beyond."""
    chords = 222
    angle = (np.arange(chords + 1) + 0.5) * math.tau / chords
    reach = 40.0 * math.cos(math.pi / chords)
    points = np.column_stack([reach + 40 * np.cos(angle), 200 + 40 * np.sin(angle), np.full(chords + 1, 9.0)])
    assert abs(points[:, 0].min()) < 1e-9
    table = read(write_program(Strokes(points, np.full(chords, CUT, dtype=np.int8)), spec(machine())))
    assert np.any(table.kind == ARC_CCW)
    assert np.asarray(sampled(table).coords)[:, 0].min() >= 0.0


@settings(max_examples=200, deadline=None)
@given(st.floats(4, 400), st.floats(0, math.tau), st.floats(0.5, 3.1), st.integers(4, 40), st.floats(0.02, 0.3))
def test_both_ends_of_an_arc_lie_at_one_radius(
    radius: float, begin: float, turn: float, corners: int, mismatch: float
) -> None:
    """Whatever the rounding to whole counts does to the points, ends and centre keep one radius within the limit."""
    angle = begin + np.linspace(0, turn, corners)
    x, y = np.rint(radius * np.cos(angle)), np.rint(radius * np.sin(angle))
    all_usable, one_run = np.ones(corners - 1, dtype=bool), np.zeros(corners - 1, dtype=np.int64)
    for first, last, cx, cy, way in fit_arcs(x, y, all_usable, one_run, 3.0, mismatch):
        apart = math.hypot(x[first] - cx, y[first] - cy) - math.hypot(x[last] - cx, y[last] - cy)
        assert abs(apart) <= mismatch
        assert way in (1, 2)
        assert last - first >= 3


@pytest.mark.parametrize(("rise_mm", "mode"), [(0.05, CUT), (0.05, ENTRY), (0.0, RAPID)])
def test_climbing_strokes_and_rapids_stay_straight(rise_mm: float, mode: int) -> None:
    """A ramp round a circle and a rapid round it keep every stroke, at its height and in its mode."""
    strokes = circle(40.0, 720)
    points = strokes.points_mm.copy()
    points[:, 2] += rise_mm * np.arange(len(points))
    table = read(write_program(Strokes(points, np.full(720, mode, dtype=np.int8)), spec(machine())))
    kind = 0 if mode == RAPID else 1
    assert np.sum(table.kind == kind) >= 720
    assert not np.any((table.kind == ARC_CCW) | (table.kind == ARC_CW))


def test_arcs_do_not_run_over_a_change_of_feed() -> None:
    """Half a circle at the feed and half at the entry feed: no arc spans both."""
    strokes = circle(40.0, 720)
    mode = strokes.mode.copy()
    mode[360:] = ENTRY
    table = read(write_program(Strokes(strokes.points_mm, mode), spec(machine())))
    cut = table.feed_mm_min == 1500.0
    assert table.end_mm[cut][-1].tolist() == [110.0, 200.0, 9.0]


def test_shift_and_turn_reach_the_program() -> None:
    """Standing to program: a quarter turn about z, then the shift."""
    points = np.array([[10.0, 0.0, 20.0], [20.0, 5.0, 10.0]])
    of = spec(machine(), shift_mm=(100.0, 50.0), turn_rad=math.pi / 2)
    table = read(write_program(Strokes(points, np.array([CUT], dtype=np.int8)), of))
    cut = np.flatnonzero(table.kind == 1)[-1]
    assert table.start_mm[cut].tolist() == [100.0, 60.0, 20.0]
    assert table.end_mm[cut].tolist() == [95.0, 70.0, 10.0]


@pytest.mark.parametrize(("at", "axis"), [((-0.01, 5, 20), "x"), ((5, 400.01, 20), "y"), ((5, 5, 90.1), "z")])
def test_leaving_the_travel_is_refused(at: tuple[float, float, float], axis: str) -> None:
    """The tip may go to the edge of the travel and no further; nose at 155, tip 65 below it: z to 90."""
    strokes = Strokes(np.array([[5.0, 5.0, 20.0], at]), np.array([RAPID], dtype=np.int8))
    with pytest.raises(Refusal, match=f"leave the {axis} travel"):
        write_program(strokes, spec(machine()))


def test_the_edge_of_the_travel_is_allowed() -> None:
    """The corners of the travel themselves can be cut."""
    corners = np.array([[0.0, 0.0, 0.0], [300.0, 0.0, 0.0], [300.0, 400.0, 90.0], [0.0, 400.0, 0.0]])
    table = read(write_program(Strokes(corners, np.array([CUT, CUT, CUT], dtype=np.int8)), spec(machine())))
    assert table.end_mm[:, 0].max() == 300.0


@pytest.mark.parametrize("points", [[[5.0, 5.0, 20.0]], [[5.0, 5.0, 20.0], [5.0, 5.0002, 20.0]]])
def test_nothing_to_cut_is_refused(points: list) -> None:
    """A path without strokes, or without length, makes no program."""
    strokes = Strokes(np.array(points), np.full(len(points) - 1, CUT, dtype=np.int8))
    with pytest.raises(Refusal, match="nothing to cut"):
        write_program(strokes, spec(machine()))


def test_what_the_header_says() -> None:
    """The reader collects job, piece, placement, cutter and the rest; minutes and fingerprint are blank at first."""
    of = spec(machine(), blank="470 x 370 x 62, cherry", notes=("mind the clamps (both)", "foot face planed"))
    header = read(write_program(circle(40.0, 90), of)).header
    assert header["job"] == "chest"
    assert header["side up"] == "-z"
    assert header["cutter"] == "flat 6"
    assert header["cutter number"] == "2"
    assert header["blank"] == "470 x 370 x 62, cherry"
    assert header["note"] == "mind the clamps [both] foot face planed"
    assert header["fingerprint"] == header["minutes"] == ""


def test_every_mode_is_set_before_the_first_move() -> None:
    """Plane, units, no compensation, system, no cycle, distance and feed mode stand before anything moves."""
    lines = write_program(circle(40.0, 90), spec(machine(comments=False))).splitlines()
    assert lines[0] == "G17 G21 G40 G49 G54 G80 G90 G94"
    assert lines[1] == "G0 Z9"
    assert lines[-2:] == ["M5", "M2"]


def test_cutters_are_called_only_where_the_controller_changes_them() -> None:
    """T and M6 stand in the text of a machine that changes cutters, and nowhere else."""
    assert "T2 M6" in write_program(circle(40.0, 90), spec(machine(tool_change=True)))
    assert "M6" not in write_program(circle(40.0, 90), spec(machine()))
    assert set(read(write_program(circle(40.0, 90), spec(machine(tool_change=True)))).cutter.tolist()) == {2}


def test_the_spindle_turns_at_every_cut() -> None:
    """The spindle runs, within the machine's range, in every row that cuts."""
    table = read(write_program(circle(40.0, 90), spec(machine())))
    assert np.all(table.spindle_rpm[(table.kind > 0) & (table.kind < 4)] == 18000.0)
    assert table.dwell_s.max() == 3.0


DRILL = CUTTER.model_copy(update={"kind": "drill", "included_angle_deg": 118.0, "entry_feed_mm_min": 300.0})


@given(
    st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.floats(0.5, 20), st.integers(1, 5)), max_size=4),
    st.sampled_from([{}, {"decimals": 2}, {"units": "inch", "decimals": 4}]),
)
@settings(deadline=None)
def test_holes_become_cycles_and_read_back_as_the_same_holes(holes: list, controller: dict) -> None:
    """Every hole: the same place, mouth and bottom, in at the entry feed, no peck deeper; all else as without."""
    points, mode = [(0.0, 0.0, 45.0), (5.0, 0.0, 45.0)], [0]
    for x, y, deep_mm, pecks in holes:
        points += [(x, y, 45.0), (x, y, 31.0)]
        mode += [0, 0]
        for k in range(1, pecks + 1):
            if k > 1:
                points.append((x, y, 30.0 - deep_mm * (k - 1) / pecks + 0.3))
                mode.append(0)
            points += [(x, y, 30.0 - deep_mm * k / pecks), (x, y, 31.0)]
            mode += [2, 0]
        points.append((x, y, 45.0))
        mode.append(0)
    strokes = Strokes(np.array(points), np.array(mode, dtype=np.int8))
    tables = []
    for canned in (False, True):
        drill = replace(spec(machine(canned_cycles=canned, **controller), shift_mm=(150.0, 200.0)), cutter=DRILL)
        text = write_program(strokes, drill)
        tables.append(read(text))
        assert [remark.what for remark in tables[-1].remarks if remark.harm == "error"] == []
        assert (text.count("G81") + text.count("G83") == sum(1 for _ in holes)) == (canned or not holes)
    plain, cycled = tables
    step_mm = drill.step_mm
    assert cycled.end_mm.min(axis=0) == pytest.approx(plain.end_mm.min(axis=0), abs=1e-9)
    assert cycled.end_mm.max(axis=0) == pytest.approx(plain.end_mm.max(axis=0), abs=1e-9)
    ways = [{tuple(np.round(p[:2], 6)) for p in table.end_mm[table.kind == LINE]} for table in tables]
    assert ways[0] == ways[1]
    for x, y in ways[0]:
        at = [(np.hypot(*(t.end_mm[:, :2] - (x, y)).T) < 1e-6) for t in tables]
        lows = [t.end_mm[here, 2].min() for t, here in zip(tables, at)]
        assert lows[0] == pytest.approx(lows[1], abs=1e-9)
    taken = [t.kind == LINE for t in tables]
    assert set(cycled.feed_mm_min[taken[1]]) <= set(plain.feed_mm_min[taken[0]])
    down = (cycled.kind == LINE) & (cycled.end_mm[:, 2] < cycled.start_mm[:, 2])
    longest = [(t.start_mm - t.end_mm)[t.kind == LINE, 2].max(initial=0.0) for t in tables]
    assert longest[1] <= longest[0] + 2 * step_mm + 0.254
    assert (cycled.start_mm[down][:, :2] == cycled.end_mm[down][:, :2]).all()


def test_only_a_drill_is_written_as_cycles() -> None:
    """A helix of another cutter that goes in and out upright stays as it is."""
    strokes = Strokes(np.array([(0, 0, 31.0), (0, 0, 20.0), (0, 0, 31.0)]), np.array([2, 0], dtype=np.int8))
    text = write_program(strokes, spec(machine(canned_cycles=True), shift_mm=(150.0, 200.0)))
    assert "G81" not in text


def test_line_numbers_stay_below_their_limit() -> None:
    """NISTIR 6556 (from memory): line numbers have at most five digits, also in a long program."""
    rng = np.random.default_rng(1)
    points = rng.uniform(10, 80, (100_050, 3))
    text = write_program(Strokes(points, np.full(100_049, CUT, dtype=np.int8)), spec(machine(line_numbers=True)))
    assert "N99999 " in text
    assert "N100000 " not in text
    assert read(text).remarks == ()
