"""Run as a process of its own: 3MF files written by lib3mf, the 3MF Consortium's own library.

python lib3mf_files.py FOLDER_OF_LIB3MF FOLDER_TO_WRITE
"""

from __future__ import annotations

import sys
from pathlib import Path

import trimesh


def main() -> None:
    sys.path.insert(0, sys.argv[1])
    import lib3mf

    folder = Path(sys.argv[2])
    wrapper = lib3mf.get_wrapper()
    block = trimesh.creation.box((4, 2, 1))
    ring = trimesh.creation.annulus(r_min=1, r_max=2, height=0.5, sections=48)
    for name, unit, meshes, shift in (
        ("block_inch", lib3mf.ModelUnit.Inch, [block], 0.0),
        ("two_rings_cm", lib3mf.ModelUnit.CentiMeter, [ring, ring], 10.0),
        ("ring_mm", lib3mf.ModelUnit.MilliMeter, [ring], 0.0),
        ("nothing_built", lib3mf.ModelUnit.MilliMeter, [], 0.0),
    ):
        model = wrapper.CreateModel()
        model.SetUnit(unit)
        for k, mesh in enumerate(meshes):
            item = model.AddMeshObject()
            item.SetGeometry([_place(lib3mf, v) for v in mesh.vertices], [_face(lib3mf, f) for f in mesh.faces])
            model.AddBuildItem(item, wrapper.GetTranslationTransform(k * shift, 0.0, 0.0))
        model.QueryWriter("3mf").WriteToFile(str(folder / f"{name}.3mf"))


def _place(lib3mf, vertex):
    place = lib3mf.Position()
    for k in range(3):
        place.Coordinates[k] = float(vertex[k])
    return place


def _face(lib3mf, corners):
    face = lib3mf.Triangle()
    for k in range(3):
        face.Indices[k] = int(corners[k])
    return face


if __name__ == "__main__":
    main()
