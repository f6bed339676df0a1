"""new at a terminal: answers with units, wrong answers asked again, and an input that closes or is interrupted."""

from __future__ import annotations

import io
import json
import os
import pty
import select
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import manifold3d
import pytest

from witnessmark.cli.main import main
from witnessmark.job.files import load_job
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.asked import ASKED, GROUPS

SIZES = ["--travel", "300x400x90", "--cutter", "6", "--stick-out", "45", "--nut", "20x20", "--nose", "65"]
WAIT_S = 40.0
SETTLE_S = 0.5  # Python sees no Ctrl-C in the instant between printing a prompt and waiting for a line


class Terminal(io.StringIO):
    """Typed lines, as if from a terminal; the input closes after the last."""

    def isatty(self) -> bool:
        return True


@dataclass(frozen=True)
class Desk:
    """A shape file and the folder to make beside it."""

    shape: Path
    folder: Path
    patch: pytest.MonkeyPatch

    def words(self, *more: str) -> list[str]:
        return ["new", str(self.folder), "--shape", str(self.shape), *SIZES, *more]

    def new(self, typed: list[str], *more: str) -> int:
        """Run ``new`` with these lines typed."""
        self.patch.setattr(sys, "stdin", Terminal("".join(line + "\n" for line in typed)))
        return main(self.words(*more))

    def untouched(self) -> bool:
        """Nothing but the shape lies here: no folder, no half of one."""
        return [path.name for path in self.shape.parent.iterdir()] == [self.shape.name]


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    block = Solid(manifold3d.Manifold.cube((120, 80, 25), True))
    return Desk(write_stl(block, tmp_path / "block.stl"), tmp_path / "job", monkeypatch)


def answers(**typed: str) -> list[str]:
    """A line for every question: what is typed for the named ones (dots as __), Enter for the others."""
    asked = {key.replace("__", "."): text for key, text in typed.items()}
    assert set(asked) <= set(ASKED)
    return [asked.get(key, "") for key in ASKED]


