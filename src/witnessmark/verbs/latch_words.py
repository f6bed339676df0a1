"""What there is to say of a latch: in words, and for scripts."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from witnessmark.job.latch import LATCH_FILE
from witnessmark.latch.bolts import MagnetReturn
from witnessmark.latch.cam import mills_mm
from witnessmark.latch.cautions import WORDS, caution_of
from witnessmark.latch.design import Design
from witnessmark.latch.guide import bolts_words
from witnessmark.latch.magnets import Disc, Ring
from witnessmark.latch.search import Found

from .latch import RESTS_MM, SHOWN_RATIO, InPlace, LatchAnswer

WIDE_MM = 50.0  # no cutter has such a radius


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
        f"{_found_words(found)}: pocket {design.across_mm:.0f} mm across, {design.high_mm:.1f} "
        f"mm high under {design.skin_mm:g} mm of skin; the key turns {design.turn_deg:.0f} degrees",
        f"key: {_ring_words(design.key)}; rotor: {_ring_words(design.rotor)}; {design.gap_mm:.1f} mm between them",
        f"bolts: {design.bolts} of {design.rod.diameter_mm:g} mm rod, {design.bolt_mm:.1f} mm long, ends rounded to "
        f"balls; throw {design.cam.throw_mm:g} mm; {_back_words(design)}",
        f"cam: radius {design.cam.low_mm:g} to {design.cam.low_mm + design.cam.throw_mm:g} mm, "
        f"{design.cam_high_mm:g} mm thick; {_cutter_words(design)}",
        f"holes: {design.hole_mm:g} mm wide, {design.hole_deep_mm:g} mm deep, {design.over_mm:g} mm of wood above"
        + (f"; {design.lower_mm:g} mm lower than the bolts, that the lid rattles less" if design.lower_mm else ""),
        f"torque: {how.peak_nmm:.0f} N mm at {how.peak_deg:.0f} degrees of lead, {how.net_nmm:.0f} after rubbing; "
        f"the key slips at {how.slips_deg:.0f}; pulled together with {float(np.abs(how.pull_n).max()):.1f} N",
        _skin_words(design),
        _rest_words(design),
        f"a pulled lid: {design.lid.least_n:.0f} N, then {design.lid.first} (wished: {wish.holds_n:g} N)",
        "takes " + ", ".join(f"{count} of {name}" for name, count in found.takes),
        "",
        "As drawn, each gate is passed by: "
        + ", ".join(f"{name} {_margin_words(name, by)}" for name, by in answer.margins),
        f"Built like this, {100 * answer.yields.works_ratio:.1f} (+- {100 * answer.yields.error_ratio:.1f}) of 100 "
        f"work; wished: {100 * wish.works_ratio:g}",
    ]
    if answer.found_again:
        lines.append(answer.found_again.words)
    fails = [f"{name} {100 * share:.1f}" for name, share in answer.yields.fails_ratio if share > SHOWN_RATIO]
    if fails:
        lines.append("Gates that fail, of 100: " + ", ".join(fails))
    matter = [
        f"{row.words} (+{100 * row.rises_ratio:.1f})" for row in answer.yields.matters[:3] if row.rises_ratio > 0
    ]
    if matter:
        lines.append("What matters most, and how many more would work if it were exact: " + ", ".join(matter))
    lines += _placed_words(answer)
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


def _found_words(found: Found) -> str:
    return f"The smallest of {found.looked_at} latches" if found.looked_at else "The latch that is settled on"


def _placed_words(answer: LatchAnswer) -> list[str]:
    """Where it is let in, how its holes are made, what meets."""
    placed = answer.placed
    if placed is None:
        return ["", f"It is not let into anything: give [place] in {LATCH_FILE}, and: witnessmark latch --use"]
    place, room = placed.let_in.place, placed.let_in.room
    lines = [
        "",
        f"Let into {place.lid} and {place.body} at x {place.x_mm:g} y {place.y_mm:g}, the first bolt "
        f"{place.first_deg:g} degrees from x: the lid's pocket {room.ceiling_mm:.1f} mm deep, the bolts "
        f"{room.below_mm:.1f} mm under the lid's lower face",
    ]
    if answer.added:
        lines.append(f"Pieces added to the job: {', '.join(answer.added)}; witnessmark plan takes them in")
    lines.append(
        "The bolts' holes face inward. The ways to make them, the best first, and how many of 100 latches work:"
    )
    lines += _ways_words(placed)
    meets = [near for near in placed.near if near.meets]
    for near in meets:
        shared = f"{near.shared_mm3:.2f} mm3 when turned by {near.at_deg:.0f} degrees"
        lines.append(f"STOP: {near.one} and {near.other} share {shared}")
    if not meets:
        free = min((near for near in placed.near if near.gap_mm > RESTS_MM), key=lambda near: near.gap_mm)
        lines.append(
            f"Turned degree by degree as exact solids nothing meets; but for bolts on their cam the nearest are "
            f"{free.one} and {free.other}: {free.gap_mm:.2f} mm"
        )
    return lines


def _ways_words(placed: InPlace) -> list[str]:
    """Under a heading for each lot of bolts whose ways are the same; of the share that works the least of them."""
    lots: dict[tuple[object, ...], list[int]] = {}
    for bolt, of_bolt in enumerate(placed.ways):
        told = sorted((way.by, way.lacks, way.words) for way in of_bolt)
        lots.setdefault((placed.let_in.holes[bolt], *told), []).append(bolt)
    lines = []
    for bolts in lots.values():
        if len(lots) > 1:
            lines.append(f"{bolts_words(bolts)}:")
        for way in placed.ways[bolts[0]]:
            mark = "*" if way.by == placed.let_in.holes[bolts[0]] else "-"
            share = min(other.works_ratio for bolt in bolts for other in placed.ways[bolt] if other.by == way.by)
            how = f"{100 * share:.1f}; {way.words}, true to {way.up_mm:.2f} mm in height" if way.able else way.lacks
            lines.append(f"{mark} {way.by}: {how}")
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


def _skin_words(design: Design) -> str:
    flat, bent = design.turning, design.bent
    if bent is None:
        return "STOP: the magnets would draw the skin down onto the rotor: a thicker skin, or weaker magnets"
    return (
        f"rubbing: the key turns {flat.dead_deg:.1f} degrees for nothing; where the skin bends, by up to "
        f"{design.skin_bends_mm:.2f} mm, {bent.dead_deg:.1f}"
    )


def _back_words(design: Design) -> str:
    back = design.back
    if isinstance(back, MagnetReturn):
        disc = back.disc
        return (
            f"drawn back by a magnet {disc.diameter_mm:g} x {disc.thickness_mm:g} mm on edge behind each low flank "
            f"of the cam, under {back.recess_mm:g} mm of wood"
        )
    seat = f", in a chamber of {design.chamber[1] - design.chamber[0]:g} mm" if design.chamber else ""
    return f"drawn back by a spring each, {back.rest_n:g} N at rest and {back.rate_n_mm:g} N more a millimetre{seat}"


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
        "lower_mm": design.lower_mm,
        "turn_deg": design.turn_deg,
        "peak_nmm": design.turning.peak_nmm,
        "net_nmm": design.turning.net_nmm,
        "dead_deg": _known(design.dead_deg),
        "skin_bends_mm": _known(design.skin_bends_mm),
        "slips_deg": design.turning.slips_deg,
        "holds_n": design.lid.least_n,
        "takes": dict(answer.found.takes),
        "margins": dict(answer.margins),
        "works_ratio": answer.yields.works_ratio,
        "fails_ratio": dict(answer.yields.fails_ratio),
        "matters": [{"what": row.words, "rises_ratio": row.rises_ratio} for row in answer.yields.matters[:3]],
        "found_again": vars(answer.found_again) if answer.found_again else None,
        "better": vars(answer.better) if answer.better else None,
        "placed": _placed_record(answer),
        "written": [str(path) for path in answer.written],
    }


def _known(deg_or_mm: float) -> float | None:
    return deg_or_mm if math.isfinite(deg_or_mm) else None


def _placed_record(answer: LatchAnswer) -> dict[str, Any] | None:
    placed = answer.placed
    if placed is None:
        return None
    return {
        "ceiling_mm": placed.let_in.room.ceiling_mm,
        "below_mm": placed.let_in.room.below_mm,
        "added": answer.added,
        "ways": [[vars(way) for way in of_bolt] for of_bolt in placed.ways],
        "near": [vars(near) for near in placed.near],
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
