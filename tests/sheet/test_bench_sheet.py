"""The bench sheet as its reader gets it: pages, words, lengths on paper; read back by pypdfium2."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pypdfium2.raw as raw
import pytest
from small_sheet_job import small_job, small_plan

from witnessmark.shapes.simple import straight_box
from witnessmark.sheet.bench import write_bench_sheet
from witnessmark.sheet.words import AT_THE_MACHINE, CAUTIONS, FIRST, NOT_PROVEN

MM_PER_POINT = 25.4 / 72
PAPER_MM = 0.02  # rounding of coordinates in the file

HOSTILE = '#panic("x") $a^2$ *b* _c_ `d` <e> @f \\ " ] } //'


@pytest.fixture(scope="module")
def sheet(tmp_path_factory) -> Iterator[pypdfium2.PdfDocument]:
    folder = tmp_path_factory.mktemp("sheet")
    job = small_job()
    file = write_bench_sheet(
        job,
        [small_plan(job)],
        ["box: passed", "  worst gouge 0.012 mm"],
        folder / "b.pdf",
        {"box": straight_box()},
        True,
        folder,
    )
    document = pypdfium2.PdfDocument(file)
    yield document
    document.close()


def words_of(document: pypdfium2.PdfDocument, page: int) -> str:
    """The page's text with every run of white space made one space."""
    text = document[page].get_textpage().get_text_bounded()
    return re.sub(r"\s+", " ", text.replace("\u200b", "").replace("\ufffe", ""))


def boxes_of(document: pypdfium2.PdfDocument, page: int) -> list[tuple[float, float, float, float]]:
    """Bounds of every drawn path with its stroke: left, bottom, right, top, mm."""
    paths = document[page].get_objects(filter=[raw.FPDF_PAGEOBJ_PATH], max_depth=6)
    return [tuple(value * MM_PER_POINT for value in path.get_bounds()) for path in paths]


def test_a_cover_marks_a_page_each_and_a_slip(sheet) -> None:
    """One cover, one page of marks, one page for each of two placements, one proof slip."""
    assert len(sheet) == 5
    assert "In this order" in words_of(sheet, 0)
    assert "Marks on the blank: box" in words_of(sheet, 1)
    assert "1. box, UNDER up, under, left" in words_of(sheet, 2)
    assert "2. box, TOP up, top, left" in words_of(sheet, 3)
    assert "Proof slip" in words_of(sheet, 4)
    assert "worst gouge 0.012 mm" in words_of(sheet, 4)


def test_every_page_is_a4(sheet) -> None:
    """ISO 216: A4 is 210 x 297 mm."""
    for page in sheet:
        width, height = page.get_size()
        assert width * MM_PER_POINT == pytest.approx(210.0, abs=0.1)
        assert height * MM_PER_POINT == pytest.approx(297.0, abs=0.1)


def test_every_caution_stands_on_the_cover(sheet) -> None:
    """Eyes, ears, dust, spinning cutter, fumes, fire, and what comes before this sheet."""
    cover = words_of(sheet, 0)
    for about, mind in CAUTIONS:
        assert f"{about}. {mind}" in cover
    assert FIRST in cover


@pytest.mark.parametrize("number", [1, 2])
def test_a_placement_page_names_its_programs_and_cutters(sheet, number: int) -> None:
    """Files in order with stick-out and time, the touch-off spot with its block, cautions."""
    page = words_of(sheet, number + 1)
    places = [page.index(f"box-{number}-{letter}.nc") for letter in "abc"]
    assert places == sorted(places)
    for words in ("45.0 mm", "30.0 mm", "42 min", "1 h 11", f"{number}0ab-c0de", AT_THE_MACHINE):
        assert words in page
    assert "x -20.0, y 200.0, on a setting block 25.0 mm high: there z is 25.0" in page
    assert "Wood above the board at its highest: should be 74.0 mm" in page


def test_how_the_blank_lies_and_turns_is_said(sheet) -> None:
    """Under side up puts the back edge at the front; turning over is about the long axis."""
    assert "It lies UNDER up, BACK towards you, LEFT on the left." in words_of(sheet, 2)
    assert "roll it over about the turning axis" in words_of(sheet, 3)
    assert "It lies TOP up, FRONT towards you, LEFT on the left." in words_of(sheet, 3)


