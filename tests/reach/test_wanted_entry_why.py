"""What is wanted, how it is entered, and the reasons given for what is out of reach."""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from reach_scenes import block_scene, spindle

from witnessmark.field.grid import Grid
from witnessmark.reach.clearance import least_clearance
from witnessmark.reach.entry import enterable
from witnessmark.reach.floor import reachable_floor
from witnessmark.reach.scene import Scene
from witnessmark.reach.wanted import near_piece, wanted_floor, wanted_tips
from witnessmark.reach.why import undercuts, why_unreached


def plate_scene(pitch_mm: float = 0.5) -> Scene:
    """A plate 40 x 30 x 20 high with a 12 x 10 pocket to 8 and a 10 mm hole through, in a block 25 high."""
    scene = block_scene(pitch_mm, (80.0, 70.0), 25.0)
    x, y = np.meshgrid(scene.grid.x_mm, scene.grid.y_mm)
    piece = np.where((abs(x - 40) < 20) & (abs(y - 35) < 15), 20.0, -np.inf)
    piece = np.where((abs(x - 32) < 6) & (abs(y - 35) < 5), 8.0, piece)
    piece = np.where(np.hypot(x - 50, y - 35) < 5, -np.inf, piece)
    return replace(scene, piece_top=piece.astype(np.float32))


def test_wanted_covers_waste_over_the_piece_its_pocket_its_hole_and_a_trench() -> None:
    """Tips over the plate lie on it, in pocket and hole at their floors, beside it in a trench of stated depth."""
    scene, bit = plate_scene(), spindle(diameter_mm=4.0)
    wanted = wanted_tips(scene, bit, 3.0, 2.0, (0.0, 0.0, 80.0, 70.0))
    x, y = np.meshgrid(scene.grid.x_mm, scene.grid.y_mm)
    outside_mm = np.hypot(np.maximum(abs(x - 40) - 20, 0), np.maximum(abs(y - 35) - 15, 0))
    assert (wanted[(abs(x - 40) < 3) & (abs(y - 35) < 15)] == 20.0).all()
    assert (wanted[(abs(x - 32) < 3.4) & (abs(y - 35) < 2.4)] == 8.0).all()
    from_axis_mm = np.hypot(x - 50, y - 35)
    assert (wanted[(from_axis_mm < 2.4) & (from_axis_mm > 5 - 4)] == 3.0).all()
    assert (wanted[(outside_mm > 2.8) & (outside_mm < 3.9)] == 3.0).all()
    assert np.isinf(wanted[outside_mm > 4.0 + scene.grid.reach_mm + 0.01]).all(), "trench: radius 2 and 2 more"


def test_wanted_stays_inside_the_region_and_leaves_the_allowances() -> None:
    """Outside the region nothing is wanted; allowances raise tips over the piece and move them off its walls."""
    scene, bit = plate_scene(), spindle(diameter_mm=4.0)
    wanted = wanted_tips(scene, bit, 3.0, 2.0, (0.0, 0.0, 40.0, 70.0), 1.0, 0.5)
    x, y = np.meshgrid(scene.grid.x_mm, scene.grid.y_mm)
    assert np.isinf(wanted[x > 40]).all()
    assert (wanted[(abs(x - 39) < 0.6) & (abs(y - 35) < 15)] == 20.5).all()
    assert (wanted[(abs(x - 32) < 2.4) & (abs(y - 35) < 1.4)] == 8.5).all()
    assert (wanted[(x < 40) & (abs(y - 35) < 10) & (x > 17.5) & (x < 20)] >= 20.5).all(), "within 1 mm of the wall"
    floor = wanted_floor(scene, bit, wanted)
    assert (floor >= np.minimum(scene.top, scene.piece_top + np.float32(0.5))).all()


def test_nothing_is_wanted_where_the_wood_is_gone() -> None:
    """Once cut, the same placement wants nothing more; what an earlier side has taken is not asked for again."""
    scene, bit = plate_scene(), spindle(diameter_mm=4.0, stickout_mm=60.0)
    want = (3.0, 2.0, (0.0, 0.0, 80.0, 70.0))
    wanted = wanted_tips(scene, bit, *want)
    done = replace(scene, top=wanted_floor(scene, bit, wanted))
    assert np.isinf(wanted_tips(done, bit, *want)).all()


