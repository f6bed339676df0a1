"""fit: the hole for a round part and the gap of a lid, over the seasons of a place; and a strip of holes to try."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import manifold3d

from witnessmark.job import catalog
from witnessmark.job.catalog import Species, nearest_species
from witnessmark.job.errors import refuse
from witnessmark.job.files import job_from_text
from witnessmark.job.models import Blank, Cutter, Job, Machine, PieceSpec, Wish
from witnessmark.job.names import name_from
from witnessmark.job.rewrite import new_job_text
from witnessmark.job.whole import folder_made_whole
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.wood.fit import ENOUGH_RATIO, Fit, Seat, fit_for
from witnessmark.wood.gap import FLAT_SAWN_RAD, Gap, Part, gap_for
from witnessmark.wood.season import Climate, Year

STEP_MM, STEPS_EACH_WAY = 0.05, 4
BESIDE_MM, THICK_MM = 8.0, 10.0
SAG_MM = 0.002
LEAST_ROOM_MM = 0.15  # a hole is wider than its cutter by more than this
STRIP = "strip.stl"
LONGER_MM = 30.0


@dataclass(frozen=True)
class FitAnswer:
    """The fit, the year it is for, and what to do in words."""

    fit: Fit
    moisture_pct: tuple[float, float]
    words: tuple[str, ...]


@dataclass(frozen=True)
class GapAnswer:
    """The gap of a lid along one of its sides (both sides together), in words."""

    gap: Gap
    words: tuple[str, ...]


def wood_named(name: str) -> Species:
    """A listed wood; refused with the nearest name."""
    listed = catalog.species()
    if name not in listed:
        like = nearest_species(name)
        advice = (f'did you mean "{like}"?',) if like else ()
        raise refuse(f"--wood {name[:60]}", "is not listed", *advice, "see witnessmark new --list")
    return listed[name]


def year_of(dry_c_pct: tuple[float, float], damp_c_pct: tuple[float, float], now_pct: float) -> Year:
    """Two climates, degrees C and percent of relative humidity, and the meter's reading; refused outside of them."""
    try:
        year = Year(
            Climate(dry_c_pct[0], dry_c_pct[1] / 100.0), Climate(damp_c_pct[0], damp_c_pct[1] / 100.0), now_pct
        )
        _ = year.range_pct
    except ValueError as error:
        raise refuse("the climates", str(error), "write degrees C x percent: --dry 20x35 --damp 22x65") from None
    return year


def fit(seat: Seat, year: Year) -> FitAnswer:
    """The hole for a part."""
    found = fit_for(seat, year)
    words = []
    if found.how == "press":
        words.append(
            f"press: cut the hole {found.hole_mm:.2f} mm; interference {found.loosest_mm:.3f} to "
            f"{found.tightest_mm:.3f} mm over the year, margin against splitting {found.margin_ratio:.1f}"
        )
    else:
        why = _why_not_pressed(seat, found)
        gap = f"clearance {-found.tightest_mm:.2f} to {-found.loosest_mm:.2f} mm over the year"
        if found.how == "glue":
            words.append(f"glue with clearance: cut the hole {found.hole_mm:.2f} mm; {gap} ({why})")
        else:
            words.append(
                f"sleeve: even glued, {gap} is more than glue fills evenly ({why}); turn a sleeve, or cut truer holes"
            )
    words.append("nothing published tells press fits of metal in wood: try a strip of holes first (--ladder)")
    return FitAnswer(found, year.range_pct, tuple(words))


def _why_not_pressed(seat: Seat, found: Fit) -> str:
    if found.margin_ratio is None:
        return f"no strength across the grain is listed for {seat.wood.name}"
    return f"pressed, it would split the wood or be too tight to press: the margin asked for is {ENOUGH_RATIO:g}"


def lid_gap(size_mm: float, wood: Species, year: Year, least_mm: float, along: bool) -> GapAnswer:
    """The gap of a lid lying in a body of the same wood that does not move: worst for a frame, safe for a box."""
    inner = Part(size_mm, wood, None if along else FLAT_SAWN_RAD)
    outer = Part(size_mm, wood, None)
    found = gap_for(inner, outer, year, least_mm)
    words = (
        f"{'along' if along else 'across'} the grain, {size_mm:g} mm: cut the lid smaller by {found.now_mm:.2f} mm "
        f"in all ({found.now_mm / 2:.2f} mm a side); over the year {found.tightest_mm:.2f} to "
        f"{found.loosest_mm:.2f} mm, tightest at {found.tightest_at_pct:.1f} % moisture",
    )
    return GapAnswer(found, words)


