"""Bores hardly wider than the cutter are made, and one that no cutter fits is told, before cutting and after."""

from dataclasses import dataclass

import manifold3d
import pytest

from witnessmark.job.models import Job
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.new import first_job, new
from witnessmark.verbs.prove import prove

BORES = ((-25.0, 6.3, -1.0), (-10.0, 6.1, 4.0), (20.0, 6.15, 4.0))  # x, diameter, bottom
TOO_NARROW = (5.0, 5.9, 4.0)


def plate(bores) -> Solid:
    body = manifold3d.Manifold.cube((80.0, 40.0, 12.0)).translate((-40.0, -20.0, 0.0))
    for x, diameter, bottom in bores:
        body -= manifold3d.Manifold.cylinder(20.0, diameter / 2, diameter / 2, 96).translate((x, 0.0, bottom))
    return Solid(body)


@dataclass
class Made:
    notes: tuple[str, ...]
    verdict: object
    texts: list[str]


def made(root, bores, centre_cutting=True) -> Made:
    shape = root / "plate.stl"
    write_stl(plate(bores), shape)
    job: Job = first_job(shape, LookSizes((300, 400, 90), 6, 45, (20, 20), 65))
    cutters = tuple(c.model_copy(update={"centre_cutting": centre_cutting}) for c in job.cutters)
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.25})
    folder = new(root / "job", shape, job.model_copy(update={"cutters": cutters, "settings": settings}))
    (planned,) = plan(folder)
    program(folder)
    verdict = prove(folder).verdicts["plate"]
    texts = [path.read_text() for path in sorted((folder / "out" / "drafts").glob("*.nc"))]
    return Made(planned.notes, verdict, texts)


def test_bores_hardly_wider_than_the_cutter_are_made(tmp_path) -> None:
    """One through and two blind, 0.1 to 0.3 mm wider than a cutter that cuts at its centre."""
    one = made(tmp_path, BORES)
    assert one.verdict.passed, [f.what for f in one.verdict.findings if f.harm == "stop"]
    assert not one.verdict.eased
    assert not any("not made" in note for note in one.notes)


def test_a_hole_that_no_cutter_fits_is_told_and_not_called_a_corner(tmp_path) -> None:
    one = made(tmp_path, (*BORES[:1], TOO_NARROW))
    (note,) = [note for note in one.notes if "not made" in note]
    assert "x 5.0 y 0.0" in note
    (told,) = [f for f in one.verdict.findings if f.kind == "hole left uncut"]
    assert told.harm == "warning"
    assert told.place_mm[:2] == pytest.approx((5.0, 0.0), abs=0.01)
    assert told.by_mm == pytest.approx(5.9, abs=0.02)
    assert not one.verdict.eased
    assert one.verdict.passed


def test_a_cutter_that_does_not_cut_at_its_centre_never_plunges_into_one(tmp_path) -> None:
    """The bore stays uncut, which stops the proof; nothing goes straight down."""
    one = made(tmp_path, BORES[1:2], centre_cutting=False)
    kinds = {f.kind for f in one.verdict.findings if f.harm == "stop"}
    assert kinds == {"leftover"}
