"""What a log holds, as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["stage", "mounted", "rehearsed", "read", "found", "started", "ended", "mishap", "remark"]


@dataclass(frozen=True)
class ReadingEntry:
    """A number typed at a touch; ``residual_mm``: what it read more than fitted. ``freedom_ratio``: what of the
    reading's own scatter its residual shows (one less the leverage); None where nothing was fitted."""

    touch: int
    name: str
    value_mm: float
    stylus_mm: float
    u_mm: float
    residual_mm: float | None = None
    freedom_ratio: float | None = None


@dataclass(frozen=True)
class PoseEntry:
    """How the work was found to lie against its plan; ``covariance`` (3, 3) of dx, dy, turn, row by row."""

    dx_mm: float
    dy_mm: float
    turn_rad: float
    covariance: tuple[tuple[float, float, float], ...]
    chi_square_ratio: float
    freedom: int
    step_mm: float


@dataclass(frozen=True)
class RunEntry:
    """A program that was started; ``minutes`` as predicted."""

    file: str
    fingerprint: str
    cutter: str
    minutes: float


@dataclass(frozen=True)
class EndEntry:
    """How a run (the step that started it) ended: ``stop_line`` is the last line surely carried out, None at its
    end; ``minutes`` as measured, None where nobody did."""

    run_id: int
    stop_line: int | None = None
    minutes: float | None = None


@dataclass(frozen=True)
class MishapEntry:
    """Wood that is gone and should not be: a program (``file``) ran with the work lying off its place, or a box
    (piece frame: x, y, z from and to) is damaged."""

    file: str = ""
    dx_mm: float = 0.0
    dy_mm: float = 0.0
    turn_rad: float = 0.0
    box_mm: tuple[float, float, float, float, float, float] | None = None


@dataclass(frozen=True)
class Step:
    """One confirmed step. ``at`` and ``taken_back_at``: ISO 8601, UTC."""

    id: int
    piece: str
    placement: str
    kind: Kind
    what: str
    at: str
    taken_back_at: str | None = None
    readings: tuple[ReadingEntry, ...] = ()
    pose: PoseEntry | None = None
    run: RunEntry | None = None
    end: EndEntry | None = None
    mishap: MishapEntry | None = None
    photographs: tuple[str, ...] = ()

    @property
    def stands(self) -> bool:
        return self.taken_back_at is None
