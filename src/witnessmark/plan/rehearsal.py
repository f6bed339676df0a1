"""Where the rehearsal of a placement comes down, and what each mistake would look like there.

Question  over which flat place may the tip come down, whatever is wrong, and which mistakes show there by a card
Frame     standing; heights above the supporting face
Units     mm
Arrays    fields (ny, nx) on the planning grid
Method    each mistake is another height field: the blank the wrong end round, another face up, one hole off; one that
          leaves everything alike is none. A place
          is a land if the wood is level there as far as cutter and play reach; it may be used if under no mistake the
          wood stands higher there than the first stop; the one that shows the most mistakes is taken
Source    plane geometry
Valid     one mistake at a time; a cutter that is off by up to ``PLAY_MM`` sideways
Refuses   nothing: None where no place is fit
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter, minimum_filter

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid, Heights
from witnessmark.job.assembly import Assembly
from witnessmark.job.models import Machine
from witnessmark.job.placement import Placement, Rectangle
from witnessmark.program.rehearse import CARD_MM, FIRST_MM

PLAY_MM = 3.0
LEVEL_MM = 0.02
DEEP_MM, BROAD_MM = 3.0, 4.0  # a cut that is seen from above
SHOWS_MM = 1.0  # a gap off by this much is seen with a card
SPARE_MM = 0.5  # what stays between tip and wood at the first stop, whatever is wrong
ZERO_ELSEWHERE = "x 0, y 0 not at the front left corner of the travel"
BESIDE_MM = 3.0  # nut and nose stay this far from wood that is higher


@dataclass(frozen=True)
class Sight:
    """A mistake, and what is seen then: the gap at the first stop, and how far the tip stands beside the blank's
    corner; None: as it should be. ``uncut``: where it stops over a cut there is uncut wood."""

    mistake: str
    gap_mm: float | None = None
    beside_mm: float | None = None
    uncut: bool = False


@dataclass(frozen=True, eq=False)
class Mistake:
    """The top (ny, nx) that is there instead; ``beside_mm``: how far the blank lies from where it should.

    ``under`` (ny, nx): the top that there would be if the blank were then rolled over.
    """

    name: str
    top: Heights
    under: Heights
    beside_mm: float | None = None


@dataclass(frozen=True)
class Rehearsal:
    """``at_mm``: the land, program frame x, y, and its height above the supporting face."""

    file: str
    land: str
    at_mm: tuple[float, float, float]
    corner: str  # of the blank that it stops over before; '' where none is within the travel
    sights: tuple[Sight, ...]
    cut_mm: tuple[float, float] | None = None  # a cut that it stops over as well: it tells mistakes no card tells
    cutter: str = ""
    fingerprint: str = ""  # once it is proven


def mistakes(
    columns: Columns, place: Placement, blank_mm: Rectangle, pitch_mm: float | None, turned: bool
) -> list[Mistake]:
    """The tops that would be there under each mistake, on the placement's grid.

    ``blank_mm``: the blank, standing frame; ``pitch_mm``: of the movable board's holes; ``turned``: the blank has
    just been turned over.
    """
    rotation = place.stand.rotation
    top, grid = columns.top(rotation)
    bottom, _ = columns.bottom(rotation)
    height_mm = columns.z_to_mm - columns.z_from_mm
    under = np.where(np.isfinite(bottom), np.float32(height_mm) - bottom, np.float32(-np.inf))
    x, y = (blank_mm[0] + blank_mm[2]) / 2, (blank_mm[1] + blank_mm[3]) / 2
    end_x, end_y = (tuple(_mirrored(f, grid, middle, k) for f in (top, under)) for middle, k in ((x, 1), (y, 0)))
    round_end, rolled = (
        ("turned over about the wrong axis" if turned else "the wrong end to the left"),
        "the wrong face up",
    )
    found = [
        Mistake(round_end, _mirrored(end_x[0], grid, y, 0), _mirrored(end_x[1], grid, y, 0)),
        Mistake(rolled, end_x[1], end_x[0]),
        Mistake(f"{rolled}, and the wrong end to the left", end_y[1], end_y[0]),
    ]
    if pitch_mm is not None:
        cells = round(pitch_mm / grid.pitch_mm)
        for by, way in ((cells, "right"), (-cells, "left")):
            found.append(
                Mistake(
                    f"the board bolted one hole too far to the {way}",
                    _shifted(top, by),
                    _shifted(under, by),
                    pitch_mm,
                )
            )
    return [m for m in found if not (np.array_equal(m.top, top) and np.array_equal(m.under, under))]


def mis_settings(
    place: Placement, machine: Machine, stickout_mm: float, before_mm: float | None
) -> tuple[Sight, ...]:
    """What is set wrong at the machine and not at the blank. ``before_mm``: the stick-out of the cutter before."""
    travel_mm = min(machine.travel_x_mm, machine.travel_y_mm)
    found = [Sight(ZERO_ELSEWHERE, None, travel_mm)]
    if place.touch_off_block_mm:
        found.append(Sight("z 0 at the top of the setting block", round(FIRST_MM + place.touch_off_block_mm, 2)))
    if before_mm is not None and abs(before_mm - stickout_mm) >= SHOWS_MM:
        gap_mm = FIRST_MM + before_mm - stickout_mm
        found.append(Sight("this cutter not touched off, the last one's z kept", round(gap_mm, 2)))
    return tuple(found)


def rehearsal_spot(
    place: Placement,
    top: Heights,
    grid: Grid,
    wrong: Sequence[Mistake],
    assembly: Assembly,
    window_mm: Rectangle,
    lowest_mm: float,
) -> tuple[tuple[float, float, float], tuple[Sight, ...]] | None:
    """The land (standing frame x, y, height) and what is seen there; ``lowest_mm`` is how low the tip comes."""
    cutter_mm = assembly.steps[0].radius_mm
    around = 2 * math.ceil((cutter_mm + PLAY_MM) / grid.pitch_mm) + 1  # cells; a square about the disc
    high, low = _most_and_least(top, around)
    with np.errstate(invalid="ignore"):
        fit = np.isfinite(low) & (high - low <= LEVEL_MM) & (top + CARD_MM >= lowest_mm)
    fit &= _within(grid, window_mm)
    shows = np.zeros(grid.shape, dtype=np.int64)
    for mistake in wrong:
        most, least = _most_and_least(mistake.top, around)
        fit &= most <= top + np.float32(FIRST_MM - SPARE_MM)
        shows += (least >= top + np.float32(SHOWS_MM)) | (most <= top - np.float32(SHOWS_MM))
    for j, i in _best_first(fit, shows, grid, window_mm):
        if _has_room(top, grid, j, i, assembly, place):
            z = float(top[j, i])
            sights = tuple(Sight(m.name, _seen(float(m.top[j, i]), z), m.beside_mm) for m in wrong)
            return (float(grid.x_mm[i]), float(grid.y_mm[j]), z), sights
    return None


def seen_cut(
    top: Heights,
    grid: Grid,
    wrong: Sequence[Mistake],
    sights: Sequence[Sight],
    window_mm: Rectangle,
    blank_mm: Rectangle,
) -> tuple[tuple[float, float] | None, tuple[Sight, ...]]:
    """A cut to stop over that shows mistakes which nothing else does (standing frame), and the sights with it."""
    around = 2 * math.ceil(BROAD_MM / 2 / grid.pitch_mm) + 1
    inside = _within(grid, window_mm) & _within(grid, blank_mm)
    face_mm = float(top.max())
    most, _ = _most_and_least(top, around)
    cut = inside & (most <= face_mm - DEEP_MM)
    shows = [cut & (_most_and_least(m.top, around)[1] >= face_mm - LEVEL_MM) for m in wrong]
    untold = [s.gap_mm is None and s.beside_mm is None for s in sights]
    count = sum((where.astype(np.int64) for where, new in zip(shows, untold) if new), np.zeros(grid.shape, np.int64))
    if not count.any():
        return None, tuple(sights)
    j, i = np.unravel_index(int(np.argmax(count)), count.shape)
    told = tuple(replace(s, uncut=bool(where[j, i])) for s, where in zip(sights, shows))
    return (float(grid.x_mm[i]), float(grid.y_mm[j])), told


def _within(grid: Grid, box_mm: Rectangle) -> NDArray[np.bool_]:
    along_x = (grid.x_mm >= box_mm[0]) & (grid.x_mm <= box_mm[2])
    return np.asarray(along_x[None, :] & ((grid.y_mm >= box_mm[1]) & (grid.y_mm <= box_mm[3]))[:, None])


def _most_and_least(field: Heights, around: int) -> tuple[Heights, Heights]:
    """The highest and the lowest within a square of so many cells round each cell; beyond the grid is no wood."""
    most = maximum_filter(field, size=around, mode="constant", cval=-np.inf)
    return most, minimum_filter(field, size=around, mode="constant", cval=-np.inf)


def _seen(wood_mm: float, z_mm: float) -> float | None:
    """The gap under the tip at the first stop; wood that is not there at all leaves the gap down to the board."""
    gap_mm = z_mm + FIRST_MM - max(wood_mm, 0.0)
    return None if abs(gap_mm - FIRST_MM) < SHOWS_MM else round(gap_mm, 2)


def _best_first(
    fit: NDArray[np.bool_], shows: NDArray[np.int64], grid: Grid, window_mm: Rectangle
) -> Iterator[tuple[int, int]]:
    """Fit places, those that show the most first, and of those the ones nearest to the window's middle."""
    j, i = np.nonzero(fit)
    off = np.abs(grid.x_mm[i] - (window_mm[0] + window_mm[2]) / 2) + np.abs(
        grid.y_mm[j] - (window_mm[1] + window_mm[3]) / 2
    )
    for k in np.lexsort((off, -shows[j, i]))[:2000].tolist():
        yield int(j[k]), int(i[k])


