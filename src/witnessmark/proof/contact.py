"""Shank, nut, nose and shoe against the wood that is still there, and flutes against what they have to cut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights
from witnessmark.field.watch import Watch, remove_and_watch
from witnessmark.job.assembly import Assembly, Step
from witnessmark.job.models import Settings
from witnessmark.job.placement import Placement

from .charges import Dock
from .finding import Certainty, Finding
from .hardware import NAMES, hardware_findings, touch_off_findings
from .loads import Taken
from .passes import chorded
from .shapes import watched_steps

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEAR_MM = 1.0  # rigid parts this close to wood are told as near misses
NEAR_SHARE = 0.9  # but never more than this of the clearance that the plan keeps

REMEDIES = {
    "shank": ("take less deep steps, so that the flutes stay above the wood", "use a cutter with longer flutes"),
    "nut": ("set the cutter further out of the collet", "cut clearance beside that place first"),
    "nose": ("set the cutter further out of the collet", "cut clearance beside that place first"),
    "shoe": ("take the dust shoe off for this placement", "raise the shoe"),
}


def watched(
    rows: Floats,
    parent: Ints,
    heights: Heights,
    grid: Grid,
    profile: Floats,
    assembly: Assembly,
    placement: Placement,
    settings: Settings,
    dock: Dock,
    turn_rad: float = 0.0,
) -> tuple[Taken, list[Finding]]:
    """Cut ``heights`` in place; (what each motion takes of the wood, findings)."""
    taken = Taken(np.zeros(len(dock.lines)), np.zeros(len(dock.lines)))
    if not len(rows):
        return taken, []
    rigid = assembly.rigid_steps()
    if any(step.outline_mm for step in rigid):  # what is not round is watched along straight lines
        straight, row, _ = chorded(rows)
        rows, parent = np.hstack([straight, np.zeros((len(straight), 3))]), parent[row]
    margin_mm = grid.reach_mm
    near_mm = max(margin_mm, min(NEAR_MM, NEAR_SHARE * settings.assembly_clearance_mm))
    untouched = heights.copy()
    watch = _watch(rows, heights, grid, profile, assembly, rigid, near_mm, turn_rad)
    found: list[Finding] = []
    if (watch.contact_step >= 0).any():
        found = _closer_look(watch, rows, parent, untouched, grid, profile, assembly, rigid, near_mm, dock, turn_rad)
    np.maximum.at(taken.depth_mm, parent, watch.cut_depth_mm)
    np.add.at(taken.removed_mm3, parent, watch.removed_mm3)
    found += _flute_findings(watch, parent, assembly, dock)
    found += hardware_findings(rows, parent, assembly, placement, dock)
    return taken, found + touch_off_findings(rows, parent, assembly, placement, dock)


def _closer_look(
    near: Watch,
    rows: Floats,
    parent: Ints,
    untouched: Heights,
    grid: Grid,
    profile: Floats,
    assembly: Assembly,
    rigid: tuple[Step, ...],
    near_mm: float,
    dock: Dock,
    turn_rad: float,
) -> list[Finding]:
    """Something came near: is it contact for certain, contact for all that the grid can tell, or a near miss."""
    within = _watch(rows, untouched.copy(), grid, profile, assembly, rigid, grid.reach_mm, turn_rad)
    touched = within.contact_step >= 0
    found: list[Finding] = []
    if touched.any():
        exact = _watch(rows, untouched, grid, profile, assembly, rigid, 0.0, turn_rad)
        certain = exact.contact_step >= 0
        found += _contact_findings(exact, certain, parent, rigid, dock, "certain")
        only = touched & ~np.isin(parent, parent[certain])
        found += _contact_findings(within, only, parent, rigid, dock, "within the bracket")
    misses = (near.contact_step >= 0) & ~np.isin(parent, parent[touched])
    return found + _near_findings(near, misses, parent, rigid, dock, near_mm)


def _watch(
    rows: Floats,
    heights: Heights,
    grid: Grid,
    profile: Floats,
    assembly: Assembly,
    rigid: tuple[Step, ...],
    grown_mm: float,
    turn_rad: float,
) -> Watch:
    """The watch with everything wider than the cutter grown sideways, and downward by what exceeds the grid's own."""
    cutter_mm = profile[1] + 1e-6
    aside = [grown_mm if step.radius_mm > cutter_mm else 0.0 for step in rigid]
    down = [max(grown - grid.reach_mm, 0.0) for grown in aside]
    steps, shapes, owner = watched_steps(rigid, aside, down, turn_rad)
    watch = remove_and_watch(heights, grid, rows, profile, assembly.cutting_length_mm, steps, shapes=shapes)
    if not shapes:
        return watch
    step = np.where(watch.contact_step < 0, -1, owner[watch.contact_step])
    return replace(watch, contact_step=step.astype(np.int8))


