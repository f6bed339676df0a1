"""Wood and movable board between the uprights: where they lie on the bed counts, not their width alone."""

from dataclasses import replace

import pytest
from workpiece import BLANK_MAX, BLANK_MIN, MACHINE, good_text, placement, proven

from witnessmark.job.models import MovableBoard

LONG_MM, WIDE_MM, _ = (float(v) for v in BLANK_MAX - BLANK_MIN)
BOARD = MovableBoard(thickness_mm=0.001, size_x_mm=80.0, size_y_mm=100.0, hole_pitch_mm=25.0)


def past(machine, place=None, poses=None) -> dict[str, float]:
    verdict = proven(good_text(), machine=machine, place=place, poses=poses)
    return {f.kind: f.by_mm for f in verdict.findings if f.kind.endswith("meets upright") and f.harm == "stop"}


def machine(clear_mm, **more):
    return MACHINE.model_copy(update={"clear_width_mm": clear_mm, **more})


def middle(name="1", dx=0.0, dy=0.0):
    """The block's blank in the middle of the travel, further by dx and dy."""
    place = placement(name)
    return replace(place, shift_mm=(MACHINE.travel_x_mm / 2 + dx, MACHINE.travel_y_mm / 2 + dy))


def test_work_in_the_middle_passes_where_its_width_does() -> None:
    assert not past(machine(WIDE_MM + 1.0), middle())
    assert past(machine(WIDE_MM - 4.0), middle()) == {"wood meets upright": pytest.approx(2.0, abs=0.3)}


def test_shifted_work_meets_an_upright_though_it_is_narrow_enough() -> None:
    clear_mm = WIDE_MM + 20.0
    assert not past(machine(clear_mm), middle(dy=9.0))
    assert past(machine(clear_mm), middle(dy=16.0)) == {"wood meets upright": pytest.approx(6.0, abs=0.3)}
    assert not past(machine(clear_mm), middle(dx=500.0)), "along the open axis nothing stands in the way"
    turned = machine(LONG_MM + 20.0, overhang_axis="y")
    assert past(turned, middle(dx=-16.0)) == {"wood meets upright": pytest.approx(6.0, abs=0.3)}


def test_the_board_under_the_work_counts_too() -> None:
    with_board = machine(110.0, board=BOARD)
    assert not past(with_board, middle(dy=4.0))
    assert past(with_board, middle(dy=9.0)) == {"board meets upright": pytest.approx(4.0, abs=0.3)}


def test_the_pose_found_at_the_machine_counts() -> None:
    clear_mm = WIDE_MM + 20.0
    assert past(machine(clear_mm), middle(dy=9.0), {"1": (0.0, 5.0, 0.0)}) == {
        "wood meets upright": pytest.approx(4.0, abs=0.3)
    }
