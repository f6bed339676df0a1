"""Shape files that no one of this project made, from the file to the proof: proven, failed with findings, or refused.

The files come from packages of the package index and a 3MF from lib3mf, as in tests/shapes/test_foreign_files.py;
tools/try_foreign_jobs.py, which tries all of them, drives them here.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MADE = {  # these must end proven, or the test could not fail
    "box.obj": "pyglet-2.1.19",
    "step_boundary_colors.stp": "gmsh-4.15.2",
    "R12_with_trash_beyond_EOF.dxf": "ezdxf-1.4.5",
    "test__circle.svg": "svgpathtools-1.8.0",
    "donate-button.svg": "svgpathtools-1.8.0",
    "sphere-surf.stl": "gmsh-4.15.2",  # stands on no face: held by bridges
}
UNDERCUT = {  # hidden from both sides up: no program of ours can make it, and the proof must say so
    "api__object.stl": "gmsh-4.15.2",
}
REFUSED = {  # and these are no closed shapes
    "surface1.stl": "gmsh-4.15.2",
    "ASCII_R12.dxf": "ezdxf-1.4.5",
    "output2.svg": "svgpathtools-1.8.0",
}


@pytest.fixture(scope="module")
def tool():
    """tools/try_foreign_jobs.py as a module."""
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        import try_foreign_jobs

        return try_foreign_jobs
    finally:
        sys.path.pop(0)


@pytest.fixture(scope="module")
def foreign(tool) -> Path:
    """The folder of fetched files; fails, and says how to fetch them, when they cannot be had."""
    try:
        return tool.fetch()
    except tool.FetchError as error:
        pytest.fail(f"{error}\nfetch them once with a connection: python tools/fetch_foreign.py")


def file_of(folder: Path, package: str, ending: str) -> Path:
    """The one file of a package whose name ends so."""
    (found,) = (path for path in (folder / package).iterdir() if path.name.endswith(ending))
    return found


def is_answer(record: dict, folder: Path) -> bool:
    """Whether a file ended in one of the three ways, with all that each must say."""
    handed_out = list((folder / "out" / "programs").glob("*.nc"))
    if record["outcome"] == "proven":
        return bool(handed_out) and not record["kinds"]
    if record["outcome"] == "failed":
        findings = record["findings"]
        return not handed_out and bool(findings) and all(f["what"] and f["where"] and f["remedies"] for f in findings)
    troubles = record["troubles"]
    named = any(record["file"] in t["where"] or Path(record["file"]).stem in t["where"] for t in troubles)
    return not handed_out and named and all(t["what"] and t["remedies"] for t in troubles)


@pytest.mark.slow
@pytest.mark.parametrize("ending", MADE)
def test_a_foreign_shape_ends_in_programs_that_are_proven(tool, foreign, tmp_path, ending):
    """Read, looked at, planned, programmed and proven; the programs are handed out."""
    folder = tmp_path / "job"
    record = tool.attempt(file_of(foreign, MADE[ending], ending), folder)
    assert record["outcome"] == "proven", record
    assert is_answer(record, folder)


@pytest.mark.slow
@pytest.mark.parametrize("ending", UNDERCUT)
def test_a_foreign_shape_that_cannot_be_made_ends_in_findings(tool, foreign, tmp_path, ending):
    """Not proven: findings that say what, where and what to do; no program is handed out."""
    folder = tmp_path / "job"
    record = tool.attempt(file_of(foreign, UNDERCUT[ending], ending), folder)
    assert record["outcome"] == "failed", record
    assert record["kinds"].keys() == {"leftover"}, record
    assert is_answer(record, folder), record


@pytest.mark.parametrize("ending", REFUSED)
def test_what_is_no_closed_shape_is_refused_with_its_name_and_a_remedy(tool, foreign, tmp_path, ending):
    """Refused while it is read; no job folder is made."""
    folder = tmp_path / "job"
    record = tool.attempt(file_of(foreign, REFUSED[ending], ending), folder)
    assert record["outcome"] == "refused", record
    assert is_answer(record, folder), record
    assert not folder.exists()


@pytest.mark.slow
def test_a_plate_written_as_3mf_by_lib3mf_is_proven(tool, foreign, tmp_path):
    """In centimetres, off its origin, with a pocket; no package with 3MF samples was found."""
    shape, folder = tmp_path / "plate.3mf", tmp_path / "job"
    script = Path(__file__).with_name("foreign_plate.py")
    subprocess.run([sys.executable, str(script), str(foreign / "lib3mf-2.5.0"), str(shape)], check=True, timeout=120)
    record = tool.attempt(shape, folder)
    assert record["size_mm"] == pytest.approx(60.0, abs=1e-3)
    assert record["outcome"] == "proven", record
    assert is_answer(record, folder)


@pytest.mark.slow
def test_a_child_that_does_not_come_back_is_told_as_a_hang(tool, foreign, tmp_path):
    """The table's other outcomes: out of time, with the verb it was in."""
    record = tool.attempt_apart(file_of(foreign, "pyglet-2.1.19", "box.obj"), tmp_path / "job", limit_s=0.5)
    assert record["outcome"] == "hang"


def test_the_command_line_tries_a_file_in_a_child_and_writes_its_line(tool, foreign, tmp_path, capsys):
    """One line of JSON for the file, the reason on the terminal."""
    table = tmp_path / "table.jsonl"
    path = file_of(foreign, "gmsh-4.15.2", "surface1.stl")
    assert tool.main([str(table), "--files", str(path)]) == 0
    assert '"outcome": "refused"' in table.read_text(encoding="utf-8")
    assert "1 refused" in capsys.readouterr().out
