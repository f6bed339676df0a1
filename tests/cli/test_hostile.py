"""Mistaken and hostile inputs: each ends in words with the place and what to do, and nothing is half-made."""

import os
import re
from pathlib import Path

import manifold3d
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.cli.main import main
from witnessmark.job.files import load_job, save_job
from witnessmark.job.names import file_stem, is_name, leads_elsewhere, name_from
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl

SIZES = {"--travel": "300x400x90", "--cutter": "6", "--stick-out": "45", "--nut": "20x20", "--nose": "65"}
BLOCK = manifold3d.Manifold.cube((120, 80, 25), True)


@pytest.fixture
def block(tmp_path: Path) -> Path:
    """A block of 120 x 80 x 25 mm."""
    return write_stl(Solid(BLOCK), tmp_path / "block.stl")


@pytest.fixture
def job(block: Path, tmp_path: Path) -> Path:
    """A job of the block that can be planned."""
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--shape", str(block), *sizes(), "--yes"]) == 0
    return folder


def sizes(**changed: str) -> list[str]:
    """The sizes as typed, with some changed or added: ``travel="0x1x2"``."""
    given = SIZES | {"--" + key.replace("_", "-"): value for key, value in changed.items()}
    return [f"{option}={value}" for option, value in given.items()]


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """What the command says when it says no: status 1, no traceback, a place, and a remedy under it."""
    capsys.readouterr()
    assert main(list(words)) == 1
    said = capsys.readouterr().err
    assert "Traceback" not in said
    said = re.sub(r"(?m)^  (?!- ).*\n", "", said)  # what was being done
    troubles = [line for line in said.splitlines() if not line.startswith("  ")]
    assert troubles, said
    assert all(": " in line for line in troubles), said
    assert re.search(r"^  - \w", said, re.MULTILINE), said
    return said


def everything_in(folder: Path) -> dict[str, bytes]:
    """All files under a folder, by name; a link counts as its name."""
    found = {}
    for path in sorted(folder.rglob("*")):
        plain = path.is_file() and not path.is_symlink()
        found[str(path.relative_to(folder))] = path.read_bytes() if plain else b""
    return found


