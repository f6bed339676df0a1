"""The demonstration and both examples, from shapes to proven programs and a bench sheet."""

import json
from pathlib import Path

import pytest
from manifold3d import Manifold, OpType

from witnessmark.cli.main import main
from witnessmark.program.fingerprint import fingerprint, proof_of, stamped_of
from witnessmark.program.read import read
from witnessmark.verbs.latch import design_latch
from witnessmark.verbs.make import program
from witnessmark.verbs.prove import prove
from witnessmark.verbs.workshop import open_workshop


def ran(example: str, folder: Path, said: pytest.CaptureFixture[str]) -> Path:
    """The job's folder after its demonstration: no contact, nothing outside travel, no loose wood, gouge and leftover
    as allowed; all is handed out."""
    assert main(["demo", "--example", example, "--out", str(folder)]) == 0
    assert "Proven." in said.readouterr().out
    job = open_workshop(folder).job
    programs = sorted((folder / "out" / "programs").glob("*.nc"))
    assert {p.name for p in programs} == {p.name for p in (folder / "out" / "drafts").glob("*.nc")}
    told = json.loads((folder / "out" / "proof.json").read_text(encoding="utf-8"))
    proofs = {piece["fingerprint"] for piece in told["pieces"]}
    for path in programs:
        text = path.read_text(encoding="utf-8")
        assert stamped_of(text) == fingerprint(text)
        assert proof_of(text) in proofs
        table = read(text)
        assert table.end_mm[:, 0].min() >= 0
        assert table.end_mm[:, 0].max() <= job.machine.travel_x_mm
        assert table.end_mm[:, 1].min() >= 0
        assert table.end_mm[:, 1].max() <= job.machine.travel_y_mm
    assert (folder / "out" / "bench-sheet.pdf").stat().st_size > 10_000
    return folder


@pytest.mark.slow
def test_an_example_ends_in_a_passing_proof(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran("dish", tmp_path / "dish", capsys)


@pytest.mark.slow
def test_the_chest_is_proven_with_its_latch_which_locks_and_opens(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Found from the wish, let in, its parts cut by proven programs; nothing meets through the turn of the key.
    Locked, the lid lifts by the play of the bolts and no further; unlocked it comes out."""
    folder = ran("chest", tmp_path / "chest", capsys)
    told = json.loads((folder / "out" / "proof.json").read_text(encoding="utf-8"))
    assert {piece["piece"] for piece in told["pieces"]} == {"body", "lid", "rotor", "case", "key"}
    answer = design_latch(folder)
    assert answer.enough
    assert answer.found_again is not None
    assert answer.placed is not None
    assert not answer.placed.meets
    let_in = answer.placed.let_in
    body, bolts = let_in.from_body(let_in.closed_body), Manifold.batch_boolean(list(let_in.parts.bolts), OpType.Add)
    lid = let_in.from_lid(let_in.cut_lid) + let_in.parts.case
    thrown = Manifold.batch_boolean(
        [
            bolt.rotate((0.0, 0.0, -turn)).translate((let_in.design.cam.throw_mm, 0.0, 0.0)).rotate((0.0, 0.0, turn))
            for bolt, turn in zip(let_in.parts.bolts, (0.0, 180.0))
        ],
        OpType.Add,
    )
    for up_mm in (0.2, 1.0, 3.0, 10.0, 25.0):
        assert ((lid + bolts).translate((0.0, 0.0, up_mm)) ^ body).volume() < 0.01
    for up_mm in (0.2, 1.0, 2.0, 5.0):
        meets_mm3 = (thrown.translate((0.0, 0.0, up_mm)) ^ body).volume()
        assert (meets_mm3 > 1.0) == (up_mm > 0.6)


def silent(_what: str, _done_ratio: float) -> None:
    """No progress shown."""


@pytest.mark.slow
def test_a_fault_in_a_program_is_found_and_nothing_is_handed_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The box is proven; a missing spindle start or a line too deep is named and holds all programs back; force marks
    them."""
    folder = ran("box", tmp_path / "box", capsys)
    draft = sorted((folder / "out" / "drafts").glob("box-3-1-*.nc"))[0]
    whole = draft.read_text(encoding="utf-8")
    lines = whole.splitlines()
    last = next(i for i in range(len(lines) - 1, 0, -1) if lines[i].startswith(("G1 X", "X")))
    faults = {
        "spindle off while cutting": whole.replace(" M3\n", "\n", 1),
        "gouge": "\n".join([*lines[:last], "G1 Z25", *lines[last:]]) + "\n",
    }
    for kind, text in faults.items():
        draft.write_text(text, encoding="utf-8")
        found = prove(folder, silent)
        assert not found.passed
        assert kind in {f.kind for f in found.verdicts["box"].findings if f.harm == "stop"}
        assert not found.handed_out
        assert not list((folder / "out" / "programs").glob("*.nc"))
    forced = prove(folder, silent, force=True)
    assert not forced.passed
    assert all("NOT PROVEN" in path.read_text(encoding="utf-8").splitlines()[0] for path in forced.handed_out)
    program(folder)
    assert prove(folder, silent).passed
