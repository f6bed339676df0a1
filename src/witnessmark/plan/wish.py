"""What the maker wishes of the number of placements, held against the bound."""

from __future__ import annotations

from witnessmark.job.errors import refuse
from witnessmark.job.models import Job, PieceSpec
from witnessmark.shapes.solid import Solid

from .change import search_changes
from .search import Layout


def keep_to_wish(job: Job, spec: PieceSpec, piece: Solid, layout: Layout) -> None:
    """Refuse a piece that takes more placements than ``wish.max_placements``, with what would do it in fewer."""
    most = job.wish.max_placements
    if layout.bound <= most:
        return
    found = search_changes(
        job, spec, piece, layout.meeting, lambda new: new.unreached == 0 and new.bound <= most, at_most=most
    )
    words = [change.words for change in found.changes]
    remedies = [f"put up with {layout.bound} placements (wish.max_placements)", *words]
    raise refuse(
        f"piece {spec.name}",
        f"takes {layout.bound} placements; the wish allows {most}",
        *remedies,
        by=f"{layout.bound - most} too many",
    )
