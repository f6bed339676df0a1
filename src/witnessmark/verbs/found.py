"""What ``find`` answers: where the work lies, how sure that is, and what follows, in words and for scripts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from witnessmark.locate.blunder import Agreement
from witnessmark.locate.level import Level
from witnessmark.locate.pose import Located
from witnessmark.locate.tap import Tap
from witnessmark.proof.report import summary_text
from witnessmark.proof.verdict import Verdict

WEAK_RATIO = 30.0  # the worst known direction this much worse than the best: say so


@dataclass(frozen=True, eq=False)
class FindAnswer:
    """Where the work lies, how well the readings agree, what step to expect at the seams, and what was written."""

    placement: str
    found: Located
    agreement: Agreement
    names: tuple[str, ...]
    residuals_mm: tuple[tuple[str, float], ...]
    step_mm: float
    tolerance_mm: float
    verdict: Verdict | None
    files: tuple[Path, ...]
    level: Level | None = None
    taps: tuple[Tap, ...] = ()
    picture: Path | None = None
    way: str = ""  # what placed the work, where it was not found by readings

    @property
    def passed(self) -> bool:
        return self.verdict is not None and self.verdict.passed

    def words(self) -> str:
        """For the maker."""
        if not self.agreement.agrees:
            lines = [f"placement {self.placement}: {self.agreement.words(self.names)}"]
            lines += [f"    {name}: {by:+.3f} mm from what fits" for name, by in self.residuals_mm]
            return "\n".join([*lines, "  no program is corrected before the readings agree"])
        dx, dy, turn = self.found.pose.tolist()
        u = np.sqrt(np.diag(self.found.covariance)).tolist()
        lines = [
            f"placement {self.placement}: the work lies {dx:+.3f} mm in x, {dy:+.3f} mm in y off its plan, "
            f"turned by {math.degrees(turn):+.4f} degrees",
            f"  known to {u[0]:.3f} and {u[1]:.3f} mm and {math.degrees(u[2]):.4f} degrees (standard uncertainties)",
            f"  {self.way or self._agreeing()}",
        ]
        if np.isinf(self.agreement.detectable_mm).any():
            lines.append("  with these readings a wrong one cannot be told: read more touches")
        if self.found.condition_ratio > WEAK_RATIO:
            lines.append(f"  one direction is known {self.found.condition_ratio:.0f} times worse than another")
        lines += [f"    {name}: {by:+.3f} mm from what fits" for name, by in self.residuals_mm]
        much = self.step_mm > self.tolerance_mm
        beyond = ": more than the tolerance; read more touches, farther apart" if much else ""
        lines.append(
            f"  step to expect where this placement meets another: at most {self.step_mm:.3f} mm in 95 of 100 cases "
            f"(tolerance {self.tolerance_mm:g}){beyond}"
        )
        if self.taps:
            lines.append(
                f"  to move the work instead: push {', '.join(tap.words() for tap in self.taps)}; then read again"
            )
        if self.picture is not None:
            lines.append(f"  where the steps are to be expected: {self.picture}")
        if self.level is not None:
            lines.append(f"  {self.level.words()}")
        if self.level is not None and not self.level.holds:
            lines.append("  no program is corrected before it lies level")
        if self.passed:
            lines += [f"  corrected and proven: {path}" for path in self.files]
        elif self.verdict is not None:
            lines.append("  the corrected programs do NOT pass their proof where the work lies:")
            lines.append(summary_text(self.verdict))
        return "\n".join(lines)

    def _agreeing(self) -> str:
        chance = 100 * self.agreement.chance_ratio
        return (
            f"{self.agreement.words(self.names)}; right readings agree no better than so in {chance:.0f} of 100 cases"
        )

    def record(self) -> dict[str, Any]:
        """For scripts."""
        dx, dy, turn = self.found.pose.tolist()
        return {
            "placement": self.placement,
            "dx_mm": round(dx, 5),
            "dy_mm": round(dy, 5),
            "turn_deg": round(math.degrees(turn), 6),
            "covariance": self.found.covariance.tolist(),
            "agrees": self.agreement.agrees,
            "chance": round(self.agreement.chance_ratio, 6),
            "wrong": None if self.agreement.wrong is None else self.names[self.agreement.wrong],
            "suspects": [self.names[k] for k in self.agreement.suspects],
            "residuals_mm": {name: round(by, 5) for name, by in self.residuals_mm},
            "step_mm": round(self.step_mm, 4),
            "level": None if self.level is None else vars(self.level) | {"holds": self.level.holds},
            "taps": [vars(tap) for tap in self.taps],
            "picture": None if self.picture is None else str(self.picture),
            "way": self.way,
            "passed": self.passed,
            "programs": [str(path) for path in self.files],
        }
