"""Tops by row: shallow curved faces, row beside row, the tip as low as the solid allows at each place.

Method    Rows run along the region's longer side over the cells whose top face is shallow (over 45 degrees off the
          vertical, not level), grown by a little. A ball's rows are s cos(t) apart, s the spacing that leaves the
          scallop on a plane and t the greatest slope across the rows; a flat cutter's are scallop / sin(t) apart.
          Heights are exact (path.lowest) every ``ALONG_MM``, thinned within ``THIN_MM`` and raised by it.
          The cutter touches a slope beside its axis: rows run on beyond the shallow faces by so much, as long as the
          tip sinks no faster than the border slope.
Valid     Between places c apart on the slope a ball of radius R passing over a sharp edge falls short of its circle
          by c^2 / (8 R): where the tip's way bends, in rows and in the links between them, places are added halfway
          until SAG_MM is left. A flat cutter's way has kinks and steps there: places are added until they are
          0.008 mm apart, and at a step the tip stays at its upper height.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.field.dilate import disc_max
from witnessmark.field.drop import top_centre
from witnessmark.job.models import Cutter

from .levels import scallop_spacing_mm
from .nogo import round_edge_mm
from .request import CutRequest
from .slopes import FLAT_RAD, STEEP_RAD
from .track import Floats, Track, nearest_next
from .work import Work

Flags = NDArray[np.bool_]

ALONG_MM = 0.25
THIN_MM = 0.002
OVER_MM = 1.0  # how far rows run over the edge of the shallow faces
STEEPEST_SINK_RATIO = 1.1 / math.tan(STEEP_RAD)
LEAST_ROW_MM = 0.1
HALVINGS = 5
SAG_MM = 0.0007  # how far a stroke may cut under a rounded surface between two places felt
KINK_RATIO = 0.05  # change of slope that counts as a kink
LINK_ROWS_RATIO = 3.0  # rows whose ends are nearer than this many row distances are joined along the surface


def cut_rows(work: Work) -> None:
    """Finish the shallow faces in the region."""
    request = work.request
    shallow, slope_across_rad = shallow_cells(request)
    if not shallow.any():
        return
    apart_mm = row_distance_mm(work.cutter, work.settings.scallop_mm, slope_across_rad)
    grown = _gently_grown(work, shallow)
    rows = [_row_places(request, grown, at_mm) for at_mm in _row_heights(request, grown, apart_mm)]
    runs = [_runs_of(work, places) for places in rows]
    for track in nearest_next(_joined(work, runs, apart_mm), work.joiner.xy_mm):
        work.joiner.follow(track)


def row_distance_mm(cutter: Cutter, scallop_mm: float, slope_rad: float) -> float:
    """Distance between rows that leaves at most the scallop on faces that slope this much across them."""
    edge_mm = round_edge_mm(cutter)
    if edge_mm > 0.0:
        return scallop_spacing_mm(edge_mm, scallop_mm) * math.cos(slope_rad)
    return min(cutter.stepover_mm, scallop_mm / max(math.sin(slope_rad), 1e-3))


def _gently_grown(work: Work, shallow: Flags) -> Flags:
    """The shallow cells, those close by, and further ones to which the tip sinks no faster than the border slope."""
    grid = work.request.grid
    kept, reach = (
        disc_max(shallow.astype(np.float32), grid, over_mm) > 0.5
        for over_mm in (OVER_MM, OVER_MM + touching_mm(work.cutter))
    )
    beyond = reach & ~kept
    asked = beyond | (kept & (disc_max(beyond.astype(np.float32), grid, 1.5 * grid.pitch_mm) > 0.5))
    rows, columns = np.nonzero(asked)
    tips = grid.full(np.nan)
    tips[rows, columns] = work.lowest.tips(np.column_stack([grid.x_mm[columns], grid.y_mm[rows]]))
    padded = np.pad(tips, 1, constant_values=np.nan)
    ny, nx = grid.shape
    sides = [(0, 1), (2, 1), (1, 0), (1, 2)]
    gentle = [np.abs(padded[j : j + ny, i : i + nx] - tips) <= STEEPEST_SINK_RATIO * grid.pitch_mm for j, i in sides]
    for _ in range(math.ceil(2 * touching_mm(work.cutter) / grid.pitch_mm)):
        around = np.pad(kept, 1)
        fresh = beyond & ~kept
        fresh &= np.any([g & around[j : j + ny, i : i + nx] for g, (j, i) in zip(gentle, sides)], axis=0)
        if not fresh.any():
            break
        kept = kept | fresh
    return np.asarray(kept)


def touching_mm(cutter: Cutter) -> float:
    """How far beside its axis the cutter touches a face at the border between shallow and steep."""
    edge_mm = round_edge_mm(cutter)
    return cutter.diameter_mm / 2 - edge_mm + edge_mm * math.sin(STEEP_RAD)


def shallow_cells(request: CutRequest) -> tuple[Flags, float]:
    """Cells in the region whose top face is shallow, and the greatest slope across the rows among them (rad)."""
    _, hit = top_centre(request.solid.triangles, request.grid)
    normals = request.solid.normals
    nz = np.where(hit >= 0, normals[np.maximum(hit, 0), 2], 0.0)
    shallow = (nz > math.sin(STEEP_RAD)) & (nz < math.sin(FLAT_RAD))
    x0, y0, x1, y1 = request.region_mm
    x, y = request.grid.x_mm, request.grid.y_mm
    shallow &= ((x >= x0) & (x <= x1))[None, :] & ((y >= y0) & (y <= y1))[:, None]
    across = 1 if _along_x(request) else 0
    if not shallow.any():
        return shallow, 0.0
    slopes = np.arctan2(np.abs(normals[hit[shallow], across]), nz[shallow])
    return shallow, float(min(slopes.max(), math.radians(45.0)))


def _along_x(request: CutRequest) -> bool:
    x0, y0, x1, y1 = request.region_mm
    return (x1 - x0) >= (y1 - y0)


def _row_heights(request: CutRequest, grown: Flags, apart_mm: float) -> Floats:
    """Where the rows lie across their direction: evenly, from one edge of the shallow faces to the other."""
    axis, centres = (1, request.grid.y_mm) if _along_x(request) else (0, request.grid.x_mm)
    low = 1 if _along_x(request) else 0
    held = centres[grown.any(axis=axis)]
    first = max(held[0], request.window_mm[low] + 1e-6, request.region_mm[low] - request.settings.seam_overlap_mm)
    last = min(
        held[-1], request.window_mm[low + 2] - 1e-6, request.region_mm[low + 2] + request.settings.seam_overlap_mm
    )
    return np.linspace(first, last, max(2, math.ceil((last - first) / apart_mm) + 1))


def _row_places(request: CutRequest, grown: Flags, at_mm: float) -> list[Floats]:
    """Places (n, 2) every ``ALONG_MM`` along each stretch of one row."""
    grid, along_x = request.grid, _along_x(request)
    centres, corner_mm = (grid.x_mm, grid.y0_mm) if along_x else (grid.y_mm, grid.x0_mm)
    k = min(max(int((at_mm - corner_mm) / grid.pitch_mm), 0), (grid.ny if along_x else grid.nx) - 1)
    line = grown[k] if along_x else grown[:, k]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], line, [False]]).astype(np.int8)))
    low = 0 if along_x else 1
    over_mm = request.settings.seam_overlap_mm
    least = max(request.window_mm[low] + 1e-6, request.region_mm[low] - over_mm)
    most = min(request.window_mm[low + 2] - 1e-6, request.region_mm[low + 2] + over_mm)
    stretches = []
    for a, b in zip(edges[0::2], edges[1::2] - 1):
        start, end = max(centres[a], least), min(centres[b], most)
        if end - start > LEAST_ROW_MM:
            along = np.linspace(start, end, max(2, math.ceil((end - start) / ALONG_MM) + 1))
            still = np.full(len(along), at_mm)
            stretches.append(np.column_stack([along, still] if along_x else [still, along]))
    return stretches


def _surface(work: Work, places: Floats) -> Floats:
    """Tips (n, 3) on the solid, raised by the thinning, never below the lowest tip."""
    z_mm = np.maximum(work.lowest.tips(places) + THIN_MM, work.request.lowest_tip_mm)
    return np.column_stack([places, z_mm])


def _felt(work: Work, places: Floats) -> Floats:
    """Tips (n, 3) along a stretch, never below the solid between two of them: closer together over edges, and at a
    step of the surface as high as its upper side; ends where the surface falls off steeply are left away.
    """
    return _over_steps(_closer(work, _surface(work, places)))


def _closer(work: Work, tips: Floats) -> Floats:
    """The same tips with more between them where the surface bends down so much that they would cut under it."""
    for _ in range(HALVINGS):
        run, rise = _steps(tips)
        bend = np.diff(rise / np.maximum(run, 1e-9))
        if work.edge_mm > 0.0:
            bent = np.flatnonzero(-bend * (run[:-1] + run[1:]) > 16 * SAG_MM)
        else:
            bent = np.flatnonzero(bend < -KINK_RATIO)
        if not len(bent):
            break
        before = np.unique(np.concatenate([bent, bent + 1]))
        tips = np.insert(tips, before + 1, _surface(work, (tips[before, :2] + tips[before + 1, :2]) / 2), axis=0)
    return tips


def _steps(tips: Floats) -> tuple[Floats, Floats]:
    """Way in plan and rise from each tip to the next, (n - 1,) each."""
    return np.hypot(*np.diff(tips[:, :2], axis=0).T), np.diff(tips[:, 2])


def _over_steps(tips: Floats) -> Floats:
    run, rise = _steps(tips)
    steep = np.abs(rise) > STEEPEST_SINK_RATIO * run + 1e-6
    if not steep.any():
        return tips
    first, last = 0, len(tips) - 1
    while last > first and steep[last - 1] and rise[last - 1] < 0:
        last -= 1
    while last > first and steep[first] and rise[first] > 0:
        first += 1
    kept, steep = tips[first : last + 1].copy(), steep[first:last]
    higher = np.maximum(kept[:-1, 2], kept[1:, 2])
    kept[:-1, 2] = np.where(steep, np.maximum(kept[:-1, 2], higher), kept[:-1, 2])
    kept[1:, 2] = np.where(steep, np.maximum(kept[1:, 2], higher), kept[1:, 2])
    return kept


def _runs_of(work: Work, stretches: list[Floats]) -> list[Floats]:
    """The parts of one row's stretches that the assembly may run along, as tips (n, 3)."""
    runs = []
    for places in stretches:
        tips = _felt(work, places)
        free = work.room.allowed(tips)
        if not free.all():
            work.missed("tops").add(tips[~free], ALONG_MM)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], free, [False]]).astype(np.int8)))
        runs += [tips[a:b] for a, b in zip(edges[0::2], edges[1::2]) if b - a > 1]
    return runs