def ladder_mm(part_mm: float) -> tuple[float, ...]:
    """The diameters of the holes of a strip, from tight to loose."""
    return tuple(round(part_mm + k * STEP_MM, 3) for k in range(-STEPS_EACH_WAY, STEPS_EACH_WAY + 1))


def ladder(
    folder: Path | str, part_mm: float, deep_mm: float, machine: Machine, cutters: Sequence[Cutter], species: str
) -> Path:
    """A job folder whose piece is a strip of holes, from tight (left) to loose; refused where no cutter gets in."""
    root = Path(folder)
    if root.exists():
        raise refuse(str(root), "is there already", "choose another name")
    holes = ladder_mm(part_mm)
    fitting = [c for c in cutters if c.kind == "flat" and c.diameter_mm + LEAST_ROOM_MM < holes[0]]
    if not fitting:
        what = f"none of the flat cutters goes into a hole of {holes[0]:.2f} mm"
        raise refuse("--machine, --cutter", what, f"name a flat cutter under {holes[0] - LEAST_ROOM_MM:.1f} mm")
    if not 0.0 < deep_mm < THICK_MM - 1.0:
        raise refuse("--deep", f"is {deep_mm:g} mm; the strip is {THICK_MM:g} mm thick", "choose 1 mm less or more")
    strip = _strip(holes, deep_mm)
    low, high = strip.bounds_mm
    x, y, z = (float(v) for v in high - low)
    blank = Blank(size_x_mm=math.ceil(x) + 40.0, size_y_mm=math.ceil(y) + 40.0, size_z_mm=z, species=species)
    piece = PieceSpec(name="strip", shape=STRIP, shape_unit="mm", blank=blank)
    job = Job(
        name=name_from(root.name),
        machine=machine,
        cutters=(max(fitting, key=lambda c: c.diameter_mm),),
        pieces=(piece,),
        wish=Wish(forbid_sides=("-z",)),
    )
    text = new_job_text(job)
    with folder_made_whole(root) as beside:
        write_stl(strip, beside / STRIP)
        (beside / "job.toml").write_text(text, encoding="utf-8", newline="\n")
        job_from_text(text, beside)
    return root


def _strip(holes_mm: Sequence[float], deep_mm: float) -> Solid:
    """A plate with the holes in a row, the tightest left; the end beside the loosest is longer, so that the two are
    told apart."""
    pitch_mm = holes_mm[-1] + BESIDE_MM
    long_mm, wide_mm = pitch_mm * len(holes_mm) + LONGER_MM, holes_mm[-1] + 2 * BESIDE_MM
    wood = manifold3d.Manifold.cube((round(long_mm, 1), round(wide_mm, 1), THICK_MM))
    for k, across_mm in enumerate(holes_mm):
        count = 4 * math.ceil(math.pi / 4 / math.acos(1.0 - SAG_MM / (across_mm / 2)))
        bore = manifold3d.Manifold.cylinder(deep_mm + 1.0, across_mm / 2, circular_segments=count)
        middle = (k + 0.5) * pitch_mm
        wood -= bore.translate((middle, wide_mm / 2, THICK_MM - deep_mm))
    return Solid(wood)


def liked(part_mm: float, number: int, wanted: str) -> str:
    """What the hole that the maker liked says of every such part cut on this machine in this wood."""
    holes = ladder_mm(part_mm)
    if not 1 <= number <= len(holes):
        raise refuse(f"--liked {number}", f"is no hole of the strip: it has {len(holes)}", "count from the short end")
    chosen = holes[number - 1]
    off = chosen - part_mm
    return (
        f"hole {number}: draw it {chosen:.2f} mm for a part of {part_mm:g} mm ({off:+.2f} mm) to {wanted} it, with "
        f"this cutter, in this wood and at this moisture"
    )
