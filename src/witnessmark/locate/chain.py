"""Placements found one by another: how errors of those before pass into those after.

Question  how far off will each placement of a piece be found, all together
Frame     piece
Units     mm, radians
Arrays    small moves (..., 6): dx, dy, turn about z, dz, tilts about x and y (mismatch)
Method    each placement's error is a straight function of its readings' errors and of the errors of the placements
          that cut what is touched; drawn together, in order, the same draws every time
Source    JCGM 101 (GUM, Supplement 1) for propagating by draws; the rows are those of pose
Valid     small errors; a placement without touches lies as planned (the first one: the piece is what it cuts)
Refuses   readings that do not fix a placement (ValueError, from least_squares)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.placement import Placement

from .least_squares import whitening
from .mismatch import SEED, TRIED, moves_of
from .readings import Rows
from .typed import READ_U_MM, planned_readings, rows_read

Floats = NDArray[np.float64]

CUT_IN = "cut in placement "


@dataclass(frozen=True, eq=False)
class Link:
    """One placement: its rows (None: it is not found by touching); ``gain`` (3, m) from what they are off to its
    pose; ``into_piece`` (6, 6) from its standing frame's small moves to the piece's; ``passed`` (m, k, 6), for each
    row what a move of the placement that cut its feature does to it."""

    rows: Rows | None
    gain: Floats
    into_piece: Floats
    passed: Floats


def into_piece(place: Placement) -> Floats:
    """(6, 6): small moves of the standing frame as such of the piece frame (both pass through the piece's origin)."""
    back = place.stand.rotation.T
    shift, spin, whole = [0, 1, 3], [4, 5, 2], np.zeros((6, 6))
    whole[np.ix_(shift, shift)] = back
    whole[np.ix_(spin, spin)] = back
    return whole


def gain_of(rows: Rows) -> Floats:
    """(3, m): the pose that readings off by so much along their normals are taken for."""
    white = whitening(rows.covariance_mm2)
    return np.asarray(np.linalg.lstsq(white @ rows.design, white, rcond=None)[0])


def links_of(places: Sequence[Placement], radius_mm: float, read_u_mm: float = READ_U_MM) -> tuple[Link, ...]:
    """The placements of a piece, in order, with all of their touches read."""
    number = {place.name: k for k, place in enumerate(places)}
    links = []
    for place in places:
        turn = into_piece(place)
        if len(place.touches) < 3:
            links.append(Link(None, np.zeros((3, 0)), turn, np.zeros((0, len(places), 6))))
            continue
        rows, _ = rows_read(planned_readings(place, place.touches, radius_mm, read_u_mm))
        passed = np.zeros((len(rows), len(places), 6))
        for m, reading in enumerate(rows.of):
            touch = place.touches[reading]
            cut = number.get(touch.known_from.removeprefix(CUT_IN))
            if touch.known_from.startswith(CUT_IN) and cut is not None:
                normal = place.stand.rotation.T @ rows.normals[m]
                passed[m, cut] = normal @ moves_of(np.array([touch.point_mm]))[0]
        links.append(Link(rows, gain_of(rows), turn, passed))
    return tuple(links)


def drawn(links: Sequence[Link], count: int = TRIED, seed: int = SEED) -> Floats:
    """Errors of all placements together, (count, k, 6), piece frame."""
    rng = np.random.default_rng(seed)
    errors = np.zeros((count, len(links), 6))
    for k, link in enumerate(links):
        if link.rows is None:
            continue
        off = rng.standard_normal((count, len(link.rows))) @ np.linalg.cholesky(link.rows.covariance_mm2).T
        off = off + np.einsum("rkc,mkc->rm", errors, link.passed)
        errors[:, k, :3] = off @ link.gain.T
        errors[:, k] = errors[:, k] @ link.into_piece.T
    return errors
