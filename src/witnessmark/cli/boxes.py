"""What the verbs on boxes, boards and wood print."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from witnessmark.job.errors import Refusal, Trouble

from .answer import print_json, progress_bar
from .sizes import typed

LENGTHS = ("inside_height", "wall", "floor", "lid", "lip", "rebate", "gap")
POINTS = ".csv"


def box(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.box import box_from_sizes, for_cutters, new_box, tell_box

    if not (asked.outline or asked.formula or asked.rectangle):
        found = tell_box(asked.folder, asked.stl, asked.use)
        _say(asked, found)
        return 0
    from witnessmark.verbs.alone import tools

    missing = [
        Trouble(option, "is needed for a new box", (remedy,))
        for option, value, remedy in (
            ("--inside-height", asked.inside_height, "from the floor up to the closed lid: --inside-height 40"),
            ("--machine", asked.machine, "name a job folder of yours, or a listed machine (witnessmark new --list)"),
        )
        if value is None
    ]
    if missing:
        raise Refusal(*missing)
    sizes: dict[str, Any] = {
        f"{name}_mm": typed("--" + name.replace("_", "-"), text, 1)[0] for name, text in _given(asked)
    }
    sizes |= {"outline": _outline(asked)}
    if asked.closing:
        sizes |= {"closing": asked.closing}
    machine, cutters = tools(asked.machine, asked.cutter or [])
    if not cutters:
        cutters = _own_cutters(asked.machine) or tools(asked.machine, ("flat 6", "ball 6", "flat 3"))[1]
    outline = Path(asked.outline) if asked.outline else None
    box = for_cutters(box_from_sizes(sizes), cutters)
    found = new_box(asked.folder, box, machine, cutters, asked.wood, outline)
    _say(asked, found)
    if not asked.json:
        print(
            f"\nMade {asked.folder}: read and mend box.toml and job.toml in it, then: witnessmark plan {asked.folder}"
        )
    return 0


def _given(asked: argparse.Namespace) -> list[tuple[str, str]]:
    return [(name, text) for name in LENGTHS if (text := getattr(asked, name)) is not None]


def _outline(asked: argparse.Namespace) -> dict[str, Any]:
    if sum(map(bool, (asked.outline, asked.formula, asked.rectangle))) > 1:
        raise Refusal(Trouble("the outline", "is given twice", ("give one of --outline, --formula, --rectangle",)))
    outline: dict[str, Any] = {}
    if asked.outline:
        outline = {"file": Path(asked.outline).name, "unit": asked.unit}
    elif asked.rectangle:
        x_mm, y_mm = typed("--rectangle", asked.rectangle, 2)
        outline = {"rectangle": {"x_mm": x_mm, "y_mm": y_mm}}
        if asked.corner:
            outline |= {"corner_radius_mm": typed("--corner", asked.corner, 1)[0]}
    else:
        for text in asked.formula:
            key, _, formula = (part.strip() for part in text.partition("="))
            if key not in ("x", "y", "r") or not formula:
                example = 'write it as --formula "r = 80 + 6*cos(3*t)", or twice, for x and for y'
                raise Refusal(Trouble(f"--formula {text[:40]}", "gives no x, y or r", (example,)))
            outline[key] = formula
    if asked.long:
        outline |= {"size_x_mm": typed("--long", asked.long, 1)[0]}
    return outline


def _own_cutters(machine: str) -> tuple[Any, ...]:
    """The cutters of the job that the machine was taken from; none where it was a listed one."""
    from witnessmark.job.files import JOB_FILE, load_job

    folder = Path(machine)
    folder = folder.parent if folder.name == JOB_FILE else folder
    return load_job(folder).cutters if (folder / JOB_FILE).is_file() else ()


def _say(asked: argparse.Namespace, found: Any) -> None:
    if asked.json:
        parts = [vars(part) for part in found.parts]
        written = list(map(str, found.written))
        print_json(
            {"file": str(found.file), "parts": parts, "notes": found.notes, "written": written, "added": found.added}
        )
        return
    for part in found.parts:
        x, y, z = part.size_mm
        print(f"{part.name}: {x:.1f} x {y:.1f} x {z:.1f} mm, {part.volume_cm3:.0f} cm3 of wood")
        for role in ("show", "mating", "hidden"):
            faces = [f"{name} {cm2:.0f}" for name, what, cm2 in part.faces_cm2 if what == role]
            if faces:
                print(f"  {role:7} {', '.join(faces)} (cm2)")
    for note in found.notes:
        print(f"- {note}")
    for path in found.written:
        print(f"Written: {path}")
    if found.added:
        print(f"Pieces of the job by now: {', '.join(found.added)}; mend their blanks in job.toml")


def boards(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.boards import boards as design
    from witnessmark.verbs.boards import cut_list_record, cut_list_words, start_boards

    if asked.start:
        path = start_boards(asked.folder)
        if asked.json:
            print_json({"file": str(path)})
        else:
            print(f"Made {path}: put your boards into it, then: witnessmark boards {asked.folder}")
        return 0
    pile = Path(asked.pile) if asked.pile else None
    with progress_bar(asked.json) as progress:
        found = design(asked.folder, pile, asked.rings, asked.use, asked.done, progress)
    if asked.json:
        print_json(cut_list_record(found))
    else:
        print("\n".join(cut_list_words(found)))
        print("\nWritten: " + ", ".join(str(path) for path in found.written))
        if asked.use:
            print("The blanks in job.toml are glued up like this now: plan again.")
    return 1 if found.short else 0


def layers(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.layers import layers as compared
    from witnessmark.verbs.layers import table_words, ways_record

    with progress_bar(asked.json) as progress:
        found = compared(asked.folder, asked.piece, asked.most, asked.use, progress)
    if asked.json:
        print_json(ways_record(found))
    elif found.used:
        print(f"job.toml: {found.used}. Boards and plan anew: witnessmark boards, then witnessmark plan.")
    else:
        print("\n".join(table_words(found)))
    return 0


def fit(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.fit import fit as fitted
    from witnessmark.verbs.fit import ladder, ladder_mm, lid_gap, liked, wood_named, year_of
    from witnessmark.wood.fit import Seat

    wood = wood_named(asked.wood)
    part_mm = typed("--part", asked.part, 1)[0] if asked.part else None
    if asked.ladder or asked.liked:
        if part_mm is None:
            raise Refusal(Trouble("--part", "is needed", ("the diameter of the part: --part 6",)))
        if asked.liked:
            said = liked(part_mm, asked.liked, asked.wanted)
            print_json({"words": said}) if asked.json else print(said)
            return 0
        return _ladder(asked, part_mm, ladder, ladder_mm)
    year = year_of(_climate("--dry", asked.dry), _climate("--damp", asked.damp), asked.moisture)
    words: list[str] = []
    record: dict[str, Any] = {"moisture_pct": list(year.range_pct)}
    if part_mm is not None:
        edge_mm = typed("--edge", asked.edge, 1)[0] if asked.edge else 10 * part_mm
        tolerance_mm = typed("--tolerance", asked.tolerance, 1, signed=True)[0]
        scatter_mm = typed("--scatter", asked.scatter, 1, signed=True)[0]
        try:
            seat = Seat(part_mm, tolerance_mm, scatter_mm, wood, edge_mm, asked.end_grain)
        except ValueError as error:
            raise Refusal(Trouble("--part, --edge", str(error), ("measure again",))) from None
        found = fitted(seat, year)
        words += found.words
        record["fit"] = vars(found.fit)
    if asked.lid:
        least_mm = typed("--least", asked.least, 1)[0]
        for along, size_mm in zip((True, False), typed("--lid", asked.lid, 2)):
            gap = lid_gap(size_mm, wood, year, least_mm, along)
            words += gap.words
            record["along" if along else "across"] = vars(gap.gap)
    if not words:
        raise Refusal(Trouble("fit", "has nothing to fit", ("a round part: --part 6", "or a lid: --lid 200x120")))
    if asked.json:
        print_json(record)
        return 0
    low, high = year.range_pct
    print(f"{wood.name}: {low:.1f} to {high:.1f} % moisture over the year, {year.now_pct:g} % now")
    print("\n".join(words))
    return 0


def _climate(option: str, text: str) -> tuple[float, float]:
    try:
        warm, humid = (float(part) for part in text.lower().replace("%", "").split("x"))
    except ValueError:
        raise Refusal(Trouble(f"{option} {text[:30]}", "is no climate", ("degrees C x percent: 20x35",))) from None
    return warm, humid


def _ladder(asked: argparse.Namespace, part_mm: float, ladder: Any, ladder_mm: Any) -> int:
    from witnessmark.verbs.alone import tools

    if asked.machine is None:
        raise Refusal(Trouble("--machine", "is needed for a strip", ("a job folder of yours, or a listed machine",)))
    machine, cutters = tools(asked.machine, asked.cutter or [])
    deep_mm = typed("--deep", asked.deep, 1)[0]
    folder = ladder(asked.ladder, part_mm, deep_mm, machine, cutters or _own_cutters(asked.machine), asked.wood)
    holes = ladder_mm(part_mm)
    if asked.json:
        print_json({"folder": str(folder), "holes_mm": list(holes)})
        return 0
    print(f"Made {folder}: a strip of {len(holes)} holes, the tightest at the end where less wood is left:")
    print("  " + ", ".join(f"{k}: {hole:.2f}" for k, hole in enumerate(holes, 1)))
    print(f"witnessmark plan {folder}, program, prove; cut it, try the part, then: --liked NUMBER")
    return 0


def latch(asked: argparse.Namespace) -> int:
    from witnessmark.verbs.latch import design_latch, start_latch
    from witnessmark.verbs.latch_words import latch_record, latch_words

    if asked.start:
        path = start_latch(asked.folder)
        if asked.json:
            print_json({"file": str(path)})
        else:
            print(f"Made {path}: put your wish and hardware into it, then: witnessmark latch {asked.folder}")
        return 0
    with progress_bar(asked.json) as progress:
        found = design_latch(asked.folder, asked.plots, progress, asked.use)
    if asked.json:
        print_json(latch_record(found))
    else:
        print("\n".join(latch_words(found)))
        if found.written:
            print("\nWritten: " + ", ".join(str(path) for path in found.written))
    return 0 if found.enough else 1
