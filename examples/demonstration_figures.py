"""The demonstration's figures, worked out from its shapes and its machine, and held to what was asked of it.

Asked: foot up, the tip goes to 3.5 mm above the board, the nut 13.5 mm below the blank's top, beside the flare with
1.4 mm to spare; no lobe under 45 mm at the rim; no neck that vanishes at the foot; blank longer than the travel.
Plane geometry throughout. Run it: python examples/demonstration_figures.py
"""

from __future__ import annotations

import math

import shapely

from witnessmark.job.assembly import assembly_of
from witnessmark.job.demonstration import demonstration_job, dish_job
from witnessmark.shapes.ginkgo import leaf_outline, tea_chest_body
from witnessmark.shapes.simple import shallow_dish


def spare_beside_flare_mm(
    flare_deg: float, level_below_flare_mm: float, body_radius_mm: float, cutter_radius_mm: float
) -> float:
    """Gap between a body of revolution and the flare, when the cutter touches the flare's widest outline."""
    return level_below_flare_mm * math.tan(math.radians(flare_deg)) - (body_radius_mm - cutter_radius_mm)


def widest_disc_mm(area: shapely.Geometry, least_mm: float) -> float:
    """Greatest disc diameter (to 0.5 mm) that reaches every part of the area and keeps it in one piece."""
    width_mm = least_mm
    while True:
        core = area.buffer(-(width_mm + 0.5) / 2, quad_segs=32)
        if core.geom_type != "Polygon" or (area - core.buffer((width_mm + 0.5) / 2 + 0.02, quad_segs=64)).area > 0.5:
            return width_mm
        width_mm += 0.5


def tea_chest() -> dict[str, float]:
    """Figures of the chest, foot up on the board."""
    job = demonstration_job()
    machine, cutter, blank = job.machine, job.cutters[0], job.pieces[0].blank
    solid = tea_chest_body()
    above_rim_mm = blank.size_z_mm - blank.below_mm - solid.bounds_mm[1][2]
    tip_mm = above_rim_mm - job.settings.through_overlap_mm
    nut_mm = tip_mm + cutter.stickout_mm
    nut_level_mm = blank.size_z_mm - nut_mm  # piece height of the nut's lower face
    rim = leaf_outline().polygon()
    foot = solid.section(0.0)
    return {
        "tip above the board": tip_mm,
        "nut below the blank's top": blank.size_z_mm - nut_mm,
        "nut to spare beside the flare": spare_beside_flare_mm(
            12.0, 53.0 - nut_level_mm, machine.nut_diameter_mm / 2, cutter.diameter_mm / 2
        ),
        "nose above the bed at the deepest": machine.support_z_bed_mm
        + tip_mm
        + assembly_of(cutter, machine).tip_below_nose_mm,
        "lowest the nose can come": machine.nose_above_bed_mm - machine.travel_z_mm,
        "narrowest lobe at the rim": widest_disc_mm(rim, 45.0),
        "narrowest at the foot": widest_disc_mm(foot, 20.0),
        "blank beyond the travel in X": blank.size_x_mm - machine.travel_x_mm,
        "opening of the cleft, degrees": _opening_deg(top=True),
        "opening of the stem notch, degrees": _opening_deg(top=False),
    }


def _opening_deg(top: bool) -> float:
    """Angle between the two flanks of the cleft (top) or the stem notch, from their normals."""
    leaf = leaf_outline()
    on_axis = (abs(leaf.points_mm[:, 0]) < 1e-9) & ((leaf.points_mm[:, 1] > 0) == top)
    fan = leaf.normals[on_axis]
    return 180.0 - math.degrees(math.acos(float(fan[0] @ fan[-1])))


def dish() -> dict[str, float]:
    """Figures of the dish, foot up: here the spindle nose itself goes into the blank."""
    job = dish_job()
    machine, cutter, blank = job.machine, job.cutters[0], job.pieces[0].blank
    height_mm = shallow_dish().bounds_mm[1][2]
    under_rim_mm = blank.size_z_mm - blank.below_mm - height_mm
    tip_mm = under_rim_mm - job.settings.through_overlap_mm
    nose_mm = tip_mm + assembly_of(cutter, machine).tip_below_nose_mm
    return {
        "nose below the blank's top": blank.size_z_mm - nose_mm,
        "nose to spare beside the flare": spare_beside_flare_mm(
            38.0, nose_mm - under_rim_mm, machine.nose_diameter_mm / 2, cutter.diameter_mm / 2
        ),
        "room left in Z at the deepest": machine.support_z_bed_mm
        + nose_mm
        - (machine.nose_above_bed_mm - machine.travel_z_mm),
    }


def main() -> None:
    chest, shallow = tea_chest(), dish()
    for title, figures in (("Ginkgo tea chest, foot up", chest), ("Shallow dish, foot up", shallow)):
        print(title)
        for what, value in figures.items():
            print(f"  {what:36s} {value:8.2f}")
    assert math.isclose(chest["tip above the board"], 3.5)
    assert math.isclose(chest["nut below the blank's top"], 13.5)
    assert abs(chest["nut to spare beside the flare"] - 1.4) < 0.05
    assert chest["nose above the bed at the deepest"] > chest["lowest the nose can come"]
    assert chest["narrowest lobe at the rim"] >= 45.0
    assert chest["narrowest at the foot"] >= 20.0
    assert chest["blank beyond the travel in X"] > 0
    assert shallow["nose below the blank's top"] > 0
    assert shallow["nose to spare beside the flare"] > dish_job().settings.assembly_clearance_mm
    assert shallow["room left in Z at the deepest"] > 0


if __name__ == "__main__":
    main()
