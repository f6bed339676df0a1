"""What each verb prints. The verbs do the work; here it is put into words or JSON."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from witnessmark.job.errors import Refusal, Trouble

from .ask import Terminal, ask_all
from .sizes import typed, typed_sizes

Progress = Callable[[str, float], None]


def answer(asked: argparse.Namespace) -> int:
    """Run the verb and print what it says; returns the exit status."""
    return int(_ANSWERS[asked.verb](asked))


@contextmanager
def progress_bar(quiet: bool) -> Iterator[Progress]:
    """A bar on standard error while the verb works; nothing when it is not a terminal to look at or JSON is asked."""
    if quiet:
        yield lambda what, done: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(bar_width=30), TimeElapsedColumn())
    if not console.is_terminal:
        yield lambda what, done: print(f"  {what}", file=sys.stderr)
        return
    with Progress(*columns, console=console, transient=True) as bars:
        task = bars.add_task("", total=1.0)
        yield lambda what, done: bars.update(task, description=what, completed=done)


def print_json(data: Any) -> None:
    """What a script reads on standard output."""
    print(json.dumps(data, indent=1, ensure_ascii=False))


def _look(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.look import look

    given = typed_sizes(asked)
    with progress_bar(asked.json) as progress:
        found = look(
            Path(asked.shape),
            look_sizes(given),
            unit=asked.unit,
            thickness_mm=given["thick"][0] if "thick" in given else None,
            picture=Path(asked.picture),
            progress=progress,
            mend=asked.mend,
        )
    if asked.json:
        print_json(
            {
                "fits": found.fits,
                "words": found.words,
                "assumed": found.assumed,
                "notes": found.notes,
                "placements": [_placement(step) for step in found.plan.placements],
                "changes": [vars(change) for change in found.changes],
                "picture": str(found.picture),
            }
        )
        return 0 if found.fits else 1
    print("\n".join(found.words))
    print("\nTaken as:\n" + "\n".join(f"  {line}" for line in found.assumed))
    if found.notes:
        print("\n" + "\n".join(found.notes))
    print(f"\nPicture: {found.picture}")
    return 0 if found.fits else 1


def look_sizes(given_mm: dict[str, tuple[float, ...]]) -> Any:
    """The typed lengths as the verb takes them."""
    from witnessmark.verbs.look import LookSizes

    optional = {
        "flutes": "flutes_mm",
        "nose_above_bed": "nose_above_bed_mm",
        "board": "board_mm",
        "pitch": "pitch_mm",
    }
    extra: dict[str, Any] = {field: given_mm[name][0] for name, field in optional.items() if name in given_mm}
    if "blank" in given_mm:
        extra["blank_mm"] = given_mm["blank"]
    return LookSizes(
        travel_mm=given_mm["travel"],  # type: ignore[arg-type]
        cutter_mm=given_mm["cutter"][0],
        stickout_mm=given_mm["stick_out"][0],
        nut_mm=given_mm["nut"],  # type: ignore[arg-type]
        nose_mm=given_mm["nose"][0],
        **extra,
    )


def _placement(step: Any) -> dict[str, Any]:
    place = step.placement
    return {
        "name": place.name,
        "up": place.up,
        "shift_mm": place.shift_mm,
        "region_mm": place.region_mm,
        "through_z_mm": place.through_z_mm,
        "cuts": step.cuts,
        "clearance_cm3": round(step.clearance_mm3 / 1000, 2),
        "removed_cm3": round(step.removed_mm3 / 1000, 2),
        "programs": [vars(program) for program in step.programs],
        "rehearsal": None if step.rehearsal is None else step.rehearsal.file,
        "notes": place.notes,
    }


def _new(asked: argparse.Namespace) -> int:
    from witnessmark.job.catalog import unknown_woods
    from witnessmark.verbs.new import first_job, listed, new, sizes_of, with_listed

    if asked.list:
        return _list(asked)
    missing = [
        Trouble(option, "is needed", (remedy,))
        for option, value, remedy in (
            ("FOLDER", asked.folder, "name the folder to make"),
            ("--shape", asked.shape, "name the shape file of the piece"),
        )
        if value is None
    ]
    if missing:
        raise Refusal(*missing)
    machine, cutters = listed(asked.machine, asked.cutters)
    given = typed_sizes(asked, sizes_of(machine, cutters))
    thick = given["thick"][0] if "thick" in given else None
    job = first_job(Path(asked.shape), look_sizes(given), asked.unit, thick, asked.mend)
    job = with_listed(job, machine, cutters)
    answers: dict[str, str] = {}
    if not asked.yes and sys.stdin is not None and sys.stdin.isatty():
        job, answers = ask_all(job, Terminal(aside=asked.json))
    folder = new(asked.folder, Path(asked.shape), job, asked.mend)
    woods = unknown_woods(job)
    if asked.json:
        print_json({"folder": str(folder), "answers": answers})
        return 0
    print("\n".join(woods) + "\n" if woods else "", end="")
    print(f"Made {folder}: read and mend {folder / 'job.toml'}, then: witnessmark plan {folder}")
    return 0


def _list(asked: argparse.Namespace) -> int:
    """The catalog: names to start from, with their main sizes."""
    from witnessmark.job import catalog

    machines = {
        row.machine.name: f"travel {row.machine.travel_x_mm:g} x {row.machine.travel_y_mm:g} x "
        f"{row.machine.travel_z_mm:g} mm ({row.source})"
        for row in catalog.machines().values()
    }
    cutters = {
        row.cutter.name: f"{row.cutter.diameter_mm:g} mm across, flutes {row.cutter.flute_length_mm:g}, stick-out "
        f"{row.cutter.stickout_mm:g} mm"
        for row in catalog.cutters().values()
    }
    woods = sorted(catalog.species())
    if asked.json:
        print_json({"machines": machines, "cutters": cutters, "woods": woods})
        return 0
    for heading, rows in (("Machines", machines), ("Cutters", cutters)):
        print(f"{heading} (--{heading.lower().removesuffix('s') if heading == 'Machines' else 'cutters'})")
        for name, words in rows.items():
            print(f"  {name:22} {words}")
    print("Woods (the blank's species)")
    for wood in woods:
        print(f"  {wood}")
    return 0


def _check(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.check import check, mend_pieces

    mended = mend_pieces(asked.folder) if asked.mend else ()
    found = check(asked.folder)
    if asked.json:
        print_json({"mended": mended, **vars(found)})
        return 0
    head = f"The job can be planned: {', '.join(found.pieces)}."
    print(
        "\n".join([*mended, head, *found.health, *found.notes, *found.woods, *found.loads, *found.weak, *found.year])
    )
    return 0


def _plan(asked: argparse.Namespace) -> int:
    from witnessmark.verbs import make

    with progress_bar(asked.json) as progress:
        if asked.verb == "plan":
            plans = make.plan(asked.folder, progress, solids=asked.solids)
        else:
            plans = make.program(asked.folder, progress)
    if asked.json:
        print_json(
            [
                {
                    "piece": plan.piece.name,
                    "bound": plan.bound,
                    "evaluated": plan.evaluated,
                    "pruned": sum(plan.pruned.values()),
                    "pruned_by": dict(plan.pruned),
                    "notes": plan.notes,
                    "placements": [_placement(step) for step in plan.placements],
                }
                for plan in plans
            ]
        )
        return 0
    from witnessmark.plan.table import plan_text

    print(plan_text(plans), end="")
    for line in _woods(asked):
        print(line)
    out = Path(asked.folder) / "out"
    print(f"\nThe plan: {out / 'plan.txt'}" + ("" if asked.verb == "plan" else f"; drafts: {out / 'drafts'}"))
    return 0


def _woods(asked: argparse.Namespace) -> tuple[str, ...]:
    """What is not known of the job's woods, told when it is planned."""
    from witnessmark.job.catalog import unknown_woods
    from witnessmark.job.files import load_job

    return unknown_woods(load_job(asked.folder)) if asked.verb == "plan" else ()