def _per_motion(values: Floats, rows: NDArray[np.bool_], parent: Ints, count: int) -> Floats:
    most = np.zeros(count)
    np.maximum.at(most, parent[rows], values[rows])
    return most


def _places(watch: Watch, rows: NDArray[np.bool_], parent: Ints, dock: Dock) -> Floats:
    places = np.full((len(dock.lines), 3), np.nan)
    order = np.flatnonzero(rows)
    order = order[np.argsort(watch.contact_mm[order], kind="stable")]
    places[parent[order]] = watch.contact_xyz[order]
    return places


def _standing(dock: Dock) -> Dock:
    return Dock(dock.file, dock.placement, dock.lines, dock.places_mm, "standing")


def _contact_findings(
    watch: Watch,
    contacts: NDArray[np.bool_],
    parent: Ints,
    rigid: tuple[Step, ...],
    dock: Dock,
    certainty: Certainty,
) -> list[Finding]:
    found: list[Finding] = []
    for number, step in enumerate(rigid):
        rows = contacts & (watch.contact_step == number)
        if not rows.any():
            continue
        by = _per_motion(watch.contact_mm, rows, parent, len(dock.lines))
        hit = np.zeros(len(dock.lines), dtype=bool)
        hit[parent[rows]] = True
        name = NAMES[step.kind]
        found += _standing(dock).charge(
            "assembly contact",
            "stop",
            hit,
            by,
            lambda i, b=by, n=name: f"the {n} runs into wood, {b[i]:.2f} mm below its top",  # type: ignore[misc]
            REMEDIES[step.kind],
            _places(watch, rows, parent, dock),
            certainty,
        )
    return found


def _near_findings(
    watch: Watch, rows: NDArray[np.bool_], parent: Ints, rigid: tuple[Step, ...], dock: Dock, near_mm: float
) -> list[Finding]:
    if not rows.any():
        return []
    number = int(watch.contact_step[np.flatnonzero(rows)[0]])
    by = np.zeros(len(dock.lines))
    hit = np.zeros(len(dock.lines), dtype=bool)
    hit[parent[rows]] = True
    return _standing(dock).charge(
        "near miss",
        "warning",
        hit,
        by,
        lambda i: f"the {NAMES[rigid[number].kind]} passes wood within {near_mm:.2f} mm",
        ("set the cutter a little further out of the collet, or cut a little more clearance",),
        _places(watch, rows, parent, dock),
    )


def _flute_findings(watch: Watch, parent: Ints, assembly: Assembly, dock: Dock) -> list[Finding]:
    engaged = _per_motion(watch.engaged_mm, np.ones(len(parent), dtype=bool), parent, len(dock.lines))
    beyond = engaged - assembly.cutting_length_mm
    return dock.charge(
        "cutting deeper than the flutes",
        "stop",
        beyond > 0.02,
        beyond,
        lambda i: (
            f"{engaged[i]:.1f} mm of wood is met at once, and the flutes are {assembly.cutting_length_mm:.1f} long"
        ),
        ("cut in more steps, each no deeper than the flutes", "use a cutter with longer flutes"),
    )
