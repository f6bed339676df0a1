"""The search: where the sides meet, which side comes first, and which shifts; bound first, then the real floors."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from witnessmark.job.errors import Refusal, Trouble, refuse
from witnessmark.job.models import Job, PieceSpec
from witnessmark.job.placement import Placement
from witnessmark.job.wishes import first_up_of, forbidden_of
from witnessmark.shapes.solid import Solid

from .bound import covers_of_size, fewest
from .candidates import BlankBox, blank_box, candidates, upright_troubles, with_bolt_heads
from .counts import NOT_NEEDED, NOTHING, added, shifts_of
from .coverage import COARSE_MM, SAME_MM, SideView, coverage, covered_by, side_view
from .holes import bores_in
from .lift import lift_troubles
from .meeting import Meeting, meeting_range
from .one_side import alone_sides
from .regions import share_regions
from .seam_faces import cheapest_first, crossing_mm, least_seen
from .spindle import Reachable, main_cutter, reachable
from .touches import FINDER_MM

SIDES_UP = ("-z", "+z")
FLUSH_MM = 0.05  # a face of the piece this near to the blank's is the blank's own
SAME_AREA = 1e-6  # faces whose areas differ by less, as a ratio, are equal
NO_END_MM = 1000.0  # a shift that shows no end of the blank, by which x is found again, is only taken for need
MOST_OPTIONS = 8  # choices of placements a side whose real floors are looked at
MOST_COARSE_CELLS = 60_000  # of the bound's grid: a large blank is seen in coarser cells


@dataclass(frozen=True, eq=False)
class SideChoice:
    """One side: choices of placements (regions shared out) of the fewest that could do, and what nobody can reach."""

    up: str
    options: tuple[tuple[Placement, ...], ...]
    view: SideView
    candidates: int
    wanted: int
    unreached: int
    unreached_endless: int
    below_z: int = 0  # of those unreached, how many lie lower than the tip comes at the end of Z

    @property
    def placements(self) -> tuple[Placement, ...]:
        """The choice preferred before the real floors are known."""
        return self.options[0]


@dataclass(frozen=True, eq=False)
class Layout:
    """The placements of a piece in order, before the real floors are computed."""

    box: BlankBox
    meeting: Meeting
    meeting_mm: float
    sides: tuple[SideChoice, ...]
    evaluated: int
    pruned: Mapping[str, int]  # candidates not looked at, by what discarded them
    notes: tuple[str, ...]

    @property
    def bound(self) -> int:
        return sum(len(side.placements) for side in self.sides)

    @property
    def unreached(self) -> int:
        return sum(side.unreached for side in self.sides)

    @property
    def beyond_travel(self) -> bool:
        """Whether an endless machine would reach more."""
        return any(side.unreached > side.unreached_endless for side in self.sides)


def lay_out(job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting | None = None) -> Layout:
    """``layout_of``; refused where not one placement would cut anything as well."""
    layout = layout_of(job, spec, piece, meeting)
    if layout.bound == 0:
        raise refuse(f"piece {spec.name}", "no placement reaches anything of it", "plan it: the plan says why")
    return layout


def layout_of(
    job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting | None = None, turned: bool = False
) -> Layout:
    """Choose sides, meeting height and shifts for a piece; refused where it cannot even be set up.

    Its ``bound`` is 0 where no placement would cut anything.

    ``meeting``: the range found before, when the same piece is laid out again with other sizes; ``turned``: it is
    turned over even where one side could do it all. A layout asked for again is not made again.
    """
    return _laid_out(job, spec, piece, meeting, turned)


@lru_cache(maxsize=2)
def _laid_out(job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting | None, turned: bool) -> Layout:
    box = blank_box(spec.blank, *piece.bounds_mm)
    troubles = setup_troubles(job, spec, piece)
    if troubles:
        raise Refusal(*troubles)
    meeting = meeting or meeting_range(piece)
    spindle = reachable(main_cutter(job), job.machine, job.settings)
    order = side_order(job, spec, piece, box)
    for up in () if turned else alone(job, spec, piece):
        layout, pruned = _at(job, spec, piece, box, meeting, (up,), far_end_mm(piece, up), spindle)
        if layout.bound and not layout.unreached:
            words = f"all of it is seen with side {up} up: it is not turned over, and has no seam between sides"
            return replace(layout, pruned=pruned, notes=(words,))
    best: Layout | None = None
    evaluated = 0
    pruned = {}
    glue_mm = [float(box.lower_mm[2]) + line_mm for line_mm in spec.blank.glue_lines_z_mm]
    heights = cheapest_first(piece, meeting_options(meeting, order[0]), glue_mm)
    tried = 0
    for meeting_mm in heights:
        tried += 1
        layout, more = _at(job, spec, piece, box, meeting, order, meeting_mm, spindle)
        evaluated += layout.evaluated
        pruned = added(pruned, more)
        if best is None or (layout.unreached, layout.bound) < (best.unreached, best.bound):
            best = layout
        if best.unreached == 0:
            break
    assert best is not None
    one_height = sum(shifts_of(job.machine, candidates(job, spec, box, up)).exist for up in order)
    pruned = added(pruned, {NOT_NEEDED: one_height * (len(heights) - tried)})
    pruned = {why: count for why, count in pruned.items() if count}
    return replace(best, evaluated=evaluated, pruned=pruned, notes=_notes(best, piece))


def alone(job: Job, spec: PieceSpec, piece: Solid) -> tuple[str, ...]:
    """Sides that could do the whole piece by themselves, of those that are allowed up, and first.

    None where holes are drilled: a drill goes half way from each side, so that it never comes out into the board.
    """
    if bores_in(piece, [cutter.diameter_mm for cutter in job.cutters if cutter.kind == "drill"]):
        return ()
    box = blank_box(spec.blank, *piece.bounds_mm)
    order, first = side_order(job, spec, piece, box), first_up_of(job, spec)
    able = alone_sides(piece, box)
    return tuple(up for up in order if up in able and first in (None, up))


def far_end_mm(piece: Solid, up: str) -> float:
    """The meeting height at which a side cuts all of the outer walls."""
    return float(piece.bounds_mm[1 if up == "-z" else 0][2])


def _at(
    job: Job,
    spec: PieceSpec,
    piece: Solid,
    box: BlankBox,
    meeting: Meeting,
    order: Sequence[str],
    meeting_mm: float,
    spindle: Reachable,
) -> tuple[Layout, dict[str, int]]:
    """The layout of these sides at a meeting height, and the candidates that were not looked at."""
    sides, evaluated = [], 0
    pruned: dict[str, int] = {}
    for up in order:
        found = candidates(job, spec, box, up)
        side = _choose_side(job, piece, box, found, meeting, meeting_mm, spindle)
        shifts = shifts_of(job.machine, found)
        if side is None:
            pruned = added(pruned, {NOTHING: shifts.exist})
        else:
            evaluated += shifts.looked_at
            pruned = added(pruned, shifts.discarded)
            sides.append(side)
    return Layout(box, meeting, meeting_mm, tuple(sides), evaluated, {}, ()), pruned


def meeting_options(meeting: Meeting, first_up: str) -> list[float]:
    """Meeting heights to try: the ends first (an edge hides the seam), then the middle and between."""
    low, high = meeting.lowest_mm, meeting.highest_mm
    if low > high:
        return [high]
    ends = [high, low] if first_up != "+z" else [low, high]
    between = [low + f * (high - low) for f in (0.5, 0.4, 0.6, 0.3, 0.7)]
    return [round(z, 3) for z in ends + between]


def side_order(job: Job, spec: PieceSpec, piece: Solid, box: BlankBox) -> tuple[str, ...]:
    """Which side is up first: as insisted, else so that at the end the piece stands on a face it shares with the
    blank; where both faces or neither are the blank's own, on the broader one.
    """
    allowed = tuple(side for side in SIDES_UP if side not in forbidden_of(job, spec))
    if not allowed:
        where = f"job.toml, wish.forbid_sides and that of piece {spec.name}"
        raise refuse(where, "every side is forbidden", "allow '+z' or '-z'")
    first = first_up_of(job, spec) or _best_first(piece, box)
    return tuple(sorted(allowed, key=lambda side: side != first))


def _best_first(piece: Solid, box: BlankBox) -> str:
    lower, upper = piece.bounds_mm
    foot_flush = float(lower[2] - box.lower_mm[2]) < FLUSH_MM
    rim_flush = float(box.upper_mm[2] - upper[2]) < FLUSH_MM
    if foot_flush != rim_flush:
        return "-z" if foot_flush else "+z"
    foot_mm2 = piece.section(float(lower[2]) + 0.01).area
    rim_mm2 = piece.section(float(upper[2]) - 0.05).area
    return "-z" if foot_mm2 >= rim_mm2 * (1.0 - SAME_AREA) else "+z"


def setup_troubles(job: Job, spec: PieceSpec, piece: Solid) -> list[Trouble]:
    """Why a piece cannot even be set up: its blank is too small for it, or too high or too wide for the machine."""
    lower, upper = piece.bounds_mm
    box = blank_box(spec.blank, lower, upper)
    too_small = fit_troubles(spec, piece, box)
    height_mm = float(box.size_mm[2])
    return too_small or [
        *lift_troubles(job, spec, height_mm, float(upper[2] - lower[2])),
        *upright_troubles(job, spec, box),
    ]


def fit_troubles(spec: PieceSpec, piece: Solid, box: BlankBox) -> list[Trouble]:
    """Every axis along which the piece sticks out of its blank, with the size that holds it."""
    lower, upper = piece.bounds_mm
    short = np.maximum(box.lower_mm - lower, upper - box.upper_mm)
    troubles = []
    for axis, short_mm, now_mm in zip("xyz", short, box.size_mm):
        if short_mm <= 1e-3:
            continue
        sides = 1 if axis == "z" else 2  # it lies in the middle along x and y, and on what is below it along z
        least_mm = math.ceil((now_mm + sides * short_mm) * 10 - 1e-6) / 10
        troubles.append(
            Trouble(
                f"job.toml, piece {spec.name}, blank.size_{axis}_mm",
                f"is larger than its blank along {axis}",
                (
                    f"make the blank at least {least_mm:.1f} mm along {axis} (it is {now_mm:.1f})",
                    f"see whether {spec.shape} is in the right unit",
                ),
                f"sticks out {short_mm:.2f} mm",
            )
        )
    return troubles


def through_z_mm(box: BlankBox, up: str, meeting_mm: float, overlap_mm: float) -> float:
    """Standing height down to which this side cuts the outer walls: past the meeting height by the overlap."""
    if up == "-z":
        return float(max(0.0, box.upper_mm[2] - (meeting_mm + overlap_mm)))
    return float(max(0.0, meeting_mm - overlap_mm - box.lower_mm[2]))


def coarse_pitch_mm(box: BlankBox) -> float:
    """The cell of the bound: ``COARSE_MM``, and coarser on a blank so large that it would take too many."""
    return max(COARSE_MM, math.sqrt(float(box.size_mm[0] * box.size_mm[1]) / MOST_COARSE_CELLS))


def coarse_view(
    job: Job, piece: Solid, box: BlankBox, place: Placement, through_z_mm: float, spindle: Reachable
) -> SideView:
    """The side that is up in a placement, as the bound sees it."""
    height_mm, pitch_mm = float(box.size_mm[2]), coarse_pitch_mm(box)
    trench_mm = job.settings.trench_mm
    return side_view(piece, place.stand, place.region_mm, height_mm, through_z_mm, trench_mm, spindle, pitch_mm)


def _corner_z_mm(box: BlankBox, up: str, meeting: Meeting) -> float:
    """Standing height down to which this side sees the outer walls whole."""
    if up == "-z":
        return float(max(0.0, box.upper_mm[2] - meeting.highest_mm))
    return float(max(0.0, meeting.lowest_mm - box.lower_mm[2]))


def _choose_side(
    job: Job,
    piece: Solid,
    box: BlankBox,
    found: list[Placement],
    meeting: Meeting,
    meeting_mm: float,
    spindle: Reachable,
) -> SideChoice | None:
    settings, machine, up = job.settings, job.machine, found[0].up
    through_mm = through_z_mm(box, up, meeting_mm, settings.through_overlap_mm)
    corner_mm = _corner_z_mm(box, up, meeting)
    region = found[0].region_mm
    view = coarse_view(job, piece, box, found[0], through_mm, spindle)
    if not view.elements.any():
        return None
    travel = (machine.travel_x_mm, machine.travel_y_mm)
    covers = coverage(view, spindle, found, travel, settings.travel_slack_mm)
    middle = np.array([[machine.travel_x_mm / 2, machine.travel_y_mm / 2]])
    centre = np.array([(region[0] + region[2]) / 2, (region[1] + region[3]) / 2])
    off = np.abs(np.array([place.shift_mm for place in found]) + centre - middle).sum(axis=1)
    off += [NO_END_MM * (not _shows_an_end(job, place)) for place in found]
    cover = fewest(covers, off)
    choices = [cover.chosen]
    choices += [c for c in covers_of_size(covers, cover.count, off, MOST_OPTIONS) if c != cover.chosen]
    standing = piece.moved(found[0].stand)

    def seam_at(axis: int, low_mm: float, high_mm: float) -> float:
        return least_seen(standing, axis, low_mm, high_mm)

    options = []
    for choice in choices:
        chosen = [with_bolt_heads(machine, found[i]) for i in choice]
        chosen = [replace(place, through_z_mm=through_mm, corner_z_mm=corner_mm) for place in chosen]
        windows = [place.window_mm(*travel, settings.travel_slack_mm) for place in chosen]
        options.append(tuple(share_regions(chosen, windows, seam_at)))
    endless = covered_by(view, spindle, None)
    below = view.wanted_floor[view.elements] < spindle.lowest_tip_mm - SAME_MM
    return SideChoice(
        up=up,
        options=tuple(options),
        view=view,
        candidates=len(found),
        wanted=int(view.elements.sum()),
        unreached=int(cover.uncovered.sum()),
        unreached_endless=int((~endless).sum()),
        below_z=int((cover.uncovered & below).sum()),
    )


def _shows_an_end(job: Job, place: Placement) -> bool:
    """Whether an edge finder can come to an end of the blank along the axis on which it overhangs the travel."""
    machine = job.machine
    window = place.window_mm(machine.travel_x_mm, machine.travel_y_mm, job.settings.travel_slack_mm)
    k = 0 if machine.overhang_axis == "x" else 1
    ends = place.region_mm[k] - FINDER_MM, place.region_mm[k + 2] + FINDER_MM
    return any(window[k] <= end <= window[k + 2] for end in ends)


def _notes(layout: Layout, piece: Solid) -> tuple[str, ...]:
    notes = [f"{layout.meeting.reason}; the sides meet {layout.meeting_mm:.1f} mm above the piece's lowest face"]
    crossed = {role: mm for role, mm in crossing_mm(piece, 2, layout.meeting_mm).items() if mm > 1.0}
    if crossed:
        seen = ", ".join(f"{mm:.0f} mm on {role} faces" for role, mm in sorted(crossed.items()))
        notes.append(f"the line where the sides meet runs along {seen}: no meeting height shows less of it")
    if not layout.meeting.possible:
        notes.append("part of the outer wall is hidden from both sides and will stay as it is sawn")
    for side in layout.sides:
        if side.unreached:
            share = side.unreached / side.wanted
            words = f"side {side.up} up: {share:.1%} of what is wanted is out of reach even at best"
            notes.append(f"{words} ({why_short(side)})")
    return tuple(notes)


def why_short(side: SideChoice) -> str:
    """What keeps a side from what it does not reach, each cause that is known to bind."""
    beyond = side.unreached - side.unreached_endless
    above = side.unreached_endless - min(side.below_z, side.unreached_endless)
    causes = []
    if side.below_z:
        causes.append("the tip does not come so low at the end of Z")
    if beyond > 0:
        causes.append("it lies beyond the travel of X and Y")
    if above > 0:
        causes.append("shank, nut or nose meets the piece first")
    return "; ".join(causes)
