"""The job's folder: what is written is read back, comments stay, and everything wrong is said at once."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
import tomlkit
from hand_written import HAND_WRITTEN, troubles
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.boards import Boards
from witnessmark.job.box import Box
from witnessmark.job.demonstration import box_job, demonstration_job, dish_job
from witnessmark.job.errors import Refusal
from witnessmark.job.files import JOB_FILE, job_from_text, load_job, save_job
from witnessmark.job.latch import Latch
from witnessmark.job.measure import MEASURE, how_to_measure
from witnessmark.job.models import (
    Blank,
    Controller,
    Cutter,
    Job,
    Machine,
    Model,
    MovableBoard,
    PieceSpec,
    Settings,
    Shoe,
    Wish,
)
from witnessmark.job.names import file_stem, leads_elsewhere
from witnessmark.job.rewrite import new_job_text, rewritten

# --- reading -------------------------------------------------------------------------------------------


def test_a_hand_written_job_is_read_with_inches_turned_to_mm(folder: Path) -> None:
    """Values with their unit come out in mm, left-out values take their default."""
    job = load_job(folder)
    assert job.machine.travel_y_mm == pytest.approx(400.05, abs=1e-12)
    assert job.cutters[0].diameter_mm == 6.35
    assert job.pieces[0].blank.glue_lines_z_mm == (20.7, 41.3)
    assert job.settings == Settings()


def test_a_mark_at_the_head_of_the_file_and_windows_line_ends_do_not_matter(folder: Path) -> None:
    """An editor's byte order mark and CRLF line ends are read like plain text."""
    plain = load_job(folder)
    (folder / JOB_FILE).write_bytes(b"\xef\xbb\xbf" + HAND_WRITTEN.replace("\n", "\r\n").encode())
    assert load_job(folder) == plain


def test_every_trouble_is_told_at_once() -> None:
    """A job with faults of many kinds is refused once, each fault with its key counted from one."""
    found = troubles(
        """
        name = 3
        frobs = 1
        [machine]
        travel_x = 300
        travel_y_mm = -4
        travel_z_mm = "1/0 in"
        nose_above_bed_mm = nan
        gantry_above_bed_mm = inf
        clear_width_mm = "wide"
        moves = "tabel"
        rapid_x_mm_min = true
        feed_max_mm_min = inf
        controller = {arcs = 1, decimals = 9}
        [[cutters]]
        name = "b"
        kind = "v"
        diameter_mm = 6
        flute_length_mm = 50
        stickout_mm = 45
        shank_diameter_mm = 6
        flutes = 2.5
        [[pieces]]
        name = "p"
        shape = "p.stl"
        blank = 4
        """
    )
    assert "text in quotes" in found["name"]
    assert "known here: name, machine" in found["frobs"]
    assert "did you mean travel_x_mm?" in found["machine.travel_x"]
    assert "is missing" in found["machine.travel_x_mm"]
    assert "jog to both ends" in found["machine.travel_x_mm"]
    assert "more than 0" in found["machine.travel_y_mm"]
    assert "1/0 in" in found["machine.travel_z_mm"]
    assert "not a number" in found["machine.nose_above_bed_mm"]
    assert "not a number" in found["machine.gantry_above_bed_mm"]
    assert "'wide'" in found["machine.clear_width_mm"]
    assert 'did you mean "table"?' in found["machine.moves"]
    assert "wants a number" in found["machine.rapid_x_mm_min"]
    assert "no end" in found["machine.feed_max_mm_min"]
    assert "true or false" in found["machine.controller.arcs"]
    assert "at most 6" in found["machine.controller.decimals"]
    assert "whole number" in found["cutters[1].flutes"]
    assert "table of keys" in found["pieces[1].blank"]
    assert len(found) == 16


@pytest.mark.parametrize("key", ["cutters", "pieces"])
def test_a_job_without_cutters_or_pieces_is_refused(key: str) -> None:
    """An empty list is told apart from a missing one, and both are refused."""
    lines = HAND_WRITTEN.split(f"[[{key}]]")[0]
    assert "lists none" in troubles(f"{key} = []\n{lines}")[key]
    assert "is missing" in troubles(lines)[key]