def _has_room(top: Heights, grid: Grid, j: int, i: int, assembly: Assembly, place: Placement) -> bool:
    """Whether shank, nut and nose stay clear of wood and hardware with the tip down at the card."""
    tip_mm = float(top[j, i]) + CARD_MM
    x, y = float(grid.x_mm[i]), float(grid.y_mm[j])
    away = np.hypot(grid.x_mm[None, :] - x, grid.y_mm[:, None] - y)
    for step in assembly.rigid_steps():
        near = away <= step.radius_mm + PLAY_MM + BESIDE_MM
        if float(top[near].max(initial=-np.inf)) > tip_mm + step.z_from_mm - BESIDE_MM:
            return False
    widest_mm = max(step.radius_mm for step in assembly.steps) + PLAY_MM + BESIDE_MM
    return all(_clear_of(x, y, widest_mm, obstacle.outline_mm) for obstacle in place.obstacles)


def _clear_of(x_mm: float, y_mm: float, by_mm: float, outline_mm: tuple[tuple[float, float], ...]) -> bool:
    xs, ys = zip(*outline_mm)
    beside = x_mm < min(xs) - by_mm or x_mm > max(xs) + by_mm
    return bool(beside or y_mm < min(ys) - by_mm or y_mm > max(ys) + by_mm)


