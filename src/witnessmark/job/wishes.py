"""What is wished of one piece: its own wishes held together with the job's."""

from __future__ import annotations

from .models import Job, PieceSpec


def first_up_of(job: Job, spec: PieceSpec) -> str | None:
    """The side insisted on to be up first: the piece's own before the job's; None where neither insists."""
    return spec.wish.first_up or job.wish.first_up


def forbidden_of(job: Job, spec: PieceSpec) -> frozenset[str]:
    """The sides that shall not be up: the job's and the piece's together."""
    return frozenset((*job.wish.forbid_sides, *spec.wish.forbid_sides))
