"""boards: blanks from the boards on hand, what to saw from which, and what is left of them."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import shapely

from witnessmark.job.boards import BOARDS_FILE, Board, Boards, boards_text, load_boards
from witnessmark.job.errors import refuse
from witnessmark.job.files import JOB_FILE, load_job, save_job
from witnessmark.job.models import Blank, Hollow, Job, PieceSpec
from witnessmark.job.names import file_stem
from witnessmark.job.whole import write_text_whole
from witnessmark.plan.candidates import blank_box
from witnessmark.shapes.solid import Solid
from witnessmark.sheet.cut_list import board_svg, nearness, ring_svg, write_cut_list
from witnessmark.wood.glue_up import (
    Glued,
    GlueUp,
    Need,
    glued,
    largest_rectangle_mm,
    layer_counts,
    ringed,
    stacked,
    strip_counts,
    surely_hollow,
)
from witnessmark.wood.layout.parts import Clear, CutPart, clear_areas, spread
from witnessmark.wood.layout.solve import Laid, Layout, lay_out

from .folder import JobFolder, clear_files
from .make import silent
from .workshop import Workshop, open_workshop

Progress = Callable[[str, float], None]

QUICK_SECONDS, WHOLE_SECONDS = 1.0, 20.0
MOST_CHOICES = 2  # numbers of layers tried beyond the fewest
KEPT = "cut-list.json"


@dataclass(frozen=True)
class SawnPart:
    """A part on a board, from the board's end and edge."""

    name: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float


@dataclass(frozen=True)
class SawnBoard:
    """A board of the cut list: its parts, how much of its length is used, what is left worth keeping."""

    board: Board
    parts: tuple[SawnPart, ...]
    offcuts: tuple[Board, ...]
    svg: str


@dataclass(frozen=True)
class Glueing:
    """A piece's blank as it is glued up, in words and numbers."""

    piece: str
    words: tuple[str, ...]
    glued: Glued
    layers: int
    rings: int


@dataclass(frozen=True, eq=False)
class BoardsAnswer:
    """Blanks, cut list, what it costs and how near that is to the least (None: not known); ``short``: parts for which
    there is no board."""

    glue_ups: tuple[Glueing, ...]
    boards: tuple[SawnBoard, ...]
    cores: tuple[Board, ...]
    short: tuple[str, ...]
    cost: float
    gap_ratio: float | None
    yield_ratio: float
    seconds: float
    written: tuple[Path, ...]


def start_boards(folder: Path | str) -> Path:
    """Write a first boards file to fill in, a board of the job's wood in it; refused where there is one."""
    path = Path(folder) / BOARDS_FILE
    if path.exists():
        raise refuse(str(path), "is there already", "fill in your boards there")
    if not path.parent.is_dir():
        raise refuse(str(path.parent), "is no folder", "make the job first: witnessmark new, or box")
    example = Board(name="board 1", length_mm=1200.0, width_mm=180.0, thickness_mm=25.0)
    if (Path(folder) / JOB_FILE).is_file():
        example = example.model_copy(update={"species": load_job(folder).pieces[0].blank.species})
    write_text_whole(path, boards_text(Boards(boards=(example,))))
    return path


def boards(
    folder: Path | str,
    boards_file: Path | None = None,
    rings: bool = False,
    use: bool = False,
    done: bool = False,
    progress: Progress = silent,
) -> BoardsAnswer:
    """Design every blank from the boards, lay out what is to be sawn, and write the cut list into ``out/``.

    ``rings``: hollow layers become rings; ``use``: the blanks are written into job.toml; ``done``: it has been sawn,
    so the boards file loses what was used and gains the offcuts.
    """
    workshop = open_workshop(folder)
    path = boards_file or workshop.folder.root / BOARDS_FILE
    pile = load_boards(path)
    singles = spread(pile.boards)
    clears = clear_areas(singles, pile.sawing)
    designs = []
    for number, spec in enumerate(workshop.job.pieces):
        progress(f"{spec.name}: layers and strips", number / (len(workshop.job.pieces) + 1))
        solid = workshop.solids[spec.name]
        designs.append(_design(spec, solid, pile, clears, rings))
    progress("the cut list", 0.7)
    parts = [part for design in designs for part in design.parts(pile.sawing)]
    groups = _grouped(parts)
    layout = lay_out([replace(ps[0], count=len(ps)) for ps in groups], clears, pile.sawing.kerf_mm, WHOLE_SECONDS)
    answer = _answer(workshop, pile, singles, clears, designs, groups, layout)
    if use:
        if answer.short:
            raise refuse(path.name, f"holds no wood for {', '.join(answer.short[:3])}", *_buy(parts, answer.short))
        _use(workshop.folder.root, designs)
    if done:
        left = [board for board in singles if board.name not in {sawn.board.name for sawn in answer.boards}]
        kept = [offcut for sawn in answer.boards for offcut in sawn.offcuts]
        write_text_whole(path, boards_text(pile.model_copy(update={"boards": (*left, *kept, *answer.cores)})))
    return answer


