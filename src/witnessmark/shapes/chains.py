"""Loose lines of a drawing joined end to end.

Question  which lines meet end to end, and which of the chains close into rings
Units     mm
Arrays    a line or chain is (n, 2) float64; a closed ring does not repeat its first place
Method    lines that lie on no closed way (the bridges of the graph whose nodes are the places where ends meet) are
          joined apart, so that a stub never leads a ring astray; then pairs of ends nearest first, each end used
          once: first those that coincide, then those within a tolerance
Source    graph bridges: Tarjan, R. E. (1974), A note on finding the bridges of a graph, Information Processing
          Letters 2(6) (from memory), by networkx; joining nearest first: common practice, no source
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SAME_MM = 1e-6
JOIN_MM = 0.05  # ends this near are meant to meet; far below what a cutter can leave
_MOST_PAIRS = 2_000_000


@dataclass(frozen=True, eq=False)
class Joined:
    """Closed rings, chains left open, and places where more than two ends meet."""

    rings: list[Floats]
    open: list[Floats]
    forks_mm: Floats
    widest_gap_mm: float


def join(lines: Sequence[Floats], join_mm: float = JOIN_MM) -> Joined:
    """Join lines (n, 2) end to end. ValueError when thousands of ends lie in one place."""
    round_about, stubs = _on_closed_ways([line for line in lines if len(line) >= 2], join_mm)
    closed, loose = _joined(round_about, join_mm), _joined(stubs, join_mm)
    return Joined(
        [*closed.rings, *loose.rings],
        [*closed.open, *loose.open],
        np.concatenate([closed.forks_mm, loose.forks_mm]),
        max(closed.widest_gap_mm, loose.widest_gap_mm),
    )


def _on_closed_ways(lines: list[Floats], join_mm: float) -> tuple[list[Floats], list[Floats]]:
    """The lines that lie on some closed way, and the others."""
    import networkx as nx
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    if not lines:
        return [], []
    ends = np.array([place for line in lines for place in (line[0], line[-1])])
    pairs = _near(ends, join_mm)
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(ends), len(ends)))
    node = connected_components(links, directed=False)[1].reshape(-1, 2)
    graph, count = nx.Graph(), Counter(frozenset(pair) for pair in node.tolist())
    graph.add_edges_from(pair for pair in node.tolist() if pair[0] != pair[1])
    dead_ends = {frozenset(pair) for pair in nx.bridges(graph)} if len(graph) else set()
    on_way = [not (count[key] == 1 and key in dead_ends) for key in map(frozenset, node.tolist())]
    kept = [line for line, on in zip(lines, on_way) if on]
    return kept, [line for line, on in zip(lines, on_way) if not on]


def _joined(chains: list[Floats], join_mm: float) -> Joined:
    rings: list[Floats] = []
    forks: list[Floats] = [np.empty((0, 2))]
    widest_mm = 0.0
    for within_mm in (SAME_MM, join_mm):
        chains, closed, gap_mm, fork = _join_within(chains, within_mm)
        rings += closed
        forks.append(fork)
        widest_mm = max(widest_mm, gap_mm)
    return Joined(rings, chains, np.concatenate(forks), widest_mm)


def _join_within(chains: list[Floats], within_mm: float) -> tuple[list[Floats], list[Floats], float, Floats]:
    """Chains left open, rings closed, the widest gap bridged, and forks (n, 2)."""
    if not chains:
        return [], [], 0.0, np.empty((0, 2))
    ends = np.array([place for chain in chains for place in (chain[0], chain[-1])])  # end 2k and 2k + 1 of chain k
    partner, widest_mm, forks = _paired(ends, within_mm)
    open_chains: list[Floats] = []
    rings: list[Floats] = []
    used = np.zeros(len(chains), dtype=bool)
    starts = [end for end in range(len(ends)) if partner[end] < 0]  # chains with a free end first, then loops
    for end in [*starts, *range(len(ends))]:
        if used[end // 2]:
            continue
        parts, here, closes = [], end, False
        while not used[here // 2]:
            used[here // 2] = True
            parts.append(chains[here // 2] if here % 2 == 0 else chains[here // 2][::-1])
            there = partner[here ^ 1]
            if there < 0:
                break
            closes = there == end
            here = there
        (rings if closes else open_chains).append(_strung(parts, closes))
    return open_chains, [ring for ring in rings if len(ring) >= 3], widest_mm, forks


def _paired(ends: Floats, within_mm: float) -> tuple[list[int], float, Floats]:
    """The partner of each end (-1: none), the widest gap, and the places where more than two ends meet."""
    pairs = _near(ends, within_mm)
    gaps = np.linalg.norm(ends[pairs[:, 0]] - ends[pairs[:, 1]], axis=1)
    partner, widest_mm = [-1] * len(ends), 0.0
    for index in np.argsort(gaps, kind="stable"):
        one, other = int(pairs[index, 0]), int(pairs[index, 1])
        if partner[one] < 0 and partner[other] < 0:
            partner[one], partner[other] = other, one
            widest_mm = max(widest_mm, float(gaps[index]))
    meeting = np.bincount(pairs.ravel(), minlength=len(ends))
    return partner, widest_mm, ends[meeting > 1]


def _near(ends: Floats, within_mm: float) -> NDArray[np.int64]:
    """Pairs of ends (m, 2) no further apart than this."""
    from scipy.spatial import cKDTree

    tree = cKDTree(ends)
    if tree.count_neighbors(tree, within_mm) > _MOST_PAIRS:
        raise ValueError("thousands of ends lie in one place")
    return np.asarray(tree.query_pairs(within_mm, output_type="ndarray"), dtype=np.int64)


def _strung(parts: list[Floats], closes: bool) -> Floats:
    """Parts in a row; where two meet, and where a ring closes, the place is kept once."""
    places = np.concatenate([parts[0], *(part[1:] for part in parts[1:])])
    return places[:-1] if closes else places