def _joined(work: Work, rows: list[list[Floats]], apart_mm: float) -> list[Track]:
    """Rows strung together to and fro where the end of one lies beside an end of the next."""
    finished: list[list[Floats]] = []
    open_chains: list[list[Floats]] = []
    for runs in rows:
        left, carried = list(runs), []
        for chain in open_chains:
            k, run = _continuing(chain[-1][-1], left, LINK_ROWS_RATIO * apart_mm)
            link = None if run is None else _link(work, chain[-1][-1], run[0])
            if run is None or link is None:
                finished.append(chain)
                continue
            left.pop(k)
            chain += [link, run]
            carried.append(chain)
        open_chains = carried + [[run] for run in left]
    return [Track(_thinned(np.vstack(chain)), False) for chain in finished + open_chains]


def _continuing(end: Floats, runs: list[Floats], most_mm: float) -> tuple[int, Floats | None]:
    """The run with an end within ``most_mm`` in plan, turned to begin there."""
    best, found = (most_mm, -1, False), None
    for k, run in enumerate(runs):
        for turned, tip in ((False, run[0]), (True, run[-1])):
            away = float(np.hypot(*(tip - end)[:2]))
            if away < best[0]:
                best, found = (away, k, turned), run[::-1] if turned else run
    return best[1], found


