"""3MF: a zip of XML that states its unit. Source: 3MF Core Specification (3MF Consortium), units and build items."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import numpy as np

from witnessmark.job.errors import Refusal

from .files import MESH_BYTES, TRIANGLES, broken, file_bytes
from .raw import RawMesh

# the units the specification lists; millimeter where the model names none
UNITS = {
    "micron": 0.001,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "meter": 1000.0,
}
_UNIT = re.compile(rb"<(?:\w+:)?model\b[^>]*?\bunit\s*=\s*[\"']([^\"']*)[\"']", re.DOTALL)


def read_3mf(path: Path) -> RawMesh:
    """Every build item in its place, in mm."""
    content = file_bytes(path, MESH_BYTES)
    model = _checked_model(content, path)
    match = _UNIT.search(model)
    unit = match.group(1).decode("utf-8", errors="replace").strip().lower() if match else "millimeter"
    if unit not in UNITS:
        raise broken(path, f"states the unit {unit!r}, which 3MF does not know")
    vertices, faces = _meshes(content, path)
    return RawMesh(vertices * UNITS[unit], faces, "mm", (f"the file states {unit}",))


def _checked_model(content: bytes, path: Path) -> bytes:
    """The model part, after the archive is seen to be harmless: no document types, no parts beyond the limit."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(info.file_size for info in archive.infolist()) > MESH_BYTES:
                raise broken(path, f"unpacks to more than the {MESH_BYTES / 2**20:.0f} MB that are read")
            parts = {info.filename: archive.read(info) for info in archive.infolist() if info.filename[-1] != "/"}
    except Refusal:
        raise
    except (
        Exception
    ) as error:  # a damaged archive fails in many ways (zip, zlib, encryption); none of them is our bug
        raise broken(path, f"is no whole 3MF archive ({error})") from error
    for name, part in parts.items():
        xml = name.lower().endswith((".model", ".rels", ".xml"))
        if xml and (b"<!DOCTYPE" in part or b"<!ENTITY" in part or b"\0" in part[:64]):
            raise broken(path, f"holds a document type or an odd encoding in {name}, which 3MF forbids")
    model = next((part for name, part in parts.items() if "3d/3dmodel.model" in name.lower()), None)
    if model is None:
        raise broken(path, "holds no model (3D/3dmodel.model)")
    if b"item " not in model:
        raise broken(path, "builds nothing: no mesh is placed")
    if model.count(b"triangle ") > TRIANGLES:
        raise broken(path, f"holds more than the {TRIANGLES} triangles that are read")
    return model


def _meshes(content: bytes, path: Path) -> tuple[np.ndarray, np.ndarray]:
    import trimesh

    try:
        scene = trimesh.load_scene(io.BytesIO(content), file_type="3mf", process=False)
        mesh = scene.to_mesh()
        vertices, faces = np.asarray(mesh.vertices, dtype=np.float64), np.asarray(mesh.faces, dtype=np.int64)
    except Exception as error:  # a parser of foreign files may fail in any way; none of them is our bug
        raise broken(path, f"cannot be understood ({type(error).__name__}: {error})") from error
    if not len(faces):
        raise broken(path, "builds nothing: no mesh is placed")
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise broken(path, "has a triangle that names a corner it does not hold")
    return vertices, faces
