"""demo: the whole job on pieces of our own, drawn by formula: the tea chest, and three examples."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from witnessmark.job.boards import BOARDS_FILE, boards_text
from witnessmark.job.box import BOX_FILE, box_text
from witnessmark.job.demonstration import (
    BODY_SHAPE,
    BOX_SHAPE,
    DISH_SHAPE,
    LID_SHAPE,
    box_job,
    chest_latch,
    demonstration_boards,
    demonstration_job,
    dish_job,
    keepsake_boards,
    keepsake_box,
    keepsake_job,
)
from witnessmark.job.errors import refuse
from witnessmark.job.files import load_job
from witnessmark.job.latch import LATCH_FILE, latch_text
from witnessmark.job.models import Job
from witnessmark.job.rewrite import new_job_text
from witnessmark.locate.trial import Trial, Tried
from witnessmark.plan.model import PiecePlan
from witnessmark.plan.store import load_plans
from witnessmark.shapes.ginkgo import tea_chest_body, tea_chest_lid
from witnessmark.shapes.simple import shallow_dish, straight_box
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl

from .boards import boards
from .latch import design_latch
from .make import plan, program, silent
from .prove import ProveAnswer, prove
from .sheet import sheet
from .workshop import open_workshop

Progress = Callable[[str, float], None]
Made = TypeVar("Made")

MADE_BY_DEMO = ".made-by-demo"


@dataclass(frozen=True)
class Example:
    """A job of our own with its shapes, drawn by formula, and the other files of its folder."""

    job: Callable[[], Job]
    shapes: Mapping[str, Callable[[], Solid]]
    texts: Mapping[str, Callable[[], str]] = field(default_factory=dict)
    rings: bool = False


EXAMPLES = {
    "chest": Example(
        demonstration_job,
        {BODY_SHAPE: tea_chest_body, LID_SHAPE: tea_chest_lid},
        {BOARDS_FILE: lambda: boards_text(demonstration_boards()), LATCH_FILE: lambda: latch_text(chest_latch())},
    ),
    "dish": Example(dish_job, {DISH_SHAPE: shallow_dish}),
    "box": Example(box_job, {BOX_SHAPE: straight_box}),
    "keepsake": Example(
        keepsake_job,
        {},
        {BOX_FILE: lambda: box_text(keepsake_box()), BOARDS_FILE: lambda: boards_text(keepsake_boards())},
        rings=True,
    ),
}


@dataclass(frozen=True, eq=False)
class DemoAnswer:
    """The folder, the plans with their programs (no fields), the proof, the sheet, and how long each took."""

    folder: Path
    plans: tuple[PiecePlan, ...]
    proof: ProveAnswer
    sheet: Path
    seconds: dict[str, float]
    trials: dict[str, Tried]  # by piece: how well its placements are found again, on a simulated machine


def demo(folder: Path | str, example: str = "chest", progress: Progress = silent) -> DemoAnswer:
    """The whole job on a piece of our own, in a folder that an earlier demo made or that is not there yet."""
    root = lay_out_demo(folder, example)
    seconds: dict[str, float] = {}

    def timed(name: str, work: Callable[[], Made]) -> Made:
        started = time.perf_counter()
        made = work()
        seconds[name] = time.perf_counter() - started
        return made

    if (root / LATCH_FILE).is_file():
        timed("latch", lambda: design_latch(root, plots=True, progress=progress, use=True))
    if (root / BOARDS_FILE).is_file():
        timed("boards", lambda: boards(root, rings=EXAMPLES[example].rings, use=True, progress=progress))
    for name, verb in (("plan", plan), ("program", program)):
        timed(name, lambda verb=verb: len(verb(root, progress)))  # type: ignore[misc]  # fields are not held on to
    proof = timed("prove", lambda: prove(root, progress))
    page = timed("sheet", lambda: sheet(root, progress))
    plans = load_plans(load_job(root), root / "out" / "plan.toml", None)
    solids = open_workshop(root).solids
    trials = {}
    for made in plans:
        trial = Trial.of([step.placement for step in made.placements], solids[made.piece.name])
        if trial.rows and trial.seams:
            trials[made.piece.name] = Tried.of(trial)
    return DemoAnswer(root, tuple(plans), proof, page, seconds, trials)


def lay_out_demo(folder: Path | str, example: str = "chest") -> Path:
    """Make the demonstration's job folder; one that an earlier demo made is replaced, any other is refused."""
    root = Path(folder)
    if root.exists() and not (root / MADE_BY_DEMO).is_file():
        raise refuse(str(root), "is there already and no demo made it", "choose another folder with --out")
    found = EXAMPLES[example]
    root.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{root.name}.", dir=root.parent))
    try:
        beside.chmod(0o755)
        for file, make in found.shapes.items():
            write_stl(make(), beside / file)
        (beside / "job.toml").write_text(new_job_text(found.job()), encoding="utf-8", newline="\n")
        for file, text in found.texts.items():
            (beside / file).write_text(text(), encoding="utf-8", newline="\n")
        (beside / MADE_BY_DEMO).write_text(example + "\n", encoding="utf-8")
        if root.exists():
            shutil.rmtree(root)
        beside.rename(root)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return root
