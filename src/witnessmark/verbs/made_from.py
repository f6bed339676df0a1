"""What a plan or a proof was made from, kept beside it: the job's tables and the shape files, each by its SHA-256.

So that programs are never written, nor a sheet printed, from a plan whose job or shape has changed in the meantime.
Source  SHA-256: FIPS 180-4
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from witnessmark.job.box import load_box
from witnessmark.job.errors import Refusal, Trouble, refuse
from witnessmark.job.files import JOB_FILE
from witnessmark.job.latch import LATCH_FILE
from witnessmark.job.whole import write_text_whole

from .as_is import file_of
from .workshop import Workshop, is_box

PLANNED_FROM = "planned-from.json"
PROVEN_FROM = "proven-from.json"
FORMAT = 1
NOT_CUT = ("season", "hardware")  # tables that change nothing of what is cut


@dataclass(frozen=True)
class MadeFrom:
    """SHA-256 of each table of the job (its values in canonical JSON) and of each shape file, by name."""

    job: dict[str, str]
    shapes: dict[str, str]

    def changed_since(self, before: MadeFrom) -> list[Trouble]:
        """What has changed between ``before`` and this; each without a remedy."""
        tables = [key for key in self.job if before.job.get(key) != self.job[key]]
        tables += [key for key in before.job if key not in self.job]
        found = [Trouble(JOB_FILE, "has changed", by=f"in {', '.join(tables)}")] if tables else []
        for file, digest in self.shapes.items():
            if before.shapes.get(file, digest) != digest:  # a file of another name is a change of the job
                found.append(Trouble(file, "has changed"))
        return found


def made_from(workshop: Workshop) -> MadeFrom:
    """The job and the shapes as they are now."""
    job = workshop.job.model_dump(mode="json")
    cut = [key for key in job if key not in NOT_CUT]
    tables = {key: _digest(json.dumps(job[key], sort_keys=True).encode()) for key in cut}
    root = workshop.folder.root
    shapes = {spec.shape for spec in workshop.job.pieces}
    outlines = (load_box(root / shape).outline.file for shape in shapes if is_box(shape))
    files = sorted(shapes | {file for file in outlines if file})
    if workshop.hidden is not None and LATCH_FILE not in files:
        files.append(LATCH_FILE)
    files += [str(file_of(root, piece).relative_to(root)) for piece in workshop.as_is]
    return MadeFrom(tables, {file: _digest((workshop.folder.root / file).read_bytes()) for file in files})


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def keep(made: MadeFrom, path: Path) -> None:
    write_text_whole(path, json.dumps({"format": FORMAT, "job": made.job, "shapes": made.shapes}, indent=1) + "\n")


def kept(path: Path) -> MadeFrom | None:
    """What was kept; None where there is nothing that can be read, as beside the results of an older edition."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["format"] == FORMAT:
            return MadeFrom(dict(data["job"]), dict(data["shapes"]))
    except (OSError, ValueError, TypeError, KeyError):
        pass
    return None


def must_be_as_planned(workshop: Workshop) -> None:
    """Refused where the job or a shape is not what the plan was made from; it names which."""
    plan_file = workshop.folder.out("plan.toml")
    if not plan_file.is_file():
        return  # which is told when it is read
    before = kept(workshop.folder.out(PLANNED_FROM))
    plan_anew = "run: witnessmark plan"
    if before is None:
        what = "does not say which job it was planned from: another edition of the tool made it"
        raise refuse(str(plan_file), what, plan_anew)
    changed = made_from(workshop).changed_since(before)
    if changed:
        raise Refusal(*(Trouble(t.where, f"{t.what} since it was planned", (plan_anew,), t.by) for t in changed))
