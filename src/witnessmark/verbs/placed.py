"""A piece's placement by name, from the plan on disk: what the verbs at the machine begin with."""

from __future__ import annotations

from pathlib import Path

from witnessmark.job.errors import refuse
from witnessmark.job.placement import Placement
from witnessmark.plan.model import PiecePlan
from witnessmark.plan.store import load_plans

from .workshop import Workshop, open_workshop


def placed(folder: Path | str, piece: str | None, placement: str) -> tuple[Workshop, PiecePlan, Placement]:
    """Refused where the piece or the placement is not in the plan, or the piece is not said and must be."""
    workshop = open_workshop(folder)
    plans = load_plans(workshop.job, workshop.folder.out("plan.toml"), None)
    names = [plan.piece.name for plan in plans]
    if piece is None and len(plans) > 1:
        raise refuse("--piece", f"the job has pieces {', '.join(names)}", "say which: --piece NAME")
    own = [plan for plan in plans if piece is None or plan.piece.name == piece]
    if not own:
        raise refuse(f"--piece {piece}", "is not in the plan", f"name one of {', '.join(names)}")
    places = {step.placement.name: step.placement for step in own[0].placements}
    if placement not in places:
        raise refuse(f"--placement {placement[:20]}", "is not in the plan", f"name one of {', '.join(places)}")
    return workshop, own[0], places[placement]
