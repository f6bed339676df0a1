"""The made solid against the piece, once every placement has run: findings, eased places, walls and floors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.models import Cutter, Settings
from witnessmark.job.placement import Placement
from witnessmark.shapes.solid import Solid

from .axis import AxisJudge, in_piece_frame
from .blame import cut_by, went_through
from .eased import SHY_MM, Easing
from .edges import inside_solid
from .finding import Finding
from .floors import Deviation, Floors
from .hidden import DEEPER, HiddenFaults
from .holes_left import holes_left
from .left import Left
from .meet import Step, step_between
from .passes import LOOK_MM
from .seams import SeamStep, seam_steps
from .verdict import EasedPlace
from .walls import Places, WallJudge, Walls
from .wood import Wood
from .work import Work

Floats = NDArray[np.float64]

BESIDE_MM = 0.05
SPOT_MM = 25.0  # faults this close are told as one
CORNER_MM = 4.0  # eased places this close are the two flanks of one corner
LEAST_COSINE = 0.7  # of a wall's lean: along its normal no less than so much of the way along the level
MOST_TOLD = 12  # findings of one kind


@dataclass(frozen=True, eq=False)
class End:
    """What the end came to, in the piece frame."""

    walls: Walls
    floors: tuple[Floors, ...]
    findings: list[Finding]
    eased: tuple[EasedPlace, ...]
    step: Step | None
    seams: tuple[SeamStep, ...]

    @staticmethod
    def joined(ends: Sequence[End]) -> End:
        """Of all axes."""
        return End(
            Walls.joined([end.walls for end in ends]),
            tuple(floors for end in ends for floors in end.floors),
            [finding for end in ends for finding in end.findings],
            tuple(place for end in ends for place in end.eased),
            ends[0].step,
            tuple(seam for end in ends for seam in end.seams),
        )


def judge_end(
    works: Mapping[str, Work],
    solid: Solid,
    wood: Wood,
    cutters: tuple[Cutter, ...],
    settings: Settings,
    placements: Sequence[Placement] = (),
) -> End:
    """Judge walls and floors, and part what no listed cutter could have taken from what is at fault.

    ``works``: by the axis that stood upright, the first of them is looked at whole; ``wood``: what is left.
    """
    sides = [
        AxisJudge.of(axis, work, solid, cutters, settings, placements, whole=k == 0)
        for k, (axis, work) in enumerate(works.items())
    ]
    known = [side.beside(sides) for side in sides]
    end = End.joined([_end_of(side) for side in known])
    if len(known) == 1 and not known[0].work.undercuts:
        return end
    wood.stand("+" + known[0].axis)
    hanging = known[0].hanging(wood.columns)
    fault = hanging.eased_mm == 0
    walls = replace(end.walls, worst_left_mm=max(end.walls.worst_left_mm, hanging.worst_fault_mm))
    findings = end.findings + _left_findings(hanging.at_mm[fault], hanging.by_mm[fault])
    return replace(end, walls=walls, findings=findings)


def _end_of(side: AxisJudge) -> End:
    """One axis, told in the piece frame."""
    end = side.judged()
    work, judge, solid, able, settings = side.work, side.judge, side.solid, side.able, side.settings
    walls, left = end.walls, end.left
    findings = _gouge_findings(_spots(walls.gouges.at_mm, walls.gouges.by_mm), walls.gouges, work)
    for floor in end.floors:
        findings += _floor_gouges(floor, work, settings.gouge_tolerance_mm) + _undecided(floor)
    findings += _hidden_gouges(end.hidden, work, settings.gouge_tolerance_mm)
    fault = left.eased_mm == 0
    findings += _left_findings(left.at_mm[fault], left.by_mm[fault]) + side.bridged.findings()
    corner = np.flatnonzero((left.eased_mm > 0) & np.isfinite(left.eased_mm))
    easing = Easing(solid, able, (1, -1))

    def entered_z_mm(rows: NDArray[np.int64]) -> Floats:
        return _entered_z_mm(judge, easing, left.kept(corner[rows]))

    in_hole, fits, told = holes_left(solid, left.at_mm[corner], left.eased_mm[corner], entered_z_mm)
    findings += told + _left_findings(left.at_mm[corner[fits]], left.by_mm[corner[fits]])
    worst_mm = max([walls.worst_left_mm, *left.by_mm[corner[fits]].tolist()])
    worst_gouge_mm = max([walls.worst_gouge_mm, *end.hidden.by_mm.tolist()])
    walls = replace(walls, worst_left_mm=worst_mm, worst_gouge_mm=worst_gouge_mm)
    corner = corner[~in_hole]
    shy = {reach.radius_mm: -SHY_MM for reach in side.under}
    by_mm = _as_much_as_stands(easing, left.at_mm[corner], left.by_mm[corner], left.eased_mm[corner], shy)
    back = side.rotation
    found = End(
        walls.turned(back.T),
        tuple(floor.turned(back.T) for floor in end.floors),
        [in_piece_frame(finding, back) for finding in findings],
        _eased(left.at_mm[corner] @ back, by_mm, left.eased_mm[corner]),
        step_between(judge, side.placements) if side.whole else None,
        seam_steps(judge, side.placements, settings.seam_overlap_mm, [reach.radius_mm for reach in able]),
    )
    return found if side.axis == "z" else _steps_turned(found, back)


def _steps_turned(end: End, rotation: Floats) -> End:
    """Places of steps and seams from the frame of an axis; a step's heights stay those along that axis."""

    def place(at_mm: tuple[float, float, float]) -> tuple[float, float, float]:
        return _point(np.array(at_mm) @ rotation)

    step = None if end.step is None else replace(end.step, place_mm=place(end.step.place_mm))
    return replace(end, step=step, seams=tuple(replace(s, place_mm=place(s.place_mm)) for s in end.seams))


