"""A job.toml as a maker writes it, with comments and inches, and what is told of one that must be refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from witnessmark.job.errors import Refusal
from witnessmark.job.files import job_from_text

HAND_WRITTEN = """\
# my tea chest, started in March
name = "chest"   # for the shelf

[machine]
travel_x_mm = 300
travel_y_mm = "15 3/4 in"   # off the rule
travel_z_mm = 90.0
nose_above_bed_mm = 155
gantry_above_bed_mm = 95
clear_width_mm = 500

# the good one
[[cutters]]
name = "flat 6"
kind = "flat"
diameter_mm = "1/4 in"     # imperial shank
flute_length_mm = 32
stickout_mm = 45
shank_diameter_mm = "1/4 in"

[[cutters]]
# a birthday present
name = "ball 6"
diameter_mm = 6
kind = "ball"
flute_length_mm = 32
stickout_mm = 45
shank_diameter_mm = 6

[[pieces]]
name = "body"
shape = "body.stl"
[pieces.blank]
size_x_mm = 470
size_y_mm = 370
size_z_mm = 62   # planed
glue_lines_z_mm = [20.7, 41.3]
"""


def troubles(text: str, folder: Path | None = None) -> dict[str, str]:
    """Where -> what and remedies, of a text that must be refused."""
    with pytest.raises(Refusal) as caught:
        job_from_text(text, folder)
    return {t.where.removeprefix("job.toml, "): f"{t.what} | {' | '.join(t.remedies)}" for t in caught.value.troubles}