def test_piece_edge_is_near_to_its_own_width() -> None:
    """Cells within a distance of the piece are found to the cell."""
    scene = block_scene(1.0, (40.0, 20.0), 10.0)
    piece = scene.grid.full(-np.inf)
    piece[:, 20] = 5.0
    assert np.flatnonzero(near_piece(replace(scene, piece_top=piece), 3.0)[10]).tolist() == list(range(17, 24))


def pocket_tips(scene: Scene, half_mm: float, tip_mm: float, centre_mm: tuple[float, float] = (40.0, 35.0)):
    x, y = np.meshgrid(scene.grid.x_mm, scene.grid.y_mm)
    inside = (abs(x - centre_mm[0]) < half_mm) & (abs(y - centre_mm[1]) < half_mm)
    return np.where(inside, np.float32(tip_mm), np.float32(np.inf)).astype(np.float32)


def test_closed_pocket_narrower_than_a_ramp_cannot_be_entered_without_centre_cutting() -> None:
    """A 6 mm cutter that does not cut at its centre enters a pocket 8 long, not one 3 long; a plunger enters both."""
    scene = block_scene(0.5, (80.0, 70.0), 25.0)
    blunt = spindle(centre_cutting=False)
    small, large = pocket_tips(scene, 1.5, 10.0), pocket_tips(scene, 4.0, 10.0)
    refused = enterable(scene, blunt, small)
    assert np.array_equal(refused.shut, np.isfinite(small))
    assert (refused.tips[refused.shut] == 25.0).all()
    assert not enterable(scene, blunt, large).shut.any()
    assert not enterable(scene, spindle(), small).shut.any()


def test_pocket_open_at_the_side_or_already_lower_is_entered_from_there() -> None:
    """A narrow slot from the edge of the blank needs no ramp, nor one over a place that lies lower already."""
    scene = block_scene(0.5, (80.0, 70.0), 25.0, 10.0)
    blunt = spindle(centre_cutting=False)
    edge = pocket_tips(scene, 1.5, 10.0, (-2.9, 35.0))
    assert not enterable(scene, blunt, edge).shut.any()
    x, y = np.meshgrid(scene.grid.x_mm, scene.grid.y_mm)
    drilled = replace(scene, top=np.where(np.hypot(x - 40, y - 35) < 3.6, np.float32(5), scene.top))
    assert not enterable(drilled, blunt, pocket_tips(scene, 1.5, 10.0)).shut.any()


def test_narrow_hole_in_a_wide_floor_stays_at_the_floor() -> None:
    """The wide pocket is entered by a ramp; the narrow deeper part within it is shut and stays at its floor."""
    scene = block_scene(0.5, (80.0, 70.0), 25.0)
    blunt = spindle(centre_cutting=False, stepdown_mm=4.0)
    wide, deep = pocket_tips(scene, 10.0, 15.5), pocket_tips(scene, 1.0, 6.0)
    entered = enterable(scene, blunt, np.minimum(wide, deep))
    assert np.array_equal(entered.shut, np.isfinite(deep))
    assert (entered.tips[np.isfinite(wide)] == 15.5).all()


