"""prove without a job: programs from anywhere, on a machine, in a blank; against a drawn piece, if one is given."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from witnessmark.field.columns import Columns
from witnessmark.job import catalog
from witnessmark.job.checks import proof_pitch_troubles
from witnessmark.job.complaints import nearest
from witnessmark.job.errors import Refusal, Trouble, refuse
from witnessmark.job.files import JOB_FILE, load_job
from witnessmark.job.frames import Rigid, standing
from witnessmark.job.loads import suited
from witnessmark.job.models import Blank, Cutter, Machine, Settings
from witnessmark.job.placement import Placement
from witnessmark.plan.candidates import BlankBox
from witnessmark.plan.wood import whole_blank
from witnessmark.proof.judge import prove, watch
from witnessmark.proof.made import made_solid, step_for
from witnessmark.proof.report import findings_text, program_table, summary_text, verdict_record, watched_record
from witnessmark.proof.verdict import ProgramText, Verdict, Watched
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_3mf, write_stl

from .text import program_text
from .workshop import read_piece

PLACEMENT = "as given"
OUTSIDE_MM = 0.01
NEAR_CLEARANCE_MM = 1.0 / 0.9  # no plan kept any: what passes wood within 1 mm is told as a near miss (proof.contact)


@dataclass(frozen=True)
class Where:
    """Where blank and program lie. ``corner_mm``: the blank's front left corner in the program's x, y; ``origin_mm``:
    the program's x 0, y 0 from the front left corner of the travel; ``zero``: whether z 0 is the face the blank lies
    on ("under") or its upper face ("top")."""

    blank_mm: tuple[float, float, float]
    corner_mm: tuple[float, float] = (0.0, 0.0)
    origin_mm: tuple[float, float] = (0.0, 0.0)
    zero: str = "under"


@dataclass(frozen=True, eq=False)
class Drawn:
    """What is to be made: its own zero lies at ``at_mm`` of the program."""

    name: str
    solid: Solid
    at_mm: tuple[float, float, float]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class AloneAnswer:
    """What the programs do to the blank, with a drawn piece the whole verdict, and what was assumed."""

    found: Watched | Verdict
    assumed: tuple[str, ...]

    @property
    def passed(self) -> bool:
        return self.found.passed

    def words(self) -> str:
        """For people."""
        return summary_text(self.found) if isinstance(self.found, Verdict) else findings_text(self.found)

    def table(self) -> str:
        """What each program takes and asks for."""
        return program_table(self.found.programs)

    def record(self) -> dict[str, Any]:
        """For scripts."""
        return verdict_record(self.found) if isinstance(self.found, Verdict) else watched_record(self.found)

    def write_made(self, stem: Path) -> tuple[str, ...]:
        """What is left of the wood, as ``stem``.stl and ``stem``.3mf; their names."""
        return write_made(self.found.columns_after, stem)


def write_made(columns: Columns, stem: Path) -> tuple[str, ...]:
    """The wood that is left as STL and 3MF."""
    solid = made_solid(columns, step_for(columns))
    return (str(write_stl(solid, stem.with_suffix(".stl"))), str(write_3mf(solid, stem.with_suffix(".3mf"))))


def drawn(
    path: Path, at_mm: tuple[float, float, float], unit: str | None = None, thickness_mm: float | None = None
) -> Drawn:
    """Read what is to be made; refused where no closed solid can be read."""
    solid, notes = read_piece(path, unit, thickness_mm)
    return Drawn(path.name, solid, at_mm, notes)


def tools(machine: str, cutters: Sequence[str]) -> tuple[Machine, tuple[Cutter, ...]]:
    """The machine of a job folder, or a listed one, by name; cutters of that job, or listed ones, by name.

    Listed cutters are set down to what the machine can do.
    """
    folder = Path(machine)
    named = folder.parent if folder.name == JOB_FILE else folder
    listed_cutters = {name: row.cutter for name, row in catalog.cutters().items()}
    own: dict[str, Cutter] = {}
    if os.path.isfile(named / JOB_FILE):  # False for what is no name at all
        job = load_job(named)
        found: Machine | None = job.machine
        own = {each.name: each for each in job.cutters}
    else:
        listed = catalog.machines().get(machine)
        found = listed.machine if listed else None
    troubles = []
    if found is None:
        troubles.append(
            _unknown("--machine", machine, tuple(catalog.machines()), "name a job folder, or a listed one")
        )
    for cutter in cutters:
        if cutter not in own and cutter not in listed_cutters:
            known = tuple(own | listed_cutters)
            troubles.append(_unknown("--cutter", cutter, known, "name one of that job, or a listed one"))
    if found is None or troubles:
        raise Refusal(*troubles)
    return found, tuple(own.get(cutter) or suited(listed_cutters[cutter], found) for cutter in cutters)


def prove_alone(
    programs: Sequence[Path | str],
    machine: Machine,
    cutters: Sequence[Cutter],
    where: Where,
    pitch_mm: float | None = None,
    shape: Drawn | None = None,
) -> AloneAnswer:
    """Run programs, in this order, through the judge; one cutter for all of them, or one for each.

    Refused where the sizes cannot be.
    """
    settings = Settings(assembly_clearance_mm=NEAR_CLEARANCE_MM)
    by_file = _cutter_of(programs, cutters)
    kinds = list({cutter.name: cutter for cutter in by_file}.values())
    _must_be(where, machine, kinds, settings.proof_pitch_mm if pitch_mm is None else pitch_mm)
    if pitch_mm is not None:
        settings = settings.model_copy(update={"proof_pitch_mm": pitch_mm})
    (x, y), (width, depth, height) = where.corner_mm, where.blank_mm
    box = BlankBox(np.array([x, y, 0.0]), np.array([x + width, y + depth, height]))
    placement = Placement(
        name=PLACEMENT,
        up="+z",
        stand=standing("+z", box.lower_mm, box.upper_mm),
        shift_mm=where.origin_mm,
        support_z_bed_mm=machine.support_z_bed_mm,
        region_mm=(x, y, x + width, y + depth),
        cutters=tuple(cutter.name for cutter in kinds),
    )
    zero_mm = height if where.zero == "top" else 0.0
    texts = [
        ProgramText(path.name, PLACEMENT, cutter.name, program_text(path), (*where.origin_mm, zero_mm))
        for path, cutter in zip(map(Path, programs), by_file)
    ]
    columns = [whole_blank(box, settings.proof_pitch_mm)]  # handed over: the judge lets go of the whole blank
    alone, placements = _on_its_own(machine, where), {PLACEMENT: placement}
    assumed = [
        f"blank {width:g} x {depth:g} x {height:g} mm, its front left corner at x {x:g} y {y:g} of the program",
        f"the program's x 0 y 0 at x {where.origin_mm[0]:g} y {where.origin_mm[1]:g} of the travel",
        "z 0 is the upper face of the blank" if where.zero == "top" else "z 0 is the face that the blank lies on",
        "no board reaches farther than the blank, and no clamp or bolt is in the way",
        f"the whole underside of the blank held; a grid of {settings.proof_pitch_mm:g} mm",
    ]
    if shape is None:
        assumed.append("no piece was given: nothing is said of what is made, only of how it is cut")
        return AloneAnswer(watch(texts, columns.pop(), alone, kinds, placements, settings), tuple(assumed))
    solid = shape.solid.moved(Rigid.shift(shape.at_mm[0], shape.at_mm[1], shape.at_mm[2] + zero_mm))
    _must_lie_inside(shape.name, solid, box)
    at = " ".join(f"{axis} {value:g}" for axis, value in zip("xyz", shape.at_mm))
    assumed += [f"{shape.name}: its own zero at {at} of the program", *shape.notes]
    verdict = prove(texts, columns.pop(), solid, alone, kinds, placements, settings, piece_name=shape.name)
    return AloneAnswer(verdict, tuple(assumed))


def _cutter_of(programs: Sequence[Path | str], cutters: Sequence[Cutter]) -> list[Cutter]:
    """The cutter of each program."""
    if not programs:
        raise refuse("prove", "no program file is named", "name the program files in the order they run")
    if len(cutters) not in (1, len(programs)):
        what = f"is given {len(cutters)} times for {len(programs)} files"
        raise refuse("--cutter", what, "give it once for all files, or once for each, in their order")
    return [cutters[0]] * len(programs) if len(cutters) == 1 else list(cutters)


def _must_lie_inside(name: str, solid: Solid, box: BlankBox) -> None:
    """A piece that reaches out of its blank cannot be made of it: most often it lies elsewhere than meant."""
    low, high = solid.bounds_mm
    out_mm = float(np.max(np.concatenate([box.lower_mm - low, high - box.upper_mm])))
    if out_mm > OUTSIDE_MM:
        where = " x ".join(f"{a:g} to {b:g}" for a, b in zip(low, high))
        what = f"reaches {out_mm:.2f} mm out of the blank: it lies at {where}, x y z from where the blank is measured"
        raise refuse(name, what, "say with --at where its own zero lies, or take a larger blank")


def _on_its_own(machine: Machine, where: Where) -> Machine:
    """The machine with a board as large as the blank: where its own lies under the blank is not known."""
    if machine.board is None:
        return machine
    size = {"size_x_mm": where.blank_mm[0], "size_y_mm": where.blank_mm[1]}
    return machine.model_copy(update={"board": machine.board.model_copy(update=size)})


def _must_be(where: Where, machine: Machine, cutters: Sequence[Cutter], pitch_mm: float) -> None:
    width, depth, height = where.blank_mm
    if min(where.blank_mm) <= 0:
        raise refuse("--blank", "has a size that is nothing", "give all three: 300x200x40")
    if where.zero not in ("under", "top"):
        raise refuse("--zero", f'is "{where.zero[:20]}"', "say under or top")
    blank = Blank(size_x_mm=width, size_y_mm=depth, size_z_mm=height)
    troubles = proof_pitch_troubles("--pitch", pitch_mm, cutters, [blank])
    if troubles:
        raise Refusal(*troubles)
    room_mm = machine.gantry_above_bed_mm - machine.support_z_bed_mm
    if height > room_mm:
        raise refuse("--blank", f"stands higher than the {room_mm:g} mm under the gantry", "measure both again")


def _unknown(option: str, name: str, known: tuple[str, ...], advice: str) -> Trouble:
    like = nearest(name, known)
    told = (f"did you mean {like}?",) if like else ()
    return Trouble(f"{option} {name[:60]}", "is not known", (*told, advice, "see witnessmark new --list"))
