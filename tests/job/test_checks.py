"""What cannot be true of a job though each value alone is possible: told with its key and a remedy."""

from __future__ import annotations

from pathlib import Path

import pytest
from hand_written import HAND_WRITTEN, troubles

from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job


def test_a_fault_in_one_part_does_not_hide_the_cross_checks_of_another() -> None:
    """With the machine unreadable, what is wrong between the cutters is still told."""
    found = troubles(
        HAND_WRITTEN.replace("travel_x_mm = 300", "")
        .replace("stickout_mm = 45", "stickout_mm = 30")
        .replace("ball 6", "Flat 6")
    )
    assert set(found) == {
        "machine.travel_x_mm",
        "cutters[2].name",
        'cutters[1].flute_length_mm of "flat 6"',
        'cutters[2].flute_length_mm of "Flat 6"',
    }


@pytest.mark.parametrize(
    ("old", "new", "where", "says"),
    [
        ("shank_diameter_mm = 6\n", "shank_diameter_mm = 25\n", "cutters[2].shank_diameter_mm", "collet nut (20)"),
        ('kind = "ball"', 'kind = "v"', "cutters[2].included_angle_deg", "bevel gauge"),
        ('kind = "ball"', 'kind = "drill"', "cutters[2].included_angle_deg", "cut to an angle"),
        ('kind = "ball"', 'kind = "bull"', "cutters[2].corner_radius_mm", "at most the cutter's radius, 3"),
        ('kind = "ball"', 'kind = "bull"\ncorner_radius_mm = 3.5', "cutters[2].corner_radius_mm", "is 3.5"),
        ('kind = "ball"', 'kind = "ball"\ncorner_radius_mm = 2', "cutters[2].corner_radius_mm", "half its diameter"),
        ('kind = "ball"', 'kind = "flat"\ncorner_radius_mm = 1', "cutters[2].corner_radius_mm", "has none"),
        ('kind = "ball"', 'kind = "ball"\nstepdown_mm = 33', "cutters[2].stepdown_mm", "at most 32"),
        ('kind = "ball"', 'kind = "ball"\nstepover_mm = 7', "cutters[2].stepover_mm", "wider than the cutter"),
        ('kind = "ball"', 'kind = "ball"\nspindle_rpm = 30000', "cutters[2].spindle_rpm", "8000 to 24000"),
        ('kind = "ball"', 'kind = "ball"\nfeed_mm_min = 4001', "cutters[2].feed_mm_min", "at most 4000"),
        ("clear_width_mm = 500", "clear_width_mm = 500\nshoe_on = true", "machine.shoe_on", "no dust shoe"),
        (
            "clear_width_mm = 500",
            "clear_width_mm = 500\nspindle_max_rpm = 18e3\nspindle_min_rpm = 20e3",
            "machine.spindle_min_rpm",
            "exchange the two",
        ),
        (
            "clear_width_mm = 500",
            'clear_width_mm = 500\ncontroller = {units = "inch", decimals = 2}',
            "machine.controller.decimals",
            "set it to 3 or more",
        ),
        ("size_z_mm = 62", "size_z_mm = 62\nbelow_mm = 62", "pieces[1].blank.below_mm", "nothing is left"),
        ("[20.7, 41.3]", "[41.3, 20.7]", "pieces[1].blank.glue_lines_z_mm", "rise from line to line"),
        ("[20.7, 41.3]", "[20.7, 62]", "pieces[1].blank.glue_lines_z_mm", "between 0 and 62"),
        ("size_x_mm = 470", 'size_x_mm = "470 m"', "pieces[1].blank.size_x_mm", "wrong unit"),
        ("size_z_mm = 62", "size_z_mm = 0", "pieces[1].blank.size_z_mm", "more than 0"),
        ('"body.stl"', '"bodi.stl"', "pieces[1].shape", "did you mean body.stl?"),
        ('"body.stl"', '"../body.stl"', "pieces[1].shape", "outside the job's folder"),
        ('"body.stl"', '"/etc/hostname"', "pieces[1].shape", "outside the job's folder"),
        ('"body.stl"', r'"a\u0000b"', "pieces[1].shape", "not the name of a file"),
        ('name = "body"', r'name = "bo\ndy"', "pieces[1].name", "can be printed"),
    ],
)
def test_what_cannot_be_true_together_is_refused(folder: Path, old: str, new: str, where: str, says: str) -> None:
    """Each cross check names the key, the value it clashes with and a remedy; nothing else is complained of."""
    assert old in HAND_WRITTEN
    found = troubles(HAND_WRITTEN.replace(old, new), folder)
    assert len(found) == 1
    ((place, text),) = found.items()
    assert place.startswith(where)
    assert says in text


def test_a_board_as_high_as_the_gantry_is_refused() -> None:
    """A movable board that leaves no room under the gantry is a slip of measuring."""
    board = "[machine.board]\nthickness_mm = 95\nsize_x_mm = 520\nsize_y_mm = 440\nhole_pitch_mm = 25\n"
    assert set(troubles(HAND_WRITTEN + board)) == {"machine.board.thickness_mm"}


@pytest.mark.parametrize(
    ("wish", "where", "says"),
    [
        ('forbid_sides = ["z+"]', "wish.forbid_sides", "no side"),
        ('first_up = "-z"\nforbid_sides = ["-z"]', "wish.first_up", "take one of the two back"),
        ('forbid_sides = ["+x","-x","+y","-y","+z","-z"]', "wish.forbid_sides", "every side"),
        ('first_up = "-zz"', "wish.first_up", "one of +z, -z"),
    ],
)
def test_wishes_that_no_plan_can_meet_are_refused(wish: str, where: str, says: str) -> None:
    """A side that is none, insisted on and forbidden at once, or nothing left to stand on."""
    found = troubles(f"{HAND_WRITTEN}\n[wish]\n{wish}\n")
    assert list(found) == [where]
    assert says in found[where]


def test_a_link_that_leads_out_of_the_folder_is_outside(
    folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """A shape that is a link to a file elsewhere is not followed."""
    elsewhere = tmp_path_factory.mktemp("elsewhere") / "x.stl"
    elsewhere.write_text("solid x", encoding="utf-8")
    (folder / "body.stl").unlink()
    (folder / "body.stl").symlink_to(elsewhere)
    with pytest.raises(Refusal, match="outside the job's folder"):
        load_job(folder)
