"""Plots: all that is written on them is inside the picture."""

from __future__ import annotations

import io

import numpy as np
import pytest
import typst
from PIL import Image

from witnessmark.sheet.plot import Curve, bars_svg, plot_svg

LONG = "the wood's movement over the year, and how true lid and body are found"
BARS = bars_svg(
    "99.2 of 100 work; how many more if one size were exact", "more of 100", [("friction", 0.63), (LONG, 0.0)]
)
WAY = bars_svg("one", "mm", [("all", 1.0)])
CURVE = plot_svg("The key leads the rotor: what turns it", "degrees", "N mm", [Curve("torque", [0, 1], [5, 9])])


def edges(svg: str, folder) -> np.ndarray:
    """How dark the pixels along the picture's border are."""
    (folder / "plot.svg").write_text(svg, encoding="utf-8")
    page = folder / "page.typ"
    page.write_text('#set page(width: auto, height: auto, margin: 0pt)\n#image("plot.svg")', encoding="utf-8")
    picture = np.asarray(Image.open(io.BytesIO(typst.compile(str(page), format="png"))).convert("L"))
    assert picture.min() < 100  # something is drawn
    return np.concatenate(
        [picture[:2].ravel(), picture[-2:].ravel(), picture[:, :2].ravel(), picture[:, -2:].ravel()]
    )


@pytest.mark.parametrize("svg", [BARS, WAY, CURVE], ids=["long names", "one bar", "curve"])
def test_nothing_is_cut_off_at_the_border(svg, tmp_path):
    assert edges(svg, tmp_path).min() > 200
