"""The plan as files: one to read and go on from (TOML), and the height fields beside it (numpy archives)."""

from __future__ import annotations

import tomllib
import zipfile
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit

from witnessmark.field.grid import Grid, Heights
from witnessmark.job.errors import refuse
from witnessmark.job.frames import Rigid
from witnessmark.job.models import Job
from witnessmark.job.names import file_stem
from witnessmark.job.placement import Bridge, Hold, Obstacle, Placement, Touch
from witnessmark.job.whole import write_text_whole, written_whole
from witnessmark.path.request import Pocket

from .model import Eased, PiecePlan, PlacementPlan, ProgramInfo
from .rehearsal import Rehearsal, Sight

FORMAT = 3  # raised when a stored plan of an older tool can no longer be read


def save_plans(plans: list[PiecePlan], plan_file: Path, fields_dir: Path) -> None:
    """Write the plan of every piece; the fields first, so that the plan never points at what is not there."""
    fields_dir.mkdir(parents=True, exist_ok=True)
    kept = set()
    for piece in plans:
        for step in piece.placements:
            arrays = {"top_before": step.top_before, "top_after": step.top_after, "clearance": step.clearance}
            if step.tips is not None:
                arrays["tips"] = step.tips
            file = _fields_file(fields_dir, piece.piece.name, step.placement.name)
            with written_whole(file) as beside:
                _write_fields(beside, arrays)
            kept.add(file.name)
    save_tables(plans, plan_file)
    for old in fields_dir.glob("*.npz"):
        if old.name not in kept:
            old.unlink()


def save_tables(plans: list[PiecePlan], plan_file: Path) -> None:
    """Write the plan anew and leave its height fields as they are."""
    document = tomlkit.document()
    document.add(tomlkit.comment("Made by witnessmark plan. Change job.toml, not this file."))
    document["format"] = FORMAT
    document["piece"] = tomlkit.aot()
    for piece in plans:
        document["piece"].append(tomlkit.item(_piece_table(piece)))  # type: ignore[attr-defined]
    write_text_whole(plan_file, tomlkit.dumps(document))


def load_plans(job: Job, plan_file: Path, fields_dir: Path | None) -> list[PiecePlan]:
    """Read the plan back; refused if there is none or it was made for other pieces.

    Without ``fields_dir`` the height fields are not read (they come back empty): such a plan is for ``save_tables``.
    """
    if not plan_file.is_file():
        raise refuse(str(plan_file), "there is no plan yet", "run: witnessmark plan")
    try:
        data = tomllib.loads(plan_file.read_text(encoding="utf-8"))
    except ValueError as error:  # no text, or no TOML: damaged
        raise refuse(str(plan_file), f"the plan cannot be read ({error})", "run: witnessmark plan") from None
    if data.get("format") != FORMAT:
        raise refuse(str(plan_file), "the plan was made by another edition of the tool", "run: witnessmark plan")
    specs = {spec.name: spec for spec in job.pieces}
    plans = []
    for table in data["piece"]:
        if table["name"] not in specs:
            raise refuse(str(plan_file), f"the job has no piece {table['name']!r} any more", "run: witnessmark plan")
        steps = tuple(_read_step(table["name"], step, fields_dir) for step in table["placement"])
        plans.append(
            PiecePlan(
                piece=specs[table["name"]],
                placements=steps,
                bound=table["bound"],
                evaluated=table["evaluated"],
                pruned=table["pruned"],
                eased=tuple(
                    Eased(_three(e["place_mm"]), e["radius_mm"], e["leftover_mm"]) for e in table.get("eased", [])
                ),
                notes=tuple(table.get("notes", [])),
            )
        )
    return plans


def _fields_file(fields_dir: Path, piece: str, placement: str) -> Path:
    return fields_dir / f"{file_stem(piece)}-{file_stem(placement)}.npz"


def _piece_table(plan: PiecePlan) -> dict[str, Any]:
    return {
        "name": plan.piece.name,
        "bound": plan.bound,
        "evaluated": plan.evaluated,
        "pruned": dict(plan.pruned),
        "notes": list(plan.notes),
        "eased": [asdict(e) | {"place_mm": list(e.place_mm)} for e in plan.eased],
        "placement": [_step_table(step) for step in plan.placements],
    }


def _step_table(step: PlacementPlan) -> dict[str, Any]:
    place = step.placement
    table: dict[str, Any] = {
        "name": place.name,
        "cuts": step.cuts,
        "up": place.up,
        "quarter_turns": place.quarter_turns,
        "shift_mm": list(place.shift_mm),
        "support_z_bed_mm": place.support_z_bed_mm,
        "region_mm": list(place.region_mm),
        "through_z_mm": place.through_z_mm,
        "cutters": list(place.cutters),
        "notes": list(place.notes),
        "removed_mm3": round(step.removed_mm3, 1),
        "clearance_mm3": round(step.clearance_mm3, 1),
        "pace_mm3_min": round(step.pace_mm3_min, 1),
        "stand": [[float(v) for v in row] for row in place.stand.matrix34()],
        "grid": asdict(step.grid),
        "holds": [{"kind": h.kind, "outline_mm": [list(p) for p in h.outline_mm]} for h in place.holds],
        "bridges": [asdict(b) | {"outline_mm": [list(p) for p in b.outline_mm]} for b in place.bridges],
        "obstacles": [asdict(o) | {"outline_mm": [list(p) for p in o.outline_mm]} for o in place.obstacles],
        "touches": [_touch_table(touch) for touch in place.touches],
        "levels": [_touch_table(touch) for touch in place.levels],
        "programs": [asdict(p) for p in step.programs],
        "pockets": [asdict(p) | {"outline_mm": [list(q) for q in p.outline_mm]} for p in step.pockets],
    }
    if place.corner_z_mm is not None:
        table["corner_z_mm"] = place.corner_z_mm
    if place.expected_step_mm is not None:
        table["expected_step_mm"] = round(place.expected_step_mm, 4)
    if step.rehearsal is not None:
        table["rehearsal"] = _rehearsal_table(step.rehearsal)
    if place.touch_off_mm is not None:
        table["touch_off_mm"] = list(place.touch_off_mm)
        table["touch_off_block_mm"] = place.touch_off_block_mm
    return table


