"""Where to touch in each placement: of all faces known by then and open from above, the ones that fix the pose best.

Faces known: the blank's planed edges (measured), touch lands, and walls of the piece cut before, each as sure as it
was made and can be read. They are taken one by one: three so that the determinant of the normal equations of x, y and
turn grows most, then those that make the greatest uncertainty of a step along the outline finished here least.
Source: Kiefer and Wolfowitz's criterion (from memory); the rows are n . (R p + t - m) linearised in x, y, turn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from witnessmark.job.placement import Placement, Rectangle, Touch
from witnessmark.locate.chain import CUT_IN
from witnessmark.locate.mismatch import greatest_step_mm, joined_covariance
from witnessmark.locate.outline import outline_places
from witnessmark.locate.pose import predicted_covariance
from witnessmark.locate.typed import READ_U_MM, STEP_U_MM, made_u_mm, planned_readings, rows_read
from witnessmark.shapes.solid import Solid

WANTED = 8  # readings asked for where access allows; 6 or more let a blunder be named
CHAINED_U_MM = 0.03  # how well a later placement is itself found: what it cut is preferred no more than that
FINDER_MM = 4.0  # radius of an edge finder or stylus: it must go into the trench round the piece
LEVER_MM = 100.0  # makes turn comparable with shifts
EDGE_STEP_MM = 20.0
WALL_STEP_MM = 15.0
EDGE_DEPTH_MM = 12.0  # below the top of what is touched: clear of a rounded arris, and a finder comes there
LEAST_BORE_MM = 10.0  # a finder goes in and to every side of it
ROUND_RATIO = 0.01  # how far the way round may differ from a circle's of the same area
LEAST_WALL_MM = 8.0  # lower walls give a stylus nothing to stand against
SKIN_MM = 1e-3  # less wood than this under a cut is none
STEEP = 0.9  # a wall to touch stands within about 25 degrees of upright


@dataclass(frozen=True)
class CutFace(Touch):
    """A face that a placement cut, and the sides from which no wood lies over the cut before it."""

    open_from: tuple[str, ...] = ()


def open_sides(place: Placement, bottom_z_mm: float) -> tuple[str, ...]:
    """The side that was up, and the other one where the cut goes through to the supporting face."""
    return (place.up,) if bottom_z_mm > SKIN_MM else ("+z", "-z")


def blank_edges(place: Placement, blank_mm: Rectangle, blank_height_mm: float, window_mm: Rectangle) -> list[Touch]:
    """The blank's four planed sides as far as the axis can come beside them."""
    x0, y0, x1, y1 = blank_mm
    z = blank_height_mm - EDGE_DEPTH_MM
    along_x = np.arange(max(x0, window_mm[0]) + 15.0, min(x1, window_mm[2]) - 15.0, EDGE_STEP_MM)
    along_y = np.arange(max(y0, window_mm[1]) + 15.0, min(y1, window_mm[3]) - 15.0, EDGE_STEP_MM)
    spots = [("front edge", (x, y0), (0.0, -1.0)) for x in along_x] + [
        ("back edge", (x, y1), (0.0, 1.0)) for x in along_x
    ]
    spots += [("left end", (x0, y), (-1.0, 0.0)) for y in along_y] + [
        ("right end", (x1, y), (1.0, 0.0)) for y in along_y
    ]
    back = place.stand.inverse()
    found = []
    for name, (x, y), (nx, ny) in spots:
        found.append(
            _touch(name, back.apply(np.array([x, y, z])), back.rotation @ np.array([nx, ny, 0.0]), "measured")
        )
    return found


def walls_cut(place: Placement, piece: Solid) -> list[Touch]:
    """Places on the piece's outer walls that this placement has cut, and its round bores, in the piece frame."""
    standing_piece = piece.moved(place.stand)
    low = place.through_z_mm
    high = float(standing_piece.bounds_mm[1][2])
    if high - low < LEAST_WALL_MM:
        return []
    z = max((max(low, 0.0) + high) / 2, high - EDGE_DEPTH_MM)  # no deeper than a finder hangs down from its collet
    found: list[Touch] = []
    for part in shapely.get_parts(standing_piece.section(z)):
        found += [bore for ring in part.interiors for bore in _bore(place, ring, z, low)]
        ring = part.exterior
        for run in np.arange(0.0, ring.length, WALL_STEP_MM):
            p, q = (np.array(ring.interpolate(run + d).coords[0]) for d in (-0.5, 0.5))
            x, y = (p + q) / 2
            if not (place.region_mm[0] < x < place.region_mm[2] and place.region_mm[1] < y < place.region_mm[3]):
                continue
            tangent = (q - p) / max(1e-9, float(np.linalg.norm(q - p)))
            outward = np.array([tangent[1], -tangent[0], 0.0]) * (1.0 if ring.is_ccw else -1.0)
            back = place.stand.inverse()
            cut = f"cut in placement {place.name}"
            wall = _touch("wall", back.apply(np.array([x, y, z])), back.rotation @ outward, cut)
            found.append(CutFace(**vars(wall), open_from=open_sides(place, low)))
    return found


