"""Cutter radius compensation (G41, G42): where the cutter's middle goes, by closed forms and by plane geometry.

Authority for the rules: T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR
6556, 2000, appendix on cutter radius compensation (from memory). The geometry is held against shapely (GEOS).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from witnessmark.program.motion import ARC_CCW, ARC_CW, LINE, MotionTable
from witnessmark.program.read import read
from witnessmark.program.state import Given

SIX = Given(start_mm=(0.0, 0.0, 5.0), diameters_mm={1: 6.0, 2: 0.0, 3: 10.0}, diameter_mm=6.0)


def errors(table: MotionTable) -> list[str]:
    return [remark.what for remark in table.remarks if remark.harm == "error"]


def run(body: str, told: Given = SIX) -> MotionTable:
    table = read(f"G21 F600\n{body}\nM2\n", told)
    assert errors(table) == []
    return table


def refused(body: str, told: Given = SIX) -> str:
    wrong = errors(read(f"G21 F600\n{body}\nM2\n", told))
    assert wrong
    return wrong[0]


def ends(table: MotionTable) -> list[tuple[float, ...]]:
    return [tuple(np.round(row, 6).tolist()) for row in table.end_mm]


def test_a_square_from_outside_gets_round_corners() -> None:
    """G42 clockwise... the cutter stays 3 mm right of a square run counter-clockwise; arcs go round its corners."""
    table = run("G42 D1 G1 X10 Y-20\nX10 Y0\nX40\nY30\nX10\nY0\nG40 G1 X-20 Y-20", SIX)
    middles = ends(table)
    assert (43.0, 0.0, 5.0) in middles
    assert (43.0, 30.0, 5.0) in middles
    assert (40.0, 33.0, 5.0) in middles
    arcs = (table.kind == ARC_CCW) | (table.kind == ARC_CW)
    assert {tuple(c) for c in np.round(table.centre_mm[arcs, :2], 6)} >= {(40.0, 0.0), (40.0, 30.0), (10.0, 30.0)}
    assert np.hypot(*(table.end_mm[arcs] - table.centre_mm[arcs])[:, :2].T) == pytest.approx(3.0)
    assert middles[-1] == (-20.0, -20.0, 5.0)


def test_the_way_in_touches_the_first_point_on_the_tangent_from_there_to_the_cutter() -> None:
    """From (0, 0) to (5, 0), 3 mm radius: the tangent makes the 3-4-5 triangle, so all is in whole tenths."""
    left = run("G41 D1 G1 X5 Y0\nG40").end_mm[0]
    right = run("G42 D1 G1 X5 Y0\nG40").end_mm[0]
    along = np.array([0.8, 0.6])  # on the tangent the cutter's middle lies left of the way
    assert left[:2] == pytest.approx([5.0 - 3.0 * along[1], 3.0 * along[0]])
    assert right[:2] == pytest.approx([5.0 - 3.0 * along[1], -3.0 * along[0]])


def test_a_corner_towards_the_cutter_is_where_both_paths_meet() -> None:
    """Inside a square, 3 mm left of it: the middle runs round a square 6 mm less each way."""
    body = "G1 X10 Y10\nG41 D1 X20 Y10\nX20 Y0\nX50\nY40\nX10\nY0\nX30\nG40"
    table = run(body)
    assert {(47.0, 3.0, 5.0), (47.0, 37.0, 5.0), (13.0, 37.0, 5.0)} <= set(ends(table))


def test_arcs_keep_their_centre() -> None:
    """A full circle of radius 20: the middle runs 17 or 23 mm from its centre, by side and way round."""
    for code, motion, radius in (("G41", "G3", 17.0), ("G42", "G3", 23.0), ("G41", "G2", 23.0), ("G42", "G2", 17.0)):
        y = 30.0 if motion == "G2" else -30.0
        body = f"G1 X20 Y{y:g}\n{code} D1 G1 X20 Y{y / 2:g}\nX20 Y0\n{motion} X20 Y0 I-20 J0\nG40"
        table = run(body)
        round_it = table.kind == (ARC_CCW if motion == "G3" else ARC_CW)
        assert np.hypot(table.end_mm[round_it, 0], table.end_mm[round_it, 1])[-1] == pytest.approx(radius)
        whole = table.start_mm[round_it][-1][:2] == pytest.approx(table.end_mm[round_it][-1][:2])
        assert whole


def test_height_changes_with_the_leg_and_not_round_the_corner() -> None:
    table = run("G42 D1 G1 X0 Y-20\nX30 Z4\nZ2\nY20 Z0\nG40")
    arc = np.flatnonzero(table.kind == ARC_CCW)[-1]
    assert table.start_mm[arc, 2] == table.end_mm[arc, 2] == 2.0
    straight_down = [row for row in range(len(table)) if table.start_mm[row, 2] != table.end_mm[row, 2]]
    assert {(table.start_mm[r, 2], table.end_mm[r, 2]) for r in straight_down} == {(5, 4), (4, 2), (2, 0)}
    assert (table.start_mm[1:] == table.end_mm[:-1]).all()


def test_inverse_time_counts_the_way_round_the_corner() -> None:
    """With G93 F2 a move takes half a minute, the arc round its corner included."""
    table = run("G93\nG42 D1 G1 X0 Y-20 F2\nX30 F2\nY20 F2\nG40")
    last = table.line == table.line.max()
    lengths = np.linalg.norm(table.end_mm - table.start_mm, axis=1)
    lengths[table.kind == ARC_CCW] = 3.0 * math.pi / 2
    assert (lengths[last] / table.feed_mm_min[last]).sum() == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("G41 D7 G1 X20", "was not given"),
        ("G41 D-1 G1 X20", "whole number"),
        ("G41 D1 G1 X20\nG42 D1 X30", "on already"),
        ("G18\nG41 D1 G1 X20", "plane G17"),
        ("G41 D1 G1 X2", "no longer than the cutter's radius"),
        ("G41 D1 G1 X20\nG81 X30 Z-2 R1", "may not stand between"),
        ("G41 D1 G1 X20\nG28 X30", "may not stand between"),
        ("G41 D1 G1 X20\nG92 X30", "may not stand between"),
        ("G41 D1 G1 X20\nG18", "may not stand between"),
        ("G41 D1 G1 X20\nG55", "coordinate system"),
        ("G41 D1 G1 X20\nM6", "M6"),
        ("G41 D1 G1 X20\nX40\nG0 Y-20\nG40", "a rapid begins at a corner"),
        ("G41 D1 G1 X20\nX40\nY2\nX20\nG40", "does not fit"),
        ("G41 D1 G1 X20\nX40\nG3 X44 Y4 J4 I0\nG40", ""),
        ("G41 D3 G1 X20\nX40\nG3 X44 Y4 J4 I0\nG40", "no larger than the cutter's"),
        ("G41 D1 G2 X20 Y20 I20 J0", "does not touch it"),
        ("D1 G1 X20", "used by nothing"),
    ],
)
def test_what_cannot_be_followed_is_named(body: str, says: str) -> None:
    if says:
        assert says in refused(body)
    else:
        run(body)


def test_without_d_the_cutter_in_the_spindle_counts() -> None:
    assert ends(run("G41 G1 X5 Y0\nG40"))[0] == ends(run("G41 D1 G1 X5 Y0\nG40"))[0]
    assert "how wide it is was not given" in refused("G41 G1 X5", Given(start_mm=(0.0, 0.0, 0.0)))
    assert ends(run("G41 D0 G1 X5 Y0\nX9"))[-1] == (9.0, 0.0, 5.0)


def test_the_end_of_the_program_ends_the_contour_too() -> None:
    assert ends(run("G41 D1 G1 X5 Y0\nX20 Y0"))


def star(radii_mm: list[float]) -> np.ndarray:
    """A ring (n, 2) counter-clockwise about the origin, its corners as far out as told."""
    turns = 2 * math.pi * np.arange(len(radii_mm)) / len(radii_mm)
    return np.column_stack([np.cos(turns), np.sin(turns)]) * np.array(radii_mm)[:, None]


def path_of(table: MotionTable) -> shapely.LineString:
    points = [table.start_mm[0, :2]]
    for k in range(len(table)):
        if table.kind[k] in (ARC_CW, ARC_CCW):
            centre = table.centre_mm[k, :2]
            a, b = table.start_mm[k, :2] - centre, table.end_mm[k, :2] - centre
            begin, end = math.atan2(a[1], a[0]), math.atan2(b[1], b[0])
            turn = (end - begin) % math.tau if table.kind[k] == ARC_CCW else -((begin - end) % math.tau)
            for f in np.linspace(0.0, 1.0, 129)[1:]:
                angle = begin + f * turn
                points.append(centre + np.hypot(*a) * np.array([math.cos(angle), math.sin(angle)]))
        else:
            assert table.kind[k] in (0, LINE)
            points.append(table.end_mm[k, :2])
    return shapely.LineString(points)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.floats(25.0, 60.0), min_size=5, max_size=12), st.booleans(), st.floats(0.5, 4.0))
def test_the_edge_follows_any_ring_from_outside(radii_mm: list[float], clockwise: bool, radius_mm: float) -> None:
    """Round a ring with corners of both kinds the middle runs on the boundary of the ring grown by the radius."""
    ring = star(radii_mm)
    grown = shapely.buffer(shapely.Polygon(ring), radius_mm, quad_segs=64)
    if clockwise:
        ring = ring[::-1]
    start = (ring[0] + ring[-1]) / 2  # the way in comes along the last side's middle
    out = ring[0] - ring[-1]
    outward = np.array([out[1], -out[0]]) / np.hypot(*out) * (-1.0 if clockwise else 1.0)
    told = Given(start_mm=(*(start + 30.0 * outward).tolist(), 0.0), diameter_mm=2 * radius_mm)
    code = "G41" if clockwise else "G42"
    lines = [f"{code} G1 X{start[0]:.6f} Y{start[1]:.6f}"]
    lines += [f"X{x:.6f} Y{y:.6f}" for x, y in ring]
    lines += [f"X{start[0]:.6f} Y{start[1]:.6f}", "G40"]
    table = read("G21 F600\n" + "\n".join(lines) + "\nM2\n", told)
    assume(not errors(table))
    assume(not shapely.is_empty(grown))
    path = path_of(table)
    contour = shapely.LineString([*ring, ring[0]])
    after_the_way_in = shapely.LineString(path.coords[2:])
    assert shapely.distance(after_the_way_in, contour) >= radius_mm - 1e-3
    assert shapely.hausdorff_distance(grown.exterior, after_the_way_in) < 1.0 + radius_mm
    farthest = max(grown.exterior.distance(shapely.Point(p)) for p in after_the_way_in.coords)
    assert farthest < 0.01


def test_most_rings_are_followed() -> None:
    """The property above is not met by refusing: of wide stars all are followed."""
    rng = np.random.default_rng(3)
    for _ in range(50):
        ring = star(rng.uniform(40.0, 50.0, 8).tolist())
        lines = ["G42 G1 X40 Y-70", *(f"X{x:.4f} Y{y:.4f}" for x, y in [*ring, ring[0]]), "G40"]
        given_mm = Given(start_mm=(0.0, -90.0, 0.0), diameter_mm=4.0)
        assert not errors(read("G21 F600\n" + "\n".join(lines) + "\nM2\n", given_mm))
