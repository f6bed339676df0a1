"""Shank, nut, nose and shoe against the wood that is still there, and flutes against what they have to cut."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights
from witnessmark.field.watch import Watch, remove_and_watch
from witnessmark.job.assembly import Assembly, Step
from witnessmark.job.models import Settings

from .charges import Dock
from .finding import Certainty, Finding
from .hardware import NAMES
from .loads import Taken
from .passes import chorded
from .shapes import watched_steps

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEAR_MM = 1.0  # rigid parts this close to wood are told as near misses
NEAR_SHARE = 0.9  # but never more than this of the clearance that the plan keeps

REMEDIES = {
    "neck": ("cut the way for the neck first, wider than it", "see whether the cutter runs at the right height"),
    "shank": ("take less deep steps, so that the flutes stay above the wood", "use a cutter with longer flutes"),
    "nut": ("set the cutter further out of the collet", "cut clearance beside that place first"),
    "nose": ("set the cutter further out of the collet", "cut clearance beside that place first"),
    "shoe": ("take the dust shoe off for this placement", "raise the shoe"),
}


Watcher = Callable[[Floats, Mapping[int, Floats]], Watch]  # steps (k, 3), shapes: run again from the same wood


@dataclass(frozen=True, eq=False)
class Looks:
    """A program (or a part of it) watched with wide parts grown by what counts as near; where that touches, also
    grown by what the grid cannot tell, and as they are."""

    near: Watch
    within: Watch
    exact: Watch

    @staticmethod
    def joined(parts: list[Looks]) -> Looks:
        """Of the parts of a program, in order."""
        one = [[getattr(part, name) for part in parts] for name in ("near", "within", "exact")]
        return Looks(*(Watch.joined(watches) for watches in one))


@dataclass(frozen=True, eq=False)
class Looking:
    """How closely is looked: the assembly's parts, how much they are grown, how far the work lies turned."""

    assembly: Assembly
    rigid: tuple[Step, ...]
    cutter_mm: float  # parts no wider pass only where the cutter has been, and are not grown; 0: all are
    near_mm: float
    reach_mm: float
    turn_rad: float

    @staticmethod
    def of(assembly: Assembly, grid: Grid, settings: Settings, turn_rad: float, cutter_mm: float) -> Looking:
        near_mm = max(grid.reach_mm, min(NEAR_MM, NEAR_SHARE * settings.assembly_clearance_mm))
        return Looking(assembly, assembly.rigid_steps(), cutter_mm, near_mm, grid.reach_mm, turn_rad)

    def looked(self, watcher: Watcher) -> Looks:
        """Watch once, and where something comes near twice more."""
        near = self._watch(watcher, self.near_mm)
        nothing = Watch.nothing(len(near.contact_step))
        if not (near.contact_step >= 0).any():
            return Looks(near, nothing, nothing)
        within = self._watch(watcher, self.reach_mm)
        touched = (within.contact_step >= 0).any()
        return Looks(near, within, self._watch(watcher, 0.0) if touched else nothing)

    def _watch(self, watcher: Watcher, grown_mm: float) -> Watch:
        """Wide parts grown sideways, and downward by what exceeds the grid's own."""
        aside = [grown_mm if step.radius_mm > self.cutter_mm else 0.0 for step in self.rigid]
        down = [max(grown - self.reach_mm, 0.0) for grown in aside]
        steps, shapes, owner = watched_steps(self.rigid, aside, down, self.turn_rad)
        watch = watcher(steps, shapes)
        if not shapes:
            return watch
        step = np.where(watch.contact_step < 0, -1, owner[watch.contact_step])
        return replace(watch, contact_step=step.astype(np.int8))


def as_watched(rows: Floats, parent: Ints, assembly: Assembly) -> tuple[Floats, Ints]:
    """Rows and their motions as the watch takes them: what is not round is watched along straight lines."""
    if not any(step.outline_mm for step in assembly.rigid_steps()):
        return rows, parent
    straight, row, _ = chorded(rows)
    return np.hstack([straight, np.zeros((len(straight), 3))]), parent[row]


def watched(
    rows: Floats,
    parent: Ints,
    heights: Heights,
    grid: Grid,
    profile: Floats,
    assembly: Assembly,
    settings: Settings,
    dock: Dock,
    turn_rad: float = 0.0,
) -> tuple[Taken, list[Finding]]:
    """Cut ``heights`` in place; (what each motion takes of the wood, findings)."""
    taken = Taken(np.zeros(len(dock.lines)), np.zeros(len(dock.lines)))
    if not len(rows):
        return taken, []
    rows, parent = as_watched(rows, parent, assembly)
    untouched, after = heights.copy(), [heights]

    def watcher(steps: Floats, shapes: Mapping[int, Floats]) -> Watch:
        wood = after.pop() if after else untouched.copy()  # the first one is the one that stays cut
        return remove_and_watch(wood, grid, rows, profile, assembly.cutting_length_mm, steps, shapes=shapes)

    looking = Looking.of(assembly, grid, settings, turn_rad, profile[1] + 1e-6)
    looks = looking.looked(watcher)
    taken.add(parent, looks.near.cut_depth_mm, looks.near.removed_mm3)
    return taken, look_findings(looks, looking, parent, dock) + _flute_findings(looks.near, parent, assembly, dock)


def look_findings(looks: Looks, looking: Looking, parent: Ints, dock: Dock) -> list[Finding]:
    """Is it contact for certain, contact for all that the grid can tell, or a near miss."""
    near, within, exact = looks.near, looks.within, looks.exact
    touched, certain = within.contact_step >= 0, exact.contact_step >= 0
    found = _contact_findings(exact, certain, parent, looking.rigid, dock, "certain")
    only = touched & ~np.isin(parent, parent[certain])
    found += _contact_findings(within, only, parent, looking.rigid, dock, "within the bracket")
    misses = (near.contact_step >= 0) & ~np.isin(parent, parent[touched])
    return found + _near_findings(near, misses, parent, looking.rigid, dock, looking.near_mm)


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