@pytest.mark.parametrize(
    ("more", "reason", "against", "by_mm"),
    [
        ({"window_mm": (0.0, 0.0, 45.0, 70.0)}, "travel x/y", "", 5.75),
        ({"lowest_tip_mm": 6.0}, "travel z", "", 4.0),
        ({"highest_tip_mm": -3.0}, "top of z", "", 5.0),
        ({"stickout_mm": 12.0}, "nut", "piece", 6.0),
        ({"stickout_mm": 2.0, "nut_mm": (7.0, 4.0), "flutes_mm": 2.0}, "nose", "piece", 12.0),
    ],
)
def test_reasons_name_what_binds_and_by_how_much(
    more: dict[str, object], reason: str, against: str, by_mm: float
) -> None:
    """A trench to z = 2 beside a piece 20 high: each limit in turn is named with the amount it is short by."""
    scene = block_scene(0.5, (80.0, 70.0), 20.0)
    piece = np.where(scene.grid.y_mm[:, None] < 30, np.float32(20), np.float32(-np.inf)) + 0 * scene.top
    scene = replace(scene, piece_top=piece.astype(np.float32))
    bit = spindle(**more)
    x, y = np.meshgrid(scene.grid.x_mm, scene.grid.y_mm)
    row = (abs(y - 34.25) < 0.1) & (x > 30) & (x < 51)
    wanted = np.where(row, np.float32(2.0), np.float32(np.inf)).astype(np.float32)
    floor = reachable_floor(scene, bit)
    result = least_clearance(scene, bit, floor, wanted)
    assert result.unreached.any()
    found = why_unreached(scene, bit, floor, wanted, result.unreached)
    assert found[0].reason == reason
    assert found[0].against == against
    assert found[0].by_mm == pytest.approx(by_mm, abs=0.3)
    assert found[0].place_mm[1:] == pytest.approx((34.25, 2.0))
    assert sum(one.area_mm2 for one in found) == pytest.approx(0.25 * result.unreached.sum())


def test_wood_beyond_travel_in_the_nuts_way_is_told_from_the_piece() -> None:
    """At the edge of travel it is uncut wood, not the piece, that stops the nut."""
    scene = block_scene(0.5, (80.0, 70.0), 62.0)
    bit = spindle(window_mm=(0.0, 0.0, 40.0, 70.0))
    x, y = np.meshgrid(scene.grid.x_mm, scene.grid.y_mm)
    wanted = np.where((abs(y - 35) < 0.3) & (x > 20) & (x < 40), np.float32(5), np.float32(np.inf)).astype(np.float32)
    floor = reachable_floor(scene, bit)
    result = least_clearance(scene, bit, floor, wanted)
    (found,) = why_unreached(scene, bit, floor, wanted, result.unreached)
    assert (found.reason, found.against) == ("nut", "wood")
    assert found.by_mm == pytest.approx(62 - 45 - 5, abs=1e-3)
    assert found.place_mm[0] > 30


def test_shut_tips_and_flutes_that_never_clear_are_named() -> None:
    """Entry is a reason of its own; so are flutes shorter than the cutter's own height."""
    scene = block_scene(0.5, (80.0, 70.0), 25.0)
    blunt = spindle(centre_cutting=False)
    wanted = pocket_tips(scene, 1.5, 10.0)
    floor = reachable_floor(scene, blunt)
    entered = enterable(scene, blunt, wanted)
    none = np.zeros(wanted.shape, dtype=bool)
    (found,) = why_unreached(scene, blunt, floor, wanted, none, entered.shut)
    assert (found.reason, found.by_mm) == ("entry", 15.0)
    stub = spindle(kind="ball", flutes_mm=2.0)
    assert stub.level_mm == 0.0
    (found,) = why_unreached(scene, stub, floor, wanted, np.isfinite(wanted))
    assert found.reason == "flutes"


def triangles_of(solid: manifold3d.Manifold) -> np.ndarray:
    mesh = solid.to_mesh()
    return np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3][np.asarray(mesh.tri_verts)]


def test_bore_from_the_side_is_an_undercut_and_a_flare_is_not() -> None:
    """A level bore 6 across and 20 long hides its own floor; a flared wall and a pocket from above hide nothing."""
    block = manifold3d.Manifold.cube((40, 30, 20))
    bore = manifold3d.Manifold.cylinder(20, 3, 3, 96).rotate((0, 90, 0)).translate((-0.001, 15, 10))
    grid = Grid.over(-5, -5, 45, 35, 0.25)
    (found,) = undercuts(triangles_of(block - bore), grid)
    assert found.reason == "undercut"
    assert found.area_mm2 == pytest.approx(6 * 20, rel=0.05)
    flared = manifold3d.Manifold.cylinder(20, 10, 18, 64).translate((20, 15, 0))
    pocket = manifold3d.Manifold.cube((10, 10, 30)).translate((15, 10, 8))
    assert undercuts(triangles_of(flared - pocket), grid) == ()
