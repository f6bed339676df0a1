"""STEP (ISO 10303-21) through the Open CASCADE kernel in cascadio, in a process of its own with a time limit.

The file carries its own unit; the kernel hands out metres. Exact cylinders come along and become bores.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from witnessmark.job.errors import refuse

from .bores import CylinderFace, bores
from .files import MESH_BYTES, SAVE_AGAIN, broken, file_bytes
from .raw import Floats, RawMesh

TIMEOUT_S = 120.0
MM_PER_METRE = 1000.0


def read_step(path: Path, timeout_s: float = TIMEOUT_S) -> RawMesh:
    """All parts of the file in their places, in mm."""
    content = file_bytes(path, MESH_BYTES)
    if b"ISO-10303-21" not in content[:1024]:
        raise broken(path, "does not begin as a STEP file does (ISO-10303-21)")
    with tempfile.TemporaryDirectory() as folder:
        given, made = Path(folder) / "given.step", Path(folder) / "made.glb"
        given.write_bytes(content)
        _convert(given, made, path, timeout_s)
        return _read_glb(made, path)


def _convert(given: Path, made: Path, path: Path, timeout_s: float) -> None:
    command = [sys.executable, "-m", "witnessmark.shapes.step_child", str(given), str(made)]
    try:
        done = subprocess.run(command, capture_output=True, timeout=timeout_s, check=False)
    except subprocess.TimeoutExpired as error:
        raise refuse(
            path.name,
            f"could not be read within {timeout_s:.0f} s",
            "save only the piece itself as STEP, without the rest of the assembly",
            "save it as 3MF or STL instead",
        ) from error
    if done.returncode != 0 or not made.exists() or made.stat().st_size == 0:
        raise broken(path, "cannot be read as STEP: it is cut off, damaged, or holds no shape")


def _read_glb(made: Path, path: Path) -> RawMesh:
    import trimesh

    try:
        scene = trimesh.load_scene(made)
        parts = [_part(scene, node) for node in sorted(scene.graph.nodes_geometry)]
    except Exception as error:  # the converted file may be odd in any way; none of them is our bug
        raise broken(path, f"cannot be understood ({type(error).__name__}: {error})") from error
    parts = [part for part in parts if len(part[1])]
    if not parts:
        raise refuse(path.name, "holds no solid", "save the solid as STEP, not only lines or points", SAVE_AGAIN)
    starts = np.cumsum([0, *(len(vertices) for vertices, _, _ in parts)])
    vertices = np.concatenate([vertices for vertices, _, _ in parts])
    faces = np.concatenate([faces + start for (_, faces, _), start in zip(parts, starts)])
    cylinders = [cylinder for _, _, found in parts for cylinder in found]
    notes = ("the file carries its own unit",)
    return RawMesh(vertices, faces, "mm", notes, bores(cylinders, vertices[faces]))


def _part(scene: Any, node: str) -> tuple[Floats, np.ndarray, list[CylinderFace]]:
    """One part's vertices in mm, its faces and its cylinders, in the file's own frame."""
    matrix, name = scene.graph[node]
    mesh = scene.geometry[name]
    rotation, shift = np.asarray(matrix[:3, :3]), np.asarray(matrix[:3, 3])
    vertices = (np.asarray(mesh.vertices, dtype=np.float64) @ rotation.T + shift) * MM_PER_METRE
    faces = np.asarray(mesh.faces, dtype=np.int64)
    face_of = np.asarray(mesh.face_attributes.get("brep_index", ()))
    cylinders = []
    for place, primitive in enumerate(mesh.metadata.get("cascadio", {}).get("brep_primitives", [])):
        if primitive is None or len(face_of) != len(faces) or not np.any(face_of == place):
            continue
        origin = (rotation @ np.array(primitive.origin) + shift) * MM_PER_METRE
        axis = rotation @ np.array(primitive.axis)
        triangles = vertices[faces[face_of == place]]
        cylinders.append(
            CylinderFace(origin, axis / np.linalg.norm(axis), primitive.radius * MM_PER_METRE, triangles)
        )
    return vertices, faces, cylinders
