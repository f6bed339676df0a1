"""Sides, meeting height, shifts and seams."""

from itertools import pairwise

import manifold3d
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.demonstration import box_job, demonstration_job
from witnessmark.job.errors import Refusal
from witnessmark.job.models import Blank, Job, PieceSpec, Wish
from witnessmark.plan.change import smallest_changes
from witnessmark.plan.search import lay_out
from witnessmark.shapes.ginkgo import tea_chest_body
from witnessmark.shapes.simple import straight_box
from witnessmark.shapes.solid import Solid


def block(length_mm: float, width_mm: float = 60.0, height_mm: float = 20.0) -> tuple[Solid, PieceSpec]:
    piece = Solid(manifold3d.Manifold.cube((length_mm, width_mm, height_mm), True))
    blank = Blank(size_x_mm=length_mm + 60, size_y_mm=width_mm + 60, size_z_mm=height_mm + 4)
    return piece, PieceSpec(name="block", shape="block.stl", blank=blank)


def test_chest_body_takes_two_shifts_a_face_foot_up_first() -> None:
    """The body needs two shifts a face, and foot up cuts the whole flare, down to 3.5 above the board."""
    job = demonstration_job()
    layout = lay_out(job, job.pieces[0], tea_chest_body())
    assert [(s.up, len(s.placements)) for s in layout.sides] == [("-z", 2), ("+z", 2)]
    assert layout.unreached == 0
    assert layout.sides[0].placements[0].through_z_mm == pytest.approx(3.5)


def test_box_too_deep_for_one_side_meets_between() -> None:
    """Walls deeper than one side reaches are shared, the two sides overlapping at the meeting height."""
    job = box_job()
    layout = lay_out(job, job.pieces[0], straight_box())
    foot, rim = (side.placements[0] for side in layout.sides)
    blank_mm = float(layout.box.size_mm[2])
    assert 0 < layout.meeting_mm < 70
    assert foot.through_z_mm + rim.through_z_mm == pytest.approx(blank_mm - 2 * job.settings.through_overlap_mm)


@given(st.floats(60.0, 700.0))
@settings(max_examples=12, deadline=None)
def test_shifts_follow_the_closed_form(length_mm: float) -> None:
    """Shifts along an axis: at least ceil((L - o) / (T - o)) for an overlap o (derived), at most one more."""
    piece, spec = block(length_mm)
    job = demonstration_job()
    layout = lay_out(job, spec, piece)
    needs_mm = length_mm + 2 * 3.0  # the axis runs a cutter's radius outside both ends
    window_mm = job.machine.travel_x_mm - 2 * job.settings.travel_slack_mm
    least = max(1, -(-int(needs_mm - 8.0) // int(window_mm)))
    for side in layout.sides:
        assert least <= len(side.placements) <= least + 1
        assert side.unreached == 0
        rectangles = sorted(place.region_mm for place in side.placements)
        for left, right in pairwise(rectangles):
            assert left[2] == pytest.approx(right[0])


def test_piece_larger_than_its_blank_is_refused() -> None:
    """A piece that sticks out of its blank is refused with the axis and the amount."""
    piece, spec = block(100.0)
    small = spec.model_copy(update={"blank": spec.blank.model_copy(update={"size_x_mm": 90.0})})
    with pytest.raises(Refusal, match=r"larger than its blank along x.*5\.00 mm"):
        lay_out(demonstration_job(), small, piece)


def test_cutter_that_cannot_be_lifted_over_the_blank_is_refused() -> None:
    """A blank higher than the tip at the top of Z is refused with what to change."""
    piece, spec = block(100.0, height_mm=70.0)
    with pytest.raises(Refusal, match="cannot be lifted over the blank"):
        lay_out(demonstration_job(), spec, piece)


def test_smallest_change_saves_a_placement() -> None:
    """A piece a little too long is told the least extra travel that saves a placement, found by laying out again."""
    piece, spec = block(310.0)
    job: Job = demonstration_job()
    layout = lay_out(job, spec, piece)
    changes, tried = smallest_changes(
        job, spec, piece, layout.meeting, lambda new: new.bound < layout.bound and not new.unreached
    )
    assert tried > len(changes)
    assert any("travel along X" in change.words for change in changes)
    assert all(change.placements < layout.bound for change in changes)


@pytest.mark.parametrize(
    ("below_mm", "above_mm", "first"), [(0.0, 4.0, "+z"), (4.0, 0.0, "-z"), (0.0, 0.0, "-z"), (2.0, 2.0, "-z")]
)
def test_the_piece_stands_at_the_end_on_a_face_that_is_the_blanks_own(below_mm, above_mm, first) -> None:
    """A round plate, alike above and below to the last bit but one: waste on one face decides which is up alone;
    waste on both, which is up first."""
    piece = Solid(manifold3d.Manifold.cylinder(12.0, 81.9, 81.9, 181).rotate((0.0, 0.0, 17.0)))
    blank = Blank(size_x_mm=230, size_y_mm=230, size_z_mm=12.0 + below_mm + above_mm, below_mm=below_mm)
    job = demonstration_job().model_copy(update={"wish": Wish()})
    layout = lay_out(job, PieceSpec(name="plate", shape="plate.stl", blank=blank), piece)
    assert next(side.up for side in layout.sides) == first
    assert len(layout.sides) == (1 if 0.0 in (below_mm, above_mm) else 2)
    at_the_end_mm = layout.meeting_mm  # the seam is hidden on the edge of the face that is up first
    assert at_the_end_mm == pytest.approx(12.0 if first == "-z" else 0.0, abs=0.51)
