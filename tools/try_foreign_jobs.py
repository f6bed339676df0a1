"""Drive shape files that no one of this project made through every verb: read, look, new, plan, program, prove.

    python tools/try_foreign_jobs.py TABLE.jsonl [--only TEXT] [--limit N] [--jobs N] [--keep FOLDER] [--files ...]

Each file (tools/fetch_foreign.py fetches them; or those named after ``--files``) becomes a job folder made as
``witnessmark new --yes`` makes it from six sizes, on coarse grids, in a child process with a time limit, so that a
crash or a hang is seen as such. One line of JSON is written per file:

    outcome   "proven", "failed" (with the findings that stop it), "refused" (with the reason), "crash", "hang"
    seconds   by verb; a hang names the verb that did not come back

A drawing is taken 12 mm thick. A shape too small for the router in its own unit is taken in the next unit that makes
it a fair size; one refused as no closed solid is mended, as ``check --mend`` would. Both are said in the line.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from fetch_foreign import SUFFIXES, FetchError, fetch

from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job, save_job
from witnessmark.job.models import Job
from witnessmark.shapes.read import read_outline, read_solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes, look
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.new import first_job, new
from witnessmark.verbs.prove import ProveAnswer, prove

SIZES = LookSizes(travel_mm=(300.0, 400.0, 130.0), cutter_mm=6.0, stickout_mm=60.0, nut_mm=(20.0, 20.0), nose_mm=65.0)
THICK_MM = 12.0  # of a drawing
PLAN_PITCH_MM, PROOF_PITCH_MM = 1.0, 0.5
LEAST_MM = 20.0  # a fair size for the largest measure; smaller ones were drawn in another unit
LIMIT_S = 120.0
SHOWN = 6  # findings a line holds

Record = dict[str, Any]


def foreign_files(folder: Path) -> list[Path]:
    """The shape files below a folder in order of their names, each content once."""
    paths = sorted(path for path in folder.rglob("*") if path.is_file() and path.suffix.lower() in SUFFIXES)
    first: dict[bytes, Path] = {}
    for path in paths:
        first.setdefault(path.read_bytes(), path)
    return list(first.values())


def attempt(path: Path, folder: Path, tell: Callable[[Record], None] = lambda record: None) -> Record:
    """One file through every verb, in this process; ``folder`` becomes its job folder.

    ``tell`` is given what is known so far before each verb starts. Only what is not a refusal is raised.
    """
    record: Record = {"file": path.name, "outcome": "hang", "seconds": {}}

    def timed(verb: str, work: Callable[[], Any]) -> Any:
        record["verb"] = verb
        tell(record)
        started = time.perf_counter()
        try:
            return work()
        finally:
            record["seconds"][verb] = round(time.perf_counter() - started, 2)

    try:
        shape, unit = timed("read", lambda: _readable(path, folder.with_name(f"{folder.name}-mended"), record))
        thick_mm = THICK_MM if _drawn(path) else None
        found = timed("look", lambda: look(shape, SIZES, unit, thick_mm, folder.with_name(f"{folder.name}.png")))
        record["look"] = found.words[0]
        job = timed("new", lambda: first_job(shape, SIZES, unit, thick_mm))
        new(folder, shape, job)
        save_job(_coarse(load_job(folder)), folder)
        timed("plan", lambda: plan(folder))
        timed("program", lambda: program(folder))
        answer = timed("prove", lambda: prove(folder, lambda what, done: None))
    except Refusal as refusal:
        troubles = [{"where": t.where, "what": t.what, "remedies": list(t.remedies)} for t in refusal.troubles]
        return record | {"outcome": "refused", "troubles": troubles}
    return record | judged(answer)


def judged(answer: ProveAnswer) -> Record:
    """What the proof says: findings that stop it, all counted by kind, the first ones whole."""
    stops = [f for verdict in answer.verdicts.values() for f in verdict.findings if f.harm == "stop"]
    firsts = list({finding.kind: finding for finding in reversed(stops)}.values())[::-1]
    shown = [*firsts, *(finding for finding in stops if finding not in firsts)][:SHOWN]
    return {
        "outcome": "proven" if answer.passed else "failed",
        "programs": len(answer.handed_out),
        "worst_gouge_mm": round(max(verdict.worst_gouge_mm for verdict in answer.verdicts.values()), 3),
        "worst_left_mm": round(max(verdict.worst_left_mm for verdict in answer.verdicts.values()), 3),
        "kinds": dict(Counter(finding.kind for finding in stops)),
        "findings": [
            {
                "kind": finding.kind,
                "what": finding.what,
                "by_mm": round(finding.by_mm, 3),
                "place_mm": None if finding.place_mm is None else [round(float(v), 2) for v in finding.place_mm],
                "where": f"{finding.frame}, placement {finding.placement}, {finding.file}:{finding.line}",
                "remedies": list(finding.remedies),
            }
            for finding in shown
        ],
    }


def _readable(path: Path, beside: Path, record: Record) -> tuple[Path, str | None]:
    """The shape as it is gone on with, and its unit; says what was mended and which unit was taken."""
    for unit in (None, "cm", "inch", "m"):
        reading = None if _drawn(path) else read_solid(path, unit)
        largest_mm = max(reading.health.size_mm) if reading else _span_mm(path, unit)
        record |= {"size_mm": round(float(largest_mm), 2), "unit": unit}
        if largest_mm >= LEAST_MM:
            break
    if reading is None or reading.health.sound:
        return path, unit
    record["mended_for"] = [trouble.what for trouble in reading.health.troubles(path.name)]
    beside.mkdir(exist_ok=True)
    mended = beside / f"{path.stem}.stl"
    write_stl(reading.mended().needed(), mended)
    return mended, "mm"


def _span_mm(path: Path, unit: str | None) -> float:
    x0, y0, x1, y1 = read_outline(path, unit).polygon.bounds
    return float(max(x1 - x0, y1 - y0))


def _drawn(path: Path) -> bool:
    return path.suffix.lower() in (".dxf", ".svg")


def _coarse(job: Job) -> Job:
    grids = {"plan_pitch_mm": PLAN_PITCH_MM, "proof_pitch_mm": PROOF_PITCH_MM}
    return job.model_copy(update={"settings": job.settings.model_copy(update=grids)})


def attempt_apart(path: Path, folder: Path, limit_s: float = LIMIT_S) -> Record:
    """The same in a child process: one that dies is a crash, one that does not come back in time a hang."""
    result = folder.with_name(f"{folder.name}.json")
    command = [sys.executable, __file__, "--one", str(path), str(folder), str(result)]
    started = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True)
    try:
        _, complaint = child.communicate(timeout=limit_s)
    except subprocess.TimeoutExpired:
        return _last_told(result, path) | {"outcome": "hang", "after_s": round(time.perf_counter() - started, 1)}
    finally:  # whoever stops us stops the child as well
        if child.poll() is None:
            os.killpg(child.pid, signal.SIGKILL)
            child.communicate()
    if child.returncode:
        tail = complaint.decode(errors="replace").strip().splitlines()[-12:]
        return _last_told(result, path) | {"outcome": "crash", "status": child.returncode, "traceback": tail}
    return _last_told(result, path)


def _last_told(result: Path, path: Path) -> Record:
    if not result.is_file():
        return {"file": path.name, "seconds": {}}
    told: Record = json.loads(result.read_text(encoding="utf-8"))
    return told


def _one(path: Path, folder: Path, result: Path) -> None:
    """The child: what is known is on disk before each verb starts."""

    def tell(record: Record) -> None:
        result.write_text(json.dumps(record), encoding="utf-8")

    try:
        tell(attempt(path, folder, tell))
    except Exception:
        traceback.print_exc()
        sys.exit(3)


def in_words(record: Record) -> str:
    """One line for the terminal."""
    seconds = sum(record["seconds"].values())
    head = f"{record['outcome']:8} {seconds:6.1f} s  {record['file']}"
    if record["outcome"] == "refused":
        return f"{head}: {record['verb']}: {record['troubles'][0]['what'].splitlines()[0]}"
    if record["outcome"] == "failed":
        return f"{head}: " + "; ".join(f"{kind} {count}" for kind, count in record["kinds"].items())
    if record["outcome"] == "crash":
        return f"{head}: {record.get('verb', 'start')}: {record['traceback'][-1] if record['traceback'] else '?'}"
    return f"{head}: {record.get('verb', 'start')}" if record["outcome"] == "hang" else head


def _name(path: Path) -> str:
    return re.sub(r"[^A-Za-z0-9]+", "-", f"{path.parent.name}-{path.name}").strip("-").lower()


def _run(paths: Sequence[Path], keep: Path, jobs: int, limit_s: float) -> Iterator[Record]:
    """Each file's record as its turn comes; job folders of what is proven or refused are taken away again."""

    def tried(path: Path) -> Record:
        folder = keep / _name(path)
        for old in keep.glob(f"{folder.name}*"):
            shutil.rmtree(old) if old.is_dir() else old.unlink()
        record = attempt_apart(path, folder, limit_s) | {"folder": folder.name, "from": path.parent.name}
        if record["outcome"] in ("proven", "refused"):
            for done in keep.glob(f"{folder.name}*"):
                shutil.rmtree(done) if done.is_dir() else done.unlink()
        return record

    with ThreadPoolExecutor(jobs) as pool:
        yield from pool.map(tried, paths)