def need_of(spec: PieceSpec) -> Need:
    blank = spec.blank
    return Need(spec.name, blank.size_x_mm, blank.size_y_mm, blank.size_z_mm, blank.species, blank.grain_axis)


def _design(spec: PieceSpec, solid: Solid, pile: Boards, clears: Sequence[Clear], rings: bool) -> GlueUp:
    """The cheapest stack of layers and strips, each choice laid out alone."""
    need = need_of(spec)
    counts = layer_counts(need, pile.boards, pile.sawing)[: MOST_CHOICES + 1]
    best: tuple[float, GlueUp] | None = None
    for layers in counts:
        for strips in strip_counts(need, pile.boards, pile.sawing):
            design = stacked(need, layers, strips)
            groups = _grouped(design.parts(pile.sawing))
            wanted = [replace(ps[0], count=len(ps)) for ps in groups]
            found = lay_out(wanted, clears, pile.sawing.kerf_mm, QUICK_SECONDS)
            short = sum(wanted[part].length_mm * wanted[part].width_mm for part in found.left_over)
            cost = found.cost + 1e6 * short + 1e-3 * len(groups)
            if best is None or cost < best[0] - 1e-9:
                best = (cost, design)
    assert best is not None
    if not rings:
        return best[1]
    low = blank_box(spec.blank, *solid.bounds_mm).lower_mm
    return ringed(best[1], lambda z_mm: solid.section(float(low[2]) + z_mm), pile.sawing)


def _grouped(parts: Sequence[CutPart]) -> list[list[CutPart]]:
    """Parts of one size together."""
    groups: dict[Any, list[CutPart]] = defaultdict(list)
    for part in parts:
        groups[(part.length_mm, part.width_mm, part.thickness_mm, part.species)].append(part)
    return list(groups.values())


def _answer(
    workshop: Workshop,
    pile: Boards,
    singles: Sequence[Board],
    clears: Sequence[Clear],
    designs: Sequence[GlueUp],
    groups: Sequence[Sequence[CutPart]],
    layout: Layout,
) -> BoardsAnswer:
    names = [[part.name for part in group] for group in groups]
    by_board: dict[int, list[SawnPart]] = defaultdict(list)
    laid_mm2 = 0.0
    for laid in layout.laid:
        by_board[laid.board].append(_sawn(laid, names[laid.part].pop(0)))
        laid_mm2 += laid.length_mm * laid.width_mm
    used_mm2 = sum(length * clears[area].width_mm for area, length in layout.used_mm.items())
    sawn = []
    for number in sorted(by_board):
        board = singles[number]
        offcuts = _offcuts(board, number, clears, layout, pile)
        drawing = board_svg(board, by_board[number], offcuts, pile.sawing)
        sawn.append(SawnBoard(board, tuple(by_board[number]), tuple(o for o, _ in offcuts), drawing))
    glue_ups = tuple(_glueing(design, pile) for design in designs)
    short = tuple(name for group in names for name in group)
    cores = tuple(core for design in designs for core in _cores(design, pile))
    clear_files(workshop.folder.out_dir("boards"), "*-ring-*.svg")
    for design in designs:
        _write_rings(workshop.folder, design)
    answer = BoardsAnswer(
        glue_ups, tuple(sawn), cores, short, layout.price, layout.gap_ratio,
        laid_mm2 / used_mm2 if used_mm2 else 0.0, layout.seconds, (),
    )  # fmt: skip
    return replace(answer, written=_write(workshop.folder, workshop.job, answer))


def _sawn(laid: Laid, name: str) -> SawnPart:
    return SawnPart(name, laid.x_mm, laid.y_mm, laid.length_mm, laid.width_mm)


