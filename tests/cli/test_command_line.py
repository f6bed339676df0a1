"""The command line: help at once, exit statuses, JSON, sizes, and folders made whole or not at all."""

import json
import subprocess
import sys
from pathlib import Path

import manifold3d
import pytest

from witnessmark.cli.main import main
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl

SIZES = ["--travel", "300x400x90", "--cutter", "6", "--stick-out", "45", "--nut", "20x20", "--nose", "65"]
HEAVY = ("numpy", "numba", "scipy", "shapely", "manifold3d", "matplotlib", "pydantic", "rich")
VERBS = ("look", "new", "check", "plan", "program", "prove", "sheet", "demo")


@pytest.fixture(scope="module")
def block(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A block of 120 x 80 x 25 mm with a pocket, as an STL file."""
    solid = manifold3d.Manifold.cube((120, 80, 25), True) - manifold3d.Manifold.cube((80, 40, 10), True).translate(
        (0, 0, 12.5)
    )
    return write_stl(Solid(solid), tmp_path_factory.mktemp("shapes") / "block.stl")


def test_help_imports_nothing_heavy() -> None:
    """Asking for help of any verb loads no numerical or drawing library, so it answers at once."""
    code = (
        "import sys, contextlib, io\n"
        "from witnessmark.cli.main import main\n"
        f"for words in ([], *([v] for v in {VERBS!r})):\n"
        "    with contextlib.suppress(SystemExit), contextlib.redirect_stdout(io.StringIO()) as out:\n"
        "        main([*words, '--help'])\n"
        "    assert 'usage: witnessmark' in out.getvalue()\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_look_answers_from_a_shape_and_six_sizes(
    block: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Words, assumptions and a picture; exit status 0 for a piece that can be made."""
    picture = tmp_path / "look.png"
    assert main(["look", str(block), *SIZES, "--picture", str(picture)]) == 0
    said = capsys.readouterr().out
    assert "It can be made" in said
    assert "mm assumed" in said
    assert "30 mm round it" in said
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_look_in_json_and_inches(block: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The JSON answer holds the placements; a size with its unit is read."""
    inches = [
        "--travel",
        "12x16x3.5in",
        "--cutter",
        "1/4 in",
        "--stick-out",
        "1.75 in",
        "--nut",
        "20x20",
        "--nose",
        "65",
    ]
    assert main(["look", str(block), *inches, "--json", "--picture", str(tmp_path / "p.png")]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["fits"] is True
    assert len(answer["placements"]) >= 1


def test_all_missing_sizes_are_named_at_once(block: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is missing or wrong among the sizes comes in one answer, each with an example; exit status 1."""
    assert main(["look", str(block), "--travel", "300x400", "--cutter", "six"]) == 1
    said = capsys.readouterr().err
    for option in ("--travel 300x400", "--cutter six", "--stick-out", "--nut", "--nose"):
        assert option in said


def test_new_makes_a_folder_that_plans(block: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """new --yes takes the stated defaults; check and plan go on from there, a second new is refused."""
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--shape", str(block), *SIZES, "--yes"]) == 0
    assert main(["check", str(folder)]) == 0
    assert main(["plan", str(folder), "--json"]) == 0
    out = capsys.readouterr().out
    plan = json.loads(out[out.index("[") :])
    assert plan[0]["bound"] == len(plan[0]["placements"])
    assert (folder / "out" / "plan.txt").is_file()
    assert main(["new", str(folder), "--shape", str(block), *SIZES, "--yes"]) == 1
    assert "is there already" in capsys.readouterr().err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job"]


@pytest.mark.parametrize("verb", ["plan", "program", "prove", "sheet", "check"])
def test_a_folder_without_a_job_is_refused(verb: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every verb on an empty folder says what is missing and what to do; exit status 1."""
    assert main([verb, str(tmp_path)]) == 1
    assert "job.toml" in capsys.readouterr().err


def test_verbs_out_of_order_say_what_to_run(block: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """program before plan, prove before program: the answer names the verb to run first."""
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--shape", str(block), *SIZES, "--yes"]) == 0
    assert main(["program", str(folder)]) == 1
    assert "witnessmark plan" in capsys.readouterr().err
    assert main(["plan", str(folder)]) == 0
    assert main(["prove", str(folder)]) == 1
    assert "witnessmark program" in capsys.readouterr().err


def test_demo_leaves_a_folder_it_did_not_make_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that no demo made is refused and stays as it was."""
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("kept")
    assert main(["demo", "--out", str(tmp_path / "mine")]) == 1
    assert "no demo made it" in capsys.readouterr().err
    assert (tmp_path / "mine" / "letter.txt").read_text() == "kept"


def test_wrong_words_end_with_status_two() -> None:
    """A verb that is none is the command line's own complaint."""
    with pytest.raises(SystemExit) as stop:
        main(["carve"])
    assert stop.value.code == 2
