"""The judge: reads the programs back, cuts the wood with them, and says what went wrong, where and what to do."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import Columns
from witnessmark.field.give_back import give_back
from witnessmark.field.grid import Grid
from witnessmark.field.turns import turned_grid
from witnessmark.job.errors import Refusal, refuse
from witnessmark.job.frames import SIDES, Rigid, side_rotation
from witnessmark.job.models import Cutter, Machine, Settings
from witnessmark.job.placement import Placement
from witnessmark.program.fingerprint import fingerprint
from witnessmark.program.minutes import minutes
from witnessmark.program.moves import moved
from witnessmark.program.read import read
from witnessmark.program.state import Given
from witnessmark.shapes.solid import Solid

from .charges import ranked
from .end import judge_end
from .finding import Finding
from .floors import Cuts
from .holding import Holding, held_cells, hold_down_finding, standing_findings
from .loads import peak_bite_mm, peak_removal_mm3_min, removed_by_minute_mm3, widths_mm
from .missing import Planned, missing_findings
from .passes import Passes, joined, passes_of
from .running import Pose, Ran, profile_of, run_program
from .slip import proof_fingerprint, wood_words
from .states import number_findings
from .uprights import upright_findings
from .verdict import ProgramRow, ProgramText, Verdict, Watched
from .wood import Wood
from .work import Work

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]

HERE: Pose = (0.0, 0.0, 0.0)


def silent(_what: str, _done_ratio: float) -> None:
    """No progress shown."""


def blank_columns(box_min_mm: Sequence[float], box_max_mm: Sequence[float], settings: Settings) -> Columns:
    """A whole blank between two corners (piece frame) at the pitch of the proof."""
    grid = Grid.over(box_min_mm[0], box_min_mm[1], box_max_mm[0], box_max_mm[1], settings.proof_pitch_mm)
    ends_mm = (box_min_mm[0], box_min_mm[1], box_max_mm[0], box_max_mm[1])
    return Columns.block(grid, box_min_mm[2], box_max_mm[2], ends_mm=ends_mm)


def prove(
    programs: Sequence[ProgramText],
    columns: Columns,
    solid: Solid,
    machine: Machine,
    cutters: Sequence[Cutter],
    placements: Mapping[str, Placement],
    settings: Settings,
    progress: Progress | None = None,
    piece_name: str = "",
    poses: Mapping[str, Pose] | None = None,
    planned: Sequence[Planned] = (),
) -> Verdict:
    """Prove the programs of one piece, in running order.

    ``columns`` is the wood before the first of them and ``solid`` what is to be made, both in the piece frame.
    ``poses`` (dx_mm, dy_mm, turn_rad) by placement: how much further than planned the work lies on the bed.
    ``planned``: the programs there should be; a missing one is a finding.
    Refusal where a program names a placement or cutter that is not given, or none is given at all.
    """
    started = time.perf_counter()
    tell = progress or silent
    pitch_mm = columns.grid.pitch_mm
    _check(programs, columns, cutters, placements, piece_name or "proof")
    trial, wood = _Trial(columns, machine, settings, cutters), wood_words(columns)
    del columns  # the whole blank: what is left of it is in the trial
    trial.run_all(programs, placements, poses or {}, tell, piece_name)
    give_back()
    tell(f"{piece_name}: the made piece against the drawn one", 0.8)
    ran = {program.placement: placements[program.placement] for program in programs}
    after = trial.wood.in_piece_frame()
    end = judge_end(trial.work(), solid, trial.wood, tuple(cutters), settings, tuple(ran.values()))
    findings = ranked(trial.findings + end.findings + missing_findings(planned, programs))
    tell(f"{piece_name}: proven", 1.0)
    return Verdict(
        piece=piece_name,
        findings=findings,
        passed=not any(finding.harm == "stop" for finding in findings),
        columns_after=after,
        walls=end.walls,
        floors=end.floors,
        programs=tuple(trial.rows),
        eased=end.eased,
        fingerprint=proof_fingerprint(programs, solid, machine, cutters, placements, settings, poses or {}, wood),
        pitch_mm=pitch_mm,
        seconds=time.perf_counter() - started,
        gouge_tolerance_mm=settings.gouge_tolerance_mm,
        allowance_mm=settings.scallop_mm + settings.leftover_tolerance_mm,
        step=end.step,
        seams=end.seams,
    )


def watch(
    programs: Sequence[ProgramText],
    columns: Columns,
    machine: Machine,
    cutters: Sequence[Cutter],
    placements: Mapping[str, Placement],
    settings: Settings,
    poses: Mapping[str, Pose] | None = None,
) -> Watched:
    """All that can be told of programs without knowing what is to be made; arguments and refusals as in ``prove``."""
    _check(programs, columns, cutters, placements, "proof")
    trial = _Trial(columns, machine, settings, cutters)
    del columns
    trial.run_all(programs, placements, poses or {}, silent, "")
    return Watched(ranked(trial.findings), trial.wood.in_piece_frame(), tuple(trial.rows))


def _check(
    programs: Sequence[ProgramText],
    columns: Columns,
    cutters: Sequence[Cutter],
    placements: Mapping[str, Placement],
    where: str,
) -> None:
    names = {cutter.name for cutter in cutters}
    troubles = []
    if not programs:
        troubles.append(refuse(where, "there is no program to prove", "run: witnessmark program"))
    for program in programs:
        if program.placement not in placements:
            what = f"its placement {program.placement} is not in the plan"
            troubles.append(refuse(program.file, what, "plan again, and write the programs again"))
            continue
        if program.cutter not in names:
            what = f"its cutter {program.cutter} is not in the job"
            troubles.append(refuse(program.file, what, "name the cutter as in the job"))
        troubles += _placed(program, placements[program.placement], columns)
    if troubles:
        raise Refusal(*(trouble for refusal in troubles for trouble in refusal.troubles))


def _placed(program: ProgramText, placement: Placement, columns: Columns) -> list[Refusal]:
    if placement.up not in SIDES:
        what = f"placement {placement.name} has side {placement.up[:20]} up, which is no side"
        return [refuse(program.file, what, f"sides are {' '.join(SIDES)}")]
    x0, y0, x1, y1 = columns.ends_mm
    low_mm, high_mm = {"x": (x0, x1), "y": (y0, y1), "z": (columns.z_from_mm, columns.z_to_mm)}[placement.up[1]]
    lift = placement.stand.translation_mm[2] - (-low_mm if placement.up[0] == "+" else high_mm)
    turned = side_rotation(placement.up, placement.quarter_turns)
    if abs(lift) > 1e-3 or not np.allclose(turned, placement.stand.rotation, atol=1e-9):
        what = f"placement {placement.name} does not stand as the blank does (its lower face is off by {lift:.3f} mm)"
        return [refuse(program.file, what, "plan again from this blank")]
    return []


class _Trial:
    """The wood on its way through the programs, and what was found."""

    def __init__(self, columns: Columns, machine: Machine, settings: Settings, cutters: Sequence[Cutter]) -> None:
        self.wood = Wood(columns)
        self.machine = machine
        self.settings = settings
        self.by_name = {cutter.name: cutter for cutter in cutters}
        self.cutters = list(self.by_name.values())
        self.findings: list[Finding] = []
        self.rows: list[ProgramRow] = []
        self.holding = Holding()
        self.ran: list[tuple[str, str, NDArray[np.int64]]] = []  # placement, file, line of each motion
        self.passes: dict[str, dict[int, list[Passes]]] = {}
        self.cuts: dict[str, dict[int, list[Cuts]]] = {}

    def run_all(
        self,
        programs: Sequence[ProgramText],
        placements: Mapping[str, Placement],
        poses: Mapping[str, Pose],
        tell: Progress,
        piece_name: str,
    ) -> None:
        """All programs, in running order."""
        for i, program in enumerate(programs):
            tell(f"{piece_name}: {program.file}", 0.8 * i / len(programs))
            placement, cutter = placements[program.placement], self.by_name[program.cutter]
            last = i + 1 == len(programs) or programs[i + 1].placement != program.placement
            first = i == 0 or programs[i - 1].placement != program.placement
            self.run(program, placement, cutter, poses.get(placement.name, HERE), first, last)

    def run(
        self, program: ProgramText, placement: Placement, cutter: Cutter, pose: Pose, first: bool, last: bool
    ) -> None:
        """One program; what it leaves is looked at for loose wood."""
        wood = self.wood
        wood.stand(placement.up)
        grid = turned_grid(wood.columns.grid, placement.in_axis_frame().stand.rotation)
        if first:
            self.findings += standing_findings(wood.columns, placement, self.machine)
            self.findings += upright_findings(wood.columns, placement, pose, self.machine)
        volume_mm3 = wood.columns.volume_mm3()
        table = moved(read(program.text, self._given(cutter)), program.origin_mm)
        ran = run_program(program, table, placement, cutter, self.machine, self.settings, pose, wood)
        held = held_cells(placement, grid)
        loose, count = self.holding.loose_findings(wood.columns, placement, held, program.file)
        self.findings += ran.findings + loose
        number = next(k for k, one in enumerate(self.cutters, start=1) if one.name == cutter.name)
        self.findings += number_findings(ran.table, program, cutter, number)
        self._keep(program, ran, placement, cutter)
        takes = minutes(table, self.machine)
        wide_mm = widths_mm(table, ran.taken, takes.way_mm, cutter)

        def line_of(values: Floats) -> int:
            return int(ran.table.line[np.argmax(values)]) if values.any() else 0

        tips = np.concatenate([table.start_mm[:, 2], table.end_mm[:, 2]])
        self.rows.append(
            ProgramRow(
                file=program.file,
                placement=placement.name,
                cutter=cutter.name,
                fingerprint=fingerprint(program.text),
                motions=len(table),
                minutes=takes.total_min,
                cutting_minutes=takes.cutting_min,
                rapid_minutes=takes.rapid_min,
                cutting_m=takes.cutting_m,
                rapid_m=takes.rapid_m,
                peak_bite_mm=peak_bite_mm(table, ran.taken.depth_mm, cutter),
                peak_removal_mm3_min=peak_removal_mm3_min(ran.taken.removed_mm3, takes.seconds),
                removed_by_minute_mm3=removed_by_minute_mm3(ran.taken.removed_mm3, takes.seconds),
                removed_mm3=volume_mm3 - wood.columns.volume_mm3(),
                deepest_cut_mm=float(ran.taken.depth_mm.max(initial=0.0)),
                deepest_cut_line=line_of(ran.taken.depth_mm),
                widest_cut_mm=float(wide_mm.max(initial=0.0)),
                widest_cut_line=line_of(wide_mm),
                lowest_tip_mm=float(tips.min()) if len(tips) else 0.0,
                loose_pieces=count,
            )
        )
        if last:
            self.findings.append(hold_down_finding(wood.columns, placement, held))

    def _given(self, cutter: Cutter) -> Given:
        """How wide the cutters are, by their numbers in the job, for programs that leave that to the controller."""
        widths_mm = {number: each.diameter_mm for number, each in enumerate(self.cutters, 1)}
        return Given(diameters_mm=widths_mm, diameter_mm=cutter.diameter_mm)

    def _keep(self, program: ProgramText, ran: Ran, placement: Placement, cutter: Cutter) -> None:
        """Remember what the program cut, for the end."""
        place = placement.in_axis_frame()
        axis, up = placement.up[1], 1 if place.up == "+z" else -1
        number = len(self.ran)
        self.ran.append((program.placement, program.file, ran.table.line.astype(np.int64)))
        if not len(ran.rows):
            return
        back = place.stand.inverse()
        index = next(i for i, c in enumerate(self.cutters) if c.name == cutter.name)
        passes = self.passes.setdefault(axis, {}).setdefault(up, [])
        passes.append(passes_of(ran.rows, ran.parent, back, up, index, number))
        if cutter.undercuts:
            return  # it leaves no floor that the height fields could tell
        seen = Rigid(side_rotation(place.up), np.zeros(3)) @ back
        rows = ran.rows.copy()
        rows[:, :3], rows[:, 3:6] = seen.apply(rows[:, :3]), seen.apply(rows[:, 3:6])
        rows[:, 6:8] = seen.apply(np.column_stack([ran.rows[:, 6:8], np.zeros(len(rows))]))[:, :2]
        level = rows[:, 8] != 0
        rows[level, 5] = rows[level, 2]
        self.cuts.setdefault(axis, {}).setdefault(up, []).append(Cuts(profile_of(cutter), rows))

    def work(self) -> dict[str, Work]:
        """What was done along each axis that was upright, for the end's judges; it is handed over, not kept."""
        ran = self.ran

        def named(number: int, motion: int) -> tuple[str, str, int]:
            if number < 0:
                return ("", "", 0)
            placement, file, lines = ran[number]
            return (placement, file, int(lines[motion]))

        profiles = np.stack([profile_of(cutter) for cutter in self.cutters])
        works = {}
        for axis in sorted(self.passes, reverse=True):  # z first
            passes, cuts = self.passes.pop(axis), self.cuts.pop(axis, {})
            joint = {up: joined(passes.pop(up)) for up in list(passes)}
            own = self.wood.cut_along(axis)
            works[axis] = Work(joint, {up: tuple(some) for up, some in cuts.items()}, own, profiles, named)
        return works or {"z": Work({}, {}, self.wood.cut_along("z"), profiles, named)}
