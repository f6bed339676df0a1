"""Touch lands, touches and the touch-off spot over random blanks and pieces, looked at from outside their own code.

Everything is felt by points and by plane geometry in the standing frame: where wood stands, where the axis can go.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import manifold3d
import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from witnessmark.job.assembly import assembly_of
from witnessmark.job.demonstration import box_job
from witnessmark.job.errors import Refusal
from witnessmark.job.frames import standing
from witnessmark.job.models import Job
from witnessmark.job.placement import Placement, Rectangle, Touch, rectangle_of
from witnessmark.plan.lands import SLOT_MM, Land, faces_of
from witnessmark.plan.model import PiecePlan, PlacementPlan
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.touches import FINDER_MM, fixes_pose
from witnessmark.shapes.solid import Solid

HAIR_MM = 1e-3
FINDER_LEAST_MM = FINDER_MM - 0.1  # what the finder may lean against counts as the wall that it touches


@dataclass(frozen=True)
class Planned:
    job: Job
    shape: Solid
    plan: PiecePlan

    def window(self, place: Placement) -> Rectangle:
        """Where the axis may go in a placement, standing frame: the travel less the slack kept for corrections."""
        machine, slack_mm, (x, y) = self.job.machine, self.job.settings.travel_slack_mm, place.shift_mm
        return (slack_mm - x, slack_mm - y, machine.travel_x_mm - slack_mm - x, machine.travel_y_mm - slack_mm - y)

    def blank(self, place: Placement) -> shapely.Polygon:
        return shapely.box(*rectangle_of(place.holds[0].outline_mm))

    @property
    def height_mm(self) -> float:
        return self.plan.piece.blank.size_z_mm

    def shadow(self, place: Placement) -> shapely.Geometry:
        return self.shape.moved(place.stand).silhouette()


@st.composite
def planned(draw: st.DrawFn) -> Planned:
    """A frustum, straight or flaring, with a hollow, in a blank of random size, on a machine of random travel."""
    half_x, half_y = draw(st.integers(25, 60)), draw(st.integers(20, 40))
    high = draw(st.integers(14, 30))
    flare = draw(st.sampled_from([0.0, 0.0, 0.15, 0.3])) * high
    foot = [(x * half_x, y * half_y, 0.0) for x in (-1, 1) for y in (-1, 1)]
    rim = [(x * (half_x + flare), y * (half_y + flare), float(high)) for x in (-1, 1) for y in (-1, 1)]
    hollow = manifold3d.Manifold.cube((half_x, half_y, high), True).translate((0, 0, high))
    shape = Solid(manifold3d.Manifold.hull_points(foot + rim) - hollow)
    room_x, room_y = draw(st.integers(12, 70)), draw(st.integers(12, 70))
    size = {
        "size_x_mm": 2.0 * (half_x + flare + room_x),
        "size_y_mm": 2.0 * (half_y + flare + room_y),
        "size_z_mm": high + 2.0,
        "glue_lines_z_mm": (),
    }
    job = box_job()
    piece = job.pieces[0].model_copy(update={"blank": job.pieces[0].blank.model_copy(update=size)})
    travel = {"travel_x_mm": float(draw(st.sampled_from([110, 150, 300]))), "nose_above_bed_mm": 150.0}
    cutter = job.cutters[0].model_copy(update={"stepdown_mm": 10.0})
    coarse = job.settings.model_copy(update={"plan_pitch_mm": 1.5})
    machine = job.machine.model_copy(update=travel)
    job = job.model_copy(update={"pieces": (piece,), "machine": machine, "cutters": (cutter,), "settings": coarse})
    try:
        return Planned(job, shape, plan_piece(job, piece, shape))
    except Refusal:  # too small a travel for so large a blank, told by other tests
        assume(False)
        raise


quick = settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])


def lands_of(planned: Planned) -> list[tuple[PlacementPlan, str, shapely.Polygon, float]]:
    """Every pocket of every land: the placement that cuts it, the land's name, outline (standing frame), bottom."""
    return [
        (step, pocket.name.rsplit(" ", 1)[0], shapely.Polygon(pocket.outline_mm), pocket.bottom_z_mm)
        for step in planned.plan.placements
        for pocket in step.pockets
    ]


