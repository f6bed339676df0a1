"""Heads of the movable board's bolts: where they stand, and that nothing of a plan comes near them."""

from functools import cache

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.grid import Grid
from witnessmark.job.assembly import assembly_of
from witnessmark.job.demonstration import demonstration_job, demonstration_machine
from witnessmark.job.errors import Refusal
from witnessmark.job.files import job_from_text
from witnessmark.job.models import Machine
from witnessmark.job.placement import rectangle_of
from witnessmark.job.rewrite import new_job_text
from witnessmark.plan.board import bolt_heads, seat_of, sunk_note
from witnessmark.plan.candidates import blank_box, candidates, with_bolt_heads
from witnessmark.plan.evaluate import hardware_tops
from witnessmark.plan.search import lay_out
from witnessmark.plan.touch_off import touch_off_spot
from witnessmark.shapes.ginkgo import tea_chest_body


def machine_with(**board) -> Machine:
    machine = demonstration_machine()
    return machine.model_copy(update={"board": machine.board.model_copy(update=board)})


def placements(machine: Machine):
    job = demonstration_job().model_copy(update={"machine": machine})
    found = candidates(job, job.pieces[0], blank_box(job.pieces[0].blank, *body_bounds_mm()), "-z")
    return [with_bolt_heads(machine, place) for place in found]


@cache
def body_bounds_mm():
    return tea_chest_body().bounds_mm


def test_four_heads_stay_where_the_inserts_are_whatever_the_shift() -> None:
    """In bed coordinates the heads never move; on the board they move against the shift."""
    machine = demonstration_machine()
    on_bed = set()
    for place in placements(machine):
        heads = place.obstacles
        assert len(heads) == 4
        for head in heads:
            x, y = np.array(head.outline_mm).mean(axis=0) + place.shift_mm
            on_bed.add((round(float(x), 3), round(float(y), 3)))
            round_mm = shapely.Point(*np.array(head.outline_mm).mean(axis=0)).buffer(6.5)
            assert shapely.Polygon(head.outline_mm).buffer(1e-6).contains(round_mm)
            assert (head.z_from_mm, head.z_to_mm) == (0.0, 5.0)
    assert len(on_bed) == 4 * len({place.shift_mm[1] for place in placements(machine)})


@given(st.floats(20.0, 280.0))
@settings(max_examples=15, deadline=None)
def test_stated_inserts_shift_the_board_so_that_holes_lie_over_them(first_mm: float) -> None:
    """Wherever the inserts are, every candidate's board has whole holes over them."""
    machine = machine_with(bolt_places_mm=(first_mm, first_mm + 100.0))
    for place in placements(machine):
        seat = seat_of(machine, place, rectangle_of(place.holds[0].outline_mm))
        along = sorted({round(x, 6) for x, _ in seat.inserts_mm})
        assert along == pytest.approx([first_mm, first_mm + 100.0])
        if seat.bolted:
            over = [row[number - 1] for row in seat.holes_mm for number in seat.bolted]
            assert np.allclose(over, seat.inserts_mm, atol=0.01)
    assert any(seat_of(machine, p, rectangle_of(p.holds[0].outline_mm)).bolted for p in placements(machine))


def test_inserts_that_are_no_whole_holes_apart_are_refused(tmp_path) -> None:
    """Places 90 mm apart on a board with holes every 25 mm cannot both be right."""
    job = demonstration_job().model_copy(update={"machine": machine_with(bolt_places_mm=(75.0, 165.0))})
    with pytest.raises(Refusal, match="whole holes of 25 mm apart"):
        job_from_text(new_job_text(job), tmp_path)


def test_bolts_under_the_blank_are_sunk_and_told() -> None:
    """On a board hardly larger than its blank the heads would be under it: no hardware, but a note."""
    machine = machine_with(size_x_mm=480.0, size_y_mm=380.0)
    place = placements(machine)[0]
    blank_mm = rectangle_of(place.holds[0].outline_mm)
    assert bolt_heads(machine, place, blank_mm) == ()
    assert sunk_note(machine, place, blank_mm)[0].startswith("4 bolts lie under the blank")


def test_no_head_no_hardware_and_no_board_none() -> None:
    """Sunk bolts and a machine without a movable board have nothing to hit."""
    for machine in (
        machine_with(bolt_head_height_mm=0.0),
        demonstration_machine().model_copy(update={"board": None}),
    ):
        assert all(place.obstacles == () for place in placements(machine))


def test_the_touch_off_spot_keeps_off_the_heads() -> None:
    """With heads as high as a thumb the spot is one where no cutter's nut comes near them."""
    machine = machine_with(bolt_head_height_mm=30.0, bolt_head_diameter_mm=30.0)
    job = demonstration_job().model_copy(update={"machine": machine})
    layout = lay_out(job, job.pieces[0], tea_chest_body())
    assemblies = [assembly_of(cutter, machine) for cutter in job.cutters]
    for place in layout.sides[0].placements:
        window = place.window_mm(machine.travel_x_mm, machine.travel_y_mm, job.settings.travel_slack_mm)
        spot = touch_off_spot(
            machine, assemblies, rectangle_of(place.holds[0].outline_mm), 62.0, window, place.obstacles
        )
        assert spot is not None
        for head in place.obstacles:
            away = shapely.Polygon(head.outline_mm).distance(shapely.Point(spot.x_mm, spot.y_mm))
            for assembly in assemblies:
                low = [s.radius_mm for s in assembly.steps if s.z_from_mm + spot.block_mm < head.z_to_mm]
                assert away >= max(low) - 1e-6


def test_the_plan_sees_heads_that_stand_on_its_grid() -> None:
    """Their tops lie on the planning grid where it reaches over them; elsewhere there is none."""
    place = placements(demonstration_machine())[0]
    wide = Grid.over(-300.0, -300.0, 300.0, 300.0, 1.0)
    tops = hardware_tops(place, wide)
    assert tops is not None
    inside = np.isfinite(tops)
    circle = 4 * np.pi * 6.5**2
    assert circle < inside.sum() < 1.15 * circle
    assert (tops[inside] == 5.0).all()
    assert hardware_tops(place, Grid.over(-50.0, -50.0, 50.0, 50.0, 1.0)) is None