def _bore(place: Placement, ring: shapely.LinearRing, z_mm: float, low_mm: float) -> list[Touch]:
    """The middle of a round hole that a finder goes into, along x and along y; none where it is not round."""
    area = shapely.Polygon(ring).area
    diameter = 2.0 * math.sqrt(area / math.pi)
    if diameter < LEAST_BORE_MM or abs(ring.length - math.pi * diameter) > ROUND_RATIO * ring.length:
        return []
    x, y = shapely.Polygon(ring).centroid.coords[0]
    inside = shapely.box(*place.region_mm).contains(ring)
    back = place.stand.inverse()
    found: list[Touch] = []
    for axis, normal in (("x", (1.0, 0.0, 0.0)), ("y", (0.0, 1.0, 0.0))) if inside else ():
        at, along = back.apply(np.array([x, y, z_mm])), back.rotation @ np.array(normal)
        touch = _touch(f"bore {diameter:.1f} {axis}", at, along, f"{CUT_IN}{place.name}")
        found.append(CutFace(**{**vars(touch), "kind": "bore"}, open_from=open_sides(place, low_mm)))
    return found


def choose_touches(
    place: Placement, window_mm: Rectangle, known: Sequence[Touch], piece: Solid, wanted: int = WANTED
) -> tuple[Touch, ...]:
    """The touches to use in this placement; fewer than ``wanted`` where no more can be reached."""
    standing_piece = piece.moved(place.stand)
    reached = [touch for touch in known if _reachable(place, window_mm, touch, standing_piece)]
    if not reached:
        return ()
    u_mm = np.array([math.hypot(READ_U_MM, made_u_mm(touch), _chained_mm(touch)) for touch in reached])
    rows = np.array([_row(place, touch) for touch in reached]) / u_mm[:, None]
    places, normals = outline_places(place, standing_piece)
    turns = (places[:, 0] * normals[:, 1] - places[:, 1] * normals[:, 0]) / LEVER_MM
    steps = np.column_stack([normals[:, :2], turns])
    chosen: list[int] = []
    information = np.eye(3) * 1e-6
    left = list(range(len(reached)))
    while left and len(chosen) < wanted:
        if len(chosen) < 3 or not len(steps):
            gains = [np.linalg.slogdet(information + np.outer(rows[k], rows[k]))[1] for k in left]
            best = left.pop(int(np.argmax(gains)))
        else:
            best = left.pop(int(np.argmin(_greatest(information, rows[left], steps))))
        chosen.append(best)
        information = information + np.outer(rows[best], rows[best])
    return tuple(_plain(reached[k]) for k in sorted(chosen))


def _chained_mm(touch: Touch) -> float:
    """What a feature is off besides if it was not cut in the first placement, which is what the piece is."""
    return 0.0 if touch.known_from in ("measured", f"{CUT_IN}1") else CHAINED_U_MM


def _greatest(information: np.ndarray, rows: np.ndarray, steps: np.ndarray) -> np.ndarray:
    """The greatest variance of the steps (n, 3) if each of the rows (k, 3) is read besides, (k,)."""
    covariance = np.linalg.inv(information)
    now = np.einsum("ni,ij,nj->n", steps, covariance, steps)
    less = (steps @ covariance @ rows.T) ** 2 / (1.0 + np.einsum("ki,ij,kj->k", rows, covariance, rows))
    return np.asarray((now[:, None] - less).max(axis=0))


def expected_step_mm(place: Placement, standing_piece: Solid) -> float | None:
    """What the greatest step along the outline finished here stays under in 95 of 100 cases, if all touches are read;
    None where they do not fix the work, or no outline is finished."""
    places, normals = outline_places(place, standing_piece)
    if not len(places) or not fixes_pose(place, place.touches):
        return None
    planned = planned_readings(place, place.touches, FINDER_MM)
    chained = [_chained_mm(touch) for touch in place.touches]
    rows, _ = rows_read([replace(r, u_mm=math.hypot(r.u_mm, more)) for r, more in zip(planned, chained)])
    return greatest_step_mm(joined_covariance(predicted_covariance(rows)), places, normals, STEP_U_MM)


def fixes_pose(place: Placement, touches: Sequence[Touch]) -> bool:
    """Whether the touches fix x, y and turn at all."""
    if len(touches) < 3:
        return False
    rows = np.array([_row(place, touch) for touch in touches])
    return bool(np.linalg.cond(rows) < 1e3)


def _row(place: Placement, touch: Touch) -> np.ndarray:
    p = place.stand.apply(np.array(touch.point_mm))
    n = place.stand.rotation @ np.array(touch.normal)
    return np.array([n[0], n[1], (p[0] * n[1] - p[1] * n[0]) / LEVER_MM])


def _reachable(place: Placement, window_mm: Rectangle, touch: Touch, standing_piece: Solid) -> bool:
    p = place.stand.apply(np.array(touch.point_mm))
    n = place.stand.rotation @ np.array(touch.normal)
    if np.hypot(n[0], n[1]) < STEEP or (isinstance(touch, CutFace) and place.up not in touch.open_from):
        return False
    x, y = p[:2] + (0.0 if touch.kind == "bore" else FINDER_MM) * n[:2]
    if not (window_mm[0] <= x <= window_mm[2] and window_mm[1] <= y <= window_mm[3]):
        return False
    if not touch.name.startswith(("wall", "bore")):
        return True
    above = standing_piece.shadow_above(round(float(p[2]), 2))
    return bool(shapely.distance(above, shapely.Point(x, y)) >= FINDER_MM - 0.1)


def _plain(touch: Touch) -> Touch:
    """A touch as the plan keeps it."""
    return Touch(touch.name, touch.kind, touch.point_mm, touch.normal, touch.known_from)


def _touch(name: str, point: np.ndarray, normal: np.ndarray, known_from: str) -> Touch:
    p, n = (tuple(float(round(v, 4)) for v in vector) for vector in (point, normal))
    return Touch(name, "face", (p[0], p[1], p[2]), (n[0], n[1], n[2]), known_from)
