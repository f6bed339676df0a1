"""The plots of a turn latch: torque, pull, cam, yield, and what skin and height cost. SVG."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from witnessmark.latch.cam import polyline_mm
from witnessmark.latch.chances import Yield
from witnessmark.latch.design import Design
from witnessmark.latch.magnets import alternating, pull_n
from witnessmark.latch.turning import turning
from witnessmark.sheet.plot import Curve, bars_svg, plot_svg

PLOTS = ("torque", "pull", "cam", "yield", "trade")


def plots_of(design: Design, yields: Yield) -> Iterator[tuple[str, str]]:
    """(name, SVG) of each plot, named as ``PLOTS``."""
    how = design.turning
    ahead = how.lead_deg >= 0
    lead = how.lead_deg[ahead]
    yield (
        "torque",
        plot_svg(
            "The key leads the rotor: what turns it",
            "lead of the key, degrees",
            "N mm",
            [
                Curve("torque", lead, how.torque_nmm[ahead]),
                Curve("less what rubs", lead, (how.torque_nmm - how.rubbed_nmm)[ahead]),
            ],
        ),
    )
    gaps = np.linspace(1.0, 12.0, 45)
    yield (
        "pull",
        plot_svg(
            "Key and rotor in line: what draws them together",
            "from magnet to magnet, mm",
            "N",
            [Curve("pull", gaps, pull_n(design.key, design.rotor, gaps, 0.0))],
        ),
    )
    ring = polyline_mm(design.cam)
    ring = np.vstack([ring, ring[:1]])
    turn = np.linspace(0.0, 2.0 * math.pi, 241)
    radius, _ = design.cam.pitch_mm(turn)
    yield (
        "cam",
        plot_svg(
            "The cam, and the way of a bolt's ball about it",
            "mm",
            "mm",
            [
                Curve("cam", ring[:, 0], ring[:, 1]),
                Curve("ball's middle", radius * np.cos(turn), radius * np.sin(turn)),
            ],
            square=True,
        ),
    )
    rises = [(row.words, 100.0 * row.rises_ratio) for row in yields.matters]
    title = f"{100 * yields.works_ratio:.1f} of 100 work; how many more if one size were exact"
    yield "yield", bars_svg(title, "more of 100", rises)
    skins = np.linspace(1.0, 6.0, 21)
    curves = []
    for stack in (1, 2, 3):
        key, rotor = (
            alternating(replace(ring.disc, stack=stack), ring.radius_mm, len(ring.signs))
            for ring in (design.key, design.rotor)
        )
        peaks = [turning(key, rotor, design.gap_mm - design.skin_mm + skin).net_nmm for skin in skins.tolist()]
        higher = rotor.disc.length_mm - design.rotor.disc.length_mm
        words = "single magnets" if stack == 1 else f"stacks of {stack}"
        curves.append(Curve(f"{words}, {design.high_mm + higher:.0f} mm high", skins, np.array(peaks)))
    title = f"Torque against skin and height, {design.across_mm:.0f} mm across"
    yield "trade", plot_svg(title, "skin, mm", "N mm", curves)
