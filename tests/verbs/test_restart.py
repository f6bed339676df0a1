"""A program taken up again cuts the same piece, from wherever it stopped; the proof of it can fail."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from two_sided_block import planned_block

from witnessmark.cli.main import main
from witnessmark.job.errors import Refusal
from witnessmark.plan.store import load_plans
from witnessmark.program.fingerprint import fingerprint, stamped_of
from witnessmark.program.part import head, parts_of, tail
from witnessmark.verbs.make import drafts_of, silent
from witnessmark.verbs.prove import prove_piece
from witnessmark.verbs.restart import restart
from witnessmark.verbs.workshop import open_workshop

PROGRAM = "block-2-1-flat-6.nc"


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_block(tmp_path_factory.mktemp("restart"))


def draft_text(job: Path) -> str:
    return next(d.text for d in drafts_of(open_workshop(job)) if d.file == PROGRAM)


def proven(job: Path, *texts: str):
    """The verdict with these texts in the place of the program, one after another."""
    workshop = open_workshop(job)
    (plan,) = load_plans(workshop.job, workshop.folder.out("plan.toml"), None)
    programs = []
    for draft in drafts_of(workshop):
        if draft.file == PROGRAM and texts:
            programs += [replace(draft, text=text, file=f"{k or ''}{PROGRAM}") for k, text in enumerate(texts)]
        else:
            programs.append(draft)
    return prove_piece(workshop, plan, programs, silent, None)


def test_wherever_it_stops_the_rest_makes_the_same_piece(job: Path) -> None:
    whole = proven(job)
    assert whole.passed
    parts = parts_of(draft_text(job))
    lines = np.random.default_rng(11).integers(parts.first, parts.last, 12)
    for line in sorted(lines.tolist()):
        answer = restart(job, PROGRAM, line)
        assert answer.passed, answer.words()
        assert answer.line <= line or answer.line == parts.first
        after, before = answer.verdict.columns_after, whole.columns_after
        np.testing.assert_array_equal(after.first, before.first)
        np.testing.assert_allclose(after.high, before.high, atol=1e-5)
        assert answer.path is not None
        text = answer.path.read_text()
        assert stamped_of(text) == fingerprint(text)


def test_the_proof_knows_what_was_not_cut_before_the_stop(job: Path) -> None:
    """It went on a third of its lines further than it had come: what lies between is left, and the judge finds it."""
    text = draft_text(job)
    parts = parts_of(text)
    some = [one.number for one in parts.lines if one.moves and parts.first < one.number <= parts.last]
    early, late = some[len(some) // 3], some[2 * len(some) // 3]
    assert proven(job, head(text, early), tail(text, early)).passed
    assert not proven(job, head(text, early), tail(text, late)).passed


def test_nothing_is_left_after_the_last_cut_and_unknown_programs_are_refused(job: Path) -> None:
    with pytest.raises(Refusal, match="nothing of it is left"):
        restart(job, PROGRAM, 10**6)
    with pytest.raises(Refusal, match="no line of a program"):
        restart(job, PROGRAM, -3)
    with pytest.raises(Refusal, match="none of the plan's programs"):
        restart(job, "../job.toml", 100)


def test_on_the_command_line(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["restart", str(job), "--program", PROGRAM, "--line", "300"]) == 0
    assert "goes on with line 300" in capsys.readouterr().out
    assert main(["restart", str(job), "--program", PROGRAM, "--line", "7", "--json"]) == 0
    assert '"passed": true' in capsys.readouterr().out