@pytest.mark.parametrize(
    ("option", "typed"),
    [
        *(("pitch", value) for value in ("0", "-5", "nan", "inf", "1e9", "six", "")),
        *(("travel", value) for value in ("0x400x90", "-300x400x90", "nanx400x90", "300x400", "300x400x0")),
        *(("cutter", value) for value in ("0", "-6", "1/0 in", "6 furlongs")),
        *(("blank", value) for value in ("0x1x1", "-1x200x30")),
        ("stick_out", "0"),
        ("board", "-18"),
    ],
)
def test_lengths_that_are_none_are_refused_by_their_option(
    option: str, typed: str, block: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing, less than nothing, no number or no unit: the option is named as typed, and no picture is made."""
    picture = tmp_path / "look.png"
    said = refused(capsys, "look", str(block), *sizes(**{option: typed}), "--picture", str(picture))
    assert said.startswith(f"--{option.replace('_', '-')} {typed}")
    assert not picture.exists()


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"stick_out": "20", "flutes": "30"}, "longer than the 20 mm that stick out"),
        ({"cutter": "0.001"}, "too coarse for cutter"),
        ({"cutter": "600", "stick_out": "60"}, "thicker than the collet nut"),
        ({"blank": "1000000x1000000x30"}, "wrong unit"),
        ({"travel": "1x1x1"}, "cannot be lifted over the blank"),
        ({"board": "1000"}, "cannot be lifted over the blank"),
        ({"nose_above_bed": "1"}, "cannot be lifted over the blank"),
        ({"travel": "1x1x90"}, "no placement reaches anything of it"),
        ({"blank": "200x200x10"}, "at least 25.0 mm along z (it is 10.0)"),
        ({"blank": "100x60x30"}, "at least 120.0 mm along x (it is 100.0)"),
        ({"blank": "100x60x30"}, "at least 80.0 mm along y (it is 60.0)"),
        ({"blank": "120x80x25"}, "nothing to cut"),
    ],
)
def test_sizes_that_do_not_go_together_are_refused(
    changed: dict[str, str], expected: str, block: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each alone is a length; together they cannot be: said with what would do, before anything is drawn."""
    picture = tmp_path / "look.png"
    said = refused(capsys, "look", str(block), *sizes(**changed), "--picture", str(picture))
    assert expected in said
    assert not picture.exists()


@pytest.mark.parametrize("pitch", ["100000000", "0.00001", "1/64 in"])
def test_a_pitch_of_any_length_is_answered(pitch: str, block: Path, tmp_path: Path) -> None:
    """A pitch far too great or too small costs no more time than any other."""
    picture = tmp_path / "look.png"
    assert main(["look", str(block), *sizes(pitch=pitch, travel="150x400x90"), "--picture", str(picture)]) in (0, 1)


def test_all_in_inches_is_the_same_as_in_millimetres(
    block: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A whole job typed in inches holds the same lengths, is kept as typed when it is changed, and can be planned."""
    inches = ["--travel=12x16x3 1/2 in", "--cutter=1/4 in", "--stick-out=1 3/4 in", "--nut=0.8x0.8 in"]
    inches += ["--nose=2-1/2 in", "--blank=7x6x1 1/4 in"]
    folder = tmp_path / "inches"
    assert main(["new", str(folder), "--shape", str(block), *inches, "--yes"]) == 0
    text = (folder / "job.toml").read_text()
    for mm, typed in (("304.8", '"12 in"'), ("44.45", '"1 3/4 in"'), ("6.35", '"1/4 in"')):
        assert f"= {mm}\n" in text
        text = text.replace(f"= {mm}\n", f"= {typed}\n")
    before = load_job(folder)
    (folder / "job.toml").write_text(text)
    assert load_job(folder) == before
    save_job(before.model_copy(update={"name": "renamed"}), folder)
    assert '"1 3/4 in"' in (folder / "job.toml").read_text()
    assert main(["check", str(folder)]) == 0
    assert main(["plan", str(folder)]) == 0


@pytest.mark.parametrize(
    "name", ["my \"block\" 'x' ü.stl", "Kästchen 木.stl", " blank.stl", "-lead.stl", "100%s{}.stl", "x" * 80 + ".stl"]
)
def test_names_with_spaces_quotes_and_other_scripts_are_names(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A shape's file is called what its maker calls it; the job made of it is planned, its results plainly named."""
    shape = write_stl(Solid(BLOCK), tmp_path / name)
    folder = tmp_path / f"job of {name[:40]}"
    assert main(["new", str(folder), f"--shape={shape}", *sizes(), "--yes"]) == 0
    assert main(["plan", str(folder), "--json"]) == 0
    assert (folder / "out" / "plan.toml").is_file()
    (piece,) = load_job(folder).pieces
    assert piece.shape == name
    stem = file_stem(piece.name)
    assert re.fullmatch("[a-z0-9-]+", stem)
    fields = [path.name for path in (folder / "out" / "fields").iterdir()]
    assert fields
    assert all(re.fullmatch(rf"{stem}-[a-z0-9-]+\.npz", file) for file in fields), fields


def test_a_name_that_cannot_be_printed_becomes_one_that_can(tmp_path: Path) -> None:
    """A line break in a file's name is no reason to refuse the shape; the piece gets a name without it."""
    shape = write_stl(Solid(BLOCK), tmp_path / "a\nb.stl")
    assert main(["new", str(tmp_path / "job"), f"--shape={shape}", *sizes(), "--yes"]) == 0
    assert load_job(tmp_path / "job").pieces[0].name == "a b"


@given(st.text(max_size=100))
def test_every_stem_gives_a_name(stem: str) -> None:
    """Whatever a file is called, the name made of it can be printed and stays in its folder."""
    assert is_name(name_from(stem))
    assert not leads_elsewhere(name_from(stem))


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (("block", "block"), "is also the name of"),
        (("block", " Block "), "is also the name of"),
        (("木", "火"), "files of one name"),
        (("lid 1", "lid-1"), "files of one name"),
        (("../../away", "b"), "lead to another folder"),
        (("a/b", "b"), "lead to another folder"),
        ((".hidden", "b"), "lead to another folder"),
        (("", "b"), "not a name"),
        (("x" * 61, "b"), "not a name"),
    ],
)
def test_names_that_clash_or_lead_elsewhere_are_refused(
    names: tuple[str, str], expected: str, job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two pieces of one name, names that become one name of a file, names that would write outside the job."""
    text = (job / "job.toml").read_text()
    start = text.index("[[pieces]]")
    end = text.index("\n[settings]") if "\n[settings]" in text[start:] else len(text)
    rows = [re.sub(r'(?m)^name = ".*"$', lambda _, n=name: f'name = "{n}"', text[start:end]) for name in names]
    (job / "job.toml").write_text(text[:start] + "\n".join(rows) + text[end:])
    before = everything_in(job.parent)
    for verb in ("check", "plan"):
        said = refused(capsys, verb, str(job))
        assert said.startswith("job.toml, pieces[")
        assert expected in said
    assert everything_in(job.parent) == before


@pytest.mark.parametrize("verb", ["check", "plan", "program", "prove", "sheet"])
@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("empty", "machine: is missing"),
        ("folder", "is no file"),
        ("latin", "line 2: is not UTF-8 text"),
        ("wide", "is not UTF-8 text"),
        ("large", "larger than 1 MB"),
        ("pipe", "is no file"),
        ("long", "cannot be read"),
    ],
)
def test_what_is_no_job_file_is_refused(
    kind: str, expected: str, verb: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Empty, a folder, not UTF-8, 100 MB, a pipe, a name too long: said at once, and nothing is made."""
    folder = tmp_path / ("x" * 300 if kind == "long" else "job")
    file = folder / "job.toml"
    if kind != "long":
        folder.mkdir()
    if kind == "folder":
        file.mkdir()
    elif kind == "pipe":
        os.mkfifo(file)
    elif kind == "large":
        with file.open("wb") as large:
            large.truncate(100_000_000)
    elif kind != "long":
        file.write_bytes(
            {"empty": b"", "latin": b'# fine\nname = "K\xe4stchen"\n', "wide": 'name = "x"'.encode("utf-16")}[kind]
        )
    there = sorted(path.name for path in tmp_path.rglob("*"))
    said = refused(capsys, verb, str(folder))
    assert expected in said
    assert "job.toml" in said
    assert sorted(path.name for path in tmp_path.rglob("*")) == there


@pytest.mark.parametrize("verb", ["plan", "program", "prove", "sheet"])
@pytest.mark.parametrize("kind", ["a file", "no folder"])
def test_results_that_cannot_be_written_are_refused(
    kind: str, verb: str, job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``out`` is a file, or leads to where nobody may write: the place is named, and the job stays as it was."""
    if kind == "a file":
        (job / "out").write_text("mine")
    else:
        (job / "out").symlink_to("/proc/nowhere")
    before = everything_in(job)
    said = refused(capsys, verb, str(job))
    assert "out" in said.splitlines()[-3]
    assert "cannot be written" in said
    assert everything_in(job) == before


def test_a_job_folder_that_is_read_only_is_refused(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What the system forbids is told with the file; the plan of before stays whole."""
    assert main(["plan", str(job)]) == 0
    before = everything_in(job)

    def forbidden(*_args: object, **_more: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("os.replace", forbidden)
    said = refused(capsys, "plan", str(job))
    assert "cannot be written (Permission denied)" in said
    assert everything_in(job) == before


@pytest.mark.parametrize("where", ["/proc/nowhere/job", "block.stl/job", "."])
def test_new_where_no_folder_can_be_made_is_refused(
    where: str, block: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder inside a file, in no folder, or there already: refused, nothing left behind."""
    monkeypatch.chdir(tmp_path)
    before = everything_in(tmp_path)
    refused(capsys, "new", where, "--shape", str(block), *sizes(), "--yes")
    assert everything_in(tmp_path) == before


@pytest.mark.parametrize(("blank", "axis"), [("200x200x10", "z"), ("100x200x40", "x"), ("200x60x40", "y")])
def test_a_blank_smaller_than_the_piece_is_refused_by_every_verb(
    blank: str, axis: str, block: Path, job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """new makes no folder of it; check and plan name the line of job.toml with the size that holds the piece."""
    said = refused(capsys, "new", str(tmp_path / "no"), "--shape", str(block), *sizes(blank=blank), "--yes")
    assert f"blank.size_{axis}_mm" in said
    assert not (tmp_path / "no").exists()
    short = dict(zip("xyz", blank.split("x")))[axis]
    text = re.sub(
        rf"(?m)^size_{axis}_mm = .*$(?=[^\[]*species)", f"size_{axis}_mm = {short}", (job / "job.toml").read_text()
    )
    (job / "job.toml").write_text(text)
    least = {"x": 120.0, "y": 80.0, "z": 25.0}[axis]
    for verb in ("check", "plan"):
        said = refused(capsys, verb, str(job))
        assert said.startswith(f"job.toml, piece block, blank.size_{axis}_mm: is larger than its blank")
        assert f"at least {least:.1f} mm along {axis}" in said
    text = re.sub(rf"(?m)^size_{axis}_mm = {short}$", f"size_{axis}_mm = {least + 1}", text)
    (job / "job.toml").write_text(text)
    assert main(["check", str(job)]) == 0


def test_flutes_longer_than_the_stick_out_are_refused(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The line of job.toml is named, with how both are measured."""
    text = re.sub(r"(?m)^stickout_mm = .*$", 'stickout_mm = "1/2 in"', (job / "job.toml").read_text())
    (job / "job.toml").write_text(text)
    said = refused(capsys, "plan", str(job))
    assert said.startswith("job.toml, cutters[1].flute_length_mm")
    assert "12.7 mm that stick out" in said


@pytest.mark.parametrize("picture", [".", "block.stl", "look.xyz", "block.stl/look.png", "/proc/nowhere/look.png"])
def test_a_picture_that_cannot_be_written_is_refused(
    picture: str, block: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder, the shape itself, no picture's name, no place: refused, and the shape is never written over."""
    monkeypatch.chdir(tmp_path)
    before = everything_in(tmp_path)
    refused(capsys, "look", "block.stl", *sizes(), "--picture", picture)
    assert everything_in(tmp_path) == before


def test_a_picture_is_never_drawn_over_a_shape_that_is_called_png(
    block: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Even by another name of the same file."""
    (tmp_path / "same.png").symlink_to(block)
    said = refused(capsys, "look", str(block), *sizes(), "--picture", str(tmp_path / "same.png"))
    assert "is the shape file itself" in said


@pytest.mark.parametrize("shape", [".", "", "nothere.stl", "x" * 300 + ".stl", "no\x00name.stl"])
def test_a_shape_that_is_no_file_is_refused(
    shape: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder, nothing, a name that is not there, too long or impossible."""
    monkeypatch.chdir(tmp_path)
    refused(capsys, "look", shape, *sizes())
    refused(capsys, "new", "job", f"--shape={shape}", *sizes(), "--yes")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("key", "value"),
    [("plan_pitch_mm", "50"), ("proof_pitch_mm", "4"), ("proof_pitch_mm", "nan"), ("plan_pitch_mm", "0")],
)
def test_cells_through_which_the_cutter_falls_are_refused(
    key: str, value: str, job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A plan or a proof on cells coarser than the cutter would be worth nothing."""
    text = re.sub(rf"(?m)^{key} = .*$", f"{key} = {value}", (job / "job.toml").read_text())
    (job / "job.toml").write_text(text)
    assert f"settings.{key}" in refused(capsys, "check", str(job))
