"""Slots under wood that stays: cut by a T-slot cutter's disc, in a program of its own, and proven."""

from pathlib import Path

import manifold3d
import pytest

from witnessmark.job import catalog
from witnessmark.path.slots import slots_in
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.new import first_job, new
from witnessmark.verbs.prove import prove

Block = manifold3d.Manifold
HIGH_MM, FLOOR_MM = 24.0, 6.0


def cavity(*slots) -> Solid:
    """A block with a hollow from above, 60 x 40, and slots in its walls: (x, y, z, high, radius) of each."""
    block = Block.cube((110.0, 80.0, HIGH_MM)).translate((-55.0, -40.0, 0.0))
    hollow = manifold3d.CrossSection.square((52.0, 32.0), True).offset(4.0, manifold3d.JoinType.Round, 2.0, 128)
    block -= hollow.extrude(40.0).translate((0.0, 0.0, FLOOR_MM))
    for x, y, z, high, radius in slots:
        disc = Block.cylinder(high, radius, radius, 128).translate((x, y, z))
        block -= Block.batch_hull([disc, disc.translate((-x * 0.6, -y * 0.6, 0.0))])
    return Solid(block)


# discs of 16 mm whose far edge goes nearly 5 mm and 4 mm into a wall: along x, and along y
SLOTS = ((26.8, 0.0, 12.0, 4.5, 8.05), (-8.0, -16.0, 10.0, 6.5, 8.05))


def job_of(tmp_path: Path, piece: Solid, *names: str) -> Path:
    write_stl(piece, tmp_path / "block.stl")
    job = first_job(tmp_path / "block.stl", LookSizes((300, 400, 90), 6, 45, (20, 20), 65))
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.25})
    cutters = (*job.cutters, *(catalog.cutters()[name].cutter for name in names))
    made = new(
        tmp_path / "job", tmp_path / "block.stl", job.model_copy(update={"settings": settings, "cutters": cutters})
    )
    plan(made)
    return made


def test_slots_are_found_with_floor_and_ceiling() -> None:
    found = sorted(slots_in(cavity(*SLOTS)), key=lambda slot: slot.floor_mm)
    assert [slot.floor_mm for slot in found] == pytest.approx([10.0, 12.0])
    assert [slot.ceiling_mm for slot in found] == pytest.approx([16.5, 16.5])
    for slot, (x, y, _, _, _) in zip(found, reversed(SLOTS)):
        px, py, _ = slot.middle_mm
        assert (px - x) ** 2 + (py - y) ** 2 < 9.0**2
    assert slots_in(cavity()) == []


def test_slots_are_cut_and_proven(tmp_path) -> None:
    """One is as high as the disc and a little more, one takes two passes; both come out whole, and nothing is hit."""
    made = job_of(tmp_path, cavity(*SLOTS), "t-slot 16")
    (planned,) = program(made)
    assert not [note for note in planned.notes if "slot" in note and "is not cut" in note]
    assert [note for note in planned.notes if "left to t-slot 16" in note]
    files = [path.name for path in (made / "out" / "drafts").glob("*t-slot-16.nc")]
    assert len(files) == 1
    text = (made / "out" / "drafts" / files[0]).read_text()
    assert text.count("G0 Z") <= 1 + 2 * 3  # up once for each pass: two of the one slot, two of the other
    verdict = prove(made).verdicts["block"]
    assert verdict.passed, [f.what for f in verdict.findings if f.harm == "stop"]
    assert verdict.worst_left_mm < 0.1
    assert not [f for f in verdict.findings if f.kind in ("undercut", "hole left uncut")]


@pytest.mark.parametrize(
    ("slot", "why"),
    [
        ((27.0, 0.0, 12.0, 3.5, 8.05), "its disc is 4 mm thick"),
        ((32.0, 0.0, 12.0, 4.5, 8.05), "it gets at all but"),  # deeper than disc over neck
        ((27.0, 0.0, 12.0, 4.5, 6.0), "it gets at all but"),  # narrower than the disc
    ],
)
def test_a_slot_that_the_disc_does_not_fit_is_told(tmp_path, slot, why) -> None:
    made = job_of(tmp_path, cavity(slot), "t-slot 16")
    (planned,) = program(made)
    (note,) = [note for note in planned.notes if "is not cut by t-slot 16" in note]
    assert why in note
    (again,) = program(made)
    assert again.notes == planned.notes
    assert not list((made / "out" / "drafts").glob("*t-slot*"))
    assert not prove(made).verdicts["block"].passed
