"""Outlines from DXF and SVG drawings: units, joining, nesting, curves; areas against closed forms."""

from __future__ import annotations

import math

import ezdxf
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.errors import Refusal
from witnessmark.shapes.chains import join
from witnessmark.shapes.read import read_outline


def dxf(tmp_path, draw, insunits=4, version="R2010"):
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = insunits
    draw(document.modelspace(), document)
    path = tmp_path / "drawing.dxf"
    document.saveas(path)
    return path


def svg(tmp_path, body, head='width="100mm" height="80mm" viewBox="0 0 100 80"'):
    path = tmp_path / "drawing.svg"
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>')
    return path


@pytest.mark.parametrize(
    ("insunits", "unit", "factor"), [(1, "inch", 25.4), (4, "mm", 1.0), (5, "cm", 10.0), (6, "m", 1000.0)]
)
def test_the_unit_of_a_dxf_is_honoured(tmp_path, insunits, unit, factor):
    """A 3 x 2 rectangle in the header's unit comes out in mm."""
    path = dxf(tmp_path, lambda m, _: m.add_lwpolyline([(0, 0), (3, 0), (3, 2), (0, 2)], close=True), insunits)
    outline = read_outline(path)
    assert outline.unit == unit
    assert outline.polygon.area == pytest.approx(6 * factor**2)


def test_a_dxf_without_unit_is_taken_as_mm_and_says_so(tmp_path):
    """No unit: mm, said; and an asked unit overrides it."""
    path = dxf(tmp_path, lambda m, _: m.add_lwpolyline([(0, 0), (3, 0), (3, 2), (0, 2)], close=True), 0)
    assert any("mm assumed" in note for note in read_outline(path).notes)
    assert read_outline(path, unit="cm").polygon.area == pytest.approx(600)


def test_loose_lines_and_arcs_join_into_a_slot(tmp_path):
    """Two lines and two half circles drawn in any order and direction: a slot of 60 x 20 with round ends."""

    def draw(m, _):
        m.add_arc((60, 10), 10, -90, 90)
        m.add_line((60, 20), (0, 20))
        m.add_line((60, 0), (0, 0))
        m.add_arc((0, 10), 10, 90, 270)

    outline = read_outline(dxf(tmp_path, draw))
    assert outline.polygon.area == pytest.approx(60 * 20 + math.pi * 100, rel=1e-3)
    assert outline.polygon.bounds == pytest.approx((-10, 0, 70, 20), abs=0.01)


def test_bulges_are_arcs(tmp_path):
    """A polyline with bulges of 1 at two corners is the same slot in both kinds of polyline (bulge = tan(a / 4))."""
    points = [(0, 0, 0), (60, 0, 1), (60, 20, 0), (0, 20, 1)]
    for old in (False, True):

        def draw(m, _, old=old):
            if old:
                m.add_polyline2d([(x, y, b) for x, y, b in points], format="xyb", close=True)
            else:
                m.add_lwpolyline(points, format="xyb", close=True)

        outline = read_outline(dxf(tmp_path, draw))
        assert outline.polygon.area == pytest.approx(60 * 20 + math.pi * 100, rel=1e-3)


def test_a_polyline_that_begins_with_an_arc_keeps_its_order(tmp_path):
    """Whatever way round the first bulge runs, the ring does not cross itself."""
    for bulge in (-1.0, 1.0):
        points = [(0, 0, bulge), (0, 20, 0), (50, 20, 0), (50, 0, 0)]
        outline = read_outline(dxf(tmp_path, lambda m, _, p=points: m.add_lwpolyline(p, format="xyb", close=True)))
        assert outline.polygon.area == pytest.approx(1000 + math.copysign(math.pi * 50, -bulge), rel=1e-3)