def test_enter_takes_every_default(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    """Enter to all makes the same job as --yes; each question says how to measure and shows its default."""
    assert desk.new(answers()) == 0
    said = capsys.readouterr().out
    assert said.count("]: ") == len(ASKED)
    assert "thickness of the movable board, by caliper in three places: the mean; mm [18]: " in said
    made = load_job(desk.folder)
    by_default = desk.folder.with_name("by-default")
    assert main(["new", str(by_default), "--shape", str(desk.shape), *SIZES, "--yes"]) == 0
    assert made.model_copy(update={"name": ""}) == load_job(by_default).model_copy(update={"name": ""})


def test_answers_carry_their_units(desk: Desk) -> None:
    """Lengths may be typed in inches or centimetres; what has no unit is mm, and words stay words."""
    typed = answers(
        machine__board__thickness_mm="3/4 in",
        machine__clear_width_mm="52.5 cm",
        cutters__0__flute_length_mm="1 1/4 in",
        machine__rapid_x_mm_min="6000",
        pieces__0__blank__species="walnut, black",
    )
    assert desk.new(typed) == 0
    job = load_job(desk.folder)
    assert job.machine.board is not None
    assert job.machine.board.thickness_mm == 19.05
    assert job.machine.clear_width_mm == 525.0
    assert job.cutters[0].flute_length_mm == 31.75
    assert job.machine.rapid_x_mm_min == 6000.0
    assert job.pieces[0].blank.species == "walnut, black"


def test_every_kind_of_answer_is_taken(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    """Yes and no, choices, lists, feeds with their unit, and a dust shoe in one line; headings over the groups."""
    typed = answers(
        machine__overhang_axis="y",
        machine__moves="table",
        machine__shoe="90x25",
        machine__shoe_on="no",
        machine__board__bolt_places_mm="5, 205",
        machine__spindle_power_w="1.1 kW",
        machine__feed_max_mm_min="120 in/min",
        machine__controller__canned_cycles="yes",
        machine__controller__units="inch",
        machine__controller__decimals="4",
        cutters__0__kind="ball",
        cutters__0__flutes="3",
        pieces__0__blank__glue_lines_z_mm="9.5, 1/2 in",
    )
    assert desk.new(typed) == 0
    job = load_job(desk.folder)
    machine, cutter = job.machine, job.cutters[0]
    assert (machine.overhang_axis, machine.moves, machine.shoe_on) == ("y", "table", False)
    assert machine.shoe is not None
    assert (machine.shoe.diameter_mm, machine.shoe.below_nose_mm) == (90.0, 25.0)
    assert machine.board is not None
    assert machine.board.bolt_places_mm == (5.0, 205.0)
    assert (machine.spindle_power_w, machine.feed_max_mm_min) == (1100.0, 3048.0)
    assert (machine.controller.canned_cycles, machine.controller.units, machine.controller.decimals) == (
        True,
        "inch",
        4,
    )
    assert (cutter.kind, cutter.flutes) == ("ball", 3)
    assert job.pieces[0].blank.glue_lines_z_mm == (9.5, 12.7)
    said = capsys.readouterr().out
    for heading in ("The machine", "The movable board", "Spindle and speeds", "The controller", "The cutter"):
        assert f"\n{heading}\n" in said
    assert "mm/s2 [300]: " in said
    assert "rpm [8000]: " in said


def test_an_equals_sign_takes_the_rest_of_a_group(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    """One = at the head of every group makes the same job as Enter to all."""
    assert desk.new(["="] * len(GROUPS)) == 0
    assert capsys.readouterr().out.count("]: ") == len(GROUPS)
    assert load_job(desk.folder).machine.board is not None


def test_what_is_no_shoe_is_asked_again(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    typed = answers(machine__shoe="none")
    where = ASKED.index("machine.shoe")
    assert desk.new([*typed[:where], "big", *typed[where:]]) == 0
    assert "'big' is no shoe" in capsys.readouterr().out
    assert load_job(desk.folder).machine.shoe is None


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ("nineteen", "'nineteen' is not a length; write mm as a number, or a number with its unit: '1/4 in'"),
        ("-3", "that is -3.0; it must be more than 0"),
        ("12 furlongs", "'12 furlongs' is not a length"),
        ("nan", "is not a length; it has no end or is not a number"),
        ("1/0 in", "is not a length that can be made"),
    ],
)
def test_a_wrong_answer_is_told_and_asked_again(
    desk: Desk, capsys: pytest.CaptureFixture[str], wrong: str, told: str
) -> None:
    """What cannot be used is told in a maker's words; the same question comes again, and the right answer counts."""
    typed = answers(machine__board__thickness_mm="16")
    where = ASKED.index("machine.board.thickness_mm")
    assert desk.new([*typed[:where], wrong, wrong, *typed[where:]]) == 0
    said = capsys.readouterr().out
    assert said.count(told) == 2
    assert said.count("thickness of the movable board") == 3
    board = load_job(desk.folder).machine.board
    assert board is not None
    assert board.thickness_mm == 16.0


def test_answers_that_do_not_go_together_are_asked_again(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    """Flutes longer than the stick-out are told after the last question; a second round needs that answer alone."""
    first = answers(cutters__0__flute_length_mm="60", pieces__0__blank__species="ash, white")
    second = answers(cutters__0__flute_length_mm="30")
    assert desk.new([*first, *second]) == 0
    said = capsys.readouterr().out
    assert "These do not go together" in said
    assert "flute_length_mm" in said
    job = load_job(desk.folder)
    assert job.cutters[0].flute_length_mm == 30.0
    assert job.pieces[0].blank.species == "ash, white"


def test_answers_that_never_go_together_are_refused(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    """Entering through a second round ends with what is wrong, and no folder."""
    assert desk.new([*answers(cutters__0__flute_length_mm="60"), *answers()]) == 1
    assert "flute_length_mm" in capsys.readouterr().err
    assert desk.untouched()


@pytest.mark.parametrize("answered", [0, 3, len(ASKED) - 1])
def test_an_input_that_closes_is_one_clear_line(
    desk: Desk, capsys: pytest.CaptureFixture[str], answered: int
) -> None:
    """Wherever the answers end: one line on standard error, status 1, and nothing is left behind."""
    assert desk.new([""] * answered) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert line == (
        "new: the input closed before every question was answered; no folder is made (--yes takes the defaults)"
    )
    assert desk.untouched()


def test_with_json_the_questions_go_to_standard_error(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    """Standard output carries the JSON alone; it repeats what was typed."""
    assert desk.new(answers(machine__board__thickness_mm="3/4 in"), "--json") == 0
    out, err = capsys.readouterr()
    told = json.loads(out)
    assert told == {"folder": str(desk.folder), "answers": {"machine.board.thickness_mm": "3/4 in"}}
    assert err.count("]: ") == len(ASKED)


def test_without_a_standard_input_the_defaults_are_taken(desk: Desk) -> None:
    """Started without any standard input (by a service) nothing can be asked, and nothing breaks."""
    desk.patch.setattr(sys, "stdin", None)
    assert main(desk.words()) == 0
    assert load_job(desk.folder).cutters[0].diameter_mm == 6.0


# the terminal becomes the command's own, so that Ctrl-C reaches it (where tests run in the background it is ignored)
AT_TERMINAL = """
import fcntl, signal, sys, termios
signal.signal(signal.SIGINT, signal.default_int_handler)
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from witnessmark.cli.main import main
sys.exit(main(sys.argv[1:]))
"""


def at_a_terminal(words: list[str], keys: bytes) -> tuple[int, str]:
    """Run the command at a real (pseudo) terminal, press keys at its first question; exit status and all it said."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-c", AT_TERMINAL, *words]
    child = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True)
    os.close(theirs)
    said, pressed, until = b"", False, time.monotonic() + WAIT_S
    try:
        while time.monotonic() < until:
            if not select.select([ours], [], [], 1.0)[0]:
                continue
            try:
                said += os.read(ours, 4096)
            except OSError:  # the other end is closed: the command has ended
                break
            if not pressed and b"]: " in said:
                time.sleep(SETTLE_S)
                os.write(ours, keys)
                pressed = True
        return child.wait(timeout=WAIT_S), said.decode()
    finally:
        child.kill()
        child.wait()
        os.close(ours)


@pytest.mark.parametrize(
    ("keys", "status", "told"),
    [
        (b"\x04", 1, "the input closed before every question was answered"),
        (b"\x03", 130, "stopped; no folder is made"),
    ],
    ids=["Ctrl-D", "Ctrl-C"],
)
def test_leaving_at_a_real_terminal(desk: Desk, keys: bytes, status: int, told: str) -> None:
    """Ctrl-D and Ctrl-C at a question end it with one line and no traceback, and nothing is left behind."""
    ended, said = at_a_terminal(desk.words(), keys)
    assert ended == status
    after = said[said.index("]: ") + 3 :].replace("^C", "").replace("^D\b\b", "").split("\r\n")
    assert [line for line in after if line.strip()] == [line for line in after if told in line]
    assert "Traceback" not in said
    assert desk.untouched()