def _hidden_gouges(faults: HiddenFaults, work: Work, tolerance_mm: float) -> list[Finding]:
    """Hidden shallow faces that are cut into: floors and ceilings of undercuts."""
    found, spots = [], _spots(faults.at_mm, faults.by_mm)
    for row, _ in spots[:MOST_TOLD]:
        by_mm = float(faults.by_mm[row])
        within_mm = faults.at_mm[row] - DEEPER * tolerance_mm * faults.normals[row]
        placement, file, line = work.named(*went_through(within_mm, work.passes, work.profiles))
        what = f"the cutter goes {by_mm:.3f} mm deep into a face in, or under, an undercut{_more(spots)}"
        found.append(
            Finding(
                "gouge",
                what,
                "stop",
                _point(faults.at_mm[row]),
                "piece",
                placement,
                file,
                line,
                by_mm,
                _GOUGE_REMEDIES,
            )
        )
    return found


def _entered_z_mm(judge: WallJudge, easing: Easing, left: Left) -> Floats:
    """Height just above (or, turned over, below) the wood left where a cutter has been that gets no deeper, (n,).

    Drawn air that was cut: so the cutter does fit in, whatever its radius leaves of the section's corners; else nan.
    """
    entered = np.full(len(left), np.nan)
    for up in easing.ups:
        for share in (1.0, 1.5):  # by is along the normal: up to 1.42 times that is upright
            over = left.at_mm.copy()
            over[:, 2] += up * (share * left.by_mm + BESIDE_MM)
            air = (judge.wood_before(over) == 0.0) & ~inside_solid(over, judge.triangles)
            entered = np.where(air & (easing.radii_at(over, up) >= left.eased_mm - 1e-9), over[:, 2], entered)
    return entered


def _spots(at_mm: Floats, by_mm: Floats) -> list[tuple[int, int]]:
    """(worst row, how many) of each neighbourhood of faults, the worst first."""
    if not len(at_mm):
        return []
    _, where = np.unique(np.floor(at_mm / SPOT_MM).astype(np.int64), axis=0, return_inverse=True)
    order = np.argsort(-by_mm, kind="stable")
    _, first, counts = np.unique(where.ravel()[order], return_index=True, return_counts=True)
    worst = [(int(order[f]), int(c)) for f, c in zip(first, counts)]
    return sorted(worst, key=lambda w: -float(by_mm[w[0]]))


def _point(at: Floats) -> tuple[float, float, float]:
    return (float(at[0]), float(at[1]), float(at[2]))


def _more(spots: list[tuple[int, int]]) -> str:
    return "" if len(spots) <= MOST_TOLD else f" (the worst {MOST_TOLD} of {len(spots)} places are told)"


_GOUGE_REMEDIES = (
    "look at the named line: the cutter goes deeper or further there than the piece allows",
    "check that the work lies as the placement says, and that the cutter in the collet is the one named",
)


def _gouge_findings(spots: list[tuple[int, int]], places: Places, work: Work) -> list[Finding]:
    found = []
    for row, _ in spots[:MOST_TOLD]:
        placement, file, line = work.named(*(int(v) for v in places.motion[row]))
        by_mm = float(places.by_mm[row])
        what = f"the cutter goes {by_mm:.3f} mm into a wall of the piece{_more(spots)}"
        at = _point(places.at_mm[row])
        found.append(Finding("gouge", what, "stop", at, "piece", placement, file, line, by_mm, _GOUGE_REMEDIES))
    return found


