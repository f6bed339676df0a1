"""The reserved touch-off spot."""

from witnessmark.job.assembly import assembly_of
from witnessmark.job.models import Cutter, Machine, MovableBoard
from witnessmark.plan.touch_off import touch_off_spot

MACHINE = Machine(
    travel_x_mm=300,
    travel_y_mm=400,
    travel_z_mm=90,
    nose_above_bed_mm=155,
    gantry_above_bed_mm=95,
    clear_width_mm=500,
    board=MovableBoard(thickness_mm=18, size_x_mm=520, size_y_mm=440, hole_pitch_mm=25),
)
LONG = Cutter(name="flat 6", kind="flat", diameter_mm=6, flute_length_mm=32, stickout_mm=45, shank_diameter_mm=6)
SHORT = Cutter(name="flat 3", kind="flat", diameter_mm=3, flute_length_mm=12, stickout_mm=30, shank_diameter_mm=6)
BLANK = (-235.0, -185.0, 235.0, 185.0)


def window(shift_x: float, shift_y: float) -> tuple[float, float, float, float]:
    return (3 - shift_x, 3 - shift_y, 297 - shift_x, 397 - shift_y)


def test_spot_is_on_the_board_outside_the_blank_and_within_travel() -> None:
    """With the long cutter alone the spot lies on the board itself, the nut clear of the blank's side."""
    spot = touch_off_spot(MACHINE, [assembly_of(LONG, MACHINE)], BLANK, 62.0, window(225.0, 175.0))
    assert spot is not None
    assert spot.block_mm == 0.0
    assert 185 + 11 <= spot.y_mm <= 220 - 3
    assert spot.y_mm <= 397 - 175


def test_short_cutter_asks_for_a_setting_block() -> None:
    """A cutter whose nose would come down into the blank is touched off on a block."""
    assemblies = [assembly_of(LONG, MACHINE), assembly_of(SHORT, MACHINE)]
    spot = touch_off_spot(MACHINE, assemblies, BLANK, 62.0, window(225.0, 175.0))
    assert spot is not None
    assert spot.block_mm > 0


def test_no_spot_is_said_not_invented() -> None:
    """Where the blank fills the whole travel there is no spot."""
    assert touch_off_spot(MACHINE, [assembly_of(LONG, MACHINE)], BLANK, 62.0, (-100.0, -150.0, 100.0, 150.0)) is None
