"""What ``new`` asks at a terminal: the sizes that a shape and six sizes leave open, group by group.

The questions stand in the order of walking round the machine; each says how to measure, in which unit, and what is
taken if nothing is answered.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from witnessmark.job.measure import how_to_measure
from witnessmark.job.models import Job
from witnessmark.job.units import length_mm

SHOE = "machine.shoe"  # asked as one: DIAMETERxHANG, or none
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "The machine",
        (
            "machine.name",
            "machine.nose_above_bed_mm",
            "machine.gantry_above_bed_mm",
            "machine.clear_width_mm",
            "machine.overhang_axis",
            "machine.moves",
            "machine.nose_length_mm",
            SHOE,
            "machine.shoe_on",
        ),
    ),
    (
        "The movable board",
        (
            "machine.board.thickness_mm",
            "machine.board.size_x_mm",
            "machine.board.size_y_mm",
            "machine.board.hole_pitch_mm",
            "machine.board.hole_inset_mm",
            "machine.board.bolt_places_mm",
            "machine.board.bolt_head_height_mm",
            "machine.board.bolt_head_diameter_mm",
            "machine.board.repeatability_mm",
        ),
    ),
    (
        "Spindle and speeds",
        (
            "machine.spindle_min_rpm",
            "machine.spindle_max_rpm",
            "machine.spindle_power_w",
            "machine.rapid_x_mm_min",
            "machine.rapid_y_mm_min",
            "machine.rapid_z_mm_min",
            "machine.feed_max_mm_min",
            "machine.acceleration_x_mm_s2",
            "machine.acceleration_y_mm_s2",
            "machine.acceleration_z_mm_s2",
            "machine.corner_deviation_mm",
        ),
    ),
    (
        "The controller",
        (
            "machine.controller.units",
            "machine.controller.decimals",
            "machine.controller.arcs",
            "machine.controller.radius_arcs",
            "machine.controller.canned_cycles",
            "machine.controller.radius_compensation",
            "machine.controller.probing",
            "machine.controller.expressions",
            "machine.controller.tool_change",
            "machine.controller.line_numbers",
            "machine.controller.comments",
        ),
    ),
    (
        "The cutter",
        (
            "cutters.0.kind",
            "cutters.0.flute_length_mm",
            "cutters.0.shank_diameter_mm",
            "cutters.0.corner_radius_mm",
            "cutters.0.included_angle_deg",
            "cutters.0.neck_diameter_mm",
            "cutters.0.neck_length_mm",
            "cutters.0.flutes",
            "cutters.0.centre_cutting",
            "cutters.0.feed_mm_min",
            "cutters.0.entry_feed_mm_min",
            "cutters.0.spindle_rpm",
            "cutters.0.stepdown_mm",
            "cutters.0.stepover_mm",
        ),
    ),
    (
        "The blank",
        (
            "pieces.0.blank.size_x_mm",
            "pieces.0.blank.size_y_mm",
            "pieces.0.blank.size_z_mm",
            "pieces.0.blank.below_mm",
            "pieces.0.blank.species",
            "pieces.0.blank.grain_axis",
            "pieces.0.blank.glue_lines_z_mm",
        ),
    ),
)
ASKED = tuple(key for _, keys in GROUPS for key in keys)
UNITS = (("_mm_min", "mm/min"), ("_mm_s2", "mm/s2"), ("_mm", "mm"), ("_rpm", "rpm"), ("_w", "W"), ("_deg", "degrees"))


@dataclass(frozen=True)
class Question:
    """One thing to ask: its key and group, what it is, how to measure it and in which unit, and the value taken if
    nothing is answered."""

    key: str
    group: str
    words: str
    default: Any

    @property
    def shown(self) -> str:
        """The default as it would be typed."""
        value = self.default
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, float):
            return f"{value:g}"
        if isinstance(value, tuple | list):
            return ", ".join(f"{each:g}" for each in value) or "none"
        return "none" if value is None else str(value)


def questions(job: Job) -> Iterator[Question]:
    """What a shape and six sizes leave open, in the order of walking round the machine."""
    data = job.model_dump()
    for group, keys in GROUPS:
        for key in keys:
            found, value = _value_at(data, key)
            if found:
                yield Question(key, group, _words(key), value)


def answered(job: Job, answers: dict[str, Any]) -> Job:
    """The job with answers put in; sizes may carry their unit. ValueError says what cannot be used."""
    data = job.model_dump()
    for key, value in answers.items():
        place: Any = data
        *path, last = key.split(".")
        for part in path:
            place = place[int(part)] if part.isdigit() else place[part]
        place[last] = _shoe(value) if key == SHOE else _several(value, place[last])
    return Job.model_validate(data)


def _value_at(data: Any, key: str) -> tuple[bool, Any]:
    """Whether the job has such a place (without a movable board none of its sizes), and what is there."""
    for part in key.split("."):
        if data is None:
            return False, None
        data = data[int(part)] if part.isdigit() else data[part]
    if key == SHOE and data is not None:
        return True, f"{data['diameter_mm']:g}x{data['below_nose_mm']:g}"
    return True, data


def _words(key: str) -> str:
    """What it is and how to measure it, with the unit."""
    if key == SHOE:
        across, hang = (how_to_measure(f"{SHOE}.{size}") for size in ("diameter_mm", "below_nose_mm"))
        return f"{across}, x, {hang} (90x25), or none; mm"
    words = how_to_measure(key.replace(".0.", ".")) or key
    unit = next((unit for end, unit in UNITS if key.endswith(end)), "")
    return f"{words}; {unit}" if unit else words


def _shoe(value: Any) -> dict[str, float] | None:
    text = str(value).strip().lower()
    if text in ("none", "no", ""):
        return None
    sizes = text.split("x")
    if len(sizes) != 2:
        raise ValueError(f"'{str(value)[:40]}' is no shoe: write its diameter x how far it hangs, 90x25, or none")
    return {"diameter_mm": length_mm(_plain(sizes[0])), "below_nose_mm": length_mm(_plain(sizes[1]))}


def _several(value: Any, before: Any) -> Any:
    """A list where one is asked for: "5, 205"; none is an empty one."""
    if not isinstance(before, tuple | list):
        return value
    text = str(value).strip()
    return () if text.lower() == "none" else tuple(_plain(part) for part in text.split(","))


def _plain(text: str) -> float | str:
    """A number where it is one; else the text, with its unit."""
    try:
        return float(text)
    except ValueError:
        return text.strip()