# --- hostile input -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b'name = "caf\xe9"\n', "line 1: is not UTF-8"),
        (b"name = 'x'\nother \xff\n", "line 2: is not UTF-8"),
        (b"a = " + b"[" * 200_000, "nested deeper"),
        (b"a = " + b"[" * 40 + b"]" * 40, "nested deeper"),
        (b"a." * 40 + b"b = 1", "nested deeper"),
        (b"#" * 1_000_001, "larger than 1 MB"),
        (b"name = \x00", "cannot be read"),
        (b"name = 'x'\nname = 'y'", "cannot be read"),
        (b"name = 2026-13-45", "cannot be read"),
        (b"name = [", "cannot be read"),
        (b"size = " + b"9" * 10_000, "cannot be read"),
        (b"machine = 3\ncutters = {}\npieces = 'x'\nsettings = []\nname = []", "wants a table of keys"),
        (b"cutters = [1, 'x', [2]]\npieces = [{}]", "cutters[1]: is 1"),
        (b"", "machine: is missing"),
        (b"".join(b"k%d = 1\n" % n for n in range(5000)), "more troubles like these"),
    ],
)
def test_hostile_or_broken_files_get_a_clear_refusal(tmp_path: Path, content: bytes, says: str) -> None:
    """Whatever stands in the file: a refusal of bounded length that names the file and what is wrong."""
    (tmp_path / JOB_FILE).write_bytes(content)
    with pytest.raises(Refusal) as caught:
        load_job(tmp_path)
    assert says in str(caught.value)
    assert "job.toml" in str(caught.value)
    assert len(str(caught.value)) < 12_000


@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace")))
@settings(max_examples=200)
def test_no_bytes_at_all_break_the_reader(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    """Random bytes and texts are refused, never a traceback."""
    folder = tmp_path_factory.getbasetemp()
    (folder / JOB_FILE).write_bytes(content)
    with pytest.raises(Refusal):
        load_job(folder)


anything = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**6), 10**6) | st.floats() | st.text(max_size=8),
    lambda part: st.lists(part, max_size=3) | st.dictionaries(st.text(max_size=8), part, max_size=3),
    max_leaves=6,
).filter(lambda value: value is not None)


@given(st.data())
@settings(max_examples=200, deadline=None)
def test_any_value_in_any_place_is_taken_or_refused(data: st.DataObject) -> None:
    """Put whatever TOML can hold in place of any value of a good job: a job or a refusal, never a traceback."""
    raw = tomllib.loads(HAND_WRITTEN)
    table: object = raw
    while isinstance(table, dict | list) and table:
        key = data.draw(st.sampled_from(range(len(table)) if isinstance(table, list) else sorted(table)))
        if not isinstance(table[key], dict | list) or data.draw(st.booleans()):
            table[key] = data.draw(anything.filter(_can_be_toml))
            break
        table = table[key]
    said = ""
    try:
        job_from_text(tomlkit.dumps(raw))
    except Refusal as refusal:
        said = str(refusal)
    assert not said or said.startswith("job.toml")


def _can_be_toml(value: object) -> bool:
    if isinstance(value, dict):
        return all(key.isprintable() and key and _can_be_toml(part) for key, part in value.items())
    if isinstance(value, list):
        return all(map(_can_be_toml, value))
    return value is not None


def test_a_folder_without_a_job_says_how_to_make_one(tmp_path: Path) -> None:
    """The missing file is named and the command that makes one."""
    with pytest.raises(Refusal, match="witnessmark new"):
        load_job(tmp_path)


# --- writing -------------------------------------------------------------------------------------------

mm = st.floats(0.01, 2000).map(lambda value: round(value, 4))
names = st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=12)


@st.composite
def cutters(draw: st.DrawFn, name: str) -> Cutter:
    kind = draw(st.sampled_from(["flat", "ball", "bull", "tapered_ball", "v", "drill"]))
    diameter_mm = draw(st.floats(0.5, 20))
    flute_mm = draw(st.floats(3.5, 60))
    rounded = kind in ("bull", "tapered_ball")
    return Cutter(
        name=name,
        kind=kind,
        diameter_mm=diameter_mm,
        flute_length_mm=flute_mm,
        stickout_mm=flute_mm + draw(st.floats(0, 50)),
        shank_diameter_mm=draw(st.floats(1, 20)),
        corner_radius_mm=diameter_mm / 2 * draw(st.floats(0.01, 1)) if rounded else 0.0,
        included_angle_deg=draw(st.floats(1, 179)) if kind in ("v", "drill", "tapered_ball") else 0.0,
        stepover_mm=diameter_mm * draw(st.floats(0.1, 1)),
        centre_cutting=draw(st.booleans()),
    )


