"""The verdict for people and for other programs: words for the terminal, and a JSON file (docs/proof.md)."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from witnessmark.job.whole import write_text_whole

from .each_wall import WallWorst, worst_wall
from .finding import Finding
from .floors import Floors
from .meet import Step
from .verdict import ProgramRow, Verdict, Watched

SCHEMA = 1
SHOWN = 15
MOST_WALLS = 200  # told one by one, the largest first


def _rounded(value: Any, places: int = 4) -> float:
    return round(float(value), places) + 0.0


def finding_record(finding: Finding) -> dict[str, Any]:
    """One finding as plain values."""
    place = None if finding.place_mm is None else [_rounded(v, 3) for v in finding.place_mm]
    return {
        "kind": finding.kind,
        "harm": finding.harm,
        "what": finding.what,
        "place_mm": place,
        "frame": finding.frame,
        "placement": finding.placement,
        "file": finding.file,
        "line": finding.line,
        "by_mm": _rounded(finding.by_mm),
        "certainty": finding.certainty,
        "remedies": list(finding.remedies),
    }


def verdict_record(verdict: Verdict) -> dict[str, Any]:
    """The verdict on one piece as plain values, as docs/proof.md describes them."""
    return {
        "piece": verdict.piece,
        "passed": verdict.passed,
        "fingerprint": verdict.fingerprint,
        "pitch_mm": verdict.pitch_mm,
        "seconds": _rounded(verdict.seconds, 2),
        "gouge_tolerance_mm": verdict.gouge_tolerance_mm,
        "leftover_allowance_mm": _rounded(verdict.allowance_mm),
        "worst_gouge_mm": _rounded(verdict.worst_gouge_mm),
        "worst_leftover_mm": _rounded(verdict.worst_left_mm),
        "walls": {
            "levels": verdict.walls.levels,
            "edges": verdict.walls.edges,
            "worst_gouge_mm": _rounded(verdict.walls.worst_gouge_mm),
            "worst_leftover_mm": _rounded(verdict.walls.worst_left_mm),
            "each": [_wall_record(wall) for wall in verdict.walls.each[:MOST_WALLS]],
        },
        "floors": [_floors_record(floors) for floors in verdict.floors],
        "step": _step_record(verdict.step),
        "seams": [
            {
                "between": list(seam.placements),
                "by_mm": _rounded(seam.by_mm),
                "place_mm": [_rounded(v, 3) for v in seam.place_mm],
                "places": seam.places,
            }
            for seam in verdict.seams
        ],
        "eased": [
            {
                "place_mm": [_rounded(v, 3) for v in place.place_mm],
                "radius_mm": _rounded(place.radius_mm),
                "leftover_mm": _rounded(place.leftover_mm),
                "z_from_mm": _rounded(place.z_from_mm, 3),
                "z_to_mm": _rounded(place.z_to_mm, 3),
            }
            for place in verdict.eased
        ],
        "programs": [_program_record(row) for row in verdict.programs],
        "findings": [finding_record(finding) for finding in verdict.findings],
    }


def watched_record(watched: Watched) -> dict[str, Any]:
    """What was told of programs without a piece, as plain values."""
    return {
        "passed": watched.passed,
        "programs": [_program_record(row) for row in watched.programs],
        "findings": [finding_record(finding) for finding in watched.findings],
    }


def _program_record(row: ProgramRow) -> dict[str, Any]:
    return {
        "file": row.file,
        "placement": row.placement,
        "cutter": row.cutter,
        "fingerprint": row.fingerprint,
        "motions": row.motions,
        "minutes": _rounded(row.minutes, 2),
        "cutting_minutes": _rounded(row.cutting_minutes, 2),
        "rapid_minutes": _rounded(row.rapid_minutes, 2),
        "cutting_m": _rounded(row.cutting_m, 3),
        "rapid_m": _rounded(row.rapid_m, 3),
        "peak_bite_mm": _rounded(row.peak_bite_mm),
        "peak_removal_mm3_min": _rounded(row.peak_removal_mm3_min, 0),
        "removed_mm3": _rounded(row.removed_mm3, 1),
        "removed_by_minute_mm3": [_rounded(v, 0) for v in row.removed_by_minute_mm3],
        "deepest_cut_mm": _rounded(row.deepest_cut_mm, 3),
        "deepest_cut_line": row.deepest_cut_line,
        "widest_cut_mm": _rounded(row.widest_cut_mm, 3),
        "widest_cut_line": row.widest_cut_line,
        "lowest_tip_mm": _rounded(row.lowest_tip_mm, 3),
        "loose_pieces": row.loose_pieces,
    }


def _wall_record(wall: WallWorst) -> dict[str, Any]:
    def place(at_mm: tuple[float, float, float] | None) -> list[float] | None:
        return None if at_mm is None else [_rounded(v, 3) for v in at_mm]

    return {
        "low_mm": place(wall.low_mm),
        "high_mm": place(wall.high_mm),
        "wall_area_mm2": _rounded(wall.area_mm2, 1),
        "gouge_mm": _rounded(wall.gouge_mm),
        "gouge_place_mm": place(wall.gouge_at_mm),
        "leftover_mm": _rounded(wall.left_mm),
        "leftover_place_mm": place(wall.left_at_mm),
    }


def _step_record(step: Step | None) -> dict[str, Any] | None:
    if step is None:
        return None
    return {
        "by_mm": _rounded(step.by_mm),
        "place_mm": [_rounded(v, 3) for v in step.place_mm],
        "z_from_mm": _rounded(step.z_from_mm, 3),
        "z_to_mm": _rounded(step.z_to_mm, 3),
        "places": step.places,
    }


def _floors_record(floors: Floors) -> dict[str, Any]:
    return {
        "side": floors.side,
        "area_mm2": _rounded(floors.area_mm2, 1),
        "worst_gouge_mm": _rounded(floors.worst_gouge_mm),
        "worst_leftover_mm": _rounded(floors.worst_left_mm),
        "least_deviation_mm": _rounded(floors.bracket_mm[0]),
        "greatest_deviation_mm": _rounded(floors.bracket_mm[1]),
        "undecided_mm2": _rounded(floors.undecided_mm2, 3),
        "undecided_by_mm": _rounded(floors.undecided_by_mm),
        "beside_walls_mm2": _rounded(floors.beside_mm2, 1),
        "finest_pitch_mm": _rounded(floors.finest_mm),
    }


def proof_record(verdicts: Sequence[Verdict]) -> dict[str, Any]:
    """All pieces of a job."""
    return {
        "schema": SCHEMA,
        "passed": all(verdict.passed for verdict in verdicts),
        "pieces": [verdict_record(verdict) for verdict in verdicts],
    }


def write_proof_json(verdicts: Sequence[Verdict], path: Path) -> None:
    """Write ``proof.json``; written beside and renamed."""
    write_text_whole(path, json.dumps(proof_record(verdicts), indent=1, allow_nan=False) + "\n")


def summary_text(verdict: Verdict) -> str:
    """The verdict in words for the terminal and the bench sheet."""
    name = verdict.piece or "the piece"
    stops = sum(finding.harm == "stop" for finding in verdict.findings)
    head = f"{name}: proven" if verdict.passed else f"{name}: NOT proven, {stops} findings stop it"
    lines = [head, f"  proof {verdict.fingerprint}, on a grid of {verdict.pitch_mm:g} mm"]
    lines.append(
        f"  cut into the piece at most {verdict.worst_gouge_mm:z.3f} mm (allowed {verdict.gouge_tolerance_mm:g}), "
        f"wood left at most {verdict.worst_left_mm:z.3f} mm (allowed {verdict.allowance_mm:g})"
    )
    lines.append(f"  walls: {verdict.walls.edges} edges at {verdict.walls.levels} heights{_worst_wall(verdict)}")
    for floors in verdict.floors:
        lines.append(
            f"  floors seen from {floors.side}: {floors.area_mm2 / 100:.0f} cm2, "
            f"{floors.bracket_mm[0]:+.3f} to {floors.bracket_mm[1]:+.3f} mm, "
            f"{floors.undecided_mm2:.2f} mm2 not decided, down to {floors.finest_mm:g} mm"
        )
    if verdict.step is not None:
        x, y, z = verdict.step.place_mm
        lines.append(
            f"  step where the two sides meet: at most {verdict.step.by_mm:.3f} mm, at x {x:.1f} y {y:.1f} z {z:.1f}"
        )
    for seam in verdict.seams:
        x, y, z = seam.place_mm
        lines.append(
            f"  step between placements {' and '.join(seam.placements)}: at most {seam.by_mm:.3f} mm, at x {x:.1f} "
            f"y {y:.1f} z {z:.1f}"
        )
    lines += [_eased_line(verdict)] if verdict.eased else []
    for row in verdict.programs:
        lines.append(f"  {row.file}: {row.cutter}, {row.minutes:.0f} min, {row.fingerprint}")
    lines += [_most_asked(verdict.programs)] if verdict.programs else []
    lines += _findings_lines(verdict.findings)
    return "\n".join(lines)


def _worst_wall(verdict: Verdict) -> str:
    wall = worst_wall(verdict.walls.each)
    at = None if wall is None else wall.gouge_at_mm or wall.left_at_mm
    if wall is None or at is None:
        return ""
    x, y, z = at
    return f"; worst of {len(verdict.walls.each)} walls at x {x:.1f} y {y:.1f} z {z:.1f}"


def _most_asked(programs: Sequence[ProgramRow]) -> str:
    """What the programs ask of a cutter at most; each program's own figures are in the JSON."""
    fullest = max(programs, key=lambda row: row.peak_removal_mm3_min)
    deepest = max(programs, key=lambda row: row.deepest_cut_mm)
    return (
        f"  at most {fullest.peak_removal_mm3_min / 1000:.0f} cm3/min ({fullest.file}), "
        f"{deepest.deepest_cut_mm:.1f} mm deep ({deepest.file}:{deepest.deepest_cut_line})"
    )


