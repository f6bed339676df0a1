"""Parts to saw and the clear areas of boards they are sawn from. mm; length runs along the grain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from witnessmark.job.boards import Board, Sawing

LEAST_CLEAR_MM = 30.0


@dataclass(frozen=True)
class CutPart:
    """A rectangle to saw, ``count`` times; ``any_grain``: it may be turned."""

    name: str
    length_mm: float
    width_mm: float
    thickness_mm: float
    species: str
    count: int = 1
    any_grain: bool = False


@dataclass(frozen=True)
class Clear:
    """A clear rectangle of a board: which board, its corner from the board's end and edge, its size; what a mm of its
    length costs."""

    board: int
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    price_mm: float
    thickness_mm: float
    species: str

    @property
    def kind(self) -> tuple[float, float, float, str]:
        """What is alike for sawing: width, price, thickness, wood."""
        return (self.width_mm, self.price_mm, self.thickness_mm, self.species)


def spread(boards: Sequence[Board]) -> list[Board]:
    """Every board by itself, those that are several numbered."""
    found = []
    for board in boards:
        for k in range(board.count):
            name = f"{board.name} {k + 1}" if board.count > 1 else board.name
            found.append(board.model_copy(update={"name": name, "count": 1}))
    return found


def clear_areas(boards: Sequence[Board], sawing: Sawing) -> list[Clear]:
    """The clear rectangles of boards: between defects over the whole width, and beside each defect.

    A board is crosscut at both ends of every defect; beside the defect the wider strips are kept.
    """
    found = []
    for number, board in enumerate(boards):
        x0, x1 = sawing.end_mm, board.length_mm - sawing.end_mm
        y0, y1 = sawing.edge_mm, board.width_mm - sawing.edge_mm
        if x1 - x0 < LEAST_CLEAR_MM or y1 - y0 <= 0:
            continue
        whole_mm2 = board.length_mm * board.width_mm
        cuts = sorted({x0, x1, *(min(max(v, x0), x1) for d in board.defects for v in (d.from_end_mm, d.to_end_mm))})
        stretches = [(a, b) for a, b in pairwise(cuts) if b - a > 1e-6]
        runs: list[tuple[float, float, tuple[tuple[float, float], ...]]] = []
        for a, b in stretches:
            middle = (a + b) / 2
            lanes = _free(y0, y1, [d for d in board.defects if d.from_end_mm < middle < d.to_end_mm], sawing.kerf_mm)
            if runs and runs[-1][2] == lanes:
                runs[-1] = (runs[-1][0], b, lanes)
            else:
                runs.append((a, b, lanes))
        for k, (a, b, lanes) in enumerate(runs):
            a = a + (sawing.kerf_mm if k else 0.0)
            for low, high in lanes:
                if b - a >= LEAST_CLEAR_MM and high - low > 0:
                    price_mm = board.price * (high - low) / whole_mm2
                    clear = Clear(number, a, low, b - a, high - low, price_mm, board.thickness_mm, board.species)
                    found.append(clear)
    return found


def _free(
    low_mm: float, high_mm: float, defects: Sequence[object], kerf_mm: float
) -> tuple[tuple[float, float], ...]:
    """Strips of a width that no defect touches, a kerf off it."""
    taken = sorted((d.from_edge_mm - kerf_mm, d.to_edge_mm + kerf_mm) for d in defects)  # type: ignore[attr-defined]
    free, at = [], low_mm
    for a, b in taken:
        if a > at:
            free.append((at, min(a, high_mm)))
        at = max(at, b)
    if at < high_mm:
        free.append((at, high_mm))
    return tuple(free)
