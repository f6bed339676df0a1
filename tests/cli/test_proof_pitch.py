"""prove --pitch: a grid that would prove nothing, or that no memory holds, is refused before anything is touched."""

from __future__ import annotations

import math
import re
from pathlib import Path

import manifold3d
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.cli.main import main
from witnessmark.job.checks import MOST_CELLS, proof_pitch_troubles
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job, save_job
from witnessmark.job.models import Blank, Cutter
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.prove import prove

SIZES = ["--travel", "300x400x90", "--cutter", "6", "--stick-out", "45", "--nut", "20x20", "--nose", "65"]
NO_PITCH = (0.0, -1.0, math.nan, math.inf, -math.inf)
TOO_COARSE = (3.001, 6.0, 1e9)
TOO_FINE = (1e-9, 1e-300, 5e-324, 0.001)


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job of a block, with a cutter of 6 mm; planned, its programs written and proven."""
    root = tmp_path_factory.mktemp("pitch")
    shape = write_stl(Solid(manifold3d.Manifold.cube((40.0, 30.0, 12.0), True)), root / "block.stl")
    folder = root / "block"
    assert main(["new", str(folder), "--shape", str(shape), *SIZES, "--yes"]) == 0
    made = load_job(folder)
    coarse = made.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.5})
    save_job(made.model_copy(update={"settings": coarse}), folder)
    assert [main([verb, str(folder)]) for verb in ("plan", "program", "prove")] == [0, 0, 0]
    return folder


def results(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in (folder / "out").rglob("*") if path.is_file()}


@pytest.mark.parametrize("pitch_mm", [*NO_PITCH, *TOO_COARSE, *TOO_FINE])
def test_it_is_refused_with_what_would_do_and_nothing_is_taken_back(
    pitch_mm: float, job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """At the command line and in Python alike; the programs handed out before stay as they are."""
    before = results(job)
    assert any(path.endswith(".nc") and "programs" in path for path in before)
    capsys.readouterr()
    assert main(["prove", str(job), f"--pitch={pitch_mm}"]) == 1
    said = capsys.readouterr().err
    assert said.startswith(f"--pitch: is {pitch_mm:g}")
    assert re.search(r"(?m)^  - give .*\d|^  - set it to at most 3$", said), said
    with pytest.raises(Refusal, match="--pitch"):
        prove(job, pitch_mm=pitch_mm)
    assert results(job) == before


@pytest.mark.parametrize("pitch_mm", [3.0, 0.25])
def test_the_coarsest_that_is_allowed_and_a_fine_one_are_taken(pitch_mm: float, job: Path) -> None:
    """Half the smallest cutter's diameter is still judged, on the pitch asked for."""
    (verdict,) = prove(job, pitch_mm=pitch_mm).verdicts.values()
    assert verdict.pitch_mm == pitch_mm


lengths_mm = st.floats(1.0, 5000.0)


@given(lengths_mm, lengths_mm, st.floats(0.1, 50.0), st.floats(allow_nan=True, allow_infinity=True))
def test_the_remedy_is_one(x_mm: float, y_mm: float, diameter_mm: float, pitch_mm: float) -> None:
    """Whatever is asked for, what is named in its place is a pitch that can be had, but for cutters of a hair."""
    blank = Blank(size_x_mm=x_mm, size_y_mm=y_mm, size_z_mm=20.0)
    cutter = Cutter(
        name="flat",
        kind="flat",
        diameter_mm=diameter_mm,
        flute_length_mm=20,
        stickout_mm=30,
        shank_diameter_mm=6,
    )
    finest_mm = math.sqrt(x_mm * y_mm / MOST_CELLS)
    for trouble in proof_pitch_troubles("--pitch", pitch_mm, [cutter], [blank]):
        named_mm = float(re.findall(r"[\d.]+(?:e-?\d+)?", trouble.remedies[0])[-1])
        assert trouble.where == "--pitch"
        if finest_mm * 1.01 + 0.001 < diameter_mm / 2:
            assert proof_pitch_troubles("--pitch", named_mm, [cutter], [blank]) == []


@pytest.mark.parametrize("option", ["pitch", "board", "flutes", "nose-above-bed", "blank", "thick"])
def test_a_size_of_nothing_is_told_what_it_is_and_what_is_allowed(
    option: str, job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """look and new name the option, what it measures, that it is more than 0, and an example."""
    shape = job / "block.stl"
    capsys.readouterr()
    assert main(["look", str(shape), *SIZES, f"--{option}={'0x1x1' if option == 'blank' else 0}"]) == 1
    said = capsys.readouterr().err
    assert re.search(rf"(?m)^  - the .*more than 0.*: --{option} \d|^  - from .*more than 0: --{option} \d", said), (
        said
    )
