"""prove without a job: a program from anywhere, on a machine, with a cutter, in a blank; no piece to compare with."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from witnessmark.job import catalog
from witnessmark.job.checks import proof_pitch_troubles
from witnessmark.job.complaints import nearest
from witnessmark.job.errors import Refusal, Trouble, refuse
from witnessmark.job.files import JOB_FILE, load_job
from witnessmark.job.frames import standing
from witnessmark.job.models import Blank, Cutter, Machine, Settings
from witnessmark.job.placement import Placement
from witnessmark.plan.candidates import BlankBox
from witnessmark.plan.wood import whole_blank
from witnessmark.proof.judge import watch
from witnessmark.proof.verdict import ProgramText, Watched

from .text import program_text

PLACEMENT = "as given"


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
class AloneAnswer:
    """What the program does to the blank and where it fails; and what was taken for granted."""

    watched: Watched
    assumed: tuple[str, ...]

    @property
    def passed(self) -> bool:
        return self.watched.passed


def tools(machine: str, cutter: str) -> tuple[Machine, Cutter]:
    """The machine of a job folder, or a listed one, by name; the cutter of that job, or a listed one, by name."""
    folder = Path(machine)
    named = folder.parent if folder.name == JOB_FILE else folder
    cutters: dict[str, Cutter] = {name: row.cutter for name, row in catalog.cutters().items()}
    if os.path.isfile(named / JOB_FILE):  # False for what is no name at all
        job = load_job(named)
        found: Machine | None = job.machine
        cutters |= {each.name: each for each in job.cutters}
    else:
        listed = catalog.machines().get(machine)
        found = listed.machine if listed else None
    troubles = []
    if found is None:
        troubles.append(
            _unknown("--machine", machine, tuple(catalog.machines()), "name a job folder, or a listed one")
        )
    if cutter not in cutters:
        troubles.append(_unknown("--cutter", cutter, tuple(cutters), "name one of that job, or a listed one"))
    if found is None or troubles:
        raise Refusal(*troubles)
    return found, cutters[cutter]


def prove_alone(
    program: Path | str, machine: Machine, cutter: Cutter, where: Where, pitch_mm: float | None = None
) -> AloneAnswer:
    """Run a program's text through the judge; refused where the sizes cannot be."""
    settings = Settings()
    _must_be(where, machine, cutter, settings.proof_pitch_mm if pitch_mm is None else pitch_mm)
    if pitch_mm is not None:
        settings = Settings(proof_pitch_mm=pitch_mm)
    path = Path(program)
    text = program_text(path)
    (x, y), (width, depth, height) = where.corner_mm, where.blank_mm
    box = BlankBox(np.array([x, y, 0.0]), np.array([x + width, y + depth, height]))
    placement = Placement(
        name=PLACEMENT,
        up="+z",
        stand=standing("+z", box.lower_mm, box.upper_mm),
        shift_mm=where.origin_mm,
        support_z_bed_mm=machine.support_z_bed_mm,
        region_mm=(x, y, x + width, y + depth),
        cutters=(cutter.name,),
    )
    origin = (*where.origin_mm, height if where.zero == "top" else 0.0)
    programs = [ProgramText(path.name, PLACEMENT, cutter.name, text, origin)]
    columns = whole_blank(box, settings.proof_pitch_mm)
    watched = watch(programs, columns, _on_its_own(machine, where), [cutter], {PLACEMENT: placement}, settings)
    assumed = (
        f"blank {width:g} x {depth:g} x {height:g} mm, its front left corner at x {x:g} y {y:g} of the program",
        f"the program's x 0 y 0 at x {where.origin_mm[0]:g} y {where.origin_mm[1]:g} of the travel",
        "z 0 is the upper face of the blank" if where.zero == "top" else "z 0 is the face that the blank lies on",
        "no board reaches farther than the blank, and no clamp or bolt is in the way",
        f"the whole underside of the blank held; a grid of {settings.proof_pitch_mm:g} mm",
        "no piece was given: nothing is said of what is made, only of how it is cut",
    )
    return AloneAnswer(watched, assumed)


def _on_its_own(machine: Machine, where: Where) -> Machine:
    """The machine with a board as large as the blank: where its own lies under the blank is not known."""
    if machine.board is None:
        return machine
    size = {"size_x_mm": where.blank_mm[0], "size_y_mm": where.blank_mm[1]}
    return machine.model_copy(update={"board": machine.board.model_copy(update=size)})


def _must_be(where: Where, machine: Machine, cutter: Cutter, pitch_mm: float) -> None:
    width, depth, height = where.blank_mm
    if min(where.blank_mm) <= 0:
        raise refuse("--blank", "has a size that is nothing", "give all three: 300x200x40")
    if where.zero not in ("under", "top"):
        raise refuse("--zero", f'is "{where.zero[:20]}"', "say under or top")
    blank = Blank(size_x_mm=width, size_y_mm=depth, size_z_mm=height)
    troubles = proof_pitch_troubles("--pitch", pitch_mm, [cutter], [blank])
    if troubles:
        raise Refusal(*troubles)
    room_mm = machine.gantry_above_bed_mm - machine.support_z_bed_mm
    if height > room_mm:
        raise refuse("--blank", f"stands higher than the {room_mm:g} mm under the gantry", "measure both again")


def _unknown(option: str, name: str, known: tuple[str, ...], advice: str) -> Trouble:
    like = nearest(name, known)
    told = (f"did you mean {like}?",) if like else ()
    return Trouble(f"{option} {name[:60]}", "is not known", (*told, advice, "see witnessmark new --list"))
