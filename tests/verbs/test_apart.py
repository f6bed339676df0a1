"""Pieces of one job whose programs are written in processes of their own."""

from __future__ import annotations

from pathlib import Path

import manifold3d
import pytest

from witnessmark.cli.main import main
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job, save_job
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs import apart, make
from witnessmark.verbs.apart import NoAnswer, written_apart
from witnessmark.verbs.make import plan, program

SIZES = ["--travel", "300x400x90", "--cutter", "6", "--stick-out", "45", "--nut", "20x20", "--nose", "65"]


def block(x_mm: float) -> Solid:
    return Solid(manifold3d.Manifold.cube((x_mm, 30.0, 12.0)).translate((-x_mm / 2, -15.0, 0.0)))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three blocks in one job, planned on coarse grids; the one in the middle is the largest."""
    root = tmp_path_factory.mktemp("apart")
    made = root / "job"
    shape = write_stl(block(40.0), root / "small.stl")
    assert main(["new", str(made), "--shape", str(shape), *SIZES, "--yes"]) == 0
    job = load_job(made)
    (small,) = job.pieces
    pieces = [small]
    for name, x_mm in (("large", 70.0), ("middling", 50.0)):
        write_stl(block(x_mm), made / f"{name}.stl")
        blank = small.blank.model_copy(update={"size_x_mm": small.blank.size_x_mm + x_mm - 40.0})
        pieces.append(small.model_copy(update={"name": name, "shape": f"{name}.stl", "blank": blank}))
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.5})
    save_job(job.model_copy(update={"pieces": tuple(pieces), "settings": settings}), made)
    plan(made)
    return made


def written(folder: Path) -> dict[str, str]:
    told = []
    plans = program(folder, lambda words, _ratio: told.append(words))
    assert [p.piece.name for p in plans] == ["small", "large", "middling"]
    for planned in plans:
        assert any(words.startswith(f"{planned.piece.name}: ") for words in told)
    out = folder / "out" / "drafts"
    return {path.name: path.read_text() for path in out.iterdir()}


def test_programs_are_the_same_whoever_writes_them(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two helpers, one helper, none: the same texts in the same order, and progress told of every piece."""
    texts = []
    for count in (3, 2, 1):
        monkeypatch.setattr(make, "thread_count", lambda count=count: count)
        texts.append(written(folder))
    assert texts[0] == texts[1] == texts[2]
    assert len(texts[0]) > 3


def test_where_the_other_process_dies_the_work_is_done_here(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(make, "thread_count", lambda: 2)
    whole = written(folder)
    for nothing in ("/bin/false", "/nowhere/python"):
        monkeypatch.setattr(apart.sys, "executable", nothing)
        with pytest.raises(NoAnswer):
            written_apart(folder, "small", lambda _words, _ratio: None)
        assert written(folder) == whole


def test_a_refusal_comes_back_as_it_is(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(Refusal) as refused:
        written_apart(tmp_path, "small", lambda _words, _ratio: None)
    assert "job.toml" in str(refused.value)
