"""The command line. Each verb has its own help; nothing heavy is imported until a verb runs."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from witnessmark import __version__
from witnessmark.job.errors import Refusal

from . import wood_options

DESCRIPTION = "Fitted wooden pieces larger than the router: from a model to proven programs and a bench sheet."
CAUTION = (
    "Before any cutting: eyes, ears, dust, a spinning cutter. The machine's manual, local codes and licensed "
    "practice come first."
)


def parser() -> argparse.ArgumentParser:
    """All verbs with their options."""
    main = argparse.ArgumentParser(prog="witnessmark", description=DESCRIPTION, epilog=CAUTION)
    main.add_argument("--version", action="version", version=f"witnessmark {__version__}")
    verbs = main.add_subparsers(dest="verb", metavar="VERB", required=True)
    _look(verbs)
    _new(verbs)
    wood_options.add_box(verbs, CAUTION)
    wood_options.add_boards(verbs, CAUTION)
    wood_options.add_layers(verbs, CAUTION)
    wood_options.add_fit(verbs, CAUTION)
    wood_options.add_latch(verbs, CAUTION)
    for verb, words in (
        ("check", "read the job and its shapes, and say all that is wrong"),
        ("plan", "choose the placements: which side up, where, in what order"),
        ("program", "write the programs of the plan (drafts, until proven)"),
    ):
        made = _add_job_verb(verbs, verb, words)
        if verb == "check":
            made.add_argument(
                "--mend", action="store_true", help="mend shapes into <name>-mended.stl beside, and use those"
            )
        if verb == "plan":
            made.add_argument("--solids", action="store_true", help="also wood to leave and clearance wood as STL")
    prove = _add_job_verb(
        verbs,
        "prove",
        "read the programs back, remove wood with them, and judge",
        "the job folder (default: this one), or program files in the order they run",
    )
    prove.add_argument(
        "--made", action="store_true", help="also what the programs leave of the wood, as STL and 3MF, in out/made"
    )
    prove.add_argument(
        "--force", action="store_true", help="hand out the programs even if the proof fails; marked so"
    )
    prove.add_argument(
        "--check", metavar="FILE", help="only say whether a program file, at the machine say, is one that was proven"
    )
    prove.add_argument("--pitch", type=float, metavar="MM", help="grid pitch of the proof (default: the job's)")
    alone = prove.add_argument_group("without a job", "in place of FOLDER: program files, in the order they run")
    alone.add_argument("--machine", metavar="NAME", help="a job folder, or a listed machine (witnessmark new --list)")
    alone.add_argument(
        "--cutter",
        metavar="NAME",
        action="append",
        help="a cutter of that job, or a listed one; once, or once for each file",
    )
    alone.add_argument("--blank", metavar="XxYxZ", help="the blank's size")
    alone.add_argument("--corner", metavar="XxY", help="its front left corner in the program's x, y (default 0x0)")
    alone.add_argument("--origin", metavar="XxY", help="the program's x 0, y 0 in the travel (default 0x0)")
    alone.add_argument(
        "--zero",
        choices=("under", "top"),
        default="under",
        help="z 0: the face it lies on, or its top (default under)",
    )
    alone.add_argument("--shape", metavar="FILE", help="what is to be made; without it only the cutting is judged")
    alone.add_argument("--unit", choices=("mm", "cm", "m", "inch"), help="the shape's unit, where its file has none")
    alone.add_argument("--thick", metavar="LENGTH", help="the piece's thickness, where the shape is an outline")
    alone.add_argument("--at", metavar="XxYxZ", help="where the shape's own zero lies in the program (default 0x0x0)")
    _find(verbs)
    _restart(verbs)
    _mishap(verbs)
    _work(verbs)
    _log(verbs)
    _add_job_verb(verbs, "sheet", "make the bench sheet (PDF)")
    demo = verbs.add_parser("demo", help="run the whole job on the demonstration tea chest", epilog=CAUTION)
    demo.add_argument("--out", default="demo-job", metavar="FOLDER", help="the job folder to make (default demo-job)")
    demo.add_argument(
        "--example", choices=("chest", "dish", "box", "keepsake"), default="chest", help="which piece to make"
    )
    _add_json(demo)
    return main


def _find(verbs: argparse._SubParsersAction) -> None:  # type: ignore[type-arg]
    find = _add_job_verb(verbs, "find", "find the work again: from readings to where it lies, and corrected programs")
    find.add_argument("--placement", required=True, metavar="NAME", help="the placement it lies in now")
    find.add_argument("--piece", metavar="NAME", help="the piece, where the job has several")
    find.add_argument("--stylus", metavar="LENGTH", help="diameter of the stylus or edge finder")
    find.add_argument(
        "--read",
        action="append",
        default=[],
        metavar="N=VALUE",
        help="what the machine says at touch N (its x or y, as listed without --read); once for each touch",
    )
    find.add_argument(
        "--height",
        action="append",
        default=[],
        metavar="N=VALUE",
        help="the height at level place N, above the face it lies on; once for each place",
    )
    find.add_argument("--probe", action="store_true", help="write the program by which a touch probe reads it all")
    find.add_argument("--results", metavar="FILE", help="what the probe found: x y z of each trip, a line each")
    find.add_argument(
        "--by",
        choices=("holes", "pins", "stop"),
        help="not read but placed: by the board's holes alone, by two pins, or along a fence against a stop",
    )
    find.add_argument("--pin", action="append", default=[], metavar="XxY", help="where a pin stands; twice")
    find.add_argument("--play", metavar="LENGTH", default="0.05", help="how much wider its hole is (default 0.05)")
    find.add_argument("--shift", metavar="LENGTH", help="how far it was shifted along the fence (right or back: +)")
    find.add_argument(
        "--sure", metavar="LENGTH", help="standard uncertainty of a reading (default: as the log teaches, or 0.02 mm)"
    )


def _restart(verbs: argparse._SubParsersAction) -> None:  # type: ignore[type-arg]
    words = "a program stopped part way: write what is left of it, proven from the wood as it is"
    restart = _add_job_verb(verbs, "restart", words)
    restart.add_argument("--program", required=True, metavar="FILE", help="the program that stopped")
    line = "the last line that was surely reached, as the controller showed it; it is done once more"
    restart.add_argument("--line", required=True, type=int, metavar="N", help=line)


def _mishap(verbs: argparse._SubParsersAction) -> None:  # type: ignore[type-arg]
    words = "it slipped, was set wrong or is gouged: what is left of the blank, and what can still be made of it"
    mishap = _add_job_verb(verbs, "mishap", words)
    mishap.add_argument("--piece", metavar="NAME", help="the piece, where the job has several")
    wrong = mishap.add_argument_group("a program that ran wrong")
    wrong.add_argument("--program", metavar="FILE", help="the program")
    wrong.add_argument(
        "--line", type=int, default=0, metavar="N", help="it was stopped after this line (default: no)"
    )
    wrong.add_argument(
        "--off", metavar="XxY", help="how far the work lay from where it should, in the machine's x, y"
    )
    wrong.add_argument(
        "--turned", type=float, default=0.0, metavar="DEG", help="by how much it was turned, from above"
    )
    wrong.add_argument("--lower", metavar="LENGTH", help="how much too low the cutter was touched off")
    gone = mishap.add_argument_group("wood that is gone")
    gone.add_argument(
        "--from", dest="start", metavar="XxYxZ", help="lowest corner of a box, in the drawn piece's x, y, z"
    )
    gone.add_argument("--to", metavar="XxYxZ", help="its highest corner")
    gone.add_argument("--depth", metavar="LENGTH", help="or: how deep; --from and --to are then the machine's XxY")
    gone.add_argument("--placement", metavar="NAME", help="the placement it lies in, for --depth")


def _work(verbs: argparse._SubParsersAction) -> None:  # type: ignore[type-arg]
    words = "the way through the job at the machine: what is next, what was read, what ran; kept in a log"
    work = _add_job_verb(verbs, "work", words)
    work.add_argument("--stylus", metavar="LENGTH", help="diameter of the stylus or edge finder")
    work.add_argument("--again", metavar="PIECE", help="begin this piece again with another blank")


def _log(verbs: argparse._SubParsersAction) -> None:  # type: ignore[type-arg]
    log = _add_job_verb(verbs, "log", "what was confirmed at the machine, and what it teaches")
    log.add_argument("--everything", action="store_true", help="steps that were taken back as well")
    log.add_argument("--csv", metavar="FILE", help="write it as CSV, for a spreadsheet")


def _add_json(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--json", action="store_true", help="answer in JSON, for scripts")


def _add_job_verb(
    verbs: argparse._SubParsersAction,  # type: ignore[type-arg]
    verb: str,
    words: str,
    several: str = "",
) -> argparse.ArgumentParser:
    """A verb on a job folder; ``several``: what may stand in its place, more than one, in words."""
    made: argparse.ArgumentParser = verbs.add_parser(
        verb, help=words, description=words.capitalize() + ".", epilog=CAUTION
    )
    if several:
        made.add_argument("folder", nargs="*", default=["."], metavar="FOLDER", help=several)
    else:
        made.add_argument(
            "folder", nargs="?", default=".", metavar="FOLDER", help="the job folder (default: this one)"
        )
    _add_json(made)
    return made


def _size(verb: argparse.ArgumentParser, name: str, metavar: str, words: str) -> None:
    verb.add_argument(name, metavar=metavar, help=words)


def _sizes(verb: argparse.ArgumentParser) -> None:
    """The sizes of the first question; lengths are mm, or carry their unit ('1/4 in')."""
    _size(verb, "--travel", "XxYxZ", "how far the machine travels: 300x400x90")
    _size(verb, "--cutter", "DIA", "cutter diameter")
    _size(verb, "--stick-out", "LEN", "from the face of the collet nut to the tip")
    _size(verb, "--nut", "DIAxLEN", "collet nut: diameter x length below the spindle nose")
    _size(verb, "--nose", "DIA", "diameter of the spindle nose")
    _size(verb, "--blank", "XxYxZ", "blank (default: the piece with 30 mm round it, 4 mm above)")


def _look(verbs: argparse._SubParsersAction) -> None:  # type: ignore[type-arg]
    words = "where will my spindle hit, and what must I leave? From a shape and six sizes, no job needed"
    look = verbs.add_parser("look", help=words, description=words + ".", epilog=CAUTION)
    look.add_argument("shape", help="STEP, STL, 3MF or OBJ; or an outline (DXF, SVG) with --thick")
    _sizes(look)
    _size(look, "--flutes", "LEN", "length of the flutes (default: 0.7 of the stick-out)")
    nose = "spindle nose above the bed at the top of Z (default: Z travel + stick-out + length of the nut)"
    _size(look, "--nose-above-bed", "LEN", nose)
    _size(look, "--board", "LEN", "thickness of the board under the blank (default 18)")
    _size(look, "--pitch", "LEN", "step of the movable board (default 25)")
    _size(look, "--thick", "LEN", "thickness of the piece when the shape is an outline")
    look.add_argument(
        "--unit", choices=("mm", "cm", "m", "inch"), help="unit of the shape file, where it states none"
    )
    look.add_argument("--mend", action="store_true", help="mend the shape first, if it needs it")
    look.add_argument("--picture", default="look.png", metavar="FILE", help="the picture to write (default look.png)")
    _add_json(look)


def _new(verbs: argparse._SubParsersAction) -> None:  # type: ignore[type-arg]
    words = "make a job folder from a shape and your machine's sizes, asking for what is missing"
    new = verbs.add_parser("new", help=words, description=words.capitalize() + ".", epilog=CAUTION)
    new.add_argument("folder", nargs="?", help="the folder to make")
    new.add_argument("--list", action="store_true", help="list the machines, cutters and woods to start from")
    new.add_argument("--machine", metavar="NAME", help="a listed machine, instead of --travel, --nut and --nose")
    new.add_argument(
        "--cutters", metavar="NAMES", help="listed cutters, commas between, instead of --cutter and --stick-out"
    )
    new.add_argument("--shape", help="the shape file to copy in")
    _sizes(new)
    _size(new, "--thick", "LEN", "thickness of the piece when the shape is an outline")
    new.add_argument("--unit", choices=("mm", "cm", "m", "inch"), help="unit of the shape file, where it states none")
    new.add_argument("--mend", action="store_true", help="mend the shape into <name>-mended.stl, if it needs it")
    new.add_argument("--yes", action="store_true", help="ask nothing: take the stated defaults")
    _add_json(new)


def main(argv: Sequence[str] | None = None) -> int:
    """Run a verb; 0 is done, 1 the world says no (a refusal or a failed proof), 2 the words were wrong."""
    asked = parser().parse_args(argv)
    from . import answer

    try:
        status = answer.answer(asked)
        if sys.stdout is not None:  # a service may have closed it
            sys.stdout.flush()
        return status
    except BrokenPipeError:  # whoever reads the answer has had enough of it, as head does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nothing more to tell when Python ends
        return 1
    except Refusal as refusal:
        print(refusal, file=sys.stderr)
        if asked.json:
            answer.print_json({"refused": [vars(trouble) for trouble in refusal.troubles]})
        return 1
    except KeyboardInterrupt:
        kept = "no folder is made" if asked.verb == "new" else "what was finished is kept"
        print(f"\nstopped; {kept}", file=sys.stderr)
        return 130


if __name__ == "__main__":
    sys.exit(main())