def test_curves_are_flattened_within_a_hundredth(tmp_path):
    """Circle, ellipse and spline stray less than 0.01 mm: areas within perimeter times that."""
    outline = read_outline(dxf(tmp_path, lambda m, _: m.add_circle((5, 5), 200)))
    assert 0 <= math.pi * 200**2 - outline.polygon.area <= 2 * math.pi * 200 * 0.01
    edge = np.hypot(*(np.array(outline.polygon.exterior.coords) - 5).T)
    np.testing.assert_allclose(edge, 200, atol=1e-6)
    outline = read_outline(dxf(tmp_path, lambda m, _: m.add_ellipse((0, 0), (90, 0), 0.4)))
    assert outline.polygon.area == pytest.approx(math.pi * 90 * 36, abs=420 * 0.01)

    def spline(m, _):
        m.add_open_spline([(0, 0), (0, 40), (80, 40), (80, 0)])
        m.add_line((80, 0), (0, 0))

    # x = 80 (3 t^2 - 2 t^3), y = 120 t (1 - t): the integral of y dx is 57600 B(3, 3) = 57600 / 30 = 1920 mm2
    assert read_outline(dxf(tmp_path, spline)).polygon.area == pytest.approx(0.6 * 80 * 40, rel=1e-3)


def test_rings_within_rings_are_holes_and_wood_again(tmp_path):
    """Four circles, one in the other: a ring, a gap, and a ring."""
    outline = read_outline(dxf(tmp_path, lambda m, _: [m.add_circle((0, 0), r) for r in (10, 40, 30, 20)]))
    assert outline.polygon.area == pytest.approx(math.pi * (1600 - 900 + 400 - 100), rel=1e-3)
    assert any("2 separate areas" in note for note in outline.notes)


def test_blocks_are_opened_up(tmp_path):
    """A block put in twice, once turned and scaled by 2, gives both outlines."""

    def draw(m, document):
        block = document.blocks.new("WEDGE")
        block.add_lwpolyline([(0, 0), (10, 0), (0, 10)], close=True)
        m.add_blockref("WEDGE", (0, 0))
        m.add_blockref("WEDGE", (100, 0), dxfattribs={"rotation": 30, "xscale": 2, "yscale": 2})

    assert read_outline(dxf(tmp_path, draw)).polygon.area == pytest.approx(50 + 200)


def test_small_gaps_are_joined_and_said(tmp_path):
    """Ends 0.03 mm apart meet, with the gap and the tolerance named."""

    def draw(m, _):
        m.add_line((0, 0), (50, 0))
        m.add_line((50, 0.03), (50, 30))
        m.add_line((50, 30), (0, 0))

    outline = read_outline(dxf(tmp_path, draw))
    assert outline.polygon.area == pytest.approx(750, rel=2e-3)
    assert any("0.03 mm apart were joined (allowed: 0.05 mm)" in note for note in outline.notes)


def test_a_larger_gap_is_refused_with_its_places(tmp_path):
    """An outline open by 0.5 mm was meant to be closed: refused, saying where."""

    def draw(m, _):
        m.add_circle((10, 10), 3)
        m.add_lwpolyline([(0, 0), (50, 0), (50, 30), (0, 30), (0, 0.5)])

    with pytest.raises(Refusal, match=r"open by up to 0\.5 mm \(x 0\.0 y 0\.0 to x 0\.0 y 0\.5\)"):
        read_outline(dxf(tmp_path, draw))


def test_open_lines_beside_an_outline_are_passed_over_with_their_places(tmp_path):
    """A centre line is no outline; it is named, with its ends."""

    def draw(m, _):
        m.add_circle((0, 0), 20)
        m.add_line((-30, 0), (30, 0))
        m.add_text("lid")

    notes = read_outline(dxf(tmp_path, draw)).notes
    assert any("1 open lines passed over (x -30.0 y 0.0 to x 30.0 y 0.0)" in note for note in notes)
    assert any("1 text" in note for note in notes)


def test_outlines_that_cross_are_refused_with_the_place(tmp_path):
    """Two crossing circles, and a figure of eight, are named, not guessed at."""
    with pytest.raises(Refusal, match="cross each other at x"):
        read_outline(dxf(tmp_path, lambda m, _: [m.add_circle((x, 0), 20) for x in (0, 25)]))
    with pytest.raises(Refusal, match="crosses itself"):
        read_outline(dxf(tmp_path, lambda m, _: m.add_lwpolyline([(0, 0), (9, 9), (9, 0), (0, 9)], close=True)))


def test_hidden_layers_are_left_out(tmp_path):
    """What a maker has switched off is not cut, and is counted."""

    def draw(m, document):
        document.layers.add("notes").off()
        m.add_circle((0, 0), 20)
        m.add_circle((0, 0), 5, dxfattribs={"layer": "notes"})

    outline = read_outline(dxf(tmp_path, draw))
    assert len(outline.polygon.interiors) == 0
    assert any("1 on hidden layers" in note for note in outline.notes)


