"""Drawings: light, projection and sections by closed form; files written whole."""

from __future__ import annotations

import math

import numpy as np
import pytest
from PIL import Image
from small_sheet_job import small_job, small_plan

from witnessmark.field.grid import Grid
from witnessmark.job.assembly import assembly_of
from witnessmark.job.demonstration import demonstration_cutters, demonstration_machine
from witnessmark.shapes.simple import straight_box
from witnessmark.sheet.look import LookView, draw_look
from witnessmark.sheet.palette import PLACEMENTS, placement_colour, rgb
from witnessmark.sheet.relief import LIGHT, oblique, shade
from witnessmark.sheet.section import hits, section_through, worst_axis
from witnessmark.sheet.views import draw_placement


def test_flat_wood_is_fully_lit_and_a_slope_by_lambert() -> None:
    """A plane's brightness is the cosine between its normal and the light, on the drawing's scale."""
    grid = Grid(0.0, 0.0, 1.0, 30, 20)
    flat = shade(grid.full(10.0), 1.0)
    assert flat[5:-5, 5:-5] == pytest.approx(1.0)
    slope = np.broadcast_to(grid.x_mm * 0.2, grid.shape).astype(np.float32)
    normal = np.array([-0.2, 0.0, 1.0]) / math.hypot(0.2, 1.0)
    light = np.array(LIGHT) / np.linalg.norm(LIGHT)
    expected = min(0.6 + 0.4 * float(normal @ light) / light[2], 1.1)
    assert shade(slope, 1.0)[10, 10] == pytest.approx(expected, abs=1e-5)


def block_view():
    """A red block 40 x 30 x 20 before a green one 40 x 30 x 5, seen from the front."""
    grid = Grid(0.0, 0.0, 0.5, 80, 120)
    heights, colours = grid.full(20.0), np.tile(rgb("#ff0000"), (*grid.shape, 1))
    heights[60:], colours[60:] = 5.0, rgb("#00ff00")
    return oblique(heights, colours, grid, turn_deg=0.0, elevation_deg=45.0, width_px=400)


def test_the_oblique_view_projects_by_sine_and_cosine() -> None:
    """A block 20 high and 30 deep stands (20 cos 45 + 30 sin 45) mm tall in the picture, 10 pixels a mm."""
    view = block_view()
    column = view.image[:, 200]
    red = np.flatnonzero((column[:, 0] > 0.3) & (column[:, 1] < 0.1) & (column[:, 3] > 0.5))
    assert view.scale_px == pytest.approx(10.0)
    assert len(red) / 10.0 == pytest.approx((20 + 30) * math.sin(math.pi / 4), abs=0.3)


def test_what_stands_behind_something_higher_is_hidden() -> None:
    """Of the green block behind, 15 mm lower and 30 mm deep, only the part beyond 15 mm shows at 45 degrees."""
    column = block_view().image[:, 200]
    green = np.flatnonzero((column[:, 1] > 0.3) & (column[:, 0] < 0.1) & (column[:, 3] > 0.5))
    assert len(green) / 10.0 == pytest.approx(15 * math.sin(math.pi / 4), abs=0.4)


def test_points_fall_on_the_picture_where_the_wood_is_drawn() -> None:
    """The near upper edge of the block lies where red front and red top meet: at its projected place."""
    view = block_view()
    column_px, row_px = view.place_px(20.0, 0.0, 20.0)
    assert column_px == pytest.approx(200.0, abs=1.0)
    bright = view.image[:, 200, 0]
    assert bright[int(row_px) - 6] > bright[int(row_px) + 6]


def slot_beside_a_wall():
    """A slot 10 mm wide and 60 deep in a block 62 high: a nut of 20 mm does not fit in."""
    grid = Grid(-50.0, -50.0, 0.5, 200, 200)
    uncut = grid.full(62.0)
    left = uncut.copy()
    left[:, np.abs(grid.x_mm) <= 5.0] = 2.0
    piece = grid.full(-np.inf)
    piece[:, grid.x_mm > 5.0] = 62.0
    return grid, uncut, left, piece


def test_the_section_finds_the_nut_in_the_wood() -> None:
    """Tip 58.5 below the top, stick-out 45: the nut stands 13.5 mm in the wood beside a slot narrower than it."""
    grid, uncut, left, piece = slot_beside_a_wall()
    assembly = assembly_of(demonstration_cutters()[0], demonstration_machine())
    across = section_through(grid, uncut, left, piece, (0.0, 0.0), "x")
    assert hits(across, assembly, 0.0, 3.5) == [("nut", pytest.approx(13.5))]
    assert hits(across, assembly, 0.0, 17.1) == []
    assert worst_axis(grid, left, (0.0, 0.0, 3.5), assembly) == "x"
    along = section_through(grid, uncut, left, piece, (0.0, 0.0), "y")
    assert hits(along, assembly, 0.0, 3.5) == []


def test_the_look_picture_is_written_whole(tmp_path) -> None:
    """One PNG, nothing beside it, the alarm colour in it where the nut would hit."""
    grid, uncut, left, piece = slot_beside_a_wall()
    near = (np.abs(grid.x_mm) <= 10.0) & (np.abs(grid.x_mm) > 5.0)
    hit = np.broadcast_to(near, grid.shape)
    view = LookView(
        title="slot $x_2$",
        grid=grid,
        uncut=uncut,
        left=left,
        piece=piece,
        window_mm=(-40.0, -40.0, 40.0, 40.0),
        assembly=assembly_of(demonstration_cutters()[0], demonstration_machine()),
        worst_tip_mm=(0.0, 0.0, 3.5),
        hits={"nut": hit},
        clear=np.where(hit, 13.5, 0.0).astype(np.float32),
        leave=np.broadcast_to(grid.x_mm < -20.0, grid.shape),
        answers=("The nut meets wood.", "Clear beside the slot."),
    )
    file = draw_look(view, tmp_path / "look.png")
    assert [entry.name for entry in tmp_path.iterdir()] == ["look.png"]
    with Image.open(file) as image:
        pixels = np.asarray(image.convert("RGB")).astype(int)
    alarm = np.abs(pixels - np.array([0xD5, 0x5E, 0x00])).max(axis=2) < 12
    assert alarm.sum() > 200


def test_a_placement_is_drawn_in_its_own_colour(tmp_path) -> None:
    """Both pictures exist, and the rectangle finished from here has the placement's colour of the fixed set."""
    job = small_job()
    step = small_plan(job).placements[0]
    above, slanted = draw_placement(step, job.machine, 3, tmp_path, straight_box())
    with Image.open(above) as image:
        pixels = np.asarray(image.convert("RGB")).astype(int)
    own = np.abs(pixels - np.round(rgb(placement_colour(3)) * 255)).max(axis=2) < 12
    assert own.sum() > 500
    with Image.open(slanted) as image:
        assert image.size[0] > 500


def test_colours_go_round_and_differ() -> None:
    """Seven colours, then from the beginning again."""
    assert len(set(PLACEMENTS)) == 7
    assert placement_colour(1) == placement_colour(8)
