"""The log as CSV and JSON: for a spreadsheet, and for scripts."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from .entries import Step

COLUMNS = (
    "id", "at", "piece", "placement", "kind", "what", "touch", "value_mm", "residual_mm", "dx_mm", "dy_mm",
    "turn_rad", "step_mm", "file", "fingerprint", "cutter", "predicted_minutes", "minutes", "stop_line",
    "photographs", "taken_back_at",
)  # fmt: skip
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # begins what a spreadsheet would work out


def log_json(steps: Sequence[Step]) -> list[dict[str, Any]]:
    """One record a step, with all that belongs to it."""
    return [asdict(step) for step in steps]


def log_csv(steps: Sequence[Step]) -> str:
    """RFC 4180: one line a step, and one more for each of its readings."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for step in steps:
        writer.writerow(_line(step))
        for reading in step.readings:
            row = {"id": step.id, "at": step.at, "piece": _text(step.piece), "placement": _text(step.placement)}
            row |= {"kind": "reading", "what": _text(reading.name), "touch": reading.touch}
            writer.writerow(row | {"value_mm": reading.value_mm, "residual_mm": reading.residual_mm})
    return out.getvalue()


def _line(step: Step) -> dict[str, Any]:
    row: dict[str, Any] = {
        "id": step.id,
        "at": step.at,
        "piece": _text(step.piece),
        "placement": _text(step.placement),
        "kind": step.kind,
        "what": _text(step.what),
        "photographs": _text(" ".join(step.photographs)),
        "taken_back_at": step.taken_back_at,
    }
    if step.pose:
        row |= {name: getattr(step.pose, name) for name in ("dx_mm", "dy_mm", "turn_rad", "step_mm")}
    if step.run:
        row |= {"file": _text(step.run.file), "fingerprint": step.run.fingerprint, "cutter": _text(step.run.cutter)}
        row |= {"predicted_minutes": step.run.minutes}
    if step.end:
        row |= {"stop_line": step.end.stop_line, "minutes": step.end.minutes}
    return row


def _text(words: str) -> str:
    """Words that a spreadsheet takes for words."""
    return f"'{words}" if words.startswith(FORMULA) else words
