"""Where the pieces of a job are too thin: for their cutter while they are finished, and for a hand in use."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.job import catalog
from witnessmark.job.box import Box, load_box
from witnessmark.job.catalog import Species
from witnessmark.job.models import Cutter, Job, PieceSpec
from witnessmark.wood.force import UNCERTAIN_RATIO, Cut, tooth_n
from witnessmark.wood.thin import (
    ENOUGH_RATIO,
    HAND_N,
    band_for_mm,
    slices_of,
    wall_for_mm,
    wall_gives_mm,
    wall_margin_ratio,
    weak_lobes,
)

from .workshop import Workshop, is_box

SHOWN = 3


def weak_notes(workshop: Workshop) -> tuple[str, ...]:
    """A line for every weak place of every piece whose wood has listed strength."""
    return tuple(note for spec in workshop.job.pieces for note in _of_piece(workshop, spec))


def _of_piece(workshop: Workshop, spec: PieceSpec) -> Iterator[str]:
    wood = catalog.species().get(spec.blank.species)
    if wood is None:
        return
    lobes = weak_lobes(slices_of(workshop.solids[spec.name]), spec.blank.grain_axis, wood)
    for weak in lobes[:SHOWN]:
        yield (
            f"{spec.name}: short grain at x {weak.x_mm:.0f} y {weak.y_mm:.0f}: what stands out {weak.long_mm:.0f} mm "
            f"on {weak.wide_mm:.0f} mm of wood breaks off along the grain at {weak.margin_ratio * HAND_N:.0f} N; "
            f"turn the grain, make it thicker there, or glue a strip across under it"
        )
    if len(lobes) > SHOWN:
        yield f"{spec.name}: {len(lobes) - SHOWN} more such places"
    if is_box(spec.shape):
        yield from _walls(workshop.job, spec, load_box(workshop.folder.root / spec.shape), wood)


def _walls(job: Job, spec: PieceSpec, box: Box, wood: Species) -> Iterator[str]:
    """Walls, lips and dividers of a box's part: name, height over what holds them, thickness."""
    for name, high_mm, thick_mm in _thin_of(spec.part or "", box):
        margin = wall_margin_ratio(high_mm, thick_mm, wood)
        if margin is not None and margin < ENOUGH_RATIO:
            enough_mm = thick_mm * (ENOUGH_RATIO / margin) ** 0.5
            yield (
                f"{spec.name}: the {name}, {thick_mm:g} mm thick, breaks at its foot under a push of "
                f"{margin * HAND_N:.0f} N on one place; {enough_mm:.1f} mm would bear {ENOUGH_RATIO * HAND_N:.0f} N"
            )
        cutter = _finishes(job)
        push_n = UNCERTAIN_RATIO * tooth_n(cutter, wood, Cut(cutter.stepdown_mm, job.settings.wall_allowance_mm))
        gives_mm, most_mm = wall_gives_mm(push_n, high_mm, thick_mm, wood), job.settings.leftover_tolerance_mm
        if gives_mm > most_mm:
            band_mm = band_for_mm(push_n, high_mm, thick_mm, wood, most_mm)
            stout_mm = wall_for_mm(push_n, high_mm, thick_mm, wood, most_mm)
            yield (
                f"{spec.name}: the {name}, {thick_mm:g} mm thick and {high_mm:g} mm high, may give way by "
                f"{gives_mm:.2f} mm to {cutter.name} while it is finished ({push_n:.0f} N): make it "
                f"{stout_mm:.1f} mm thick, or finish it in bands of {band_mm:.0f} mm from the top down, the wood "
                f"below still thick"
            )


def _thin_of(part: str, box: Box) -> Iterator[tuple[str, float, float]]:
    if part == "body":
        yield "wall", box.inside_height_mm, box.wall_mm
        if box.closing == "rebate":
            yield "lip round the rebate", box.rebate_mm, box.lip_mm
        elif box.closing == "lip":
            yield "lip that stands up inside", box.rebate_mm, box.wall_mm - box.lip_mm - box.gap_mm
        if box.dividers_x_mm or box.dividers_y_mm:
            trays_mm = sum(tray.height_mm for tray in box.trays)
            yield "dividers", box.inside_height_mm - trays_mm, box.divider_mm
    elif part == "lid" and box.closing == "lip":
        yield "edge round the recess", box.rebate_mm + box.gap_mm, box.lip_mm
    elif part.startswith("tray"):
        tray = box.trays[int(part.split()[-1]) - 1]
        yield "walls", tray.height_mm - tray.floor_mm, tray.wall_mm


def _finishes(job: Job) -> Cutter:
    """The cutter that finishes upright walls: the first flat one."""
    return next((cutter for cutter in job.cutters if cutter.kind in ("flat", "bull")), job.cutters[0])
