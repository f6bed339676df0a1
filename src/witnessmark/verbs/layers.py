"""layers: a piece as one block against 2 to 5 pinned layers, in one table; the job rewritten for the way chosen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.job.errors import refuse
from witnessmark.job.files import load_job, save_job
from witnessmark.job.models import Job, PieceSpec, PieceWish
from witnessmark.plan.layers import MOST_LAYERS, Way, ways
from witnessmark.plan.layers import layers_of as designed

from .make import silent
from .workshop import open_workshop

Progress = Callable[[str, float], None]

HEADINGS = ("layers", "placements", "hours", "wood l", "line seen mm", "reach mm", "pins", "lines between at mm")


@dataclass(frozen=True, eq=False)
class LayersAnswer:
    """The ways to make each piece, and what was written."""

    ways: dict[str, tuple[Way, ...]]
    used: str = ""


def layers(
    folder: Path | str,
    piece: str | None = None,
    most: int = MOST_LAYERS,
    use: int | None = None,
    progress: Progress = silent,
) -> LayersAnswer:
    """Compare the ways to make each piece (or one of them); ``use``: write that many layers into job.toml."""
    if not 1 <= most <= MOST_LAYERS:
        raise refuse(f"--most {most}", f"is not between 1 and {MOST_LAYERS}", "leave it out for all")
    root = Path(folder)
    job = whole_job(load_job(root))
    workshop = open_workshop(root, job)
    names = [spec.name for spec in job.pieces]
    if piece is not None and piece not in names:
        raise refuse(f"--piece {piece}", "is no piece of the job", f"one of: {', '.join(names)}")
    if use is not None:
        if piece is None and len(names) > 1:
            raise refuse(
                "--use", "which piece is to be cut in layers is not said", f"--piece, one of: {', '.join(names)}"
            )
        return _use(root, job, workshop.spec(piece or names[0]), workshop.solids[piece or names[0]], use)
    chosen = [spec for spec in workshop.job.pieces if piece in (None, spec.name)]
    found = {
        spec.name: tuple(ways(workshop.job, spec, workshop.solids[spec.name], most, progress)) for spec in chosen
    }
    return LayersAnswer(found)


def _use(root: Path, job: Job, spec: PieceSpec, solid: Any, count: int) -> LayersAnswer:
    """The job with one piece in so many layers (1: in one block again)."""
    if not 1 <= count <= MOST_LAYERS:
        raise refuse(f"--use {count}", f"is not between 1 and {MOST_LAYERS}", "see the table: witnessmark layers")
    specs = designed(job, spec, solid, count)
    if not specs:
        raise refuse(f"--use {count}", "would make layers too thin to cut", "use fewer")
    if count > 1 and not all(own.layer and own.layer.pins_mm for own in specs):
        raise refuse(f"piece {spec.name}", "has no room for pins, nor the job a flat cutter for their holes",
                     "draw its walls thicker", "or add a flat cutter of 3 mm or less")  # fmt: skip
    kept = load_job(root)
    pieces: list[PieceSpec] = []
    for own in kept.pieces:
        if (own.layer.of if own.layer else own.name) != spec.name:
            pieces.append(own)
        elif not any(name.name == specs[0].name for name in pieces):
            pieces += specs
    save_job(kept.model_copy(update={"pieces": tuple(pieces)}), root)
    return LayersAnswer({}, f"{spec.name} is cut " + (f"in {count} layers" if count > 1 else "from one block"))


def whole_job(job: Job) -> Job:
    """The job with layers put together again into the pieces that they are of."""
    pieces: list[PieceSpec] = []
    groups: dict[str, list[PieceSpec]] = {}
    for spec in job.pieces:
        if spec.layer is None:
            pieces.append(spec)
        elif spec.layer.of in groups:
            groups[spec.layer.of].append(spec)
        else:
            groups[spec.layer.of] = [spec]
            pieces.append(spec)
    whole = [_together(groups[spec.layer.of]) if spec.layer else spec for spec in pieces]
    return job.model_copy(update={"pieces": tuple(whole)})


def _together(layers: Sequence[PieceSpec]) -> PieceSpec:
    first = layers[0]
    assert first.layer is not None
    height_mm = round(sum(own.blank.size_z_mm for own in layers), 3)
    blank = first.blank.model_copy(update={"size_z_mm": height_mm})
    wish = PieceWish(forbid_sides=first.wish.forbid_sides)
    return first.model_copy(update={"name": first.layer.of, "layer": None, "blank": blank, "wish": wish})


def table_words(found: LayersAnswer) -> list[str]:
    """For people."""
    lines: list[str] = []
    for name, some in found.ways.items():
        rows = [HEADINGS, *(_row(way) for way in some)]
        widths = [max(len(row[k]) for row in rows) for k in range(len(HEADINGS))]
        lines.append(f"piece {name}")
        lines += ["  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths)).rstrip() for row in rows]
        for way in some:
            how = "as one block" if way.count == 1 else f"in {way.count} layers"
            lines += [f"  {how}, not everything can be cut: {way.trouble}"] if way.trouble else []
        lines.append(f"  {_advice(name, some)}")
    return [
        *lines,
        "Hours: cutting by the wood removed (a guess, good to about one half either way), half an hour for each",
        "placement, one for a glue-up. Wood: with 1.5 mm to plane off every face. Line seen: glue lines on show",
        "faces. Reach: how far below the wood's top the tip comes down.",
    ]


def _row(way: Way) -> tuple[str, ...]:
    return (
        "block" if way.count == 1 else str(way.count),
        str(way.placements) if way.placements else "-",
        f"{way.hours:.1f}" if way.placements else "-",
        f"{way.wood_mm3 / 1e6:.1f}",
        f"{way.seen_mm:.0f}",
        f"{way.reach_mm:.0f}" if way.placements else "-",
        way.pins or "-",
        ", ".join(f"{z:.1f}" for z in way.lines_mm) or "-",
    )


def _advice(piece: str, some: Sequence[Way]) -> str:
    able = [way for way in some if not way.trouble and (way.count == 1 or way.pins != "none")]
    if not able:
        return "no way here cuts everything: see what stays out of reach above"
    best = min(able, key=lambda way: way.hours)
    if best.count == 1:
        return "least work: one block"
    return f'least work: {best.count} layers (to take them: --piece "{piece}" --use {best.count})'


def ways_record(found: LayersAnswer) -> dict[str, Any]:
    """For scripts."""
    rows = {
        name: [
            {
                "layers": way.count,
                "placements": way.placements,
                "hours": round(way.hours, 2),
                "wood_l": round(way.wood_mm3 / 1e6, 3),
                "line_seen_mm": round(way.seen_mm, 1),
                "reach_mm": round(way.reach_mm, 2),
                "lines_mm": list(way.lines_mm),
                "pins": way.pins,
                "trouble": way.trouble,
            }
            for way in some
        ]
        for name, some in found.ways.items()
    }
    return {"pieces": rows, "used": found.used}
