"""Run every script in a folder, one after the other, and say which failed.

``python tools/run_benchmarks.py benchmarks``: each ``*.py`` there whose name does not begin with ``_`` is run on its
own, so that none warms another's kernels or memory; what it prints is its result.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path


def scripts_in(folder: Path) -> list[Path]:
    """The scripts of a folder in the order of their names."""
    return sorted(path for path in folder.glob("*.py") if not path.name.startswith("_"))


def run(script: Path) -> bool:
    """Run one script; True when it ended well."""
    print(f"== {script.stem}", flush=True)
    began_s = time.perf_counter()
    done = subprocess.run([sys.executable, str(script)], check=False)
    print(f"-- {script.stem}: {time.perf_counter() - began_s:.1f} s, exit {done.returncode}\n", flush=True)
    return done.returncode == 0


def main(arguments: list[str]) -> int:
    folder = Path(arguments[0] if arguments else "benchmarks")
    scripts = scripts_in(folder)
    if not scripts:
        print(f"{folder}: no script here")
        return 1
    failed = [script.stem for script in scripts if not run(script)]
    if failed:
        print("failed: " + ", ".join(failed))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
