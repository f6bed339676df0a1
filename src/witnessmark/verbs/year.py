"""What the seasons do to a job: layers glued across the grain, lids that bind, hardware that is squeezed or loose."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from witnessmark.job import catalog
from witnessmark.job.box import Box, load_box
from witnessmark.job.catalog import Species
from witnessmark.job.models import Job, PieceSpec
from witnessmark.wood.conflict import conflict
from witnessmark.wood.gap import FLAT_SAWN_RAD, QUARTER_SAWN_RAD, Part, gap_for
from witnessmark.wood.season import Year

from .season import year_of_job
from .workshop import Workshop, is_box, read_box

KEEPS_MM = 0.1  # of a gap, both sides together, in the tightest season
RATTLES_MM = 1.5  # both sides together: a lid that moves so far is felt (our own choice)


def year_notes(workshop: Workshop) -> tuple[str, ...]:
    """A line for everything that the year of the place does to the pieces; () where the job states no season."""
    job = workshop.job
    if job.season is None:
        return ()
    year = year_of_job(job.season)
    return (*_glued(job, year), *_lids(workshop, year), *_let_in(job, year))


def _part(size_mm: float, wood: Species, grain: str, axis: str, rings_rad: float = FLAT_SAWN_RAD) -> Part:
    """A layer along an axis: only across its grain does it move."""
    return Part(size_mm, wood, None if grain in (axis, "round") else rings_rad)


def _glued(job: Job, year: Year) -> Iterator[str]:
    """Layers glued upon each other whose grain runs different ways."""
    for names, one, other in _joints(job):
        wood = catalog.species().get(one[0].blank.species)
        under = catalog.species().get(other[0].blank.species)
        if wood is None or under is None:
            continue
        for axis in ("x", "y"):
            size_mm = min(_size_mm(piece, axis) for piece, _ in (one, other))
            found = conflict(
                names[0], _part(size_mm, wood, one[1], axis), names[1], _part(size_mm, under, other[1], axis), year
            )
            if found is not None:
                yield f"along {axis}: {found}"


Side = tuple[PieceSpec, str]  # a piece, and which way the grain runs on that side of the joint


def _joints(job: Job) -> Iterator[tuple[tuple[str, str], Side, Side]]:
    """Every joint of one layer upon the next: within a blank, and between pieces that are layers."""
    for spec in job.pieces:
        for k, (below, above) in enumerate(pairwise(spec.blank.layer_grains), 1):
            yield (f"{spec.name}, layer {k}", f"layer {k + 1}"), (spec, below), (spec, above)
    layered = [spec for spec in job.pieces if spec.layer is not None]
    for lower, upper in pairwise(layered):
        if lower.layer and upper.layer and lower.layer.of == upper.layer.of:
            yield (lower.name, upper.name), (lower, _grain(lower, -1)), (upper, _grain(upper, 0))


def _grain(spec: PieceSpec, layer: int) -> str:
    return spec.blank.layer_grains[layer] if spec.blank.layer_grains else spec.blank.grain_axis


def _size_mm(spec: PieceSpec, axis: str) -> float:
    return spec.blank.size_x_mm if axis == "x" else spec.blank.size_y_mm


def _lids(workshop: Workshop, year: Year) -> Iterator[str]:
    """The gap of every box's lid in its body: the least it is in the year, whichever way the annual rings lie."""
    boxes = dict.fromkeys(spec.shape for spec in workshop.job.pieces if is_box(spec.shape))
    for shape in boxes:
        path = workshop.folder.root / shape
        box, made = load_box(path), read_box(path)
        parts = {spec.part: spec for spec in workshop.job.pieces if spec.shape == shape}
        body, lid = parts.get("body"), parts.get("lid")
        if body is None or lid is None or made.regions.male.is_empty:
            continue
        x0, y0, x1, y1 = made.regions.male.bounds
        for axis, size_mm in (("x", x1 - x0), ("y", y1 - y0)):
            yield from _lid_along(box, body, lid, axis, size_mm, year)


def _lid_along(box: Box, body: PieceSpec, lid: PieceSpec, axis: str, size_mm: float, year: Year) -> Iterator[str]:
    woods = [catalog.species().get(spec.blank.species) for spec in (body, lid)]
    if woods[0] is None or woods[1] is None:
        return
    male, female = (lid, body) if box.closing == "rebate" else (body, lid)
    of = {body.name: woods[0], lid.name: woods[1]}
    needs_mm, opens_mm = 0.0, 0.0
    for inner_rad, outer_rad in ((FLAT_SAWN_RAD, QUARTER_SAWN_RAD), (QUARTER_SAWN_RAD, FLAT_SAWN_RAD)):
        inner = _part(size_mm, of[male.name], _grain(male, -1), axis, inner_rad)
        outer = _part(size_mm, of[female.name], _grain(female, -1), axis, outer_rad)
        found = gap_for(inner, outer, year, KEEPS_MM)
        needs_mm = max(needs_mm, found.now_mm)
        opens_mm = max(opens_mm, found.loosest_mm - found.now_mm)
    cut_mm = 2 * box.gap_mm
    if needs_mm > cut_mm + 1e-9:
        yield (
            f"{lid.name} in {body.name}, along {axis}: the gap of {box.gap_mm:g} mm a side may close in the year; "
            f"gap_mm {math.ceil(needs_mm / 2 * 100) / 100:.2f} keeps {KEEPS_MM / 2:g} mm a side at the worst"
        )
    elif cut_mm + opens_mm > RATTLES_MM:
        yield (
            f"{lid.name} in {body.name}, along {axis}: over the year the gap opens to "
            f"{(cut_mm + opens_mm) / 2:.2f} mm a side: the lid will be felt to move"
        )


def _let_in(job: Job, year: Year) -> Iterator[str]:
    """Hardware in its recess: metal stays, the recess moves across the grain."""
    for one in job.hardware:
        spec = next(s for s in job.pieces if one.piece in (s.name, s.layer.of if s.layer else ""))
        wood = catalog.species().get(spec.blank.species)
        if wood is None:
            continue
        metal, recess = Part(one.across_mm, wood, None), Part(one.across_mm, wood, FLAT_SAWN_RAD)
        found = gap_for(metal, recess, year, 0.0)
        tightest_mm = one.gap_mm - found.now_mm
        if tightest_mm < 0.0:
            yield (
                f"{one.name} in {one.piece}: across the grain its recess closes by {found.now_mm:.2f} mm in the dry "
                f"season and would squeeze it: cut it {found.now_mm + KEEPS_MM:.2f} mm wider than the part is "
                f"(now {one.gap_mm:g})"
            )
        else:
            loosest_mm = one.gap_mm + found.loosest_mm - found.now_mm
            yield (
                f"{one.name} in {one.piece}: across the grain its clearance is {tightest_mm:.2f} to "
                f"{loosest_mm:.2f} mm over the year, along it {one.gap_mm:.2f} mm"
            )
