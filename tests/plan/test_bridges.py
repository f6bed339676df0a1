"""A piece with no face to stand on is held by bridges to its waste; one that stands gets none."""

import manifold3d
import numpy as np
import pytest
import shapely

from witnessmark.job.demonstration import demonstration_job
from witnessmark.job.models import Blank, PieceSpec, Wish
from witnessmark.plan.bridges import bridges_for
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.search import lay_out
from witnessmark.shapes.ginkgo import tea_chest_body
from witnessmark.shapes.solid import Solid

PEBBLE = Solid(manifold3d.Manifold.sphere(1.0, 64).scale((24.0, 18.0, 10.0)))


def spec_for(below_mm: float, high_mm: float = 24.0) -> PieceSpec:
    blank = Blank(size_x_mm=110, size_y_mm=96, size_z_mm=high_mm, below_mm=below_mm)
    return PieceSpec(name="piece", shape="piece.stl", blank=blank)


@pytest.fixture(scope="module")
def job():
    asked = demonstration_job()
    settings = asked.settings.model_copy(update={"plan_pitch_mm": 1.0})
    return asked.model_copy(update={"wish": Wish(), "settings": settings})


def test_a_pebble_is_bridged_evenly_at_its_girth(job) -> None:
    """Three bridges cross from the pebble's section into the waste, apart from each other, where the sides meet."""
    layout = lay_out(job, spec_for(2.0), PEBBLE)
    held = bridges_for(job, spec_for(2.0), PEBBLE, layout)
    strips = [shapely.Polygon(bridge.outline_mm) for bridge in held.bridges]
    assert len(strips) >= 3
    section = PEBBLE.section(layout.meeting_mm)
    trench_mm = job.settings.trench_mm + 6.0
    for bridge, strip in zip(held.bridges, strips):
        assert bridge.z_from_mm < layout.meeting_mm < bridge.z_to_mm
        assert shapely.intersection(strip, section).area > 8.0  # it holds on to the piece
        assert shapely.difference(strip, section.buffer(trench_mm)).area > 8.0  # and to the waste
    assert all(a.disjoint(b) for k, a in enumerate(strips) for b in strips[:k])
    angles = np.sort([np.arctan2(s.centroid.y, s.centroid.x) for s in strips])
    assert np.diff([*angles, angles[0] + 2 * np.pi]).max() < np.radians(180.0)
    assert "saw them through" in held.notes[0]


def test_the_plan_leaves_the_bridges_standing_and_nothing_loose(job) -> None:
    """After the last placement the pebble hangs together with its waste, and the wood under each bridge is whole."""
    plan = plan_piece(job, spec_for(2.0), PEBBLE)
    assert not [note for step in plan.placements for note in step.placement.notes if "comes loose" in note]
    last = plan.placements[-1]
    assert len(last.placement.bridges) >= 3
    for bridge in last.placement.bridges:
        strip = shapely.Polygon(bridge.outline_mm)
        cells = shapely.contains_xy(strip, *np.meshgrid(last.grid.x_mm, last.grid.y_mm))
        assert last.top_after[cells].min() >= bridge.z_to_mm - 1e-4


def test_without_its_bridges_the_pebble_would_come_loose(job, monkeypatch) -> None:
    """The look for loose wood does see the piece itself."""
    from witnessmark.plan import piece as planning
    from witnessmark.plan.bridges import Bridged

    monkeypatch.setattr(planning, "bridges_for", lambda *_: Bridged((), ()))
    plan = plan_piece(job, spec_for(2.0), PEBBLE)
    assert [note for step in plan.placements for note in step.placement.notes if "comes loose" in note]


def test_pieces_that_stand_get_no_bridges(job) -> None:
    """A block flush with the blank's lower face, and the chest, stand on their own foot."""
    block = Solid(manifold3d.Manifold.cube((80.0, 60.0, 20.0), True))
    assert bridges_for(job, spec_for(0.0), block, lay_out(job, spec_for(0.0), block)).bridges == ()
    chest = demonstration_job()
    body = tea_chest_body()
    assert bridges_for(chest, chest.pieces[0], body, lay_out(chest, chest.pieces[0], body)).bridges == ()
    hanging = bridges_for(job, spec_for(2.0), block, lay_out(job, spec_for(2.0), block))
    assert len(hanging.bridges) >= 3


def test_a_bridge_moves_with_the_piece_when_it_is_turned_over(job) -> None:
    """Piece to standing and back is the same bridge."""
    layout = lay_out(job, spec_for(2.0), PEBBLE)
    stand = layout.sides[0].placements[0].stand
    for bridge in bridges_for(job, spec_for(2.0), PEBBLE, layout).bridges:
        back = bridge.moved(stand).moved(stand.inverse())
        assert np.allclose(back.outline_mm, bridge.outline_mm)
        assert (back.z_from_mm, back.z_to_mm) == pytest.approx((bridge.z_from_mm, bridge.z_to_mm))


def test_no_bridge_reaches_into_a_hollow(job) -> None:
    """A cup with two slots down to where the sides meet: its section is open to the hollow, the waste is outside."""
    cup = manifold3d.Manifold.cylinder(16.0, 22.0, 22.0, 96) - manifold3d.Manifold.cylinder(
        16.0, 15.0, 15.0, 96
    ).translate((0.0, 0.0, 4.0))
    piece = Solid(cup - manifold3d.Manifold.cube((60.0, 6.0, 16.0), True).translate((0.0, 0.0, 13.0)))
    layout = lay_out(job, spec_for(2.0), piece)
    bridges = bridges_for(job, spec_for(2.0), piece, layout).bridges
    assert len(bridges) >= 3
    for bridge in bridges:
        assert shapely.Polygon(bridge.outline_mm).distance(shapely.Point(0.0, 0.0)) > 15.5