def test_touches_say_what_they_should_read(sheet) -> None:
    """A land 185 mm left of the piece's middle, with the blank's middle at bed x 200, reads x = 15.00."""
    page = words_of(sheet, 3)
    assert "T1 left land (land, cut in placement 1)" in page
    assert "x = 15.00" in page
    assert "z = 70.00" in page


def test_the_check_line_is_a_hundred_millimetres(sheet) -> None:
    """Eleven upright ticks, 10 mm apart from centre to centre."""
    upright = [b for b in boxes_of(sheet, 1) if b[2] - b[0] < 0.6 and 5.0 < b[3] - b[1] < 6.0]
    middles = sorted((b[0] + b[2]) / 2 for b in upright)
    assert len(middles) == 11
    assert middles[-1] - middles[0] == pytest.approx(100.0, abs=PAPER_MM)
    assert middles[5] - middles[0] == pytest.approx(50.0, abs=PAPER_MM)


def test_the_end_strip_is_the_blank_at_true_scale(sheet) -> None:
    """Strip as high as the blank (74 mm, 3 of them below the piece), glue lines 25 and 50 above its underside."""
    boxes = boxes_of(sheet, 1)
    strip = next(b for b in boxes if 89.5 < b[2] - b[0] < 91.5 and b[3] - b[1] > 20.0)
    stroke = (strip[2] - strip[0]) - 90.0
    assert strip[3] - strip[1] - stroke == pytest.approx(74.0, abs=PAPER_MM)
    low = strip[1] + stroke / 2
    across = [b for b in boxes if 89.5 < b[2] - b[0] < 91.5 and b[3] - b[1] < 2.0]
    heights = sorted((b[1] + b[3]) / 2 - low for b in across)
    assert heights == pytest.approx([25.0, 37.0, 50.0], abs=PAPER_MM)


def test_the_board_holes_are_drawn_at_their_pitch(sheet) -> None:
    """Circles 25 mm apart from centre to centre."""
    rings = [b for b in boxes_of(sheet, 1) if 6.0 < b[2] - b[0] < 7.0 and abs(b[2] - b[0] - b[3] + b[1]) < 0.01]
    middles = sorted((b[0] + b[2]) / 2 for b in rings)
    assert [right - left for left, right in pairwise(middles)] == pytest.approx([25.0, 25.0], abs=PAPER_MM)


def test_what_the_cutters_leave_is_told(sheet) -> None:
    """The eased corner with its place and radius, and the plan's note."""
    page = words_of(sheet, 1)
    assert "at x 0.0, y 60.0, z 70.0: left round with radius 3.00 mm" in page
    assert "meets at 37 mm" in page


def test_hostile_names_are_printed_not_obeyed(tmp_path) -> None:
    """Markup, code, control and direction signs in names come out as plain letters or not at all."""
    job = small_job(name="job \x00\x07\u202e" + HOSTILE, piece=HOSTILE)
    plan = small_plan(job)
    file = write_bench_sheet(job, [plan], ["slip " + HOSTILE, "\x1b[31mred", "x" * 5000], tmp_path / "b.pdf")
    document = pypdfium2.PdfDocument(file)
    try:
        assert HOSTILE in words_of(document, 0)
        assert f"Marks on the blank: {HOSTILE}" in words_of(document, 1)
        assert f"slip {HOSTILE}" in words_of(document, len(document) - 1)
        assert all("\u202e" not in words_of(document, page) for page in range(len(document)))
    finally:
        document.close()


def test_an_unproven_sheet_says_so_on_every_page(tmp_path) -> None:
    """Without a passing proof the warning stands in the cover and in each page's foot."""
    job = small_job()
    file = write_bench_sheet(job, [small_plan(job)], [], tmp_path / "b.pdf", proven=False)
    document = pypdfium2.PdfDocument(file)
    try:
        assert all(NOT_PROVEN in words_of(document, page) for page in range(len(document)))
        assert "No proof slip was handed in." in words_of(document, len(document) - 1)
    finally:
        document.close()


def test_the_same_job_gives_the_same_bytes(tmp_path) -> None:
    """No date, no path, nothing random inside; only the sheet is left in its folder."""
    job = small_job()
    one, other = (
        write_bench_sheet(job, [small_plan(job)], ["passed"], tmp_path / name / "b.pdf") for name in ("one", "two")
    )
    assert one.read_bytes() == other.read_bytes()
    assert [file.name for file in Path(tmp_path / "one").iterdir()] == ["b.pdf"]
