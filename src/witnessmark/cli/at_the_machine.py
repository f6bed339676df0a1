"""What the verbs that are used at the machine print: finding the work, going on after a stop, the log."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import Any

from witnessmark.job.errors import Refusal, Trouble

from .answer import print_json, progress_bar
from .sizes import typed


def find(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.find import find as located
    from witnessmark.verbs.find import touches
    from witnessmark.verbs.logged import learned_u_mm

    if asked.by:
        return _found_by(asked)
    if asked.stylus is None:
        raise Refusal(Trouble("--stylus", "is needed where touches are read", ("give the diameter of what touches",)))
    stylus_mm = typed("--stylus", asked.stylus, 1)[0]
    sure_mm = typed("--sure", asked.sure, 1)[0] if asked.sure else learned_u_mm(asked.folder)
    heights, reads = _numbers("--height", asked.height), _numbers("--read", asked.read)
    if asked.probe:
        return _probe(asked, stylus_mm)
    if asked.results:
        from witnessmark.verbs.probe import probe_results

        found_mm = probe_results(asked.folder, asked.piece, asked.placement, stylus_mm, Path(asked.results))
        reads, heights = found_mm[0] | reads, found_mm[1] | heights
    if heights and not reads:
        return _level(asked, heights, sure_mm)
    if not reads:
        listed = touches(asked.folder, asked.piece, asked.placement, stylus_mm)
        if asked.json:
            print_json([vars(touch) for touch in listed])
            return 0
        for touch in listed:
            x, y, z = touch.at_mm
            at = f"x {x:.3f} y {y:.3f} z {z:.2f}"
            number = f"L{touch.number}" if touch.level else f"{touch.number}"
            print(f"{number:>3s}  {touch.name}: read {touch.axis}; planned at {at} ({touch.known_from})")
        return 0
    with progress_bar(asked.json) as progress:
        where = (asked.folder, asked.piece, asked.placement)
        found = located(*where, reads, stylus_mm, sure_mm, progress, heights)
    return _said(asked, found)


def _said(asked: argparse.Namespace, found: Any) -> int:
    if asked.json:
        print_json(found.record())
    else:
        print(found.words())
    return 0 if found.passed else 1


def _found_by(asked: argparse.Namespace) -> int:
    from witnessmark.verbs import ways
    from witnessmark.verbs.find import find_by

    if asked.by == "holes":
        way = ways.holes()
    elif asked.by == "pins":
        places = [typed("--pin", pin, 2, signed=True) for pin in asked.pin]
        way = ways.pins([(x, y) for x, y in places], typed("--play", asked.play, 1)[0])
    elif asked.shift is None:
        raise Refusal(Trouble("--shift", "is needed with --by stop", ("say by how much it was shifted",)))
    else:
        way = ways.stop(typed("--shift", asked.shift, 1, signed=True)[0])
    with progress_bar(asked.json) as progress:
        return _said(asked, find_by(asked.folder, asked.piece, asked.placement, way, progress))


def _probe(asked: argparse.Namespace, stylus_mm: float) -> int:
    from witnessmark.verbs.probe import probe_program

    path = probe_program(asked.folder, asked.piece, asked.placement, stylus_mm)
    if asked.json:
        print_json({"probe": str(path)})
    else:
        print(f"{path}: touch the stylus off first, spindle off; then witnessmark find --results FILE")
    return 0


def _level(asked: argparse.Namespace, heights_mm: dict[int, float], sure_mm: float) -> int:
    from witnessmark.verbs.level import level

    found = level(asked.folder, asked.piece, asked.placement, heights_mm, sure_mm)
    if asked.json:
        print_json(vars(found) | {"holds": found.holds})
    else:
        print(f"placement {asked.placement}: {found.words()}")
    return 0 if found.holds else 1


def _numbers(option: str, read: list[str]) -> dict[int, float]:
    """What was read, by number: each ``N=VALUE``, the value as any length on the command line."""
    numbers: dict[int, float] = {}
    for words in read:
        number, sign, value = words.partition("=")
        if not sign or not number.strip().isdigit():
            raise Refusal(
                Trouble(f"{option} {words[:40]}", "is no N=VALUE", ("name the place by its number: 3=101.42",))
            )
        if int(number) in numbers:
            raise Refusal(Trouble(f"{option} {words[:40]}", "is the second for that place", ("give each once",)))
        numbers[int(number)] = typed(f"{option} {number.strip()}=", value, 1, signed=True)[0]
    return numbers


def restart(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.restart import restart as taken_up

    with progress_bar(asked.json) as progress:
        return _said(asked, taken_up(asked.folder, asked.program, asked.line, progress))


def mishap(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.mishap import mishap as computed

    with progress_bar(asked.json) as progress:
        found = computed(asked.folder, asked.piece, _happened(asked), progress)
    if asked.json:
        print_json(found.record())
    else:
        print(found.words())
    return 0 if found.can_be_made else 1


def _happened(asked: argparse.Namespace) -> Any:
    from witnessmark.verbs.mishap import Happened

    x, y = typed("--off", asked.off, 2, signed=True) if asked.off else (0.0, 0.0)
    if bool(asked.start) != bool(asked.to):
        raise Refusal(Trouble("--from, --to", "one of them is missing", ("give both corners",)))
    if asked.depth and not asked.start:
        raise Refusal(
            Trouble("--depth", "is of which place?", ("give --from XxY and --to XxY as the machine shows them",))
        )
    box: Any = None
    gouge: Any = None
    if asked.depth and asked.start:
        (x0, y0), (x1, y1) = (typed(*end, 2, signed=True) for end in (("--from", asked.start), ("--to", asked.to)))
        gouge = (x0, y0, x1, y1, typed("--depth", asked.depth, 1)[0])
    elif asked.start:
        low, high = (typed(*end, 3, signed=True) for end in (("--from", asked.start), ("--to", asked.to)))
        box = (*low, *high)
    return Happened(
        program=asked.program or "",
        line=max(0, asked.line),
        off=(x, y, math.radians(asked.turned)),
        lower_mm=typed("--lower", asked.lower, 1, signed=True)[0] if asked.lower else 0.0,
        box_mm=box,
        placement=asked.placement or "",
        gouge_mm=gouge,
    )


def work(asked: argparse.Namespace) -> int:
    from .work import work as guided

    return guided(asked)


def log(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.logged import logged

    found = logged(asked.folder, asked.everything, Path(asked.csv) if asked.csv else None)
    if asked.json:
        print_json(found.record())
        return 0
    print("\n".join(found.words()))
    return 0
