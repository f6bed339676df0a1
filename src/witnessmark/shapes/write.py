"""Writing solids: binary STL, and 3MF in mm. Written beside and renamed, so nothing is left half-written."""

from __future__ import annotations

import io
import os
import zipfile
from pathlib import Path

import numpy as np

from witnessmark.job.errors import refuse

from .solid import Solid

_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
_DAY = (1980, 1, 1, 0, 0, 0)  # one fixed date, so that the same solid gives the same bytes

_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="model" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
_MODEL_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<model unit="millimeter" xml:lang="en-US" '
    'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources><object id="1" type="model"><mesh>'
)
_MODEL_TAIL = '</mesh></object></resources><build><item objectid="1"/></build></model>'


def write_stl(solid: Solid, path: str | Path) -> Path:
    """Binary STL in mm; corners are rounded to float32."""
    facets = np.zeros(len(solid.faces), dtype=_FACET)
    facets["normal"], facets["corners"] = solid.normals, solid.triangles
    head = b"mm".ljust(80) + len(facets).to_bytes(4, "little")
    return _put(Path(path), head + facets.tobytes())


def write_3mf(solid: Solid, path: str | Path) -> Path:
    """3MF in mm. Source: 3MF Core Specification 1.2 (3MF Consortium), parts and names from memory."""
    corners = "".join(f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>' for x, y, z in solid.vertices.tolist())
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in solid.faces.tolist())
    model = f"{_MODEL_HEAD}<vertices>{corners}</vertices><triangles>{faces}</triangles>{_MODEL_TAIL}"
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in (("[Content_Types].xml", _TYPES), ("_rels/.rels", _RELATIONS), ("3D/3dmodel.model", model)):
            archive.writestr(zipfile.ZipInfo(name, _DAY), text, zipfile.ZIP_DEFLATED)
    return _put(Path(path), content.getvalue())


def _put(path: Path, content: bytes) -> Path:
    beside = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise refuse(
            str(path), f"cannot be written ({error.strerror})", "check the folder and the room left"
        ) from error
    return path
