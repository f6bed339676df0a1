"""latch: from a wish and the hardware on hand to a hidden latch, its margins, how often it works, and plots; settled
on, it is let into lid and body, and its parts become pieces of the job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from witnessmark.job.catalog import Species
from witnessmark.job.errors import Refusal, refuse
from witnessmark.job.files import JOB_FILE, load_job, save_job
from witnessmark.job.latch import LATCH_FILE, Latch, demonstration_latch, latch_text, load_latch, save_latch
from witnessmark.job.models import Blank, Job, PieceSpec
from witnessmark.job.whole import write_text_whole
from witnessmark.latch.assembly import Near, through_the_turn
from witnessmark.latch.better import Change, cheapest
from witnessmark.latch.chances import Yield, yield_of
from witnessmark.latch.choose import HoldChoice, SlideChoice, choose_hold, choose_slide
from witnessmark.latch.chosen import chosen_of, design_of, takes_of
from witnessmark.latch.design import Design
from witnessmark.latch.gates import GATES, Chance, Tables, margins
from witnessmark.latch.guide import Guide
from witnessmark.latch.inward import Way, ways
from witnessmark.latch.let_in import LetIn
from witnessmark.latch.search import Found, search
from witnessmark.latch.turning import Reversal, reversals
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.sheet.latch_pages import lining_svg

from .folder import JobFolder
from .hidden import Hidden, wood_of
from .latch_off import FoundAgain, Off
from .latch_plots import plots_of
from .make import Progress
from .workshop import Workshop, open_workshop

SHOWN_RATIO = 5e-4  # of a hundred: rarer failures are not told
RESTS_MM = 0.02  # nearer than this a bolt rests on its cam
ROUND_IT_MM, ABOVE_MM = 30.0, 2.0  # wood round a part, and above it


@dataclass(frozen=True, eq=False)
class InPlace:
    """The latch let into lid and body: what touches what through the turn of the key, and the ways to make the holes
    that face inward, with the guides where they are drilled by some."""

    let_in: LetIn
    near: tuple[Near, ...]
    ways: tuple[tuple[Way, ...], ...]  # by bolt
    guides: dict[str, Guide]

    @property
    def meets(self) -> bool:
        return any(near.meets for near in self.near)

    @property
    def chosen(self) -> tuple[Way, ...]:
        """By bolt, the way that the file asks for."""
        return tuple(next(way for way in of if way.by == by) for of, by in zip(self.ways, self.let_in.holes))


@dataclass(frozen=True, eq=False)
class LatchAnswer:
    """A turn latch: the design found or settled on, or what is lacking; its margins, its yield, what would better it,
    each magnet reversed; where it is let in, and how true lid and body are found again once planned. Or the magnets
    chosen to hold a lid, or to slide a bolt."""

    file: Path
    latch: Latch
    found: Found | None = None
    held: HoldChoice | None = None
    slid: SlideChoice | None = None
    margins: tuple[tuple[str, float], ...] = ()
    yields: Yield | None = None
    better: Change | None = None
    wrong: tuple[Reversal, ...] = ()
    placed: InPlace | None = None
    found_again: FoundAgain | None = None
    added: tuple[str, ...] = ()  # pieces written into the job
    written: tuple[Path, ...] = ()

    @property
    def enough(self) -> bool:
        """Whether it does what is wished."""
        if self.found and self.yields:
            placed = self.placed is None or (not self.placed.meets and all(way.able for way in self.placed.chosen))
            return placed and self.yields.works_ratio + 2 * self.yields.error_ratio >= self.latch.wish.works_ratio
        chosen = self.found or self.held or self.slid
        return bool(chosen and chosen.enough)


def start_latch(folder: Path | str) -> Path:
    """A first latch file to fill in; refused where there is one."""
    path = Path(folder) / LATCH_FILE
    if path.exists():
        raise refuse(str(path), "is there already", "change it by hand, or move it away")
    if not path.parent.is_dir():
        raise refuse(str(path.parent), "is no folder", "make the job first: witnessmark new")
    write_text_whole(path, latch_text(demonstration_latch()))
    return path


def design_latch(
    folder: Path | str, plots: bool = False, progress: Progress | None = None, use: bool = False
) -> LatchAnswer:
    """Read the latch file of a folder, search (or take what it is settled on), judge; ``plots``: plots, and drawings
    of the key's lining, as SVG into out/latch (and drill guides as STL, to print); ``use``: search, settle on what
    is found, and add the parts to the job."""
    root = Path(folder)
    path = root / LATCH_FILE
    latch = load_latch(path)
    if latch.kind != "turn":
        if use:
            raise refuse("--use", "is for a latch that turns", f'set kind = "turn" in {LATCH_FILE}, or leave it out')
        simple = LatchAnswer(path, latch, held=choose_hold(latch) if latch.kind == "hold" else None)
        return simple if latch.kind == "hold" else replace(simple, slid=choose_slide(latch))
    wood = wood_of(latch)
    off = Off.of(root, latch, wood)
    if progress:
        progress("looking for a latch", 0.0)
    found = _settled(latch, wood, off) if latch.chosen and not use else search(latch, wood, off.loose(latch))
    if found.design is None:
        return LatchAnswer(path, latch, found)
    added: tuple[str, ...] = ()
    if use:
        latch = latch.model_copy(update={"chosen": chosen_of(latch, found.design)})
        added = _use(root, latch)
    answer = _judged(LatchAnswer(path, latch, found, added=added), found.design, off)
    if progress:
        progress("the key turned, degree by degree", 0.5)
    answer = replace(answer, placed=_in_place(root, latch, off))
    if not plots or answer.yields is None:
        return answer
    place = JobFolder(root).out_dir("latch")
    written = []
    for name, text in (*plots_of(found.design, answer.yields), ("lining", lining_svg(found.design))):
        write_text_whole(place / f"{name}.svg", text)
        written.append(place / f"{name}.svg")
    for name, guide in answer.placed.guides.items() if answer.placed else ():
        written.append(place / f"{name}.stl")
        write_stl(Solid(guide.upright), written[-1])
    return replace(answer, written=tuple(written))


def _judged(answer: LatchAnswer, design: Design, off: Off) -> LatchAnswer:
    """With margins, yield, what would better it."""
    latch, loose = answer.latch, off.loose(answer.latch, design)
    nominal = margins(design, Tables.of(design), Chance.none())[:, 0]
    enough = answer.found is not None and answer.found.enough
    return replace(
        answer,
        margins=tuple(zip(GATES, nominal.tolist())),
        yields=yield_of(design, latch.spreads, loose),
        better=None if enough else cheapest(design, latch.spreads, loose, latch.wish.works_ratio),
        found_again=off.found,
        wrong=reversals(design.key, design.rotor, design.gap_mm),
    )


def _settled(latch: Latch, wood: Species, off: Off) -> Found:
    """What the file is settled on, as if it had been found."""
    try:
        design = design_of(latch, wood)
    except ValueError as error:
        raise refuse(f"{LATCH_FILE}, chosen", str(error), "search again: witnessmark latch --use") from None
    share = yield_of(design, latch.spreads, off.loose(latch, design)).works_ratio
    return Found(design, share, 0, 1, share >= latch.wish.works_ratio, (), takes_of(latch))


def _use(root: Path, latch: Latch) -> tuple[str, ...]:
    """The latch file settled; where it has a place in a job, rotor, case and key become pieces: the names added."""
    before = (root / LATCH_FILE).read_text(encoding="utf-8")
    save_latch(latch, root)
    if latch.place is None or not (root / JOB_FILE).is_file():
        return ()
    try:
        return _add_parts(root, latch)
    except Refusal:
        write_text_whole((root / LATCH_FILE).resolve(), before)
        raise


def _add_parts(root: Path, latch: Latch) -> tuple[str, ...]:
    job = load_job(root)
    hidden = open_workshop(root, job).hidden
    assert hidden is not None
    there = {spec.part for spec in job.pieces if spec.shape == LATCH_FILE}
    bare_blank = job.pieces[0].blank
    bare = [
        PieceSpec(name=part, shape=LATCH_FILE, part=part, blank=bare_blank)
        for part in hidden.parts
        if part not in there
    ]
    if not bare:
        return ()
    solids = open_workshop(root, _with(job, bare)).solids
    specs = [spec.model_copy(update={"blank": _blank(solids[spec.name].bounds_mm, latch.wood)}) for spec in bare]
    save_job(_with(job, specs), root)
    return tuple(spec.name for spec in specs)


def _with(job: Job, specs: Sequence[PieceSpec]) -> Job:
    return job.model_copy(update={"pieces": (*job.pieces, *specs)})


def _blank(bounds_mm: tuple[np.ndarray, np.ndarray], species: str) -> Blank:
    low, high = bounds_mm
    x, y, z = (float(v) for v in np.ceil(high - low))
    return Blank(
        size_x_mm=x + 2 * ROUND_IT_MM, size_y_mm=y + 2 * ROUND_IT_MM, size_z_mm=z + ABOVE_MM, species=species
    )


def _in_place(root: Path, latch: Latch, off: Off) -> InPlace | None:
    """Where it is let in: the turn of the key in exact solids, and the ways to the holes."""
    if not latch.let_in or not (root / JOB_FILE).is_file():
        return None
    workshop = open_workshop(root)
    assert workshop.hidden is not None
    return in_place(workshop.hidden, workshop.job, off)


def in_place(hidden: Hidden, job: Job, off: Off) -> InPlace:
    """The same of a latch at hand."""
    made, latch = hidden.let_in, hidden.latch
    lid, body = made.from_lid(made.cut_lid), made.from_body(made.closed_body)
    loose = off.before(latch, made.design)
    return InPlace(
        made,
        through_the_turn(made.design, made.parts, lid, body),
        ways(made, latch.tools, job.cutters, latch.spreads, loose),
        hidden.guides,
    )


def latch_notes(workshop: Workshop) -> tuple[str, ...]:
    """What a maker should know of the latch in its place: what meets, and how many of a hundred work."""
    hidden, root = workshop.hidden, workshop.folder.root
    if hidden is None:
        return ()
    design, latch = hidden.let_in.design, hidden.latch
    off = Off.of(root, latch, wood_of(latch))
    placed = in_place(hidden, workshop.job, off)
    yields = yield_of(design, latch.spreads, off.loose(latch, design))
    fails = [f"{name} {100 * share:.1f}" for name, share in yields.fails_ratio if share > SHOWN_RATIO]
    meets = [f"STOP: {near.one} and {near.other} meet" for near in placed.near if near.meets]
    nearest = min(near.gap_mm for near in placed.near if near.gap_mm > RESTS_MM)
    turned = f"turned degree by degree nothing meets, with {nearest:.2f} mm to spare but where bolts rest on the cam"
    return (
        f"The key turns {design.turn_deg:.0f} degrees; locked, the lid stands a pull of {design.lid.least_n:.0f} N.",
        f"Of 100 built like this {100 * yields.works_ratio:.1f} work"
        + (f" (fail, of 100: {', '.join(fails)})." if fails else "."),
        *((off.found.words,) if off.found else ()),
        *(f"{name}: {guide.words}" for name, guide in hidden.guides.items()),
        *(meets or (f"As exact solids, {turned}.",)),
    )
