"""The programs of one piece written in a process of their own: two pieces then never wait for one interpreter.

The other process opens the job folder itself and answers over its standard output with pickles: ("progress", words,
ratio) as often as it likes, then ("done", result) or ("refused", the Refusal). What dies without an answer is done
again here, so that a fault shows where it can be seen.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

from witnessmark.job.errors import Refusal
from witnessmark.plan.model import PiecePlan
from witnessmark.plan.programs import Draft, write_drafts
from witnessmark.plan.store import load_plans

from .workshop import open_workshop

Progress = Callable[[str, float], None]
Written = tuple[PiecePlan, tuple[Draft, ...]]


class NoAnswer(Exception):
    """The other process ended without one."""


def written_apart(folder: Path, piece: str, progress: Progress) -> Written:
    """What ``write_drafts`` gives for a piece of a planned job; its Refusal is raised here, NoAnswer if it dies."""
    command = [sys.executable, "-P", "-m", "witnessmark.verbs.apart", str(folder.resolve()), piece]
    try:
        child = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    except OSError as error:
        raise NoAnswer from error
    with child:
        try:
            return _answer(child.stdout, progress)  # type: ignore[arg-type]
        finally:
            child.kill()


def _answer(stream: IO[bytes], progress: Progress) -> Written:
    while True:
        try:
            kind, *rest = pickle.load(stream)
        except (EOFError, pickle.UnpicklingError) as error:
            raise NoAnswer from error
        if kind == "progress":
            progress(*rest)
        elif kind == "refused":
            raise rest[0]
        else:
            result: Written = rest[0]
            return result


def _serve(folder: Path, piece: str, out: IO[bytes]) -> None:
    def say(*message: Any) -> None:
        pickle.dump(message, out, protocol=pickle.HIGHEST_PROTOCOL)
        out.flush()

    try:
        workshop = open_workshop(folder)
        plans = load_plans(workshop.job, workshop.folder.out("plan.toml"), workshop.folder.out_dir("fields"))
        (planned,) = (plan for plan in plans if plan.piece.name == piece)
        solid = workshop.solids[piece]
        stock = workshop.stock(piece)
        say("done", write_drafts(workshop.job, planned, solid, lambda *message: say("progress", *message), stock))
    except Refusal as refusal:
        say("refused", refusal)


if __name__ == "__main__":
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever else is printed must not stand among the answers
    _serve(Path(sys.argv[1]), sys.argv[2], answers)
