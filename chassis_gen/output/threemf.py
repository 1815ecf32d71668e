"""3MF: pieces with their unit, names and material, through the format's own library."""

from __future__ import annotations

import ctypes
import hashlib
import io
import uuid
import zipfile
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from chassis_gen.output.stl import single_arrays

if TYPE_CHECKING:
    from chassis_gen.shapes.body import Body

PRINTED_GREY = (196, 200, 204, 255)
# The earliest date that a zip archive can carry.
_ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
_DECIMALS = 9
_UUID_SPACE = uuid.uuid5(uuid.NAMESPACE_DNS, "chassis-gen.invalid")


def threemf_bytes(pieces: Sequence[tuple[str, Body, str]], title: str) -> bytes:
    """Return pieces as a 3MF file in mm; the same pieces give the same bytes.

    Identifiers are made from names and coordinates, and the archive carries no time.

    Args:
        pieces: name, solid and material name of each, standing as assembled.
        title: the model's title.
    """
    import lib3mf

    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    model.SetUnit(lib3mf.ModelUnit.MilliMeter)
    model.GetMetaDataGroup().AddMetaData("", "Title", title, "xs:string", True)
    group = model.AddBaseMaterialGroup()
    colour = wrapper.RGBAToColor(*PRINTED_GREY)
    materials = {m: group.AddMaterial(m, colour) for m in dict.fromkeys(p[2] for p in pieces)}
    whole = hashlib.sha256(title.encode())
    for number, (name, body, material) in enumerate(pieces, 1):
        points, faces = single_arrays(body)
        content = hashlib.sha256(points.tobytes() + faces.tobytes()).hexdigest()
        own = f"{number}/{name}/{material}/{content}"
        whole.update(own.encode())
        item = _mesh_object(lib3mf, model, points, faces)
        item.SetName(name)
        item.SetObjectLevelProperty(group.GetResourceID(), materials[material])
        item.SetUUID(_identifier(f"object/{own}"))
        placed = model.AddBuildItem(item, wrapper.GetIdentityTransform())
        placed.SetUUID(_identifier(f"item/{own}"))
        placed.SetPartNumber(name)
    model.SetBuildUUID(_identifier(f"build/{whole.hexdigest()}"))
    writer = model.QueryWriter("3mf")
    writer.SetDecimalPrecision(_DECIMALS)
    return _without_times(bytes(writer.WriteToBuffer()))


def _mesh_object(lib3mf: Any, model: Any, points: Any, faces: Any) -> Any:
    positions = (lib3mf.Position * len(points))()
    triangles = (lib3mf.Triangle * len(faces))()
    for target, source in ((positions, points), (triangles, faces.astype(np.uint32))):
        plain = np.ascontiguousarray(source)
        ctypes.memmove(target, plain.ctypes.data, plain.nbytes)
    made = model.AddMeshObject()
    made.SetGeometry(positions, triangles)
    return made


def _identifier(text: str) -> str:
    return str(uuid.uuid5(_UUID_SPACE, text))


def _without_times(data: bytes) -> bytes:
    """Return the archive packed again, in its order of files, with one fixed date."""
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(packed, "w") as new:
        for entry in old.infolist():
            fixed = zipfile.ZipInfo(entry.filename, _ZIP_EPOCH)
            fixed.compress_type = zipfile.ZIP_DEFLATED
            fixed.create_system = 0
            new.writestr(fixed, old.read(entry), compresslevel=6)
    return packed.getvalue()