def test_a_block_that_holds_itself_or_too_much_is_refused(tmp_path):
    """Blocks within blocks that never end, or come to millions of lines, do not hang the reader."""

    def endless(m, document):
        one, two = document.blocks.new("ONE"), document.blocks.new("TWO")
        one.add_blockref("TWO", (0, 0))
        two.add_blockref("ONE", (0, 0))
        m.add_blockref("ONE", (0, 0))

    def bomb(m, document):
        document.blocks.new("B0").add_circle((0, 0), 1)
        for k in range(1, 9):
            block = document.blocks.new(f"B{k}")
            for i in range(10):
                block.add_blockref(f"B{k - 1}", (i, 0))
        m.add_blockref("B8", (0, 0))

    with pytest.raises(Refusal, match="holds itself"):
        read_outline(dxf(tmp_path, endless))
    with pytest.raises(Refusal, match="more than the 200000 lines"):
        read_outline(dxf(tmp_path, bomb))


def test_circles_beyond_the_workshop_are_refused(tmp_path):
    """A circle of a thousand kilometres does not fill the memory."""
    with pytest.raises(Refusal):
        read_outline(dxf(tmp_path, lambda m, _: m.add_circle((0, 0), 1e12)))


@given(st.integers(0, 2**31), st.integers(3, 40))
@settings(max_examples=40, deadline=None)
def test_shuffled_segments_of_a_ring_join_again(seed, corners):
    """Any polygon cut into segments, shuffled and turned round at random, joins into the same ring."""
    random = np.random.default_rng(seed)
    angles = np.sort(random.uniform(0, 2 * np.pi, corners))
    ring = np.column_stack([np.cos(angles), np.sin(angles)]) * random.uniform(20, 90, corners)[:, None]
    segments = [np.stack([a, b]) for a, b in zip(ring, np.roll(ring, -1, axis=0))]
    random.shuffle(segments)
    joined = join([s[::-1] if random.random() < 0.5 else s for s in segments])
    assert joined.open == []
    (found,) = joined.rings
    assert {tuple(place) for place in found.round(9)} == {tuple(place) for place in ring.round(9)}


@pytest.mark.parametrize(
    ("head", "factor", "unit"),
    [
        ('width="100mm" height="80mm" viewBox="0 0 100 80"', 1.0, "mm"),
        ('width="10cm" height="8cm" viewBox="0 0 1000 800"', 0.1, "cm"),
        ('width="4in" height="3.2in" viewBox="0 0 100 80"', 1.016, "in"),
        ('width="72pt" height="57.6pt" viewBox="0 0 100 80"', 0.254, "pt"),
        ('width="96" height="76.8" viewBox="0 0 100 80"', 0.254, "px"),
        ('viewBox="0 0 100 80"', 25.4 / 96, "px"),
        ("", 25.4 / 96, "px"),
        ('width="100%" viewBox="0 0 100 80"', 25.4 / 96, "px"),
        ('width="100mm" height="160mm" viewBox="0 0 100 80"', 1.0, "mm"),
    ],
)
def test_the_size_of_an_svg_is_honoured(tmp_path, head, factor, unit):
    """Width, height and viewBox give mm a unit; without them 1 px = 1/96 in (CSS 2.1), and it is said."""
    outline = read_outline(svg(tmp_path, '<rect x="10" y="10" width="30" height="20"/>', head))
    assert outline.polygon.area == pytest.approx(600 * factor**2, rel=1e-9)
    assert outline.unit == unit
    assert any("px" in note or "states its size" in note for note in outline.notes)


def test_an_asked_unit_overrides_the_file(tmp_path):
    """One unit of the drawing is then one of the asked unit."""
    path = svg(tmp_path, '<rect width="3" height="2"/>')
    assert read_outline(path, unit="inch").polygon.area == pytest.approx(6 * 25.4**2)


def test_y_runs_up_from_the_lower_left_corner(tmp_path):
    """A shape at the top of the sheet has the greater y."""
    outline = read_outline(svg(tmp_path, '<rect x="10" y="5" width="30" height="20"/>'))
    assert outline.polygon.bounds == pytest.approx((10, 55, 40, 75))


