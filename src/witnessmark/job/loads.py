"""What a cutter is asked to do: the bite of each tooth, and the power that cutting takes of the spindle.

Question  are speed, feed, flutes and depth of a cutter in the range in which it cuts, and can the spindle turn it?
Units     mm, mm/min, rpm, W
Method    bite: feed / (rpm * flutes), by definition; power: cutting pressure * width * depth * feed, by definition,
          for a slot as wide as the cutter and one pass deep
Source    cutting pressure 37.6 N/mm2, particleboard milled at 60 m/s: Palubicki (2021), Materials 14, 2208 (abstract
          seen). Taken threefold: pressure rises as chips thin (from memory), and wood is not board
Valid     as an order of magnitude: of nine woods density alone says little about milling energy (RSD 11(7) 29674)
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .models import Cutter, Machine

PRESSURE_N_MM2 = 3 * 37.6
LEAST_BITE_MM, MOST_BITE_MM = 0.01, 0.25  # small cutters in wood (common practice, no source)


def bite_mm(cutter: Cutter) -> float:
    """How far the work moves on from one tooth to the next."""
    return cutter.feed_mm_min / (cutter.spindle_rpm * cutter.flutes)


def power_w(cutter: Cutter) -> float:
    """What cutting a slot one pass deep at the full feed takes."""
    width_mm, depth_mm = cutter.diameter_mm, cutter.stepdown_mm
    return PRESSURE_N_MM2 * width_mm * depth_mm * cutter.feed_mm_min / 60_000


def suited(cutter: Cutter, machine: Machine) -> Cutter:
    """A listed cutter as this machine can run it: the nearest speed that the spindle has, feeds at the same bite.

    No feed is above the machine's own; whole mm/min.
    """
    rpm = min(max(cutter.spindle_rpm, machine.spindle_min_rpm), machine.spindle_max_rpm)
    ratio = rpm / cutter.spindle_rpm
    feeds = {
        key: float(math.floor(min(getattr(cutter, key) * ratio, machine.feed_max_mm_min)))
        for key in ("feed_mm_min", "entry_feed_mm_min")
    }
    return cutter.model_copy(update={"spindle_rpm": rpm, **feeds})


def load_notes(machine: Machine, cutters: Sequence[Cutter]) -> tuple[str, ...]:
    """What is worth a second look before cutting; nothing where all is usual."""
    notes = []
    for cutter in cutters:
        bite = bite_mm(cutter)
        at = f"{cutter.feed_mm_min:.0f} mm/min, {cutter.spindle_rpm:.0f} rpm, {cutter.flutes} flutes"
        if bite < LEAST_BITE_MM:
            notes.append(
                f"{cutter.name}: each tooth bites {bite:.3f} mm ({at}): below {LEAST_BITE_MM:g} mm it rubs and "
                "burns; feed it faster or turn it slower (common practice, no source)"
            )
        if bite > MOST_BITE_MM:
            notes.append(
                f"{cutter.name}: each tooth bites {bite:.2f} mm ({at}): above {MOST_BITE_MM:g} mm edges tear "
                "and small cutters break; feed it slower or turn it faster (common practice, no source)"
            )
        power = power_w(cutter)
        if power > machine.spindle_power_w:
            notes.append(
                f"{cutter.name}: a slot {cutter.stepdown_mm:g} mm deep at full feed takes some {power:.0f} W, and "
                f"the spindle has {machine.spindle_power_w:.0f} W; lower stepdown_mm or feed_mm_min (an estimate: "
                f"{PRESSURE_N_MM2:.0f} N/mm2)"
            )
    return tuple(notes)