def _link(work: Work, here: Floats, there: Floats) -> Floats | None:
    """Tips along the surface from one row's end to the next row's start; None where the assembly has no room."""
    count = max(2, math.ceil(float(np.hypot(*(there - here)[:2])) / ALONG_MM) + 1)
    places = here[:2] + np.linspace(0.0, 1.0, count)[:, None] * (there - here)[:2]
    tips = _closer(work, _surface(work, places))
    run, rise = _steps(np.vstack([here, tips, there]))
    if (np.abs(rise) > STEEPEST_SINK_RATIO * run + 1e-6).any():
        return None
    return tips if bool(work.room.allowed(tips).all()) else None


def _thinned(tips: Floats) -> Floats:
    """Leave out places within the thinning of the line between their neighbours (in space, row by row).

    Thinned in the plane of way and height, which a row is; corners in plan are kept.
    """
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(tips[:, :2], axis=0).T))])
    steps = np.diff(tips[:, :2], axis=0)
    heading = np.arctan2(steps[:, 1], steps[:, 0])
    turns = np.flatnonzero(np.abs(np.diff(np.unwrap(heading))) > 1e-6) + 1
    knots = np.unique(np.concatenate([[0], turns, [len(tips) - 1]]))
    kept = [np.zeros((0, 3))]
    for a, b in pairwise(knots):
        line = shapely.linestrings(np.column_stack([way[a : b + 1], tips[a : b + 1, 2]]))
        at = shapely.get_coordinates(shapely.simplify(line, THIN_MM))[:-1, 0]
        kept.append(tips[a + np.searchsorted(way[a : b + 1], at - 1e-9)])
    return np.vstack([*kept, tips[-1:]])