@st.composite
def pieces(draw: st.DrawFn, name: str) -> PieceSpec:
    size_z_mm = draw(mm)
    lines = sorted({size_z_mm * part / 10 for part in draw(st.lists(st.integers(1, 9), max_size=3))})
    blank = Blank(
        size_x_mm=draw(mm),
        size_y_mm=draw(mm),
        size_z_mm=size_z_mm,
        below_mm=size_z_mm * draw(st.floats(0, 0.9)),
        grain_axis=draw(st.sampled_from(["x", "y", "z"])),
        glue_lines_z_mm=tuple(lines),
    )
    unit = draw(st.sampled_from([None, "mm", "inch"]))
    return PieceSpec(name=name, shape=draw(names), blank=blank, shape_unit=unit)


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    board = MovableBoard(thickness_mm=18, size_x_mm=520, size_y_mm=440, hole_pitch_mm=draw(mm))
    machine = Machine(
        name=draw(names),
        travel_x_mm=draw(mm),
        travel_y_mm=draw(mm),
        travel_z_mm=draw(mm),
        nose_above_bed_mm=draw(mm),
        gantry_above_bed_mm=draw(st.floats(20, 400)),
        clear_width_mm=draw(mm),
        board=draw(st.sampled_from([None, board])),
        shoe=draw(st.sampled_from([None, Shoe(diameter_mm=90, below_nose_mm=30)])),
        controller=draw(st.sampled_from([Controller(), Controller(arcs=False, units="inch", decimals=5)])),
    )
    unique = {"min_size": 1, "max_size": 3, "unique_by": str.casefold}
    unique_files = unique | {"unique_by": (str.casefold, file_stem)}
    piece_names = names.filter(lambda name: not leads_elsewhere(name))
    return Job(
        name=draw(names),
        machine=machine,
        cutters=tuple(draw(cutters(name)) for name in draw(st.lists(names, **unique))),
        pieces=tuple(draw(pieces(name)) for name in draw(st.lists(piece_names, **unique_files))),
        settings=draw(st.sampled_from([Settings(), Settings(scallop_mm=0.1, trench_mm=0)])),
        wish=draw(st.sampled_from([Wish(), Wish(first_up="-z", forbid_sides=("+x", "-y"))])),
    )


@given(jobs())
@settings(max_examples=60, deadline=None)
def test_a_fresh_job_text_reads_back_as_the_same_job(job: Job) -> None:
    """Every value of every model survives being written afresh."""
    assert job_from_text(new_job_text(job)) == job


@pytest.mark.parametrize("make", [demonstration_job, dish_job, box_job])
def test_the_demonstration_jobs_hold_together(make: Callable[[], Job], tmp_path: Path) -> None:
    """The jobs that ship pass every check a maker's job does, written to a folder and read back."""
    job = make()
    for piece in job.pieces:
        (tmp_path / piece.shape).write_text("solid", encoding="utf-8")
    save_job(job, tmp_path)
    assert load_job(tmp_path) == job


@given(jobs(), jobs())
@settings(max_examples=60, deadline=None)
def test_any_job_can_be_written_over_any_other(first: Job, second: Job) -> None:
    """Rewriting a file of one job with another, rows added, gone or in new order, reads back as the second."""
    assert job_from_text(rewritten(new_job_text(first), second)) == second
    assert job_from_text(rewritten(HAND_WRITTEN, second)) == second


def test_writing_what_was_read_changes_not_a_byte(folder: Path) -> None:
    """Comments, order, spelling of values and inches stay when nothing differs."""
    save_job(load_job(folder), folder)
    assert (folder / JOB_FILE).read_text(encoding="utf-8") == HAND_WRITTEN


def test_windows_line_ends_stay(folder: Path) -> None:
    """A file with CRLF line ends keeps them when it is written again."""
    (folder / JOB_FILE).write_bytes(HAND_WRITTEN.replace("\n", "\r\n").encode())
    save_job(load_job(folder), folder)
    assert (folder / JOB_FILE).read_bytes() == HAND_WRITTEN.replace("\n", "\r\n").encode()


def test_only_what_differs_is_changed(folder: Path) -> None:
    """One changed size changes one line, and its comment stays on it."""
    job = load_job(folder)
    longer = job.cutters[0].model_copy(update={"stickout_mm": 48.5})
    save_job(job.model_copy(update={"cutters": (longer, job.cutters[1])}), folder)
    before, after = HAND_WRITTEN.splitlines(), (folder / JOB_FILE).read_text(encoding="utf-8").splitlines()
    assert [(a, b) for a, b in zip(before, after) if a != b] == [("stickout_mm = 45", "stickout_mm = 48.5")]
    assert len(before) == len(after)


def test_comments_travel_with_the_cutter_they_speak_of(folder: Path) -> None:
    """Cutters put in another order, with one more, keep their comments; an optional table is added and taken away."""
    job = load_job(folder)
    third = job.cutters[1].model_copy(update={"name": "ball 3", "diameter_mm": 3.0})
    wider = job.machine.model_copy(update={"shoe": Shoe(diameter_mm=90, below_nose_mm=30)})
    save_job(job.model_copy(update={"cutters": (job.cutters[1], third, job.cutters[0]), "machine": wider}), folder)
    text = (folder / JOB_FILE).read_text(encoding="utf-8")
    assert text.index("# a birthday present") < text.index("ball 3") < text.index("# imperial shank")
    assert "# my tea chest, started in March" in text
    assert "# off the rule" in text
    assert load_job(folder).machine.shoe == wider.shoe
    save_job(job, folder)
    assert load_job(folder) == job
    assert "shoe" not in (folder / JOB_FILE).read_text(encoding="utf-8")