def test_basic_shapes_and_transforms_of_svg(tmp_path):
    """Each basic shape under nested transforms has the area that the determinant gives it."""
    body = (
        '<g transform="translate(30 30) rotate(30) scale(2 0.5)"><circle r="5"/></g>'
        '<g transform="matrix(1 0.5 0 1 0 0)"><ellipse cx="80" cy="0" rx="8" ry="4"/></g>'
        '<polygon points="0,0 10,0 0,10"/><rect x="60" y="60" width="20" height="10" transform="skewX(10)"/>'
    )
    outline = read_outline(svg(tmp_path, body))
    assert outline.polygon.area == pytest.approx(math.pi * 25 + math.pi * 32 + 50 + 200, rel=2e-3)


def test_path_curves_are_flattened_within_a_hundredth(tmp_path):
    """Arcs, cubics and quadratics: closed forms of their areas, and points of the arc on its circle."""
    arc = read_outline(svg(tmp_path, '<path d="M10 40 A30 30 0 0 1 70 40 Z"/>')).polygon
    assert arc.area == pytest.approx(math.pi * 900 / 2, abs=math.pi * 30 * 0.01)
    edge = np.array(arc.exterior.coords)
    np.testing.assert_allclose(np.hypot(edge[:, 0] - 40, edge[:, 1] - 40)[edge[:, 1] > 40.5], 30, atol=1e-6)
    cubic = read_outline(svg(tmp_path, '<path d="M0 0 C0 40 80 40 80 0 Z"/>')).polygon
    assert cubic.area == pytest.approx(0.6 * 80 * 40, abs=1.5)
    quadratic = read_outline(svg(tmp_path, '<path d="M0 0 Q40 60 80 0 Z"/>')).polygon
    assert quadratic.area == pytest.approx(2 / 3 * 80 * 30, abs=1.5)  # Archimedes: two thirds of base times rise


def test_a_hole_in_a_path_is_a_hole(tmp_path):
    """A second closed part within the first is cut out."""
    body = '<path d="M0 0 H60 V40 H0 Z M10 10 V30 H50 V10 Z"/>'
    assert read_outline(svg(tmp_path, body)).polygon.area == pytest.approx(2400 - 800)


def test_filled_shapes_close_and_lines_do_not(tmp_path):
    """A filled path without its last stroke is closed, and said; one with fill none is an open line."""
    filled = read_outline(svg(tmp_path, '<path d="M0 0 H60 V40 H0"/>'))
    assert filled.polygon.area == pytest.approx(2400)
    assert any("closed by a straight line" in note for note in filled.notes)
    with pytest.raises(Refusal, match="no closed outline"):
        read_outline(svg(tmp_path, '<path fill="none" d="M0 0 H60 V40 H0"/>'))


def test_what_is_not_drawn_is_not_read(tmp_path):
    """Definitions, hidden shapes and text are no outline; the rest is counted."""
    body = (
        '<defs><circle r="30"/></defs><circle r="9" style="display:none"/><text>lid</text>'
        '<use href="#a"/><rect width="10" height="10"/>'
    )
    outline = read_outline(svg(tmp_path, body))
    assert outline.polygon.area == pytest.approx(100)
    assert any("1 text" in note and "1 use" in note for note in outline.notes)


@pytest.mark.parametrize("stubs", [1, 2, 3])
def test_stubs_at_a_corner_do_not_lead_the_outline_astray(stubs: int) -> None:
    """Lines that end at a corner of a closed outline are passed over, whatever their order among its lines."""
    corners = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
    sides = [np.stack([corners[k], corners[(k + 1) % 4]]) for k in range(4)]
    spurs = [np.array([[40.0, 30.0], [44.0 + k, 36.0 - 2 * k]]) for k in range(stubs)]
    for turn in range(4 + stubs):
        lines = [*spurs, *sides]
        joined = join([*lines[turn:], *lines[:turn]])
        assert len(joined.rings) == 1
        assert len(joined.rings[0]) == 4
        assert len(joined.open) == -(-stubs // 2)
        assert shapely.Polygon(joined.rings[0]).area == pytest.approx(1200.0)