def _prove(asked: argparse.Namespace) -> int:
    files = any(os.path.isfile(name) for name in asked.folder)  # False for what is no name
    if asked.check is None and (asked.machine or asked.cutter or asked.blank or asked.shape or files):
        return _alone(asked)
    if len(asked.folder) > 1:
        raise Refusal(Trouble(asked.folder[1][:60], "is one folder too many", ("prove one job at a time",)))
    asked.folder = asked.folder[0]
    if asked.check is not None:
        return _same(asked)
    from witnessmark.verbs.prove import prove

    with progress_bar(asked.json) as progress:
        found = prove(asked.folder, progress, force=asked.force, pitch_mm=asked.pitch, made=asked.made)
    return _say_proof(found, Path(asked.folder), asked.json)


def _alone(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.alone import Where, prove_alone, tools

    missing = [
        Trouble(
            f"--{name}", "is needed to prove a program without a job", (f"see witnessmark prove --help: --{name}",)
        )
        for name in ("machine", "cutter", "blank")
        if getattr(asked, name) is None
    ]
    if missing:
        raise Refusal(*missing)
    where = Where(
        typed("--blank", asked.blank, 3),  # type: ignore[arg-type]
        typed("--corner", asked.corner or "0x0", 2, signed=True),  # type: ignore[arg-type]
        typed("--origin", asked.origin or "0x0", 2, signed=True),  # type: ignore[arg-type]
        asked.zero,
    )
    machine, cutters = tools(asked.machine, asked.cutter)
    found = prove_alone(asked.folder, machine, cutters, where, asked.pitch, _drawn(asked))
    if asked.json:
        made = found.write_made(Path("made")) if asked.made else ()
        print_json({"assumed": found.assumed, **found.record(), **({"made": made} if made else {})})
        return 0 if found.passed else 1
    print(found.words())
    print(found.table())
    print("Taken as:\n" + "\n".join(f"  {line}" for line in found.assumed))
    if asked.made:  # last: where it cannot be written, all has been told
        print("".join(f"What is left of the wood: {path}\n" for path in found.write_made(Path("made"))), end="")
    return 0 if found.passed else 1


def _drawn(asked: argparse.Namespace) -> Any:
    """The shape that is to be made, where it was named."""
    from witnessmark.verbs.alone import drawn

    if asked.shape is None:
        lost = [f"--{name}" for name in ("at", "unit", "thick") if getattr(asked, name) is not None]
        if lost:
            raise Refusal(Trouble(lost[0], "is said of a shape, and none is named", ("name it: --shape FILE",)))
        return None
    at_mm = typed("--at", asked.at or "0x0x0", 3, signed=True)
    thick_mm = typed("--thick", asked.thick, 1)[0] if asked.thick else None
    return drawn(Path(asked.shape), at_mm, asked.unit, thick_mm)  # type: ignore[arg-type]


def _same(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.same import same

    found = same(asked.folder, asked.check)
    if asked.json:
        print_json({"proven": True, **vars(found)})
    else:
        place = f"piece {found.piece}, placement {found.placement}, cutter {found.cutter}"
        print(f"{asked.check} is the proven program {found.file}: {place} ({found.fingerprint})")
        if found.proof:
            print(f"It passed the proof {found.proof}.")
    return 0


def _say_proof(found: Any, folder: Path, as_json: bool) -> int:
    if as_json:
        print((folder / "out" / "proof.json").read_text(encoding="utf-8"), end="")
        return 0 if found.passed else 1
    print((folder / "out" / "proof.txt").read_text(encoding="utf-8"))
    print(found.table() + "\n")
    where = folder / "out" / "programs"
    if found.passed:
        print(f"Proven. {len(found.handed_out)} programs in {where}")
    elif found.forced:
        print(f"NOT proven; handed out by force, each marked so: {where}")
    else:
        print("NOT proven: no program is handed out. Change what the findings say, or use --force.")
    return 0 if found.passed else 1


def _sheet(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.sheet import sheet

    with progress_bar(asked.json) as progress:
        path = sheet(asked.folder, progress)
    if asked.json:
        print_json({"sheet": str(path)})
    else:
        print(f"Bench sheet: {path}")
    return 0


def _demo(asked: argparse.Namespace) -> int:
    from witnessmark.plan.table import plan_text
    from witnessmark.verbs.demo import demo

    with progress_bar(asked.json) as progress:
        found = demo(asked.out, asked.example, progress)
    if not asked.json:
        print(plan_text(list(found.plans)))
    status = _say_proof(found.proof, found.folder, asked.json)
    if not asked.json:
        for piece, tried in found.trials.items():
            print(f"Finding the {piece} again: {tried.words()}.")
        print("Took " + ", ".join(f"{name} {seconds:.1f} s" for name, seconds in found.seconds.items()))
        print(f"Everything is in {found.folder / 'out'}: plan.txt, programs, proof.json, bench-sheet.pdf, pictures")
    return status


def machine_side(verb: str) -> Callable[[argparse.Namespace], int]:
    """A verb that is used at the machine: its words are in a module of their own."""

    def told(asked: argparse.Namespace) -> int:
        from . import at_the_machine

        return int(getattr(at_the_machine, verb)(asked))

    return told


def _on_wood(verb: str) -> Callable[[argparse.Namespace], int]:
    """A verb on boxes, boards or wood: its words are in a module of their own."""

    def told(asked: argparse.Namespace) -> int:
        from . import boxes

        return int(getattr(boxes, verb)(asked))

    return told


_ANSWERS: dict[str, Callable[[argparse.Namespace], int]] = {
    "look": _look,
    "new": _new,
    "box": _on_wood("box"),
    "boards": _on_wood("boards"),
    "layers": _on_wood("layers"),
    "fit": _on_wood("fit"),
    "latch": _on_wood("latch"),
    "check": _check,
    "plan": _plan,
    "program": _plan,
    "prove": _prove,
    "find": machine_side("find"),
    "restart": machine_side("restart"),
    "mishap": machine_side("mishap"),
    "work": machine_side("work"),
    "log": machine_side("log"),
    "sheet": _sheet,
    "demo": _demo,
}
