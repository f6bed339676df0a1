"""latch: from a wish and the hardware on hand to a hidden latch, its margins, how often it works, and plots."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from witnessmark.job import catalog
from witnessmark.job.catalog import Species, nearest_species
from witnessmark.job.errors import refuse
from witnessmark.job.files import JOB_FILE, load_job
from witnessmark.job.latch import LATCH_FILE, Latch, demonstration_latch, latch_text, load_latch
from witnessmark.job.models import Season
from witnessmark.job.whole import write_text_whole
from witnessmark.latch.better import Change, cheapest
from witnessmark.latch.bolts import MagnetReturn, SpringReturn
from witnessmark.latch.cam import mills_mm, polyline_mm
from witnessmark.latch.cautions import WORDS, caution_of
from witnessmark.latch.chances import Loose, Yield, yield_of
from witnessmark.latch.choose import HoldChoice, SlideChoice, choose_hold, choose_slide
from witnessmark.latch.design import Design
from witnessmark.latch.gates import GATES, Chance, Tables, margins
from witnessmark.latch.magnets import Disc, Ring, alternating, pull_n
from witnessmark.latch.search import Found, magnets_ratio, search
from witnessmark.latch.turning import Reversal, reversals, turning
from witnessmark.sheet.plot import Curve, bars_svg, plot_svg
from witnessmark.wood.movement import change_mm

from .folder import JobFolder
from .make import Progress
from .year import year_of_job

LONG_MM = 40.0  # of the wood that moves a bolt against its hole
WIDE_MM = 50.0  # no cutter has such a radius
PLOTS = ("torque", "pull", "cam", "yield", "trade")


@dataclass(frozen=True, eq=False)
class LatchAnswer:
    """A turn latch: the design found, or what is lacking; its margins, its yield, what would better it, each magnet
    reversed. Or the magnets chosen to hold a lid, or to slide a bolt."""

    file: Path
    latch: Latch
    found: Found | None = None
    held: HoldChoice | None = None
    slid: SlideChoice | None = None
    margins: tuple[tuple[str, float], ...] = ()
    yields: Yield | None = None
    better: Change | None = None
    wrong: tuple[Reversal, ...] = ()
    written: tuple[Path, ...] = ()

    @property
    def enough(self) -> bool:
        """Whether it does what is wished."""
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


def wood_of(latch: Latch) -> Species:
    listed = catalog.species()
    if latch.wood not in listed:
        like = nearest_species(latch.wood)
        advice = (f'did you mean "{like}"?',) if like else ()
        what = f"{latch.wood[:60]!r} is not listed"
        raise refuse(f"{LATCH_FILE}, wood", what, *advice, "see witnessmark new --list")
    return listed[latch.wood]


def season_mm(folder: Path, wood: Species, long_mm: float = LONG_MM) -> float:
    """How far wood of that length moves to either side over the year of the job in a folder, across the grain; over a
    usual one (20 C, 35 to 65 %) where there is no job, or it states none."""
    season = load_job(folder).season if (folder / JOB_FILE).is_file() else None
    low, high = year_of_job(season or Season()).range_pct
    return abs(change_mm(long_mm, wood, "tangential", low, high)) / 2


def design_latch(folder: Path | str, plots: bool = False, progress: Progress | None = None) -> LatchAnswer:
    """Read the latch file of a folder, search, judge; ``plots``: as SVG into out/latch."""
    root = Path(folder)
    path = root / LATCH_FILE
    latch = load_latch(path)
    if latch.kind != "turn":
        simple = LatchAnswer(path, latch, held=choose_hold(latch) if latch.kind == "hold" else None)
        return simple if latch.kind == "hold" else replace(simple, slid=choose_slide(latch))
    wood = wood_of(latch)
    moves = season_mm(root, wood)
    if progress:
        progress("looking for a latch", 0.0)
    found = search(latch, wood, moves)
    if found.design is None:
        return LatchAnswer(path, latch, found)
    design = found.design
    loose = Loose(magnets_ratio(latch), moves, isinstance(design.back, SpringReturn))
    nominal = margins(design, Tables.of(design), Chance.none())[:, 0]
    answer = LatchAnswer(
        path,
        latch,
        found,
        margins=tuple(zip(GATES, nominal.tolist())),
        yields=yield_of(design, latch.spreads, loose),
        better=None if found.enough else cheapest(design, latch.spreads, loose, latch.wish.works_ratio),
        wrong=reversals(design.key, design.rotor, design.gap_mm),
    )
    if not plots:
        return answer
    place = JobFolder(root).out_dir("latch")
    written = []
    for name, text in plots_of(answer):
        write_text_whole(place / f"{name}.svg", text)
        written.append(place / f"{name}.svg")
    return replace(answer, written=tuple(written))


def plots_of(answer: LatchAnswer) -> Iterator[tuple[str, str]]:
    """(name, SVG) of each plot."""
    design = answer.found.design if answer.found else None
    if design is None or answer.yields is None:
        return
    how = design.turning
    ahead = how.lead_deg >= 0
    lead = how.lead_deg[ahead]
    yield (
        "torque",
        plot_svg(
            "The key leads the rotor: what turns it",
            "lead of the key, degrees",
            "N mm",
            [
                Curve("torque", lead, how.torque_nmm[ahead]),
                Curve("less what rubs", lead, (how.torque_nmm - how.rubbed_nmm)[ahead]),
            ],
        ),
    )
    gaps = np.linspace(1.0, 12.0, 45)
    yield (
        "pull",
        plot_svg(
            "Key and rotor in line: what draws them together",
            "from magnet to magnet, mm",
            "N",
            [Curve("pull", gaps, pull_n(design.key, design.rotor, gaps, 0.0))],
        ),
    )
    ring = polyline_mm(design.cam)
    ring = np.vstack([ring, ring[:1]])
    turn = np.linspace(0.0, 2.0 * math.pi, 241)
    radius, _ = design.cam.pitch_mm(turn)
    yield (
        "cam",
        plot_svg(
            "The cam, and the way of a bolt's ball about it",
            "mm",
            "mm",
            [
                Curve("cam", ring[:, 0], ring[:, 1]),
                Curve("ball's middle", radius * np.cos(turn), radius * np.sin(turn)),
            ],
            square=True,
        ),
    )
    rises = [(row.words, 100.0 * row.rises_ratio) for row in answer.yields.matters]
    title = f"{100 * answer.yields.works_ratio:.1f} of 100 work; how many more if one size were exact"
    yield "yield", bars_svg(title, "more of 100", rises)
    skins = np.linspace(1.0, 6.0, 21)
    curves = []
    for stack in (1, 2, 3):
        key, rotor = (
            alternating(replace(ring.disc, stack=stack), ring.radius_mm, len(ring.signs))
            for ring in (design.key, design.rotor)
        )
        peaks = [turning(key, rotor, design.gap_mm - design.skin_mm + skin).net_nmm for skin in skins.tolist()]
        higher = rotor.disc.length_mm - design.rotor.disc.length_mm
        words = "single magnets" if stack == 1 else f"stacks of {stack}"
        curves.append(Curve(f"{words}, {design.high_mm + higher:.0f} mm high", skins, np.array(peaks)))
    title = f"Torque against skin and height, {design.across_mm:.0f} mm across"
    yield "trade", plot_svg(title, "skin, mm", "N mm", curves)


def latch_words(answer: LatchAnswer) -> list[str]:
    """The answer in lines."""
    if answer.found is None:
        return _simple_words(answer)
    found, wish = answer.found, answer.latch.wish
    if found.design is None or answer.yields is None:
        return [
            f"No latch of what is on hand does it ({found.looked_at} looked at):",
            *(f"- {w}" for w in found.lacks),
        ]
    design, how = found.design, found.design.turning
    lines = [
        f"The smallest of {found.looked_at} latches: pocket {design.across_mm:.0f} mm across, {design.high_mm:.1f} "
        f"mm high under {design.skin_mm:g} mm of skin; the key turns {design.turn_deg:.0f} degrees",
        f"key: {_ring_words(design.key)}; rotor: {_ring_words(design.rotor)}; {design.gap_mm:.1f} mm between them",
        f"bolts: {design.bolts} of {design.rod.diameter_mm:g} mm rod, {design.bolt_mm:.1f} mm long, ends rounded to "
        f"balls; throw {design.cam.throw_mm:g} mm; {_back_words(design)}",
        f"cam: radius {design.cam.low_mm:g} to {design.cam.low_mm + design.cam.throw_mm:g} mm, "
        f"{design.cam_high_mm:g} mm thick; {_cutter_words(design)}",
        f"holes: {design.hole_mm:g} mm wide, {design.hole_deep_mm:g} mm deep, {design.over_mm:g} mm of wood above",
        f"torque: {how.peak_nmm:.0f} N mm at {how.peak_deg:.0f} degrees of lead, {how.net_nmm:.0f} after rubbing; "
        f"the key turns {how.dead_deg:.0f} degrees for nothing and slips at {how.slips_deg:.0f}; pulled together "
        f"with {float(np.abs(how.pull_n).max()):.1f} N, which bends the skin {design.skin_bends_mm:.2f} mm",
        _rest_words(design),
        f"a pulled lid: {design.lid.least_n:.0f} N, then {design.lid.first} (wished: {wish.holds_n:g} N)",
        "takes " + ", ".join(f"{count} of {name}" for name, count in found.takes),
        "",
        "As drawn, each gate is passed by: "
        + ", ".join(f"{name} {_margin_words(name, by)}" for name, by in answer.margins),
        f"Built like this, {100 * answer.yields.works_ratio:.1f} (+- {100 * answer.yields.error_ratio:.1f}) of 100 "
        f"work; wished: {100 * wish.works_ratio:g}",
    ]
    fails = [f"{name} {100 * share:.1f}" for name, share in answer.yields.fails_ratio if share > 5e-4]
    if fails:
        lines.append("Gates that fail, of 100: " + ", ".join(fails))
    matter = [
        f"{row.words} (+{100 * row.rises_ratio:.1f})" for row in answer.yields.matters[:3] if row.rises_ratio > 0
    ]
    if matter:
        lines.append("What matters most, and how many more would work if it were exact: " + ", ".join(matter))
    if answer.better:
        lines.append(f"The least change: {answer.better.words}: {100 * answer.better.works_ratio:.1f} of 100")
    lines += ["", "Mark the polarity. One magnet the wrong way up:"]
    for wrong in answer.wrong:
        left = wrong.turning.peak_nmm
        felt = "no torque at all" if left < 1e-6 else f"{left:.0f} N mm in place of {how.peak_nmm:.0f}"
        lines.append(f"- in the {wrong.ring}: {felt}")
    lines += ["", *(f"- {caution_of(disc)}" for disc in dict.fromkeys((design.key.disc, design.rotor.disc)))]
    lines += [f"- {words}" for words in WORDS]
    lines.append(
        "Forces are computed (magnets within a tenth or so of measurements in papers); nothing was measured."
    )
    return lines


def _simple_words(answer: LatchAnswer) -> list[str]:
    """Of a lid that is held, or a bolt that is slid."""
    held, slid, wish = answer.held, answer.slid, answer.latch.hold
    if held:
        onto = "a steel plate" if wish.plate else "as many in the body"
        lines = [
            f"{wish.count} x {held.magnet}, stacks of {held.disc.stack}, onto {onto}: {held.takes} in all",
            f"held down with {held.hold.straight_n:.1f} N with the lid's weight; lifted at the edge it opens at "
            f"{held.hold.edge_n:.1f} N (wished: {wish.lifts_n:g} to {wish.lifts_most_n:g})",
        ]
        discs: tuple[Disc, ...] = (held.disc,)
    elif slid:
        how = slid.how
        lines = [
            f"in the hand {slid.hand}, a stack of {slid.discs[0].stack}; in the bolt {slid.in_bolt}",
            f"the bolt moves with up to {how.most_n:.2f} N to spare (wished: {answer.latch.slide.spare_n:g}); it "
            f"lags {how.lags_mm:.1f} mm, and is lost where the hand is {how.loses_mm:.1f} mm ahead"
            if how.most_n > 0
            else f"friction is greater than the drag, by {-how.most_n:.2f} N at best: thinner skin, or wax",
        ]
        discs = slid.discs
    else:
        return ["There are too few magnets on hand for it."]
    if not answer.enough:
        lines.append("This is the nearest; nothing on hand does what is wished")
    return [*lines, "", *(f"- {caution_of(disc)}" for disc in dict.fromkeys(discs)), *(f"- {w}" for w in WORDS[:3])]


def _ring_words(ring: Ring) -> str:
    disc = ring.disc
    stacks = f", stacks of {disc.stack}" if disc.stack > 1 else ""
    return (
        f"{len(ring.signs)} magnets {disc.diameter_mm:g} x {disc.thickness_mm:g} mm{stacks}, poles alternating, on a "
        f"circle of {2 * ring.radius_mm:g} mm"
    )


def _back_words(design: Design) -> str:
    back = design.back
    if isinstance(back, MagnetReturn):
        disc = back.disc
        return (
            f"drawn back by a magnet {disc.diameter_mm:g} x {disc.thickness_mm:g} mm in each low flank of the cam, "
            f"{back.recess_mm:g} mm under its surface"
        )
    return f"drawn back by a spring each, {back.rest_n:g} N at rest and {back.rate_n_mm:g} N more a millimetre"


def _cutter_words(design: Design) -> str:
    most = mills_mm(design.cam)
    return "any cutter goes round it" if most > WIDE_MM else f"cutters up to {2 * most:.0f} mm go round it"


def _rest_words(design: Design) -> str:
    others = [f"{abs(rest.lead_deg):.0f}" for rest in design.turning.others]
    if not others:
        return "the key holds the rotor in one position only"
    if design.confused_deg:
        return f"CAUTION: the rotor also locks to the key {', '.join(others)} degrees on, with the bolts elsewhere"
    return f"the rotor also locks to the key {', '.join(dict.fromkeys(others))} degrees on, where the cam is the same"


def _margin_words(name: str, by: float) -> str:
    return f"{100 * by:+.0f} %" if name in ("torque", "returns", "holds") else f"{by:+.2f} mm"


def latch_record(answer: LatchAnswer) -> dict[str, Any]:
    """The answer for scripts."""
    if answer.found is None:
        return _simple_record(answer)
    design = answer.found.design
    record: dict[str, Any] = {
        "file": str(answer.file),
        "kind": answer.latch.kind,
        "looked_at": answer.found.looked_at,
        "enough": answer.found.enough,
        "lacks": answer.found.lacks,
    }
    if design is None or answer.yields is None:
        return record
    return record | {
        "across_mm": design.across_mm,
        "high_mm": design.high_mm,
        "skin_mm": design.skin_mm,
        "gap_mm": design.gap_mm,
        "key": _ring_words(design.key),
        "rotor": _ring_words(design.rotor),
        "bolts": design.bolts,
        "bolt_mm": design.bolt_mm,
        "hole_mm": design.hole_mm,
        "hole_deep_mm": design.hole_deep_mm,
        "turn_deg": design.turn_deg,
        "peak_nmm": design.turning.peak_nmm,
        "net_nmm": design.turning.net_nmm,
        "dead_deg": design.turning.dead_deg,
        "slips_deg": design.turning.slips_deg,
        "holds_n": design.lid.least_n,
        "takes": dict(answer.found.takes),
        "margins": dict(answer.margins),
        "works_ratio": answer.yields.works_ratio,
        "fails_ratio": dict(answer.yields.fails_ratio),
        "matters": [{"what": row.words, "rises_ratio": row.rises_ratio} for row in answer.yields.matters[:3]],
        "better": vars(answer.better) if answer.better else None,
        "written": [str(path) for path in answer.written],
    }


def _simple_record(answer: LatchAnswer) -> dict[str, Any]:
    record: dict[str, Any] = {"file": str(answer.file), "kind": answer.latch.kind, "enough": answer.enough}
    if answer.held:
        held = answer.held
        record |= {"magnet": held.magnet, "stack": held.disc.stack, "takes": held.takes, **vars(held.hold)}
    if answer.slid:
        slid = answer.slid
        record |= {"hand": slid.hand, "stack": slid.discs[0].stack, "in_bolt": slid.in_bolt}
        record |= {"most_n": slid.how.most_n, "lags_mm": slid.how.lags_mm, "loses_mm": slid.how.loses_mm}
    return record
