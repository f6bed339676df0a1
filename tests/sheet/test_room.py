"""What the bench sheet says of room: beyond the machine's ends, and under the dust shoe."""

from dataclasses import replace

import pytest
from small_sheet_job import small_job, small_placement, small_step

from witnessmark.job.models import Shoe
from witnessmark.sheet.room import free_room, room_line, shoe_above_wood_mm, shoe_words
from witnessmark.sheet.scene import Scene


def scene(machine, shift_off_mm=50.0) -> Scene:
    return Scene(1, small_step(small_placement("+z", shift_off_mm), 1), machine)


def test_under_a_moving_gantry_what_sticks_out_stands_still() -> None:
    """The board of 520 mm, centred 50 mm right of the middle of 300 mm of travel: from -60 to 460."""
    machine = small_job().machine
    room = free_room(machine, scene(machine))
    assert (room.axis, room.low_mm, room.high_mm) == ("x", pytest.approx(60.0), pytest.approx(160.0))
    line = room_line(machine, scene(machine))
    assert "60 mm at the left" in line
    assert "160 mm at the right" in line


def test_a_moving_table_carries_the_work_past_the_spindle() -> None:
    """At one end of its travel the left end lies 300 - (-60) = 360 mm before the spindle, at the other 460 behind."""
    machine = small_job().machine.model_copy(update={"moves": "table"})
    room = free_room(machine, scene(machine))
    assert (room.low_mm, room.high_mm) == (pytest.approx(360.0), pytest.approx(460.0))
    assert "360 mm at the left of the spindle and 460 mm at the right" in room_line(machine, scene(machine))


def test_work_that_stays_within_the_travel_needs_no_line() -> None:
    machine = small_job().machine.model_copy(update={"travel_x_mm": 900.0})
    assert room_line(machine, scene(machine, 150.0)) == ""


def test_the_shoe_is_on_only_where_it_stays_off_the_wood() -> None:
    """Stick-out 45, nut 20, shoe 25 below the nose: its rim is 40 mm above the tip; the wood stands 74 mm high."""
    job = small_job()
    step = small_step(small_placement("+z", 0.0), 1)
    cutter = job.cutters[0]
    high, low = (replace(step.programs[0], lowest_tip_mm=z) for z in (50.0, 30.0))
    assert shoe_above_wood_mm(job.machine, cutter, step, high) == pytest.approx(16.0)
    assert shoe_above_wood_mm(job.machine, cutter, step, low) == pytest.approx(-4.0)
    assert shoe_words(job, cutter, step, high) == "shoe on: 16 mm clear"
    assert shoe_words(job, cutter, step, low) == "shoe off"
    bare = job.model_copy(update={"machine": job.machine.model_copy(update={"shoe": None})})
    assert shoe_words(bare, cutter, step, low) == ""
    proven_with = job.machine.model_copy(update={"shoe_on": True})
    assert shoe_words(job.model_copy(update={"machine": proven_with}), cutter, step, low) == "shoe on"
    assert job.machine.shoe == Shoe(diameter_mm=90.0, below_nose_mm=25.0)
