"""A program from anywhere is proven without a job: on a machine, with a cutter, in a blank."""

import json

import manifold3d
import numpy as np
import pytest

from witnessmark.cli.main import main
from witnessmark.shapes.read import read_solid
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl

LINES = [
    "G21 G17 G90 G94",
    "S18000 M3",
    "G0 Z{safe}",
    "G0 X10 Y10",
    "G1 Z{low} F300",
    "G1 X90 F1200",
    "G0 Z{safe}",
    "M5",
    "M2",
]
SIZES = ["--machine", "three-hundred router", "--cutter", "flat 6", "--blank", "100x60x20"]


@pytest.fixture
def groove(tmp_path):
    def write(low: float, safe: float = 30.0, **change: str):
        text = "\n".join(LINES).format(low=low, safe=safe) + "\n"
        for old, new in change.items():
            text = text.replace(old, new)
        path = tmp_path / "groove.nc"
        path.write_text(text)
        return path

    return write


def record(words: list[str], capsys) -> tuple[int, dict]:
    capsys.readouterr()
    status = main(["prove", *words, "--pitch", "0.5", "--json"])
    return status, json.loads(capsys.readouterr().out)


def test_a_groove_is_proven_and_measured(groove, capsys) -> None:
    """A slot of 80 x 6 mm with round ends, 5 mm deep: 80 * 6 * 5 + pi * 9 * 5 = 2541 mm3."""
    status, told = record([str(groove(15.0)), *SIZES], capsys)
    assert status == 0
    (row,) = told["programs"]
    assert row["removed_mm3"] == pytest.approx(2541.4, rel=0.02)
    assert row["lowest_tip_mm"] == 15.0
    assert row["peak_bite_mm"] == pytest.approx(1200 / (18000 * 2), abs=1e-4)
    # 6 mm wide and 5 mm deep at 1200 mm/min; the cells of a slot between two of their rows are off by a row at most
    assert row["peak_removal_mm3_min"] == pytest.approx(6 * 5 * 1200, rel=0.09)
    assert (row["deepest_cut_mm"], row["deepest_cut_line"]) == (5.0, 5)
    assert row["widest_cut_mm"] == pytest.approx(6.0, rel=0.09)
    assert row["widest_cut_line"] == 6
    assert sum(row["removed_by_minute_mm3"]) == pytest.approx(row["removed_mm3"], abs=1.0)
    assert row["cutting_m"] == pytest.approx(0.08 + 0.015, abs=1e-3)  # 80 mm along, 15 mm down at the feed
    assert row["cutting_minutes"] + row["rapid_minutes"] == pytest.approx(row["minutes"], abs=0.02)
    assert any("no piece was given" in line for line in told["assumed"])


def test_zero_may_be_the_top_of_the_blank(groove, capsys) -> None:
    status, told = record([str(groove(-5.0, 10.0)), *SIZES, "--zero", "top"], capsys)
    assert status == 0
    assert told["programs"][0]["lowest_tip_mm"] == 15.0
    status, told = record([str(groove(-5.0, 10.0)), *SIZES], capsys)
    assert status == 1
    assert "into the supporting face" in {finding["kind"] for finding in told["findings"]}


def test_blank_and_program_lie_where_they_are_said_to(groove, capsys) -> None:
    _, told = record([str(groove(15.0)), *SIZES, "--corner", "200x0"], capsys)
    assert told["programs"][0]["removed_mm3"] == 0.0
    status, told = record([str(groove(15.0)), *SIZES, "--origin", "250x0"], capsys)
    assert status == 1
    assert "outside travel" in {finding["kind"] for finding in told["findings"]}


def test_faults_are_named_with_their_lines(groove, capsys) -> None:
    status, told = record([str(groove(15.0, M3="M5")), *SIZES], capsys)
    assert status == 1
    (off,) = [finding for finding in told["findings"] if finding["kind"] == "spindle off while cutting"]
    assert off["line"] == 5
    status, told = record([str(groove(15.0, **{"G0 Z30": "G0 Z18", "M5": "G0 X30 Y40\nM5"})), *SIZES], capsys)
    assert "rapid through wood" in {finding["kind"] for finding in told["findings"]}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (["--machine", "three hundred router"], "did you mean three-hundred router?"),
        (["--cutter", "flat 66"], "did you mean flat 6?"),
        (["--blank", "100x60"], "3 lengths joined by x"),
        (["--blank", "100x60x200"], "under the gantry"),
        (["--blank", "1e9x60x20"], "not a length"),
        (["--pitch", "9"], "too coarse"),
        (["--pitch", "-1"], "the cells of a proof have a size"),
        (["--pitch", "nan"], "the cells of a proof have a size"),
        (["--blank", "90000x90000x20"], "can be held"),
        (["--machine", "x" * 5000], "is not known"),
        (["--at", "1x1x1"], "is said of a shape, and none is named"),
        (["--shape", "none.stl"], "cannot be read"),
        (["--check", "x" * 5000], "cannot be read: File name too long"),
        (["--check", "."], "cannot be read: Is a directory"),
    ],
)
def test_what_cannot_be_is_refused(groove, capsys, change, says) -> None:
    words = [str(groove(15.0)), *SIZES, *change]
    assert main(["prove", *words]) == 1
    assert says in capsys.readouterr().err


