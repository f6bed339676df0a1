"""Parts that a box file makes and the job does not know: told, and made pieces on request."""

from pathlib import Path

import pytest

from witnessmark.cli.main import main
from witnessmark.job.boards import load_boards
from witnessmark.job.box import BOX_FILE, Box, load_box
from witnessmark.job.demonstration import box_job
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job
from witnessmark.verbs.boards import start_boards
from witnessmark.verbs.box import new_box, tell_box
from witnessmark.verbs.check import check

TRAY = "\n[[trays]]\nheight_mm = 12\n"


def box_of_walnut(root: Path) -> Path:
    """A plain box of walnut without trays."""
    job = box_job()
    box = Box.model_validate({"inside_height_mm": 34.0, "outline": {"rectangle": {"x_mm": 120.0, "y_mm": 90.0}}})
    new_box(root, box, job.machine, job.cutters, "walnut, black")
    return root


def test_a_tray_that_comes_later_is_told_and_becomes_a_piece_on_request(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    root = box_of_walnut(tmp_path / "box")
    with (root / BOX_FILE).open("a", encoding="utf-8") as file:
        file.write(TRAY)
    assert len(load_box(root / BOX_FILE).trays) == 1
    before = (root / "job.toml").read_text(encoding="utf-8")
    assert any("tray 1: is no piece of the job yet" in note for note in tell_box(root).notes)
    assert any("tray 1" in note and "--use" in note for note in check(root).notes)
    assert (root / "job.toml").read_text(encoding="utf-8") == before
    assert main(["box", str(root), "--use"]) == 0
    assert "Pieces of the job by now: tray 1" in capsys.readouterr().out
    tray = load_job(root).pieces[-1]
    assert (tray.name, tray.part, tray.blank.species) == ("tray 1", "tray 1", "walnut, black")
    assert not any(
        "tray 1" in note and "piece of the job" in note for note in (*tell_box(root).notes, *check(root).notes)
    )
    assert tell_box(root, use=True).added == ()


def test_a_piece_of_that_name_which_is_another_is_not_written_over(tmp_path: Path) -> None:
    root = box_of_walnut(tmp_path / "box")
    with (root / BOX_FILE).open("a", encoding="utf-8") as file:
        file.write(TRAY)
    job = (root / "job.toml").read_text(encoding="utf-8").replace('name = "lid"', 'name = "tray 1"')
    (root / "job.toml").write_text(job, encoding="utf-8")
    with pytest.raises(Refusal, match="'tray 1' already"):
        tell_box(root, use=True)
    assert (root / "job.toml").read_text(encoding="utf-8") == job


def test_the_first_board_of_a_pile_is_of_the_jobs_wood(tmp_path: Path) -> None:
    root = box_of_walnut(tmp_path / "box")
    assert [board.species for board in load_boards(start_boards(root)).boards] == ["walnut, black"]
