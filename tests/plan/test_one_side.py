"""Pieces that show all of themselves to one side are not turned over."""

from __future__ import annotations

import manifold3d
import pytest
import shapely

from witnessmark.job.demonstration import demonstration_cutters, demonstration_machine
from witnessmark.job.models import Blank, Job, PieceSpec, PieceWish
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.one_side import alone_sides
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.search import layout_of
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.upright import upright

RING = (
    shapely.box(0, 0, 160, 100).buffer(-10).buffer(10).difference(shapely.box(12, 12, 148, 88).buffer(-8).buffer(8))
)


def ring(high_mm: float = 20.0) -> Solid:
    return upright(RING, high_mm)


def job_of(blank: Blank, **more) -> tuple[Job, PieceSpec]:
    spec = PieceSpec(name="ring", shape="ring.stl", blank=blank, **more)
    job = Job(name="rings", machine=demonstration_machine(), cutters=demonstration_cutters(), pieces=(spec,))
    return job, spec


def blank(high_mm: float = 20.0, **more) -> Blank:
    return Blank(size_x_mm=200.0, size_y_mm=140.0, size_z_mm=high_mm, **more)


def test_a_ring_of_upright_walls_is_seen_from_either_side():
    solid = ring()
    assert alone_sides(solid, blank_box(blank(), *solid.bounds_mm)) == ("-z", "+z")


def test_it_takes_one_placement_and_everything_is_reached():
    job, spec = job_of(blank())
    plan = plan_piece(job, spec, ring())
    assert len(plan.placements) == 1
    assert plan.short_mm2 == 0
    assert plan.placements[0].placement.through_z_mm == 0.0


def test_a_blind_hole_decides_which_side_is_up():
    bore = manifold3d.Manifold.cylinder(30.0, 4.0).translate((6.0, 50.0, 8.0))
    solid = Solid(ring().manifold - bore)
    assert alone_sides(solid, blank_box(blank(), *solid.bounds_mm)) == ("+z",)
    job, spec = job_of(blank())
    assert [side.up for side in layout_of(job, spec, solid).sides] == ["+z"]


def test_a_wish_for_the_other_side_first_goes_before():
    bore = manifold3d.Manifold.cylinder(30.0, 4.0).translate((6.0, 50.0, 8.0))
    solid = Solid(ring().manifold - bore)
    job, spec = job_of(blank(), wish=PieceWish(first_up="-z"))
    assert {side.up for side in layout_of(job, spec, solid).sides} == {"-z", "+z"}


@pytest.mark.parametrize(
    ("high_mm", "below_mm", "able"), [(22.0, 0.0, ("+z",)), (22.0, 1.0, ()), (20.0, 0.0, ("-z", "+z"))]
)
def test_the_face_it_stands_on_must_be_the_blanks_own(high_mm, below_mm, able):
    solid = ring()
    box = blank_box(blank(high_mm, below_mm=below_mm), *solid.bounds_mm)
    assert alone_sides(solid, box) == able


def test_rounded_lower_edges_need_the_other_side():
    foot = manifold3d.Manifold.cube((170.0, 3.0, 3.0)).translate((-5.0, -1.0, -1.0))
    solid = Solid(ring().manifold - foot)
    assert alone_sides(solid, blank_box(blank(), *solid.bounds_mm)) == ("-z",)


def test_what_one_side_cannot_reach_is_turned_over():
    """70 mm of upright wall: deeper than the cutter is long, reached from both sides together."""
    job, spec = job_of(blank(70.0))
    job = job.model_copy(
        update={"machine": job.machine.model_copy(update={"nose_above_bed_mm": 170.0, "gantry_above_bed_mm": 110.0})}
    )
    assert len(layout_of(job, spec, ring(70.0)).sides) == 2