def test_what_is_missing_is_asked_for(groove, capsys) -> None:
    assert main(["prove", str(groove(15.0))]) == 1
    told = capsys.readouterr().err
    for name in ("--machine", "--cutter", "--blank"):
        assert f"{name}: is needed" in told


def test_in_words(groove, capsys) -> None:
    assert main(["prove", str(groove(15.0)), *SIZES, "--pitch", "0.5"]) == 0
    said = capsys.readouterr().out
    assert "nothing stops it" in said
    assert "2.5 cm3 of wood" in said


@pytest.fixture
def grooved(tmp_path):
    """The piece that the groove makes of the whole blank: its own zero in the middle of its lower face."""

    def write(depth: float = 5.0) -> str:
        turn = np.linspace(0, np.pi, 120)
        right = np.column_stack([40 + 3 * np.sin(turn), -20 - 3 * np.cos(turn)])
        left = np.column_stack([-40 - 3 * np.sin(turn), -20 + 3 * np.cos(turn)])
        groove = manifold3d.CrossSection([np.vstack([right, left]).tolist()]).extrude(9.0)
        block = manifold3d.Manifold.cube((100, 60, 20), True).translate((0, 0, 10))
        solid = Solid(block - groove.translate((0, 0, 20 - depth)))
        return str(write_stl(solid, tmp_path / "grooved.stl"))

    return write


def test_what_is_made_is_judged_against_a_shape(groove, grooved, capsys) -> None:
    words = [str(groove(15.0)), *SIZES, "--shape", grooved(), "--at", "50x30x0"]
    status, told = record(words, capsys)
    assert status == 0
    assert told["worst_gouge_mm"] < 0.01
    assert told["worst_leftover_mm"] < 0.01
    assert told["piece"] == "grooved.stl"
    assert any("its own zero at x 50 y 30 z 0" in line for line in told["assumed"])


def test_a_groove_too_deep_or_too_shallow_for_the_shape_is_told(groove, grooved, capsys) -> None:
    """The groove is as wide as the cutter: what is left at its bottom is a fault, for the cutter went in."""
    for depth, kind in ((4.8, "gouge"), (5.2, "leftover")):
        words = [str(groove(15.0)), *SIZES, "--shape", grooved(depth), "--at", "50x30x0"]
        status, told = record(words, capsys)
        assert status == 1
        stops = {finding["kind"] for finding in told["findings"] if finding["harm"] == "stop"}
        assert stops == {kind}
        if kind == "gouge":
            assert max(f["by_mm"] for f in told["findings"] if f["kind"] == kind) == pytest.approx(0.2, abs=0.01)


def test_a_shape_that_reaches_out_of_the_blank_is_refused(groove, grooved, capsys) -> None:
    assert main(["prove", str(groove(15.0)), *SIZES, "--shape", grooved(), "--at", "51x30x0"]) == 1
    assert "reaches 1.00 mm out of the blank" in capsys.readouterr().err


def test_several_programs_run_one_after_the_other(groove, tmp_path, capsys) -> None:
    """The second goes 2 mm deeper in the same groove with the same cutter: it removes 2 / 5 of the first."""
    first = groove(15.0)
    second = tmp_path / "deeper.nc"
    second.write_text(first.read_text().replace("Z15.0", "Z13.0"))
    status, told = record([str(first), str(second), *SIZES], capsys)
    assert status == 0
    one, two = told["programs"]
    assert two["removed_mm3"] == pytest.approx(0.4 * one["removed_mm3"], rel=1e-3)
    assert two["deepest_cut_mm"] == pytest.approx(2.0, abs=1e-4)


def test_each_program_may_have_a_cutter_of_its_own(groove, tmp_path, capsys) -> None:
    first = groove(15.0)
    second = tmp_path / "narrow.nc"
    second.write_text(first.read_text().replace("Z15.0", "Z13.0"))
    status, told = record([str(first), str(second), *SIZES, "--cutter", "flat 3"], capsys)
    assert [row["cutter"] for row in told["programs"]] == ["flat 6", "flat 3"]
    assert status == 0
    assert main(["prove", str(first), *SIZES, "--cutter", "flat 3"]) == 1
    assert "is given 2 times for 1 files" in capsys.readouterr().err


def test_what_is_left_of_the_wood_is_written_as_a_solid(groove, tmp_path, monkeypatch, capsys) -> None:
    """The blank less the groove, but for the mesh's rim, half a cell's step and more inside the wood."""
    monkeypatch.chdir(tmp_path)
    status, told = record([str(groove(15.0)), *SIZES, "--made"], capsys)
    assert status == 0
    assert told["made"] == ["made.stl", "made.3mf"]
    for name in told["made"]:
        reading = read_solid(tmp_path / name)
        assert reading.health.sound
        low, high = reading.solid.bounds_mm
        assert high - low == pytest.approx([100, 60, 20], abs=1.01)
        assert reading.solid.volume_mm3 == pytest.approx(100 * 60 * 20 - 2541, rel=0.02)


def test_one_job_at_a_time(tmp_path, capsys) -> None:
    assert main(["prove", str(tmp_path), str(tmp_path)]) == 1
    assert "is one folder too many" in capsys.readouterr().err
