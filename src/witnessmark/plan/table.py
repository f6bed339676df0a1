"""The plan as a table to read: placement, side up, shift, what it cuts, clearance, cutters, touches, minutes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from witnessmark.job.placement import Placement
from witnessmark.locate.typed import READ_U_MM, TOUCH_OFF_U_MM

from .counts import counted_in_words
from .model import PiecePlan, PlacementPlan

NORMAL_95 = 1.96
SMALL_STEP_MM = 0.10  # a step that is felt with a finger nail (common practice, no source)
HEADINGS = ("placement", "side up", "shift x, y mm", "cuts", "clearance cm3", "cutters", "touches", "minutes")
LEAST_RATIO, MOST_RATIO = 1.5, 4.5  # minutes of all cutters to those at full pace: 1.56 to 4.4 in our three examples
SIDE_WORDS = {
    "+z": "top (+z)",
    "-z": "bottom (-z)",
    "+x": "right end (+x)",
    "-x": "left end (-x)",
    "+y": "back (+y)",
    "-y": "front (-y)",
}


def side_words(up: str) -> str:
    """A side's name with its axis; 'top' is the side that is up in the shape file."""
    return SIDE_WORDS[up]


def guessed_minutes(step: PlacementPlan) -> tuple[float, float] | None:
    """Least and most minutes by the wood to be removed; None where that is not known."""
    if step.pace_mm3_min <= 0.0:
        return None
    at_full_pace = step.removed_mm3 / step.pace_mm3_min
    return LEAST_RATIO * at_full_pace, MOST_RATIO * at_full_pace


def _minutes(step: PlacementPlan) -> str:
    if step.programs:
        return f"{sum(program.minutes for program in step.programs):.0f}"
    guess = guessed_minutes(step)
    return "-" if guess is None else f"{guess[0]:.0f} to {guess[1]:.0f}"


def row(step: PlacementPlan) -> tuple[str, ...]:
    """One placement as words."""
    place = step.placement
    cutters = [program.cutter for program in step.programs] or list(place.cutters)
    return (
        place.name,
        side_words(place.up),
        f"{place.shift_mm[0]:.1f}, {place.shift_mm[1]:.1f}",
        step.cuts,
        f"{step.clearance_mm3 / 1000:.1f}",
        ", ".join(cutters) if step.programs or len(cutters) < 2 else f"at most {', '.join(cutters)}",
        str(len(place.touches)),
        _minutes(step),
    )


def _expected_step(place: Placement) -> list[str]:
    """What finding it by its touches is good for."""
    if place.expected_step_mm is None:
        return []
    words = (
        f"  placement {place.name}: its {len(place.touches)} touches read to {READ_U_MM:g} mm, steps of at most "
        f"{place.expected_step_mm:.2f} mm where it meets others (95 of 100 cases)"
    )
    if place.expected_step_mm <= SMALL_STEP_MM:
        return [words]
    return [
        f"{words}: more than {SMALL_STEP_MM:g}; leave more waste at the ends of the blank, so that it is touched "
        "farther apart, or read each touch several times"
    ]


def _floors_step(plan: PiecePlan) -> list[str]:
    """One uncertainty of z for each cutter, shared by all that it cuts: floors of two cutters step by both."""
    if all(len(step.programs) < 2 for step in plan.placements):
        return []
    step_mm = NORMAL_95 * math.sqrt(2.0) * TOUCH_OFF_U_MM
    return [
        f"  floors of different cutters, each touched off to {TOUCH_OFF_U_MM:g} mm, step by at most {step_mm:.2f} mm "
        "(95 of 100 cases)"
    ]


def plan_text(plans: Sequence[PiecePlan]) -> str:
    """All pieces' plans, columns aligned."""
    blocks = []
    for plan in plans:
        rows = [HEADINGS, *(row(step) for step in plan.placements)]
        widths = [max(len(line[k]) for line in rows) for k in range(len(HEADINGS))]
        lines = [f"piece {plan.piece.name}"]
        lines += ["  " + "  ".join(cell.ljust(width) for cell, width in zip(line, widths)).rstrip() for line in rows]
        lines.append(
            f"  {len(plan.placements)} placements; fewest possible by the bound: {plan.bound}; "
            f"{counted_in_words(plan.evaluated, plan.pruned)}"
        )
        if not any(step.programs for step in plan.placements):
            lines.append(
                "  minutes are guessed from the wood removed; they, and which cutters have work, are known once the "
                "programs are written (program)"
            )
        lines += [f"  {note}" for note in plan.notes]
        for step in plan.placements:
            lines += [f"  placement {step.placement.name}: {note}" for note in step.placement.notes]
            lines += _expected_step(step.placement)
        lines += _floors_step(plan)
        for eased in plan.eased:
            x, y, z = eased.place_mm
            lines.append(
                f"  eased to radius {eased.radius_mm:.1f} mm at x {x:z.0f} y {y:z.0f} z {z:z.0f}"
                f" (leaves {eased.leftover_mm:.1f} mm)"
            )
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"
