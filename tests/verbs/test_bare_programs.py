"""A controller that takes no comments gets none, by force either; what cannot stand in the file is said elsewhere."""

import manifold3d
import pypdfium2
import pytest

from witnessmark.cli.main import main
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.new import first_job, new
from witnessmark.verbs.prove import prove
from witnessmark.verbs.sheet import sheet


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    root = tmp_path_factory.mktemp("bare")
    body = manifold3d.Manifold.cube((60.0, 40.0, 12.0)) - manifold3d.Manifold.cube((30.0, 20.0, 12.0)).translate(
        (15.0, 10.0, 6.0)
    )
    shape = write_stl(Solid(body), root / "tray.stl")
    job = first_job(shape, LookSizes((300, 400, 90), 6, 45, (20, 20), 65))
    controller = job.machine.controller.model_copy(update={"comments": False})
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.25})
    machine = job.machine.model_copy(update={"controller": controller})
    made = new(root / "job", shape, job.model_copy(update={"settings": settings, "machine": machine}))
    plan(made)
    program(made)
    return made


def test_no_bracket_stands_in_a_bare_program(folder) -> None:
    found = prove(folder)
    assert found.passed
    assert all("(" not in path.read_text() for path in found.handed_out)
    slip = pypdfium2.PdfDocument(sheet(folder, lambda what, done: None))
    last = " ".join(slip[len(slip) - 1].get_textpage().get_text_range().split())
    slip.close()
    assert "takes no comments" in last
    assert "header must be" not in last


def test_by_force_the_name_says_that_it_is_not_proven(folder) -> None:
    (draft, *_) = sorted((folder / "out" / "drafts").glob("*-1-flat*.nc"))
    whole = draft.read_text()
    try:
        draft.write_text(whole.replace("M3", "M5"))
        assert main(["prove", str(folder), "--force"]) == 1
        handed_out = sorted((folder / "out" / "programs").glob("*.nc"))
        assert handed_out
        assert all(path.name.startswith("not-proven-") for path in handed_out)
        assert all("(" not in path.read_text() for path in handed_out)
    finally:
        draft.write_text(whole)