def _touch_table(touch: Touch) -> dict[str, Any]:
    return asdict(touch) | {"point_mm": list(touch.point_mm), "normal": list(touch.normal)}


def _read_touch(t: dict[str, Any]) -> Touch:
    return Touch(t["name"], t["kind"], _three(t["point_mm"]), _three(t["normal"]), t["known_from"])


def _rehearsal_table(rehearsal: Rehearsal) -> dict[str, Any]:
    sights = [{key: value for key, value in asdict(sight).items() if value is not None} for sight in rehearsal.sights]
    table = asdict(rehearsal) | {"at_mm": list(rehearsal.at_mm), "sights": sights}
    cut = table.pop("cut_mm")
    return table if cut is None else table | {"cut_mm": list(cut)}


def _read_rehearsal(table: dict[str, Any] | None) -> Rehearsal | None:
    if table is None:
        return None
    sights = tuple(Sight(**sight) for sight in table["sights"])
    cut = table.get("cut_mm")
    cut_mm = None if cut is None else (float(cut[0]), float(cut[1]))
    return Rehearsal(**{**table, "at_mm": _three(table["at_mm"]), "sights": sights, "cut_mm": cut_mm})


def _read_step(piece: str, table: dict[str, Any], fields_dir: Path | None) -> PlacementPlan:
    fields = {} if fields_dir is None else _read_fields(_fields_file(fields_dir, piece, table["name"]))
    nothing = np.empty((0, 0), dtype=np.float32)
    stand = np.array(table["stand"], dtype=np.float64)
    touch_off = table.get("touch_off_mm")
    placement = Placement(
        name=table["name"],
        up=table["up"],
        stand=Rigid(stand[:, :3], stand[:, 3]),
        shift_mm=(table["shift_mm"][0], table["shift_mm"][1]),
        support_z_bed_mm=table["support_z_bed_mm"],
        region_mm=tuple(table["region_mm"]),
        cutters=tuple(table["cutters"]),
        quarter_turns=table["quarter_turns"],
        holds=tuple(Hold(h["kind"], _outline(h["outline_mm"])) for h in table["holds"]),
        bridges=tuple(Bridge(_outline(b["outline_mm"]), b["z_from_mm"], b["z_to_mm"]) for b in table["bridges"]),
        obstacles=tuple(
            Obstacle(o["name"], _outline(o["outline_mm"]), o["z_from_mm"], o["z_to_mm"]) for o in table["obstacles"]
        ),
        touches=tuple(_read_touch(touch) for touch in table["touches"]),
        levels=tuple(_read_touch(touch) for touch in table.get("levels", [])),
        touch_off_mm=(touch_off[0], touch_off[1]) if touch_off else None,
        touch_off_block_mm=table.get("touch_off_block_mm", 0.0),
        through_z_mm=table["through_z_mm"],
        corner_z_mm=table.get("corner_z_mm"),
        expected_step_mm=table.get("expected_step_mm"),
        notes=tuple(table["notes"]),
    )
    return PlacementPlan(
        placement=placement,
        cuts=table["cuts"],
        grid=Grid(**table["grid"]),
        top_before=fields.get("top_before", nothing),
        top_after=fields.get("top_after", nothing),
        clearance=fields.get("clearance", nothing),
        removed_mm3=table["removed_mm3"],
        clearance_mm3=table["clearance_mm3"],
        rehearsal=_read_rehearsal(table.get("rehearsal")),
        pace_mm3_min=table.get("pace_mm3_min", 0.0),
        tips=fields.get("tips"),
        programs=tuple(ProgramInfo(**p) for p in table["programs"]),
        pockets=tuple(
            Pocket(p["name"], _outline(p["outline_mm"]), p["top_z_mm"], p["bottom_z_mm"]) for p in table["pockets"]
        ),
    )


def _write_fields(file: Path, arrays: dict[str, Heights]) -> None:
    """As ``numpy.savez_compressed`` does, but lightly: fields are wide and flat, and more effort saves little."""
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, array in arrays.items():
            with archive.open(f"{name}.npy", "w", force_zip64=True) as part:
                np.lib.format.write_array(part, np.asanyarray(array), allow_pickle=False)


def _read_fields(file: Path) -> dict[str, Heights]:
    if not file.is_file():
        raise refuse(str(file), "the plan's height fields are gone", "run: witnessmark plan")
    with np.load(file) as arrays:
        return dict(arrays)


def _three(values_mm: list[float]) -> tuple[float, float, float]:
    return (float(values_mm[0]), float(values_mm[1]), float(values_mm[2]))


def _outline(points_mm: list[list[float]]) -> tuple[tuple[float, float], ...]:
    return tuple((float(p[0]), float(p[1])) for p in points_mm)
