"""The cut list of a job: written, used in the blank, sawn, and on the bench sheet; a box of rings is proven."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from witnessmark.job.boards import Boards, boards_text, load_boards
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job
from witnessmark.verbs.boards import boards, kept_cut_list, start_boards
from witnessmark.verbs.demo import demo, lay_out_demo
from witnessmark.verbs.workshop import open_workshop


@pytest.fixture
def keepsake(tmp_path: Path) -> Path:
    return lay_out_demo(tmp_path / "keepsake", "keepsake")


def test_a_cut_list_is_written_and_nothing_else_is_changed(keepsake):
    before = (keepsake / "job.toml").read_text(), (keepsake / "boards.toml").read_text()
    answer = boards(keepsake)
    assert not answer.short
    assert 0.6 < answer.yield_ratio <= 1.0
    record = json.loads((keepsake / "out" / "cut-list.json").read_text())
    assert sum(len(board["parts"]) for board in record["boards"]) == sum(len(b.parts) for b in answer.boards)
    pages = pypdfium2.PdfDocument(keepsake / "out" / "cut-list.pdf")
    assert len(pages) == 1 + len(answer.boards)  # one page a board
    assert "Boards and glue-up" in pages[0].get_textpage().get_text_range()
    assert before == ((keepsake / "job.toml").read_text(), (keepsake / "boards.toml").read_text())


def test_rings_are_used_as_the_blank(keepsake):
    """The floor's layer is whole, those above are rings; the wood that planning starts from is hollow there."""
    answer = boards(keepsake, rings=True, use=True)
    blank = load_job(keepsake).pieces[0].blank
    assert answer.glue_ups[0].rings == len(blank.hollows) >= 1
    assert blank.glue_lines_z_mm
    workshop = open_workshop(keepsake)
    wood = workshop.stock("body")
    assert wood is not None
    assert workshop.stock("lid") is None
    top, grid = wood.top(np.eye(3))
    i, j = int(-grid.x0_mm / grid.pitch_mm), int(-grid.y0_mm / grid.pitch_mm)
    assert top[j, i - 150] == pytest.approx(blank.hollows[0].z_from_mm, abs=1e-3)  # 30 mm left of the middle
    assert top[5, 5] == pytest.approx(blank.size_z_mm)
    hollow_mm3 = blank.size_x_mm * blank.size_y_mm * blank.size_z_mm - wood.volume_mm3()
    assert hollow_mm3 > 0.08 * wood.volume_mm3()
    assert any(answer.cores)


def test_what_is_sawn_leaves_the_pile_and_offcuts_come_back(keepsake):
    before = load_boards(keepsake / "boards.toml")
    answer = boards(keepsake, rings=True, done=True)
    after = load_boards(keepsake / "boards.toml")
    used = {sawn.board.name for sawn in answer.boards}
    names = {board.name for board in after.boards}
    assert not used & names
    assert {board.name for board in before.boards} - used <= names
    assert any(name.startswith("core of body") for name in names)
    assert after.sawing == before.sawing


def test_too_little_wood_is_told_with_what_to_buy(keepsake):
    pile = load_boards(keepsake / "boards.toml")
    (keepsake / "boards.toml").write_text(boards_text(Boards(boards=pile.boards[1:])))
    answer = boards(keepsake)
    assert answer.short
    before = (keepsake / "job.toml").read_text()
    with pytest.raises(Refusal, match="holds no wood for") as told:
        boards(keepsake, use=True)
    assert "buy some" in str(told.value)
    assert (keepsake / "job.toml").read_text() == before


def test_a_cut_list_of_other_blanks_is_not_on_the_sheet(keepsake):
    boards(keepsake)
    assert kept_cut_list(open_workshop(keepsake)) is not None
    job = keepsake / "job.toml"
    job.write_text(job.read_text().replace("size_z_mm = 46", "size_z_mm = 48"))
    assert kept_cut_list(open_workshop(keepsake)) is None


def test_a_first_boards_file_reads_back(tmp_path):
    with pytest.raises(Refusal, match="is no folder"):
        start_boards(tmp_path / "nowhere")
    assert not (tmp_path / "nowhere").exists()
    path = start_boards(tmp_path)
    assert load_boards(path).boards[0].name == "board 1"
    with pytest.raises(Refusal, match="is there already"):
        start_boards(tmp_path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[boards]]\nname='a'\nlength_mm=1000\nwidth_mm=100\nthickness_mm=-3\n", "must be more than 0"),
        ("[[boards]]\nname='a'\nlength_mm=1000\nwidht_mm=100\nthickness_mm=20\n", "did you mean width_mm"),
        (
            "[[boards]]\nname='a'\nlength_mm=1000\nwidth_mm=100\nthickness_mm=20\ncount=2\n"
            "defects=[{from_end_mm=1,to_end_mm=2,from_edge_mm=1,to_edge_mm=2}]\n",
            "listed one by one",
        ),
        (
            "[[boards]]\nname='a'\nlength_mm=100\nwidth_mm=100\nthickness_mm=20\n"
            "defects=[{from_end_mm=1,to_end_mm=200,from_edge_mm=1,to_edge_mm=2}]\n",
            "reaches beyond the board",
        ),
    ],
)
def test_boards_that_cannot_be_are_named(tmp_path, text, words):
    (tmp_path / "boards.toml").write_text(text)
    with pytest.raises(Refusal, match=words):
        load_boards(tmp_path / "boards.toml")


@pytest.mark.slow
def test_the_keepsake_box_is_stacked_from_rings_and_proven(tmp_path):
    """From boards to a passing proof and a sheet with its boards."""
    answer = demo(tmp_path / "keepsake", "keepsake")
    assert answer.proof.passed
    assert load_job(answer.folder).pieces[0].blank.hollows
    pages = pypdfium2.PdfDocument(answer.sheet)
    texts = [page.get_textpage().get_text_range() for page in pages]
    assert any("Boards and glue-up" in text and "ring" in text for text in texts)
    assert sum(text.startswith("Board:") for text in texts) == len({p for p in texts if p.startswith("Board:")}) >= 1
