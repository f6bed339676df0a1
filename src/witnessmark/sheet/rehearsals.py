"""The rehearsals of a piece: what to look for at each stop, and what each mistake looks like."""

from __future__ import annotations

from typing import Any

import numpy as np

from witnessmark.job.placement import Placement
from witnessmark.plan.model import PiecePlan
from witnessmark.plan.rehearsal import PLAY_MM, ZERO_ELSEWHERE, Rehearsal, Sight
from witnessmark.program.rehearse import CARD_MM, FIRST_MM

from .words import clean, mm

FAR_MM = 100.0
LIKE_IT = "looks as it should: only the marks written on the blank tell"
Page = dict[str, Any]


def rehearsal_pages(plan: PiecePlan) -> list[Page]:
    """One row for each placement that has a rehearsal."""
    return [
        _page(number, step.rehearsal, level_words(step.placement))
        for number, step in enumerate(plan.placements, 1)
        if step.rehearsal is not None
    ]


def how_to() -> list[str]:
    """What is done at each stop; the same for all."""
    low_mm = FIRST_MM - PLAY_MM
    return [
        "Set and touch off the placement's first cutter. Leave the spindle off. Run the rehearsal, hand at the stop.",
        "It goes round all that will be cut as high as it can: see that nothing is in the way.",
        f"Where it stops over a corner of the blank or over a cut, the tip is over it within {mm(PLAY_MM, 0)} mm. "
        "If the machine's x 0, y 0 is somewhere else, it is far beside.",
        f"At the next stop the shank of a {mm(FIRST_MM, 0)} mm drill, laid flat, just goes under the tip. If it does "
        "not, or there is more room: go no further.",
        f"At the last stop a card of {mm(CARD_MM, 0)} mm just slips under. The cutter is where the programs take it "
        "to be.",
        f"A cutter {mm(PLAY_MM, 0)} mm too low leaves {mm(low_mm, 0)} mm at the first stop; one that was not touched "
        "off again is off by the difference of the two cutters, or by the setting block.",
    ]


def seen(sight: Sight) -> str:
    """What a mistake looks like."""
    found = []
    if sight.beside_mm is not None:
        far = "more than 100" if sight.beside_mm > FAR_MM else mm(sight.beside_mm, 0)
        found.append(f"the tip stands {far} mm beside the corner")
    if sight.gap_mm is not None and sight.gap_mm <= 0.0:
        found.append("the tip meets the wood on its slow way down to the first stop: hand at the stop")
    elif sight.gap_mm is not None:
        found.append(f"{mm(sight.gap_mm)} mm under the tip instead of {mm(FIRST_MM, 0)}")
    if sight.uncut:
        found.append("uncut wood where it stops over a cut")
    return ", ".join(found) or LIKE_IT


def stops(rehearsal: Rehearsal) -> str:
    """Over what it stops on its way."""
    over = [f"the blank's {rehearsal.corner}"] if rehearsal.corner else []
    if rehearsal.cut_mm is not None:
        over.append(f"a cut at x {mm(rehearsal.cut_mm[0])} y {mm(rehearsal.cut_mm[1])}")
    return f"Stops over {' and over '.join(over)}." if over else ""


def level_words(place: Placement) -> str:
    """Where heights are read, and what they should be; '' where none can be."""
    told = []
    for number, touch in enumerate(place.levels, 1):
        x, y, z = place.stand.apply(np.array(touch.point_mm)) + np.array([*place.shift_mm, 0.0])
        told.append(f"L{number} x {mm(x, 0)} y {mm(y, 0)} z {mm(z, 2)}")
    return f"Level if these heights are read: {', '.join(told)}." if told else ""


def where(rehearsal: Rehearsal) -> str:
    x, y, z = rehearsal.at_mm
    return f"{rehearsal.land}, x {mm(x)} y {mm(y)} z {mm(z)}"


def _page(number: int, rehearsal: Rehearsal, level: str) -> Page:
    return {
        "number": number,
        "file": clean(rehearsal.file, 80),
        "where": clean(where(rehearsal), 120),
        "level": clean(level, 200),
        "stops": clean(stops(rehearsal), 200),
        "sights": [
            {"mistake": clean(s.mistake, 80), "seen": seen(s)}
            for s in rehearsal.sights
            if s.mistake != ZERO_ELSEWHERE  # told once for all
        ],
    }