@quick
@given(planned())
def test_a_land_lies_in_waste_that_stays(planned: Planned) -> None:
    """Inside the blank, off the piece and all that is cut round it, the slot as long and wide as it should be."""
    for step, _, outline, _ in lands_of(planned):
        place = step.placement
        trench_mm = planned.job.settings.trench_mm + planned.job.cutters[0].diameter_mm
        assert planned.blank(place).buffer(-1.0).covers(outline)
        assert shapely.distance(planned.shadow(place), outline) > trench_mm
        x0, y0, x1, y1 = outline.bounds
        assert min(x1 - x0, y1 - y0) >= min(SLOT_MM) - HAIR_MM


@quick
@given(planned())
def test_wood_stands_round_a_land_at_the_end(planned: Planned) -> None:
    """A millimetre and a cell outside a slot's walls the wood is still as high as the lower part of the land."""
    for step, _, outline, bottom_mm in lands_of(planned):
        for later in planned.plan.placements:
            grid, place = later.grid, later.placement
            ring = outline.buffer(1.0 + grid.pitch_mm).exterior
            xyz = np.column_stack([shapely.get_coordinates(ring), np.full(len(ring.coords), bottom_mm + 0.5)])
            at = place.stand.apply(step.placement.stand.inverse().apply(xyz))
            i = np.floor((at[:, 0] - grid.x0_mm) / grid.pitch_mm).astype(int)
            j = np.floor((at[:, 1] - grid.y0_mm) / grid.pitch_mm).astype(int)
            if later.placement.up == step.placement.up:
                assert (later.top_after[j, i] > bottom_mm + 0.5).all()
            else:
                assert (later.top_after[j, i] > 1.0).all()


@quick
@given(planned())
def test_no_two_lands_overlap(planned: Planned) -> None:
    """Lands of all placements, carried into the piece frame, keep wood between them."""
    outlines: dict[str, shapely.Geometry] = {}
    for step, name, outline, _ in lands_of(planned):
        flat = np.column_stack([shapely.get_coordinates(outline), np.zeros(5)])
        there = shapely.Polygon(step.placement.stand.inverse().apply(flat)[:, :2])
        outlines[name] = shapely.union(outlines.get(name, shapely.Polygon()), there)
    names = sorted(outlines)
    for k, one in enumerate(names):
        for other in names[k + 1 :]:
            assert shapely.distance(outlines[one], outlines[other]) > 1.0


@quick
@given(planned())
def test_a_land_is_within_the_travel_of_the_placement_that_cuts_it(planned: Planned) -> None:
    """The cutter's axis, a radius inside the outline, stays in the window all round."""
    for step, _, outline, _ in lands_of(planned):
        axis = outline.buffer(-planned.job.cutters[0].diameter_mm / 2 + HAIR_MM, join_style="mitre")
        assert shapely.box(*planned.window(step.placement)).buffer(HAIR_MM).covers(axis)


def axis_and_point(place: Placement, touch: Touch) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where the finder's axis stands when it touches (2,), the point touched and its normal (3,), standing frame."""
    point = place.stand.apply(np.array(touch.point_mm))
    normal = place.stand.rotation @ np.array(touch.normal)
    return point[:2] + FINDER_MM * normal[:2], point, normal


@quick
@given(planned())
def test_every_touch_is_within_the_travel_and_open_from_above(planned: Planned) -> None:
    """The finder comes straight down to the touched height: no piece and no wood above it within its radius."""
    for number, step in enumerate(planned.plan.placements):
        place, grid = step.placement, step.grid
        top = step.top_before
        x0, y0, x1, y1 = planned.window(place)
        for touch in place.touches:
            axis, point, _ = axis_and_point(place, touch)
            assert x0 - HAIR_MM <= axis[0] <= x1 + HAIR_MM
            assert y0 - HAIR_MM <= axis[1] <= y1 + HAIR_MM
            overhead = planned.shape.moved(place.stand).shadow_above(float(point[2]) + 0.01)
            assert shapely.distance(overhead, shapely.Point(axis)) > FINDER_LEAST_MM - 0.05
            assert number > 0
            d = np.hypot(grid.x_mm[None, :] - axis[0], grid.y_mm[:, None] - axis[1])
            free = top[d < FINDER_MM - grid.pitch_mm]
            assert (free <= point[2] + 0.01).all(), (touch.name, float(free.max()), float(point[2]))