def test_inline_tables_are_rewritten_too() -> None:
    """Cutters listed in one line each, and dotted keys, are changed in their own manner."""
    head = HAND_WRITTEN.split("# the good one")[0].replace("[machine]\n", "").replace("travel_x", "machine.travel_x")
    head = head.replace("\ntravel_", "\nmachine.travel_").replace("\nnose", "\nmachine.nose")
    head = head.replace("\ngantry", "\nmachine.gantry").replace("\nclear", "\nmachine.clear")
    row = 'name = "{}", kind = "flat", diameter_mm = 6, flute_length_mm = 20, stickout_mm = 30, shank_diameter_mm = 6'
    text = head + "cutters = [\n  {" + row.format("a") + "},  # kept\n  {" + row.format("b") + "},\n]\n"
    text += "[[pieces]]" + HAND_WRITTEN.split("[[pieces]]")[1]
    job = job_from_text(text)
    changed = job.model_copy(update={"cutters": (job.cutters[0], job.cutters[1].model_copy(update={"flutes": 3}))})
    assert job_from_text(rewritten(text, changed)) == changed
    assert "# kept" in rewritten(text, changed)
    fewer = job.model_copy(update={"cutters": (job.cutters[1],)})
    assert job_from_text(rewritten(text, fewer)) == fewer


def test_a_job_that_does_not_hold_together_is_not_written(folder: Path) -> None:
    """Saving refuses what loading would refuse, and the old file stays as it was with nothing beside it."""
    job = load_job(folder)
    twice = job.model_copy(update={"cutters": (job.cutters[0], job.cutters[0])})
    with pytest.raises(Refusal, match="is also the name of"):
        save_job(twice, folder)
    assert (folder / JOB_FILE).read_text(encoding="utf-8") == HAND_WRITTEN
    assert sorted(path.name for path in folder.iterdir()) == ["body.stl", JOB_FILE]


def test_a_broken_file_is_not_written_over(folder: Path) -> None:
    """A job.toml that cannot be read is the maker's work too: saving refuses and leaves it."""
    job = load_job(folder)
    (folder / JOB_FILE).write_text("name = [", encoding="utf-8")
    with pytest.raises(Refusal, match="cannot be read"):
        save_job(job, folder)
    assert (folder / JOB_FILE).read_text(encoding="utf-8") == "name = ["


def test_a_write_that_fails_leaves_the_old_file_and_nothing_beside_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the rename fails, the old job is whole and no scrap of the new one lies about."""

    def no_room(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", no_room)
    job = load_job(folder)
    with pytest.raises(Refusal, match="make room on the disk"):
        save_job(job.model_copy(update={"name": "other"}), folder)
    assert (folder / JOB_FILE).read_text(encoding="utf-8") == HAND_WRITTEN
    assert sorted(path.name for path in folder.iterdir()) == ["body.stl", JOB_FILE]


def test_a_fresh_file_says_how_to_measure_each_value() -> None:
    """Above every value stands a comment line; nothing comes without one."""
    lines = new_job_text(job_from_text(HAND_WRITTEN)).splitlines()
    values = [index for index, line in enumerate(lines) if " = " in line and not line.startswith("#")]
    assert len(values) > 60
    assert [lines[index] for index in values if not lines[index - 1].startswith("# ")] == []


def keys_of(model: type[Model], prefix: str = "") -> list[str]:
    """Every key of a model that holds a plain value, as written in messages."""
    from witnessmark.job.complaints import model_at

    found: list[str] = []
    for name in model.model_fields:
        below = model_at(model, (name,))
        found += [f"{prefix}{name}"] if below is None else keys_of(below, f"{prefix}{name}.")  # type: ignore[arg-type]
    return found


FILES = (Job, Box, Boards, Latch)


@pytest.mark.parametrize("key", [key for file in FILES for key in keys_of(file)])
def test_every_value_of_a_file_has_a_line_on_what_it_is(key: str) -> None:
    """A new key of the models without its line fails here."""
    assert how_to_measure(key)


def test_no_line_speaks_of_a_value_that_is_gone() -> None:
    """Every line on how to measure belongs to a value that a job, a box, a pile of boards or a latch has."""
    assert set(MEASURE) == {key for file in FILES for key in keys_of(file)}
