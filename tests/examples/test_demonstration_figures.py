"""The demonstration's figures script is itself a check."""

from __future__ import annotations

import runpy
from pathlib import Path

SCRIPT = Path(__file__).parents[2] / "examples" / "demonstration_figures.py"


def test_the_figures_hold(capsys) -> None:
    """The script runs through its own assertions and prints the three figures that were asked for."""
    runpy.run_path(str(SCRIPT), run_name="__main__")
    printed = capsys.readouterr().out
    for line in ("tip above the board                      3.50", "nut below the blank's top               13.50"):
        assert line in printed
