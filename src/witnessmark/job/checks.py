"""What cannot be true of a job though each value alone is possible: cutters against machine, pieces against folder.

Every check takes parts that are valid in themselves, so that one wrong key does not hide the rest.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from .complaints import key_path, nearest
from .errors import Trouble
from .frames import SIDES
from .models import Blank, Controller, Cutter, Machine, PieceSpec, PieceWish, Settings, Shoe, Wish
from .names import file_stem, is_name, leads_elsewhere
from .units import MM_PER_INCH

PLAN_PITCH_RATIO, PROOF_PITCH_RATIO = 1.0, 0.5  # the largest cells, of the smallest cutter's diameter
MOST_CELLS = 100_000_000  # of a blank: a proof takes some 30 bytes a cell (benchmarks/bench_proof.py), so 3 GB
OUTLINE_SLACK_MM = 0.05
LARGEST_SHAPE_MB = 512
MOST_DECIMALS = 6  # as the model takes


@dataclass(frozen=True)
class Parts:
    """The parts of a job that are valid in themselves; lists keep their place in the file."""

    machine: Machine | None
    cutters: Sequence[tuple[int, Cutter]]
    pieces: Sequence[tuple[int, PieceSpec]]
    settings: Settings | None
    wish: Wish | None


def cross_checks(parts: Parts, folder: Path | None, file: str) -> list[Trouble]:
    """Everything found; ``folder`` None leaves the shape files alone."""
    troubles = [*_twice(parts.cutters, "cutters", file), *_twice(parts.pieces, "pieces", file)]
    troubles += [*_same_files(parts.pieces, file)]
    if parts.settings:
        troubles += _at(file, ("settings",), "", _pitches(parts.settings, [cutter for _, cutter in parts.cutters]))
    for index, cutter in parts.cutters:
        troubles += _at(file, ("cutters", index), f' of "{cutter.name}"', _cutter(cutter))
        if parts.machine:
            troubles += _at(file, ("cutters", index), f' of "{cutter.name}"', _cutter_in(cutter, parts.machine))
    if parts.machine:
        troubles += _at(file, ("machine",), "", _machine(parts.machine))
    if parts.machine and parts.settings:
        troubles += _at(file, ("machine",), "", _format(parts.machine.controller, parts.settings))
    for index, piece in parts.pieces:
        troubles += _at(file, ("pieces", index), f' of "{piece.name}"', _blank(piece.blank, parts.settings))
        of = f' of "{piece.name}"'
        troubles += _at(file, ("pieces", index, "wish"), of, _wish(piece.wish))
        if parts.wish:
            troubles += _at(file, ("pieces", index, "wish"), of, _wish_in(piece.wish, parts.wish))
        if folder is not None:
            troubles += _at(file, ("pieces", index), f' of "{piece.name}"', _shape(piece.shape, folder))
    if parts.wish:
        troubles += _at(file, ("wish",), "", _wish(parts.wish))
    return troubles


# What a check yields: the key, what is wrong, and the remedies.
Found = Iterator[tuple[str, str, tuple[str, ...]]]


def _at(
    file: str, place: tuple[str | int, ...], of: str, found: Iterable[tuple[str, str, tuple[str, ...]]]
) -> list[Trouble]:
    return [Trouble(f"{file}, {key_path(place)}.{key}{of}", what, remedies) for key, what, remedies in found]


def _twice(named: Sequence[tuple[int, Cutter | PieceSpec]], key: str, file: str) -> Iterator[Trouble]:
    seen: dict[str, int] = {}
    for index, part in named:
        where = f"{file}, {key_path((key, index))}.name"
        if not is_name(part.name):
            yield Trouble(where, "is not a name of 1 to 60 signs that can be printed", ("give it a short name",))
        earlier = seen.setdefault(part.name.strip().casefold(), index)
        if earlier != index:
            yield Trouble(
                where,
                f'"{part.name}" is also the name of {key_path((key, earlier))}',
                ("give each its own name",),
            )


def _cut(name: str) -> str:
    return name[:60] + ("..." if len(name) > 60 else "")


def _same_files(pieces: Sequence[tuple[int, PieceSpec]], file: str) -> Iterator[Trouble]:
    """Pieces whose results would have the same names of files, or lie elsewhere."""
    seen: dict[str, tuple[int, str]] = {}
    for index, piece in pieces:
        where = f"{file}, {key_path(('pieces', index))}.name"
        if leads_elsewhere(piece.name):
            what = f'"{_cut(piece.name)}" holds signs that lead to another folder'
            yield Trouble(where, what, ("leave out / and \\, and a point at its beginning",))
        earlier, name = seen.setdefault(file_stem(piece.name), (index, piece.name))
        if earlier != index and name.strip().casefold() != piece.name.strip().casefold():
            yield Trouble(
                where,
                f'"{_cut(piece.name)}" and "{_cut(name)}" give files of one name ({file_stem(name)}...)',
                ("let the names differ in the letters a to z or in figures",),
            )


def _pitches(settings: Settings, cutters: Sequence[Cutter]) -> Found:
    yield from _coarse("plan_pitch_mm", settings.plan_pitch_mm, cutters, PLAN_PITCH_RATIO)
    yield from _coarse("proof_pitch_mm", settings.proof_pitch_mm, cutters, PROOF_PITCH_RATIO)


def _coarse(key: str, pitch_mm: float, cutters: Sequence[Cutter], most_ratio: float) -> Found:
    """Cells through which the smallest cutter would fall: a plan or a proof on them would be worth nothing."""
    if not cutters:
        return
    least = min(cutters, key=lambda cutter: cutter.diameter_mm)
    most_mm = _rounded_down(most_ratio * least.diameter_mm)
    if pitch_mm > most_ratio * least.diameter_mm:
        yield (
            key,
            f'is {pitch_mm:g}, too coarse for cutter "{_cut(least.name)}" of {least.diameter_mm:g} mm',
            (f"set it to at most {most_mm:g}", "see whether the cutter's diameter is in the right unit"),
        )


def _rounded_down(length_mm: float) -> float:
    """As a remedy prints it: to five figures, never more than it is."""
    printed_mm = float(f"{length_mm:.5g}")
    return printed_mm if printed_mm <= length_mm else printed_mm - 10.0 ** (math.floor(math.log10(length_mm)) - 4)


def _cells(blank: Blank, pitch_mm: float) -> float:
    return blank.size_x_mm / pitch_mm * (blank.size_y_mm / pitch_mm)


def proof_pitch_troubles(
    where: str, pitch_mm: float, cutters: Sequence[Cutter], blanks: Iterable[Blank]
) -> list[Trouble]:
    """Why a proof on another pitch than the job's would be worth nothing, by the rules of its own; none if it is not.

    ``where``: how the maker gave it.
    """
    most_mm = _rounded_down(PROOF_PITCH_RATIO * min(cutter.diameter_mm for cutter in cutters))
    if not (math.isfinite(pitch_mm) and pitch_mm > 0):
        what = f"is {pitch_mm:g}; the cells of a proof have a size, in mm"
        return [
            Trouble(where, what, (f"give more than 0 and at most {most_mm:g}", "or leave it out: the job has one"))
        ]
    troubles = [
        Trouble(where, what, remedies) for _, what, remedies in _coarse("", pitch_mm, cutters, PROOF_PITCH_RATIO)
    ]
    largest = max(blanks, key=lambda blank: _cells(blank, 1.0))
    cells = _cells(largest, pitch_mm)
    if cells > MOST_CELLS:
        least_mm = math.ceil(1000 * math.sqrt(_cells(largest, 1.0) / MOST_CELLS)) / 1000
        what = f"is {pitch_mm:g}, which makes {cells:.2g} cells of the blank; at most {MOST_CELLS:.0e} can be held"
        troubles.append(Trouble(where, what, (f"give at least {least_mm:g}",)))
    return troubles


def _cutter(cutter: Cutter) -> Found:
    radius_mm = cutter.diameter_mm / 2
    if cutter.flute_length_mm > cutter.stickout_mm:
        yield (
            "flute_length_mm",
            f"is {cutter.flute_length_mm:g}, longer than the {cutter.stickout_mm:g} mm that stick out of the collet",
            (
                "measure stick-out from the lower face of the nut to the tip",
                "or set flute_length_mm to the part of the flutes outside the collet",
            ),
        )
    if cutter.stepdown_mm > cutter.flute_length_mm:
        yield (
            "stepdown_mm",
            f"is {cutter.stepdown_mm:g}, deeper than the {cutter.flute_length_mm:g} mm of flutes",
            (f"set it to at most {cutter.flute_length_mm:g}",),
        )
    if cutter.stepover_mm > cutter.diameter_mm:
        yield (
            "stepover_mm",
            f"is {cutter.stepover_mm:g}, wider than the cutter ({cutter.diameter_mm:g}): ridges would be left",
            (f"set it to less than {cutter.diameter_mm:g}",),
        )
    if cutter.kind in ("v", "drill", "tapered_ball") and cutter.included_angle_deg == 0:
        yield (
            "included_angle_deg",
            f"is missing; a {cutter.kind.replace('_', ' ')} is cut to an angle",
            ("read the angle off the cutter's packet, or measure it with a bevel gauge: the full angle of the cone",),
        )
    if cutter.kind in ("bull", "tapered_ball") and not 0 < cutter.corner_radius_mm <= radius_mm:
        yield (
            "corner_radius_mm",
            f"is {cutter.corner_radius_mm:g}; it must be more than 0 and at most the cutter's radius, {radius_mm:g}",
            ("measure it with a radius gauge, or read it off the packet",),
        )
    yield from _neck(cutter)
    if cutter.kind in ("flat", "v", "drill", "t_slot") and cutter.corner_radius_mm > 0:
        yield (
            "corner_radius_mm",
            f"is {cutter.corner_radius_mm:g}, but a {cutter.kind.replace('_', ' ')} cutter has none",
            ('leave it out, or set kind = "bull" for a flat cutter with rounded corners',),
        )
    if cutter.kind == "ball" and cutter.corner_radius_mm not in (0.0, radius_mm):
        yield (
            "corner_radius_mm",
            f"is {cutter.corner_radius_mm:g}, but a ball's radius is half its diameter, {radius_mm:g}",
            ('leave it out, or set kind = "bull"',),
        )


def _neck(cutter: Cutter) -> Found:
    if (cutter.neck_length_mm > 0) != (cutter.neck_diameter_mm > 0):
        missing = "neck_diameter_mm" if cutter.neck_length_mm > 0 else "neck_length_mm"
        yield missing, "is missing: a neck has a diameter and a length", ("measure both by caliper",)
    if 0 < cutter.neck_length_mm > cutter.stickout_mm - cutter.flute_length_mm + 1e-9:
        yield (
            "neck_length_mm",
            f"with the flutes is longer than the {cutter.stickout_mm:g} mm that stick out of the collet",
            ("give only what is outside of the collet",),
        )
    neck_mm = cutter.neck_diameter_mm or cutter.shank_diameter_mm
    if cutter.undercuts and neck_mm >= cutter.diameter_mm:
        yield (
            "neck_diameter_mm" if cutter.neck_diameter_mm else "shank_diameter_mm",
            f"is {neck_mm:g}, no less than the disc ({cutter.diameter_mm:g}): it could not cut under anything",
            ("measure disc and neck by caliper", 'or set kind = "flat"'),
        )


def _cutter_in(cutter: Cutter, machine: Machine) -> Found:
    if cutter.shank_diameter_mm > machine.nut_diameter_mm:
        yield (
            "shank_diameter_mm",
            f"is {cutter.shank_diameter_mm:g}, thicker than the collet nut ({machine.nut_diameter_mm:g})",
            ("measure the shank by caliper", "or measure the nut across its corners (machine.nut_diameter_mm)"),
        )
    slowest_rpm, fastest_rpm = sorted((machine.spindle_min_rpm, machine.spindle_max_rpm))
    if not slowest_rpm <= cutter.spindle_rpm <= fastest_rpm:
        yield (
            "spindle_rpm",
            f"is {cutter.spindle_rpm:g}; the spindle runs at {slowest_rpm:g} to {fastest_rpm:g} rpm",
            ("choose a speed in that range",),
        )
    for key in ("feed_mm_min", "entry_feed_mm_min"):
        feed_mm_min = getattr(cutter, key)
        if feed_mm_min > machine.feed_max_mm_min:
            yield (
                key,
                f"is {feed_mm_min:g}, more than the machine's {machine.feed_max_mm_min:g} mm/min",
                (f"set it to at most {machine.feed_max_mm_min:g}", "or raise machine.feed_max_mm_min"),
            )


def _machine(machine: Machine) -> Found:
    if machine.spindle_min_rpm > machine.spindle_max_rpm:
        yield (
            "spindle_min_rpm",
            f"is {machine.spindle_min_rpm:g}, more than spindle_max_rpm, {machine.spindle_max_rpm:g}",
            ("exchange the two",),
        )
    if machine.shoe_on and machine.shoe is None:
        yield ("shoe_on", "is true, but no dust shoe is described", ("add [machine.shoe]", "or set shoe_on = false"))
    if machine.shoe is not None and machine.shoe.outline_mm:
        yield from _shoe_outline(machine.shoe)
    if machine.support_z_bed_mm >= machine.gantry_above_bed_mm:
        yield (
            "board.thickness_mm",
            f"is {machine.support_z_bed_mm:g}, as high as the gantry's underside ({machine.gantry_above_bed_mm:g})",
            ("measure both from the fixed spoilboard",),
        )
    if machine.board and machine.board.bolt_places_mm:
        places, pitch = machine.board.bolt_places_mm, machine.board.hole_pitch_mm
        apart = [(place - places[0]) / pitch for place in places]
        if any(abs(a - round(a)) * pitch > 0.1 for a in apart) or len({round(a) for a in apart}) < len(apart):
            yield (
                "board.bolt_places_mm",
                f"are not whole holes of {pitch:g} mm apart",
                ("measure them again from one to the next", "correct board.hole_pitch_mm"),
            )
    if machine.board and 2 * machine.board.hole_inset_mm >= min(machine.board.size_x_mm, machine.board.size_y_mm):
        yield ("board.hole_inset_mm", "lies beyond the middle of the board", ("measure it from the board's edge",))


def _format(controller: Controller, settings: Settings) -> Found:
    step_mm = 10.0**-controller.decimals * (MM_PER_INCH if controller.units == "inch" else 1.0)
    if step_mm / 2 > settings.gouge_tolerance_mm:
        decimals = controller.decimals
        while decimals < MOST_DECIMALS and step_mm / 2 > settings.gouge_tolerance_mm:
            decimals, step_mm = decimals + 1, step_mm / 10
        yield (
            "controller.decimals",
            f"is {controller.decimals}: rounding to that moves the cutter by more than the "
            f"{settings.gouge_tolerance_mm:g} mm a surface may be cut too deep",
            (f"set it to {decimals} or more, if the controller takes them",),
        )


def _blank(blank: Blank, settings: Settings | None) -> Found:
    if blank.below_mm >= blank.size_z_mm:
        yield (
            "blank.below_mm",
            f"is {blank.below_mm:g}, but the whole blank is {blank.size_z_mm:g} thick: nothing is left for the piece",
            ("give only what lies below the piece's lowest point",),
        )
    heights_mm = blank.glue_lines_z_mm
    if any(not 0 < z_mm < blank.size_z_mm for z_mm in heights_mm) or list(heights_mm) != sorted(set(heights_mm)):
        yield (
            "blank.glue_lines_z_mm",
            f"must rise from line to line, between 0 and {blank.size_z_mm:g}",
            ("measure each glue line's height from the underside of the blank",),
        )
    for number, hollow in enumerate(blank.hollows, 1):
        if len(hollow.outline_mm) < 3 or not hollow.z_from_mm < hollow.z_to_mm <= blank.size_z_mm:
            yield (
                "blank.hollows",
                f"number {number} is no hollow of this blank: it wants 3 corners or more, and heights within "
                f"{blank.size_z_mm:g} mm",
                ("design the blank again: witnessmark boards",),
            )
    for key in ("plan_pitch_mm", "proof_pitch_mm") if settings else ():
        cells = _cells(blank, getattr(settings, key))
        if cells > MOST_CELLS:
            yield (
                "blank.size_x_mm",
                f"with size_y_mm makes {cells:.2g} cells of settings.{key}; at most {MOST_CELLS:.0e} can be held",
                ("see whether a length is in the wrong unit", f"or use a larger settings.{key}"),
            )


def _shape(shape: str, folder: Path) -> Found:
    try:
        path = (folder / shape).resolve()
        inside = path.is_relative_to(folder.resolve()) and not Path(shape).is_absolute()
        size_mb = path.stat().st_size / 1e6 if inside and path.is_file() else None
    except (OSError, ValueError, RuntimeError):
        yield ("shape", "is not the name of a file", ("write the file's name as it stands in the job's folder",))
        return
    if not inside:
        yield (
            "shape",
            f'"{shape[:80]}" lies outside the job\'s folder',
            ("copy the shape file into the job's folder and write only its name",),
        )
    elif size_mb is None:
        beside = sorted(entry.name for entry in folder.iterdir() if entry.is_file()) if folder.is_dir() else []
        like = nearest(shape, beside)
        advice = (f"did you mean {like}?",) if like else ()
        yield ("shape", f'"{shape[:80]}" is not there', (*advice, f"put the file into {folder}"))
    elif size_mb > LARGEST_SHAPE_MB:
        yield (
            "shape",
            f'"{shape[:80]}" is {size_mb:.0f} MB; at most {LARGEST_SHAPE_MB} MB are read',
            ("write it out again with a coarser mesh",),
        )


def _wish(wish: Wish | PieceWish) -> Found:
    for side in wish.forbid_sides:
        if side not in SIDES:
            like = nearest(side, SIDES)
            yield (
                "forbid_sides",
                f'holds "{side[:20]}", which is no side',
                ((f'did you mean "{like}"?',) if like else ()) + (f"sides are {' '.join(SIDES)}",),
            )
    if wish.first_up in wish.forbid_sides:
        yield ("first_up", f'insists on "{wish.first_up}", which forbid_sides forbids', ("take one of the two back",))
    if set(SIDES) <= set(wish.forbid_sides):
        yield ("forbid_sides", "forbids every side", ("leave at least one",))


def _wish_in(own: PieceWish, whole: Wish) -> Found:
    """A piece's wishes against the job's."""
    if own.first_up is not None and own.first_up in whole.forbid_sides:
        what = f'insists on "{own.first_up}", which wish.forbid_sides forbids for every piece'
        yield "first_up", what, ("take one of the two back",)
    if own.first_up is None and whole.first_up is not None and whole.first_up in own.forbid_sides:
        what = f'forbids "{whole.first_up}", which wish.first_up insists on'
        yield "forbid_sides", what, ("give this piece a wish.first_up of its own", "or take one of the two back")
    if not {"+z", "-z"} - {*own.forbid_sides, *whole.forbid_sides} and own.forbid_sides:
        what = "with wish.forbid_sides leaves neither +z nor -z to be up"
        yield "forbid_sides", what, ("allow +z or -z",)


def _shoe_outline(shoe: Shoe) -> Found:
    """Corners that make no outline, or reach out of the circle that is to go round them."""
    corners = shoe.outline_mm
    if len(corners) < 3 or len(set(corners)) < len(corners):
        yield (
            "shoe.outline_mm",
            "is no outline: it needs three corners or more, none twice",
            ("list each corner once",),
        )
        return
    from shapely import Polygon  # only here: reading a job must not wait for it

    if not Polygon(corners).is_valid:
        yield ("shoe.outline_mm", "crosses itself", ("list the corners in the order they come round the shoe",))
    reach_mm = max(math.hypot(x, y) for x, y in corners)
    if reach_mm > shoe.diameter_mm / 2 + OUTLINE_SLACK_MM:
        what = f"reaches {reach_mm:.1f} mm from the spindle axis, and diameter_mm is {shoe.diameter_mm:g}"
        yield ("shoe.outline_mm", what, (f"make diameter_mm at least {math.ceil(20 * reach_mm) / 10:g}",))
