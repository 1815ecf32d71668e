"""Model files to read: sound ones and broken ones, made as bytes."""

from __future__ import annotations

import io
import json
import struct
import zipfile
from importlib.metadata import files
from pathlib import Path

import numpy as np
import numpy.typing as npt

from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Box, Primitive

Points = npt.NDArray[np.float64]
Faces = npt.NDArray[np.int64]

MODEL_3D = (
    '<?xml version="1.0" encoding="UTF-8"?><model unit="{unit}" xml:lang="en-US" '
    'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>{objects}</resources>'
    "<build>{items}</build></model>"
)
TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?><Relationships '
    'xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" '
    'Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def shipped(name: str) -> Path:
    """Return a model file that ships inside the package gmsh (its tutorials and examples)."""
    found = next(f for f in files("gmsh") or () if f.name == name)
    return Path(str(found.locate())).resolve()


def joined(*solids: Primitive) -> tuple[Points, Faces]:
    """Return the mesh of what primitives fill together."""
    made = [solid(s, 0.01) for s in solids]
    points, faces = made[0].union(*made[1:]).arrays()
    return points, faces.astype(np.int64)


def stacked(*solids: Primitive) -> tuple[Points, Faces]:
    """Return the meshes of primitives one after the other, not joined."""
    points, faces, start = [], [], 0
    for s in solids:
        p, f = solid(s, 0.01).arrays()
        points.append(p)
        faces.append(f.astype(np.int64) + start)
        start += len(p)
    return np.concatenate(points), np.concatenate(faces)


def stl(points: Points, faces: Faces) -> bytes:
    """Return a binary STL file."""
    rows = np.zeros(len(faces), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    rows["v"] = points[faces]
    return b"\0" * 80 + struct.pack("<I", len(faces)) + rows.tobytes()


def ascii_stl(points: Points, faces: Faces) -> bytes:
    """Return a text STL file."""
    lines = ["solid part"]
    for triangle in points[faces]:
        lines += ["facet normal 0 0 0", "outer loop"]
        lines += [f"vertex {x:.9g} {y:.9g} {z:.9g}" for x, y, z in triangle]
        lines += ["endloop", "endfacet"]
    return "\n".join([*lines, "endsolid part"]).encode()


def glb(points: Points, faces: Faces, change: dict[str, object] | None = None) -> bytes:
    """Return a binary glTF file; `change` is put over its document."""
    data = points.astype("<f4").tobytes() + faces.astype("<u4").tobytes()
    split = 12 * len(points)
    document: dict[str, object] = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {
                "bufferView": 0, "componentType": 5126, "count": len(points), "type": "VEC3",
                "min": points.min(axis=0).tolist(), "max": points.max(axis=0).tolist(),
            },
            {"bufferView": 1, "componentType": 5125, "count": 3 * len(faces), "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": split},
            {"buffer": 0, "byteOffset": split, "byteLength": len(data) - split},
        ],
        "buffers": [{"byteLength": len(data)}],
        **(change or {}),
    }  # fmt: skip
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    body = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(data), 0x004E4942) + data
    return struct.pack("<III", 0x46546C67, 2, 12 + len(body)) + body


def mesh_object(number: int, points: Points, faces: Faces) -> str:
    """Return the XML of a 3MF mesh object."""
    vertices = "".join(f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>' for x, y, z in points)
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces)
    return (
        f'<object id="{number}" type="model"><mesh><vertices>{vertices}</vertices>'
        f"<triangles>{triangles}</triangles></mesh></object>"
    )


def threemf(objects: str, items: str = '<item objectid="1"/>', unit: str = "millimeter") -> bytes:
    """Return a 3MF file."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", TYPES)
        archive.writestr("_rels/.rels", RELATIONS)
        archive.writestr("3D/3dmodel.model", MODEL_3D.format(unit=unit, objects=objects, items=items))
    return packed.getvalue()


def zip_bomb(mebibytes: int) -> bytes:
    """Return a small archive that unpacks to zeros."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("3D/3dmodel.model", b"\0" * (mebibytes * 2**20))
    return packed.getvalue()


def ladder() -> str:
    """Return 3MF objects each of which is made of the one before it twice: 2**24 meshes in the end."""
    rungs = "".join(
        f'<object id="{n}" type="model"><components><component objectid="{n - 1}"/>'
        f'<component objectid="{n - 1}"/></components></object>'
        for n in range(2, 26)
    )
    return mesh_object(1, *CUBE) + rungs


CUBE = joined(Box((0.0, 0.0, 0.0), (10.0, 8.0, 6.0)))
BOARD = (Box((0.0, 0.0, 0.0), (20.0, 30.0, 1.5)), Box((5.0, 6.0, 1.0), (13.0, 12.0, 5.5)))
