"""What the whole job takes, part by part: seconds and memory of plan, paths, proof and bench sheet.

Run: python benchmarks/bench_job.py [chest dish box]
Each part runs in a process of its own, as the verbs do from the command line, so that its peak of memory is its own.
The verb's work is timed alone, by the clock and in processor time (all threads); starting up (Python and the verb's
libraries) stands beside. Kernels that are read from their cache, or compiled where there is none, count as work.
Peak memory is the greatest resident size of the part's process (getrusage; ru_maxrss is KiB on Linux).
"""

from __future__ import annotations

import json
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

EXAMPLES = ("chest", "dish", "box")
PARTS = ("plan", "paths", "proof", "sheet")


def work_of(part: str) -> Callable[[Path], object]:
    """The verb of a part; imported here, so that a process loads only what its part needs."""

    def silent(_what: str, _done_ratio: float) -> None:
        """No progress shown."""

    if part == "plan":
        from witnessmark.verbs.make import plan

        return lambda folder: plan(folder, silent)
    if part == "paths":
        from witnessmark.verbs.make import program

        return lambda folder: program(folder, silent)
    if part == "proof":
        from witnessmark.verbs.prove import prove

        return lambda folder: prove(folder, silent)
    from witnessmark.verbs.sheet import sheet

    return lambda folder: sheet(folder, silent)


def run_part(part: str, folder: Path, began_s: float) -> None:
    """In the child: do the part, and print its figures as JSON."""
    work = work_of(part)
    start_up_s = time.time() - began_s
    start, before_s = time.perf_counter(), time.process_time()
    work(folder)
    figures = {"took_s": time.perf_counter() - start, "processor_s": time.process_time() - before_s}
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    peak_mib = peak / 1024 if platform.system() != "Darwin" else peak / 1024**2  # bytes there
    print(json.dumps(figures | {"start_up_s": start_up_s, "peak_mib": peak_mib}))


def measured(part: str, folder: Path) -> dict[str, float]:
    """The figures of a part, run in a process of its own."""
    words = [sys.executable, __file__, "--part", part, str(folder), repr(time.time())]
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    figures: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return figures


def size_of(folder: Path) -> str:
    """How much was made: programs and their motions, and whether the proof passed."""
    proof = json.loads((folder / "out" / "proof.json").read_text(encoding="utf-8"))
    rows = [row for piece in proof["pieces"] for row in piece["programs"]]
    verdict = "proven" if proof["passed"] else "NOT proven"
    return f"{len(rows)} programs, {sum(row['motions'] for row in rows) / 1e3:.0f} thousand motions, {verdict}"


def main(arguments: list[str]) -> None:
    from witnessmark.verbs.demo import lay_out_demo

    print(f"{'example':10}{'part':8}{'work s':>9}{'processor s':>13}{'start-up s':>12}{'peak MiB':>10}", flush=True)
    for example in arguments or EXAMPLES:
        with tempfile.TemporaryDirectory() as scratch:
            folder = lay_out_demo(Path(scratch) / example, example)
            total_s = 0.0
            for part in PARTS:
                found = measured(part, folder)
                total_s += found["took_s"]
                print(
                    f"{example:10}{part:8}{found['took_s']:9.2f}{found['processor_s']:13.2f}"
                    f"{found['start_up_s']:12.2f}{found['peak_mib']:10.0f}",
                    flush=True,
                )
            print(f"{example:10}{'all':8}{total_s:9.2f}    {size_of(folder)}", flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--part"]:
        run_part(sys.argv[2], Path(sys.argv[3]), float(sys.argv[4]))
    else:
        main(sys.argv[1:])