def main(argv: Sequence[str] | None = None) -> int:
    """Try the files; the status is 1 where one crashed or hung."""
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("table", type=Path, nargs="?", help="the file of JSON lines to write")
    words.add_argument("--only", default="", metavar="TEXT", help="only files whose path holds this")
    words.add_argument("--limit", type=int, metavar="N", help="at most so many files")
    words.add_argument("--jobs", type=int, default=1, metavar="N", help="files at a time (default 1)")
    words.add_argument("--seconds", type=float, default=LIMIT_S, metavar="S", help="time limit for one file")
    words.add_argument("--keep", type=Path, metavar="FOLDER", help="keep the job folders of what fails here")
    words.add_argument("--files", type=Path, nargs="+", default=[], help="these files instead of the fetched ones")
    words.add_argument("--one", type=Path, nargs=3, help=argparse.SUPPRESS)
    asked = words.parse_args(argv)
    if asked.one:
        _one(*asked.one)
        return 0
    if asked.table is None:
        words.error("name the file of JSON lines to write")
    try:
        found = asked.files or foreign_files(fetch())
    except FetchError as error:
        sys.exit(f"{error}\nCheck the connection to the package index and run this again.")
    paths = [path.resolve() for path in found if asked.only.lower() in str(path).lower()][: asked.limit]
    outcomes: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as passing, asked.table.open("w", encoding="utf-8") as table:
        keep = (asked.keep or Path(passing)).resolve()
        keep.mkdir(parents=True, exist_ok=True)
        for record in _run(paths, keep, asked.jobs, asked.seconds):
            outcomes[record["outcome"]] += 1
            table.write(json.dumps(record) + "\n")
            table.flush()
            print(in_words(record), flush=True)
    print(", ".join(f"{count} {outcome}" for outcome, count in sorted(outcomes.items())))
    return 1 if outcomes["crash"] or outcomes["hang"] else 0


if __name__ == "__main__":
    sys.exit(main())