@quick
@given(planned())
def test_every_touch_is_on_wood_that_stays(planned: Planned) -> None:
    """A cell and a half behind the touched face wood stands at the touched height before the placement cuts."""
    for step in planned.plan.placements:
        place, grid = step.placement, step.grid
        for touch in place.touches:
            _, point, normal = axis_and_point(place, touch)
            x, y = point[:2] - 1.5 * grid.pitch_mm * normal[:2]
            i, j = int((x - grid.x0_mm) // grid.pitch_mm), int((y - grid.y0_mm) // grid.pitch_mm)
            assert step.top_before[j, i] >= point[2] - 0.01, touch.name


@quick
@given(planned())
def test_touches_fix_the_pose_or_the_plan_says_so(planned: Planned) -> None:
    """Moving the work a little in x, in y or by a turn shows in the readings; else a note says what to do."""
    first, *others = planned.plan.placements
    assert first.placement.touches == ()
    for step in others:
        place = step.placement
        said = any("do not fix where the work lies" in note for note in place.notes)
        rows = []
        for touch in place.touches:
            _, point, normal = axis_and_point(place, touch)
            rows.append([normal[0], normal[1], (point[0] * normal[1] - point[1] * normal[0]) / 100.0])
        seen = len(rows) >= 3 and np.linalg.svd(np.array(rows), compute_uv=False)[-1] > 1e-3
        assert seen or said
        assert fixes_pose(place, place.touches) != said


@quick
@given(planned())
def test_the_touch_off_spot_is_on_the_board_beside_the_blank_and_clear_of_hardware(planned: Planned) -> None:
    """Within the travel and on the board; nothing of the assembly meets the blank's side, a bolt or a land there."""
    machine, cutter = planned.job.machine, planned.job.cutters[0]
    assert machine.board is not None
    for step in planned.plan.placements:
        place = step.placement
        if place.touch_off_mm is None:
            assert any("no touch-off spot" in note for note in place.notes)
            continue
        spot = shapely.Point(place.touch_off_mm)
        assert shapely.box(*planned.window(place)).buffer(HAIR_MM).covers(spot)
        middle = planned.blank(place).centroid
        half_x, half_y = machine.board.size_x_mm / 2, machine.board.size_y_mm / 2
        board = shapely.box(middle.x - half_x, middle.y - half_y, middle.x + half_x, middle.y + half_y)
        assert board.buffer(-cutter.diameter_mm / 2 + HAIR_MM).covers(spot)
        stands = [(planned.blank(place), planned.height_mm)]
        stands += [(shapely.Polygon(o.outline_mm), o.z_to_mm) for o in place.obstacles]
        for outline, high_mm in stands:
            assert shapely.distance(outline, spot) > cutter.diameter_mm / 2
            for part in assembly_of(cutter, machine, machine.shoe_on).steps:
                if place.touch_off_block_mm + part.z_from_mm < high_mm:
                    assert shapely.distance(outline, spot) >= part.radius_mm


def test_the_faces_of_a_land_look_into_its_slot() -> None:
    """Half a finder off each face along its normal is inside the slot, and the finder has room there."""
    land = Land("land 1a", (10.0, 20.0, 10.0 + SLOT_MM[0], 20.0 + SLOT_MM[1]), (0.0, 0.0, 50.0, 50.0), 12.0, 0.0)
    place = Placement(
        "1", "-z", standing("-z", np.zeros(3), np.array([60.0, 60.0, 20.0])), (0, 0), 0.0, (0, 0, 1, 1), ()
    )
    slot = shapely.box(*land.slot_mm)
    faces = faces_of(land, place)
    assert len(faces) == 4
    for face in faces:
        axis, point, normal = axis_and_point(place, face)
        assert shapely.distance(slot.exterior, shapely.Point(point[:2])) == pytest.approx(0.0, abs=1e-9)
        assert slot.buffer(-FINDER_MM + HAIR_MM).covers(shapely.Point(axis))
        assert math.hypot(*normal[:2]) == pytest.approx(1.0)