def _offcuts(
    board: Board, number: int, clears: Sequence[Clear], layout: Layout, pile: Boards
) -> list[tuple[Board, tuple[float, float]]]:
    """What is left of a board's clear areas and worth keeping, each with its place."""
    found: list[tuple[Board, tuple[float, float]]] = []
    for area, clear in enumerate(clears):
        if clear.board != number:
            continue
        used_mm = layout.used_mm.get(area, 0.0)
        left_mm = clear.length_mm - used_mm
        if left_mm >= pile.sawing.least_offcut_mm:
            share = left_mm * clear.width_mm / (board.length_mm * board.width_mm)
            name = f"{board.name}, rest" + (f" {len(found) + 1}" if found else "")
            sizes = {"length_mm": float(int(left_mm)), "width_mm": round(clear.width_mm, 1)}
            rest = board.model_copy(
                update={"name": name, "price": round(board.price * share, 2), "defects": (), **sizes}
            )
            found.append((rest, (clear.x_mm + used_mm, clear.y_mm)))
    return found


def _cores(design: GlueUp, pile: Boards) -> list[Board]:
    """The cores of rings as boards to keep."""
    found = []
    for number, layer in enumerate(design.layers, 1):
        if layer.hollow is None:
            continue
        x_mm, y_mm = largest_rectangle_mm(layer.hollow, pile.sawing.kerf_mm)
        long_mm, wide_mm = (x_mm, y_mm) if design.need.grain == "x" else (y_mm, x_mm)
        if min(long_mm, wide_mm) >= 40.0:
            found.append(
                Board(
                    name=f"core of {design.need.name}, layer {number}",
                    species=design.need.species,
                    length_mm=long_mm,
                    width_mm=wide_mm,
                    thickness_mm=round(layer.thick_mm, 1),
                )
            )
    return found


def _glueing(design: GlueUp, pile: Boards) -> Glueing:
    need, layers = design.need, design.layers
    numbers = glued(design, pile.glueing)
    rings = sum(layer.hollow is not None for layer in layers)
    strips = " and ".join(dict.fromkeys(str(len(layer.edges_mm) - 1) for layer in layers))
    size = f"{need.size_x_mm:g} x {need.size_y_mm:g} x {need.size_z_mm:g} mm"
    words = [
        f"{size} of {need.species}, grain along {need.grain}: {len(layers)} layer{'s' * (len(layers) > 1)} "
        f"of {layers[0].thick_mm:.1f} mm, each of {strips} strips"
    ]
    if rings:
        names = ", ".join(str(k) for k, layer in enumerate(layers, 1) if layer.hollow is not None)
        words.append(
            f"layers {names} (from below) are rings: saw the core out along the drawn hollow before stacking"
        )
    if design.lines_z_mm:
        lines = ", ".join(f"{z:.1f}" for z in design.lines_z_mm)
        words.append(f"glue lines at {lines} mm above the underside")
    if numbers.area_m2 > 0:
        words.append(
            f"{numbers.area_m2:.2f} m2 of joint, about {numbers.glue_g:.0f} g of glue, "
            f"{max(1, round(numbers.spread_minutes))} min to spread (open time {pile.glueing.open_minutes:g} min)"
            + (f": glue it up in {numbers.goes} goes" if numbers.goes > 1 else "")
        )
        words.append(
            f"{numbers.clamps} clamps of {pile.glueing.clamp_n / 1000:g} kN press the largest joint with "
            f"{pile.glueing.pressure_mpa:g} MPa ({numbers.press_n / 1000:.0f} kN), cauls under them"
        )
    return Glueing(need.name, tuple(words), numbers, len(layers), rings)


def _write_rings(folder: JobFolder, design: GlueUp) -> None:
    """The hollow of every ring at 1 : 1."""
    for number, layer in enumerate(design.layers, 1):
        if layer.hollow is not None:
            size = (design.need.size_x_mm, design.need.size_y_mm)
            corners = [(float(x), float(y)) for x, y in shapely.get_coordinates(layer.hollow)]
            name = f"{design.need.name}, layer {number}"
            drawing = ring_svg(name, size, corners)
            write_text_whole(folder.out_dir("boards") / f"{file_stem(design.need.name)}-ring-{number}.svg", drawing)


def kept_cut_list(workshop: Workshop) -> tuple[dict[str, Any], Path] | None:
    """The cut list last made, if it is for the blanks that the job has; with the folder of its drawings."""
    path = workshop.folder.root / "out" / KEPT
    try:
        record: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        if record["made_for"] != made_for(workshop.job):
            return None
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return record, workshop.folder.root / "out" / "boards"


def made_for(job: Job) -> list[list[Any]]:
    """The blanks of a job, as a cut list goes by them."""
    return [[n.name, n.size_x_mm, n.size_y_mm, n.size_z_mm, n.species, n.grain] for n in map(need_of, job.pieces)]


