"""How a cutter that does not cut at its centre goes down: along its way, or where there is air.

The wood is felt on a grid three times finer than the one the paths are made on, and laid otherwise. Rows over faces
shallower than 45 degrees run downhill too; they are no entries, and the pieces here have no such faces.
"""

import math

import numpy as np
import pytest
import shapely
from benchwork import FLAT_6, MACHINE, fed, prism, request_for, slim_task, solid_of, with_rough_tips
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.ndimage import minimum_filter
from test_paths_whole import BLANK, boss_with_pocket

from witnessmark.field.grid import Grid
from witnessmark.field.sweep import remove
from witnessmark.job.frames import Rigid
from witnessmark.job.models import Settings
from witnessmark.job.placement import Hold, Placement, rectangle_outline
from witnessmark.path.entry import ENTRY_SLOPE_RATIO
from witnessmark.path.make import make_paths
from witnessmark.path.strokes import RAPID
from witnessmark.path.wood import profile_of
from witnessmark.program.write import ProgramSpec, write_program
from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.verdict import ProgramText

HOLLOW_6 = FLAT_6.model_copy(update={"name": "hollow 6", "centre_cutting": False})
RADIUS_MM = HOLLOW_6.diameter_mm / 2
FINE_MM = 0.15
GRAZED_MM = 0.05  # wood no higher than this over the tip is let be
CELL = 4  # fine cells along a square that surely holds a cell's centre of the paths' own grid, of 0.5 mm
HIGH_MM = 4.0
BORE_BLANK = (-20.0, -17.0, 20.0, 17.0, HIGH_MM)


def path_for(request):
    task = with_rough_tips(request, slim_task(HOLLOW_6))
    (path,) = make_paths(request, [task])
    return path


def wood_met_going_down(strokes, blank):
    """Fed strokes that sink steeper than an entry may: those with a square of wood as large as a cell of the paths'
    own grid under them (number, end), and how many there are in all. What is thinner than a cell no grid sees."""
    x0, y0, x1, y1, height = blank
    grid = Grid.over(x0 - 0.07, y0 - 0.04, x1 + 0.08, y1 + 0.11, FINE_MM)
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    top = np.where((x > x0) & (x < x1) & (y > y0) & (y < y1), height, -np.inf).astype(np.float32)
    points = strokes.points_mm
    moves = np.zeros((len(strokes), 9))
    moves[:, :3], moves[:, 3:6] = points[:-1], points[1:]
    step = np.diff(points, axis=0)
    run = np.hypot(step[:, 0], step[:, 1])
    steep = np.flatnonzero((strokes.mode != RAPID) & (-step[:, 2] > ENTRY_SLOPE_RATIO * run + 1e-6))
    met, done = [], 0
    for k in steep:
        remove(top, grid, moves[done:k], profile_of(HOLLOW_6))
        done = k
        a, b = points[k], points[k + 1]
        low, high = np.minimum(a, b)[:2] - RADIUS_MM, np.maximum(a, b)[:2] + RADIUS_MM
        near = np.ix_((grid.y_mm > low[1]) & (grid.y_mm < high[1]), (grid.x_mm > low[0]) & (grid.x_mm < high[0]))
        over = top[near] > b[2] + GRAZED_MM
        if over.any():
            way = shapely.LineString([a[:2], b[:2] + 1e-9])
            under = shapely.dwithin(way, shapely.points(x[near], y[near]), RADIUS_MM - 0.02)
            if minimum_filter((over & under).astype(np.int8), CELL, mode="constant").any():
                met.append((int(k), b.tolist()))
    return met, len(steep)


@settings(max_examples=6, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**6), st.sampled_from([0.0, 12.0]))
def test_what_sinks_steeper_than_an_entry_sinks_in_air(seed, draft):
    """Whatever boss and pocket: no fed stroke steeper than 5 degrees brings the tip down onto wood."""
    solid, _ = boss_with_pocket(seed, draft)
    met, looked_at = wood_met_going_down(path_for(request_for(solid, BLANK)).strokes, BLANK)
    assert looked_at > 3  # the cutter comes down to its first wood at least
    assert met == []


@settings(max_examples=4, suppress_health_check=[HealthCheck.too_slow])
@given(st.floats(12.3, 18.0), st.floats(-3.0, 3.0), st.floats(-3.0, 3.0))
def test_a_bore_with_room_is_gone_down_in_turns(diameter, x, y):
    """A through hole wide enough for the ramp is cut to the board, with not one plunge on the way."""
    path = path_for(request_for(bored(diameter, x, y), BORE_BLANK))
    assert lowest_in_bore(path, diameter, x, y) == pytest.approx(0.0, abs=1e-6)
    met, _ = wood_met_going_down(path.strokes, BORE_BLANK)
    assert met == []


def bored(diameter_mm, x_mm=0.0, y_mm=0.0):
    """A plate with one through hole."""
    plate = prism(shapely.box(-15, -12, 15, 12), 0, HIGH_MM)
    return solid_of(plate - prism(shapely.Point(x_mm, y_mm).buffer(diameter_mm / 2, quad_segs=8), -1, HIGH_MM + 1))


def lowest_in_bore(path, diameter_mm, x_mm=0.0, y_mm=0.0):
    """The lowest tip of the fed strokes that end with the axis inside the hole."""
    _, end = fed(path.strokes)
    inside = np.hypot(end[:, 0] - x_mm, end[:, 1] - y_mm) < diameter_mm / 2
    return end[inside, 2].min()


@pytest.mark.parametrize("diameter", [6.08, 6.16, 7.0, 9.0, 11.5])
def test_a_bore_too_narrow_for_its_ramp_is_left_out(diameter):
    """Less than twice as wide as a cutter that does not cut at its centre: no stroke goes below the face in it."""
    path = path_for(request_for(bored(diameter), BORE_BLANK))
    assert lowest_in_bore(path, diameter) == pytest.approx(HIGH_MM, abs=1e-6)


def test_the_proof_tells_a_bore_left_out():
    """The judge stops the program for the wood that stays in it, and for nothing else."""
    diameter = 6.12
    solid = bored(diameter)
    path = path_for(request_for(solid, BORE_BLANK))
    left = [f for f in findings(path, solid) if f.kind == "leftover"]
    assert left
    for finding in left:
        assert finding.harm == "stop"
        assert math.hypot(*finding.place_mm[:2]) == pytest.approx(diameter / 2, abs=0.1)
        assert finding.by_mm > 1.0


def findings(path, solid):
    """What the judge finds in the program of a path, on a coarse grid: walls are judged exactly all the same."""
    x0, y0, x1, y1, height = BORE_BLANK
    coarse = Settings(proof_pitch_mm=0.5)
    place = Placement(
        name="1",
        up="+z",
        stand=Rigid(np.eye(3), np.zeros(3)),
        shift_mm=(150.0, 200.0),
        support_z_bed_mm=MACHINE.support_z_bed_mm,
        region_mm=(x0, y0, x1, y1),
        cutters=(HOLLOW_6.name,),
        holds=(Hold("tape", rectangle_outline((x0, y0, x1, y1))),),
    )
    text = write_program(path.strokes, ProgramSpec("job", "plate", "1", "+z", HOLLOW_6, 1, MACHINE, place.shift_mm))
    wood = blank_columns((x0, y0, 0.0), (x1, y1, height), coarse)
    program = ProgramText("plate.nc", "1", HOLLOW_6.name, text)
    return prove([program], wood, solid, MACHINE, [HOLLOW_6], {"1": place}, coarse).findings