def corner_within(blank_mm: Rectangle, window_mm: Rectangle) -> tuple[str, tuple[float, float]] | None:
    """A corner of the blank that the axis can stand over, with its name; standing frame."""
    for end, x in (("left", blank_mm[0]), ("right", blank_mm[2])):
        for side, y in (("front", blank_mm[1]), ("back", blank_mm[3])):
            if window_mm[0] <= x <= window_mm[2] and window_mm[1] <= y <= window_mm[3]:
                return f"{side} {end} corner", (x, y)
    return None


def _mirrored(field: Heights, grid: Grid, middle_mm: float, axis: int) -> Heights:
    """The field mirrored about a line: x = middle (axis 1) or y = middle (axis 0)."""
    at = grid.x_mm if axis == 1 else grid.y_mm
    other = np.rint((2 * middle_mm - at - at[0]) / grid.pitch_mm).astype(np.int64)
    inside = (other >= 0) & (other < len(at))
    taken = np.take(field, np.clip(other, 0, len(at) - 1), axis=axis)
    keep = inside if axis == 1 else inside[:, None]
    return np.where(keep, taken, np.float32(-np.inf))


def _shifted(field: Heights, cells: int) -> Heights:
    """The field moved along x."""
    out = np.full_like(field, -np.inf)
    if abs(cells) < field.shape[1]:
        if cells >= 0:
            out[:, cells:] = field[:, : field.shape[1] - cells]
        else:
            out[:, :cells] = field[:, -cells:]
    return out