def program_table(programs: Sequence[ProgramRow]) -> str:
    """What each program takes and asks for, one line each; empty without programs."""
    if not programs:
        return ""
    heads = ("program", "cutting", "rapid", "cutting", "rapid", "bite", "at most", "deepest", "widest")
    units = ("", "min", "min", "m", "m", "mm", "cm3/min", "mm", "mm")
    lines = [
        (
            row.file,
            f"{row.cutting_minutes:.1f}",
            f"{row.rapid_minutes:.1f}",
            f"{row.cutting_m:.1f}",
            f"{row.rapid_m:.1f}",
            f"{row.peak_bite_mm:.3f}",
            f"{row.peak_removal_mm3_min / 1000:.1f}",
            f"{row.deepest_cut_mm:.1f}",
            f"{row.widest_cut_mm:.1f}",
        )
        for row in programs
    ]
    wide = [max(len(line[k]) for line in (heads, units, *lines)) for k in range(len(heads))]

    def told(cells: tuple[str, ...]) -> str:
        return "  ".join([cells[0].ljust(wide[0]), *(cell.rjust(w) for cell, w in zip(cells[1:], wide[1:]))]).rstrip()

    return "\n".join(told(line) for line in (heads, units, *lines))


def findings_text(watched: Watched) -> str:
    """What was told of programs without a piece, in words."""
    stops = sum(finding.harm == "stop" for finding in watched.findings)
    lines = ["nothing stops it" if watched.passed else f"NOT proven, {stops} findings stop it"]
    for row in watched.programs:
        lines.append(
            f"  {row.file}: {row.cutter}, {row.minutes:.0f} min, {row.removed_mm3 / 1000:.1f} cm3 of wood, "
            f"lowest tip {row.lowest_tip_mm:.2f} mm above the supporting face, {row.fingerprint}"
        )
    return "\n".join([*lines, *_findings_lines(watched.findings)])


def _eased_line(verdict: Verdict) -> str:
    radii = Counter(place.radius_mm for place in verdict.eased)
    kinds = ", ".join(f"{count} with radius {radius:g} mm" for radius, count in sorted(radii.items()))
    worst = verdict.eased[0]
    x, y, z = worst.place_mm
    return (
        f"  eased (no cutter fits): {kinds}; most wood left {worst.leftover_mm:.2f} mm "
        f"at x {x:.1f} y {y:.1f} z {z:.1f}"
    )


def _findings_lines(findings: Sequence[Finding]) -> list[str]:
    lines = []
    for finding in findings[:SHOWN]:
        text = str(finding).replace("\n", "\n    ")
        lines.append(f"  {finding.harm}, {finding.kind}: {text}")
    if len(findings) > SHOWN:
        lines.append(f"  and {len(findings) - SHOWN} more, see proof.json")
    return lines