def _floor_gouges(floor: Floors, work: Work, tolerance_mm: float) -> list[Finding]:
    found = []
    faults = floor.gouges
    spots = _spots(faults.at_mm, faults.by_mm)
    for row, _ in spots[:MOST_TOLD]:
        blamed = cut_by(faults.at_mm[row], floor.up, work.passes, work.profiles, tolerance_mm)
        placement, file, line = work.named(*blamed)
        by_mm = float(faults.by_mm[row])
        how = "through" if _is_through(floor.deviation, faults.at_mm[row]) else f"{by_mm:.3f} mm deep into"
        what = f"the cutter goes {how} a floor or shallow face of the piece{_more(spots)}"
        at = _point(faults.at_mm[row])
        found.append(Finding("gouge", what, "stop", at, "piece", placement, file, line, by_mm, _GOUGE_REMEDIES))
    return found


def _undecided(floor: Floors) -> list[Finding]:
    """Where the finest grid does not tell whether the tolerances are kept between its places."""
    if floor.undecided_mm2 == 0.0:
        return []
    what = (
        f"{floor.undecided_mm2:.3f} mm2 of floors could not be decided down to a grid of {floor.finest_mm:g} mm: at "
        f"its places the tolerances are kept, between them they are passed by at most {floor.undecided_by_mm:.3f} mm"
    )
    remedy = ("prove again on a finer grid (--pitch)", "leave less on floors: a smaller stepover")
    at = floor.undecided_at_mm
    by_mm = floor.undecided_by_mm
    return [Finding("not decided", what, "warning", at, "piece", "", "", 0, by_mm, remedy, "within the bracket")]


def _is_through(deviation: Deviation, at_mm: Floats) -> bool:
    """Whether no wood is left at a place of a floor."""
    grid = deviation.grid
    column = min(max(int((at_mm[0] - grid.x0_mm) // grid.pitch_mm), 0), grid.nx - 1)
    row = min(max(int((deviation.up * at_mm[1] - grid.y0_mm) // grid.pitch_mm), 0), grid.ny - 1)
    return bool(deviation.gone[row, column])


def _left_findings(at_mm: Floats, by_mm: Floats) -> list[Finding]:
    found = []
    spots = _spots(at_mm, by_mm)
    for row, count in spots[:MOST_TOLD]:
        by = float(by_mm[row])
        much = f"{by:.3f} mm" if by < 0.9 * LOOK_MM else f"at least {by:.1f} mm"
        what = f"{much} of wood is left on the piece ({count} places looked at near here){_more(spots)}"
        remedies = (
            "cut there again, with a smaller stepdown or stepover",
            "give the placement a cutter that reaches it",
        )
        found.append(Finding("leftover", what, "stop", _point(at_mm[row]), "piece", "", "", 0, by, remedies))
    return found


def _as_much_as_stands(
    easing: Easing, at_mm: Floats, by_mm: Floats, radius_mm: Floats, shy_mm: Mapping[float, float]
) -> Floats:
    """The wood left in corners, (n,): where more stands than was looked for, what the cutter must leave."""
    by_mm = by_mm.copy()
    for radius in np.unique(radius_mm):
        rows = np.flatnonzero((radius_mm == radius) & (by_mm > LEAST_COSINE * LOOK_MM))
        wood_mm = easing.wood_mm(at_mm[rows], float(radius) + shy_mm.get(float(radius), SHY_MM))
        by_mm[rows] = np.where(wood_mm > LOOK_MM, wood_mm, by_mm[rows])
    return by_mm


def _eased(at_mm: Floats, by_mm: Floats, radius_mm: Floats) -> tuple[EasedPlace, ...]:
    """One entry for each corner and radius, over its heights."""
    if not len(at_mm):
        return ()
    places = []
    left = np.arange(len(at_mm))
    while len(left):
        worst = left[np.argmax(by_mm[left])]
        near = np.hypot(*(at_mm[left, :2] - at_mm[worst, :2]).T) <= CORNER_MM
        same = near & (np.abs(radius_mm[left] - radius_mm[worst]) < 1e-3)
        rows, left = left[same], left[~same]
        z = at_mm[rows, 2]
        places.append(
            EasedPlace(
                _point(at_mm[worst]), float(radius_mm[worst]), float(by_mm[worst]), float(z.min()), float(z.max())
            )
        )
    return tuple(sorted(places, key=lambda p: -p.leftover_mm))
