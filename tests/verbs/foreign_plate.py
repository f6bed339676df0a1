"""Run as a process of its own: a plate with a pocket, written as 3MF by lib3mf, the 3MF Consortium's own library.

python foreign_plate.py FOLDER_OF_LIB3MF FILE_TO_WRITE
"""

from __future__ import annotations

import sys

import manifold3d

PLATE_MM, POCKET_MM, DEEP_MM, CORNER_MM = (60.0, 40.0, 12.0), (40.0, 20.0), 7.0, 4.0


def plate():
    """60 x 40 x 12 mm; a pocket of 40 x 20 mm, 7 mm deep, its corners of 4 mm radius. Corners (n, 3) and faces."""
    inner = [length - 2 * CORNER_MM for length in POCKET_MM]
    floor = manifold3d.CrossSection.square(inner, True).offset(CORNER_MM, manifold3d.JoinType.Round, 2.0, 96)
    pocket = floor.extrude(DEEP_MM + 1.0).translate((0.0, 0.0, PLATE_MM[2] / 2 - DEEP_MM))
    mesh = (manifold3d.Manifold.cube(PLATE_MM, True) - pocket).to_mesh()
    return mesh.vert_properties[:, :3], mesh.tri_verts


def main() -> None:
    sys.path.insert(0, sys.argv[1])
    import lib3mf

    corners, faces = plate()
    model = lib3mf.get_wrapper().CreateModel()
    model.SetUnit(lib3mf.ModelUnit.CentiMeter)
    places, triangles = [], []
    for corner in corners:
        places.append(lib3mf.Position())
        places[-1].Coordinates[:] = [float(c) / 10.0 for c in corner]
    for face in faces:
        triangles.append(lib3mf.Triangle())
        triangles[-1].Indices[:] = [int(k) for k in face]
    item = model.AddMeshObject()
    item.SetGeometry(places, triangles)
    model.AddBuildItem(item, lib3mf.get_wrapper().GetTranslationTransform(3.0, 2.0, 0.6))
    model.QueryWriter("3mf").WriteToFile(sys.argv[2])


if __name__ == "__main__":
    main()
