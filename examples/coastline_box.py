"""A box in the outline of Iceland, from Natural Earth's coastline to a passing proof.

    python examples/coastline_box.py ATLAS FOLDER

ATLAS is countries-10m.json of the npm package world-atlas 2.0.2 (Natural Earth 1:10m, public domain, as TopoJSON);
FOLDER is the job folder to make. The outline is drawn in Lambert's azimuthal equal-area projection about its middle.
Sources  TopoJSON Format Specification (arcs as differences, quantized; ~i: arc i backward); Snyder, Map Projections:
         A Working Manual, USGS Professional Paper 1395 (1987), eq. 24-2 to 24-4 on the sphere (from memory)
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.box import Box
from witnessmark.job.demonstration import demonstration_cutters, demonstration_machine
from witnessmark.verbs.box import BoxAnswer, new_box

Floats = NDArray[np.float64]

LONG_MM = 250.0


def coastline(atlas: Path, country: str) -> Floats:
    """The longest shore of a country, longitude and latitude in degrees, (n, 2)."""
    topology = json.loads(atlas.read_text(encoding="utf-8"))
    scale, shift = topology["transform"]["scale"], topology["transform"]["translate"]
    arcs = [np.cumsum(np.array(arc, dtype=np.float64), axis=0) * scale + shift for arc in topology["arcs"]]
    rows: list[dict[str, Any]] = topology["objects"]["countries"]["geometries"]
    shape = next(row for row in rows if row["properties"]["name"] == country)
    polygons = [shape["arcs"]] if shape["type"] == "Polygon" else shape["arcs"]
    return max((_ring(polygon[0], arcs) for polygon in polygons), key=len)


def _ring(numbers: list[int], arcs: list[Floats]) -> Floats:
    parts = [arcs[i] if i >= 0 else arcs[~i][::-1] for i in numbers]
    return np.concatenate([part[:-1] for part in parts])


def equal_area(shore_deg: Floats) -> Floats:
    """The shore in the plane, in units of the sphere's radius, north up."""
    middle = np.radians((shore_deg.min(axis=0) + shore_deg.max(axis=0)) / 2)
    lon, lat = np.radians(shore_deg).T
    away = lon - middle[0]
    cosine = np.sin(middle[1]) * np.sin(lat) + np.cos(middle[1]) * np.cos(lat) * np.cos(away)
    k = np.sqrt(2.0 / (1.0 + cosine))
    x = k * np.cos(lat) * np.sin(away)
    y = k * (np.cos(middle[1]) * np.sin(lat) - np.sin(middle[1]) * np.cos(lat) * np.cos(away))
    return np.column_stack([x, y])


def coastline_box(atlas: Path, folder: Path, long_mm: float = LONG_MM) -> BoxAnswer:
    """The job folder: body and lid, on the demonstration's machine."""
    points = equal_area(coastline(atlas, "Iceland"))
    points *= long_mm / float(np.ptp(points[:, 0]))
    with tempfile.TemporaryDirectory() as beside:
        traced = Path(beside) / "iceland.csv"
        np.savetxt(traced, points, fmt="%.4f", delimiter=",", header="x, y (mm)")
        box = Box.model_validate(
            {
                "outline": {"file": traced.name},
                "inside_height_mm": 26.0,
                "wall_mm": 8.0,
                "floor_mm": 7.0,
                "lid_mm": 9.0,
                "lip_mm": 3.5,
                "rebate_mm": 4.0,
                "cutter_mm": 6.0,
            }
        )
        return new_box(folder, box, demonstration_machine(), demonstration_cutters(), "cherry, black", traced)


def main() -> int:
    from witnessmark.verbs.make import plan, program
    from witnessmark.verbs.prove import prove

    atlas, folder = Path(sys.argv[1]), Path(sys.argv[2])
    made = coastline_box(atlas, folder)
    print("\n".join(made.notes))
    plan(folder)
    program(folder)
    found = prove(folder)
    print("proven" if found.passed else "NOT proven")
    return 0 if found.passed else 1


if __name__ == "__main__":
    sys.exit(main())
