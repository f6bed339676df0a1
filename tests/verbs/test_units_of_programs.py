"""Programs in inches, or with few decimals, pass the proof as those in millimetres do."""

import manifold3d
import pytest

from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.new import first_job, new
from witnessmark.verbs.prove import prove

HEIGHT_MM = 22.225  # 7/8 inch: no whole count of 0.01 mm


def two_sided() -> Solid:
    """A block with a pocket from above and one from below."""
    box = manifold3d.Manifold.cube
    body = box((70.0, 40.0, HEIGHT_MM)).translate((-35.0, -20.0, 0.0))
    body -= box((50.0, 24.0, 20.0)).translate((-25.0, -12.0, 15.0))
    return Solid(body - box((40.0, 20.0, 6.35)).translate((-20.0, -10.0, 0.0)))


@pytest.mark.parametrize(
    ("units", "decimals", "word"),
    [("inch", 3, "G20"), ("inch", 4, "G20"), ("mm", 2, "G21")],
)
def test_a_piece_turned_over_is_proven_in_any_units(tmp_path, units, decimals, word) -> None:
    shape = tmp_path / "block.stl"
    write_stl(two_sided(), shape)
    job = first_job(shape, LookSizes((300, 400, 90), 6, 45, (20, 20), 65))
    controller = job.machine.controller.model_copy(update={"units": units, "decimals": decimals})
    machine = job.machine.model_copy(update={"controller": controller})
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.25})
    folder = new(tmp_path / "job", shape, job.model_copy(update={"machine": machine, "settings": settings}))
    (planned,) = plan(folder)
    assert len(planned.placements) == 2
    program(folder)
    verdict = prove(folder).verdicts["block"]
    assert verdict.passed, [f.what for f in verdict.findings if f.harm == "stop"]
    texts = [path.read_text() for path in (folder / "out" / "programs").glob("*.nc")]
    assert texts
    assert all(word in text for text in texts)
