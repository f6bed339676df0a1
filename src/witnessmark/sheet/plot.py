"""Plots of curves and bars as SVG. Any units: the words on the axes say which."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

from numpy.typing import ArrayLike

from .palette import INK, LETTERING, PLACEMENTS

WIDE_IN, HIGH_IN = 6.2, 3.6
NAME_LETTERS = 36  # of a bar: longer ones take more lines
DETERMINED = {"svg.hashsalt": "witnessmark", "svg.fonttype": "path"}


@dataclass(frozen=True, eq=False)
class Curve:
    """Places along both axes (n,), and what it is called."""

    name: str
    x: ArrayLike
    y: ArrayLike


def plot_svg(title: str, x_words: str, y_words: str, curves: Sequence[Curve], square: bool = False) -> str:
    """``square``: both axes to one scale, for shapes."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context({**LETTERING, **DETERMINED}):
        figure = Figure(figsize=(WIDE_IN, HIGH_IN), layout="constrained")
        axes = figure.add_subplot()
        for curve, colour in zip(curves, PLACEMENTS):
            axes.plot(curve.x, curve.y, color=colour, label=curve.name, linewidth=1.4)
        if len(curves) > 1:
            axes.legend(
                frameon=False, loc="center left" if square else "best", bbox_to_anchor=(1.0, 0.5) if square else None
            )
        if square:
            axes.set_aspect("equal")
        else:
            axes.margins(x=0.0)
        axes.grid(color="#e3e0da", linewidth=0.6)
        axes.spines[["top", "right"]].set_visible(False)
        axes.set(title=title, xlabel=x_words, ylabel=y_words)
        return _svg(figure)


def bars_svg(title: str, x_words: str, rows: Sequence[tuple[str, float]]) -> str:
    """Named amounts, the first on top."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context({**LETTERING, **DETERMINED}):
        names = [wrap(name, NAME_LETTERS) for name, _ in rows]
        figure = Figure(figsize=(WIDE_IN, 0.9 + 0.24 * sum(map(len, names))), layout="constrained")
        axes = figure.add_subplot()
        lines = ["\n".join(name) for name in names]
        bars = axes.barh(lines, [value for _, value in rows], color=PLACEMENTS[0], height=0.62)
        axes.bar_label(bars, fmt="%.2f", padding=3, color=INK)
        axes.margins(x=0.15)  # room for the last figure
        axes.invert_yaxis()
        axes.spines[["top", "right"]].set_visible(False)
        axes.set(xlabel=x_words)
        figure.suptitle(
            title, fontsize=axes.title.get_fontsize()
        )  # over the names too: there is not room beside them
        return _svg(figure)


def _svg(figure: object) -> str:
    text = io.StringIO()
    figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})  # type: ignore[attr-defined]
    return text.getvalue()
