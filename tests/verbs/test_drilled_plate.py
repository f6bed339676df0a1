"""A plate with holes that only a drill fits: drilled from both sides, proven; a blind one is told."""

from pathlib import Path

import manifold3d
import numpy as np
import pytest

from witnessmark.job.files import load_job
from witnessmark.job.models import Cutter
from witnessmark.plan.holes import bores_in, drilled, plugged
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.new import first_job, new
from witnessmark.verbs.prove import prove

DRILL_5 = Cutter(
    name="drill 5",
    kind="drill",
    diameter_mm=5.0,
    flute_length_mm=40.0,
    stickout_mm=50.0,
    shank_diameter_mm=5.0,
    included_angle_deg=118.0,
    centre_cutting=True,
    entry_feed_mm_min=300.0,
    feed_mm_min=300.0,
)
THICK_MM = 12.0
PLACES = ((-15.0, 8.0), (12.0, -6.0))


def plate(blind: bool = False) -> Solid:
    body = manifold3d.Manifold.cube((60.0, 40.0, THICK_MM)).translate((-30.0, -20.0, 0.0))
    for x, y in PLACES:
        body -= manifold3d.Manifold.cylinder(THICK_MM + 2.0, 2.5, 2.5, 64).translate((x, y, -1.0))
    if blind:
        body -= manifold3d.Manifold.cylinder(8.0, 2.5, 2.5, 64).translate((0.0, 12.0, 6.0))
    return Solid(body)


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    root = tmp_path_factory.mktemp("plate")
    shape = root / "plate.stl"
    write_stl(plate(), shape)
    job = first_job(shape, LookSizes((300, 400, 90), 6, 45, (20, 20), 65))
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.25})
    made = new(root / "job", shape, job.model_copy(update={"settings": settings, "cutters": (*job.cutters, DRILL_5)}))
    plan(made)
    program(made)
    return made


def test_both_sides_drill_and_the_proof_finds_the_holes_open(folder) -> None:
    """Each side has a program for the drill; no wood is left in either hole, the cones meet past the middle."""
    drills = sorted(path.name for path in (folder / "out" / "drafts").glob("*drill-5.nc"))
    assert len(drills) == 2
    verdict = prove(folder).verdicts["plate"]
    assert verdict.passed, [f.what for f in verdict.findings if f.harm == "stop"]
    top, grid = verdict.columns_after.top(np.eye(3))
    for x, y in PLACES:
        over = np.hypot(grid.x_mm[None, :] - x, grid.y_mm[:, None] - y) < 2.3
        assert not np.isfinite(top[over]).any()


def test_a_hole_on_the_seam_of_two_placements_is_drilled_once_a_side(tmp_path) -> None:
    """A plate longer than the travel with a hole at the seam: two programs for the drill, one a side; it is open."""
    long = manifold3d.Manifold.cube((160.0, 40.0, THICK_MM)).translate((-80.0, -20.0, 0.0))
    piece = Solid(long - manifold3d.Manifold.cylinder(THICK_MM + 2.0, 2.5, 2.5, 64).translate((0.0, 0.0, -1.0)))
    write_stl(piece, tmp_path / "long.stl")
    job = first_job(tmp_path / "long.stl", LookSizes((120, 400, 90), 6, 45, (20, 20), 65))
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.25})
    cutters = (*job.cutters, DRILL_5)
    made = new(
        tmp_path / "job", tmp_path / "long.stl", job.model_copy(update={"settings": settings, "cutters": cutters})
    )
    (planned,) = plan(made)
    assert len(planned.placements) == 4
    program(made)
    assert len(list((made / "out" / "drafts").glob("*drill-5.nc"))) == 2
    verdict = prove(made).verdicts["long"]
    assert verdict.passed, [f.what for f in verdict.findings if f.harm == "stop"]


def test_holes_as_drilling_cycles_are_proven_too(folder, tmp_path) -> None:
    """The same plate for a controller that takes canned cycles, in inches."""
    job = load_job(folder)
    controller = job.machine.controller.model_copy(update={"canned_cycles": True, "units": "inch", "decimals": 4})
    machine = job.machine.model_copy(update={"controller": controller})
    made = new(tmp_path / "job", folder / "plate.stl", job.model_copy(update={"machine": machine}))
    plan(made)
    program(made)
    drills = [path.read_text() for path in (made / "out" / "drafts").glob("*drill-5.nc")]
    assert len(drills) == 2
    assert all(text.count("G83") == len(PLACES) for text in drills)
    verdict = prove(made).verdicts["plate"]
    assert verdict.passed, [f.what for f in verdict.findings if f.harm == "stop"]


def test_through_holes_are_found_and_blind_ones_are_told() -> None:
    """Two holes through the plate, one from above that ends in it."""
    bores = sorted(bores_in(plate(blind=True), [5.0]), key=lambda bore: bore.x_mm)
    assert [(round(b.x_mm, 1), round(b.y_mm, 1)) for b in bores] == [(-15.0, 8.0), (0.0, 12.0), (12.0, -6.0)]
    assert [(b.open_below, b.open_above) for b in bores] == [(True, True), (False, True), (True, True)]
    assert bores_in(plate(), [4.0]) == []
    holes, notes = drilled(plate(blind=True), [DRILL_5], 0.0)
    assert len(holes) == 2
    assert "is blind" in notes[0]
    point = 2.5 / np.tan(np.radians(59.0))
    for hole in holes:
        assert hole.mouth_z_mm == pytest.approx(THICK_MM)
        assert hole.bottom_z_mm == pytest.approx(THICK_MM / 2 - point - 0.5)


def test_a_hole_that_ends_in_a_pocket_is_known_exactly_and_filled_flush() -> None:
    """Mouth on the pocket's floor, wherever that is: other cutters see the floor whole, and the wall under it."""
    pocket = manifold3d.Manifold.cube((30.0, 16.0, 10.0), True).translate((12.0, -6.0, THICK_MM + 5.0 - 3.37))
    piece = Solid(plate().manifold - pocket)
    holes, _ = drilled(piece, [DRILL_5], 0.0)
    (hole,) = (hole for hole in holes if hole.x_mm > 0)
    assert hole.mouth_z_mm == pytest.approx(THICK_MM - 3.37, abs=1e-6)
    filled = plugged(piece, holes, [DRILL_5])
    assert filled.section(hole.mouth_z_mm - 0.01).area == pytest.approx(60.0 * 40.0, rel=1e-6)
    assert filled.shadow_above(hole.mouth_z_mm + 1e-4).area == pytest.approx(60.0 * 40.0 - 30.0 * 16.0, rel=1e-6)
    short = DRILL_5.model_copy(update={"flute_length_mm": 3.0})
    assert plugged(piece, holes, [short]) is piece


def test_no_drill_no_holes() -> None:
    """Without a drill in the job nothing is looked for."""
    flat = DRILL_5.model_copy(update={"kind": "flat", "name": "flat 5"})
    assert drilled(plate(), [flat], 0.0) == ((), ())


def test_programs_renew_the_solids_of_the_plan(folder) -> None:
    """Solids asked for with the plan are written anew with the programs, and are then the lower."""
    plan(folder, solids=True)
    wood = sorted((folder / "out" / "solids").glob("*.stl"))
    before = {path.name: path.read_bytes() for path in wood}
    assert before
    program(folder)
    after = {path.name: path.read_bytes() for path in sorted((folder / "out" / "solids").glob("*.stl"))}
    assert after.keys() == before.keys()
    assert any(after[name] != before[name] for name in before)