def _buy(parts: Sequence[CutPart], short: Sequence[str]) -> tuple[str, ...]:
    missing = [part for part in parts if part.name in short]
    long_mm, wide_mm = max(p.length_mm for p in missing), max(p.width_mm for p in missing)
    thick_mm = max(p.thickness_mm for p in missing)
    total_m = sum(p.length_mm for p in missing) / 1000
    return (
        f"buy some {total_m:.1f} m of board, {wide_mm:.0f} mm wide or more, {thick_mm:.0f} mm thick or more",
        f"the longest part is {long_mm:.0f} mm",
    )


def _use(root: Path, designs: Sequence[GlueUp]) -> None:
    """The blanks as they are glued up, into job.toml: glue lines, and the hollows of rings."""
    job = load_job(root)
    pieces = []
    for spec, design in zip(job.pieces, designs):
        hollows = tuple(
            Hollow(
                z_from_mm=layer.z_from_mm,
                z_to_mm=layer.z_to_mm,
                outline_mm=tuple((round(x, 1), round(y, 1)) for x, y in surely_hollow(layer.hollow).tolist()),
            )
            for layer in design.layers
            if layer.hollow is not None
        )
        lines = tuple(round(z, 1) for z in design.lines_z_mm)
        blank: Blank = spec.blank.model_copy(
            update={"glue_lines_z_mm": lines, "layer_grains": (), "hollows": hollows}
        )
        pieces.append(spec.model_copy(update={"blank": blank}))
    save_job(job.model_copy(update={"pieces": tuple(pieces)}), root)


def _write(folder: JobFolder, job: Job, answer: BoardsAnswer) -> tuple[Path, ...]:
    drawings = folder.out_dir("boards")
    clear_files(drawings, "board-*.svg")
    for number, sawn in enumerate(answer.boards, 1):
        write_text_whole(drawings / f"board-{number}.svg", sawn.svg)
    record = cut_list_record(answer) | {"made_for": made_for(job)}
    write_text_whole(folder.out(KEPT), json.dumps(record, indent=1, ensure_ascii=False) + "\n")
    write_text_whole(folder.out("cut-list.txt"), "\n".join(cut_list_words(answer)) + "\n")
    page = write_cut_list(job.name, record, drawings, folder.out("cut-list.pdf"))
    return (folder.out("cut-list.txt"), page)


def cut_list_record(answer: BoardsAnswer) -> dict[str, Any]:
    """For scripts and for the sheet."""
    return {
        "boards": [
            {
                "name": sawn.board.name,
                "size_mm": [sawn.board.length_mm, sawn.board.width_mm, sawn.board.thickness_mm],
                "species": sawn.board.species,
                "parts": [asdict(part) for part in sawn.parts],
                "offcuts": [[rest.name, rest.length_mm, rest.width_mm] for rest in sawn.offcuts],
            }
            for sawn in answer.boards
        ],
        "cores": [[core.name, core.length_mm, core.width_mm, core.thickness_mm] for core in answer.cores],
        "glue_ups": [{"piece": one.piece, "words": list(one.words)} for one in answer.glue_ups],
        "short": list(answer.short),
        "cost": round(answer.cost, 2),
        "gap_ratio": None if answer.gap_ratio is None else round(answer.gap_ratio, 4),
        "yield_ratio": round(answer.yield_ratio, 4),
    }


def cut_list_words(answer: BoardsAnswer) -> list[str]:
    """For people."""
    lines = []
    for one in answer.glue_ups:
        lines += [f"{one.piece}: {one.words[0]}", *(f"  {words}" for words in one.words[1:])]
    for sawn in answer.boards:
        board = sawn.board
        lines.append(
            f"\n{board.name}: {board.length_mm:g} x {board.width_mm:g} x {board.thickness_mm:g} mm, {board.species}"
        )
        lines += [
            f"  {part.name}: {part.length_mm:.0f} x {part.width_mm:.0f} mm, from the end {part.x_mm:.0f}, "
            f"from the edge {part.y_mm:.0f}"
            for part in sawn.parts
        ]
        lines += [f"  keep: {rest.length_mm:.0f} x {rest.width_mm:.0f} mm" for rest in sawn.offcuts]
    lines += [
        f"keep: {core.name}, {core.length_mm:.0f} x {core.width_mm:.0f} x {core.thickness_mm:g} mm"
        for core in answer.cores
    ]
    lines += [f"no board for: {name}" for name in answer.short]
    lines.append(
        f"\n{answer.yield_ratio:.0%} of the wood used up becomes parts; it costs {answer.cost:.2f}, "
        f"{nearness(answer.gap_ratio)} for crosscut, rip, crosscut ({answer.seconds:.1f} s)"
    )
    return lines
