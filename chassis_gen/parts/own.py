"""A maker's own part with the mesh that stands beside its file."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from msgspec import Struct, field

from chassis_gen.params.codes import Rejection
from chassis_gen.params.reading import Source, read_bytes, shown_name
from chassis_gen.parts.model import ExactMesh, Part
from chassis_gen.parts.partfile import PartFile
from chassis_gen.problems import InputError

MOST_MESH_BYTES = 8 * 2**20
"""Of the sidecar file, and of each array in it."""


class OwnPart(Struct, frozen=True):
    """A maker's own part, and content of the mesh file beside its part file, by its name as shown."""

    part: Part
    files: Mapping[str, bytes] = field(default_factory=dict)


def own_part(model: PartFile, name: str, source: Source, path: Path, workspace: Path) -> OwnPart:
    """Return a maker's own part.

    Args:
        model: the part file as it was read.
        name: the part's name.
        source: the part file's text, for placing problems.
        path: the part file.
        workspace: the folder that files' names are shown relative to.

    Raises:
        InputError: the mesh beside the file is missing, isn't the one that was written, or can't be read.
    """
    if model.mesh is None:
        return OwnPart(model.part(name))
    file = path.parent / model.mesh.file
    data = read_bytes(file, workspace, MOST_MESH_BYTES)
    if hashlib.sha256(data).hexdigest() != model.mesh.sha256:
        why = "the mesh isn't the one that the part file was written with"
        allowed = "write both again with `chassis-gen parts from`"
        raise InputError([source.problem(("mesh", "sha256"), Rejection("not-allowed", why, allowed))])
    try:
        exact = _read(data)
    except (ValueError, KeyError, OSError, EOFError, zipfile.BadZipFile, RuntimeError) as error:
        why = f"the mesh beside the part file can't be read ({error})"
        raise InputError([source.problem(("mesh", "file"), Rejection("model-format", why, None))]) from None
    return OwnPart(model.part(name, exact), {shown_name(file, workspace): data})


def mesh_bytes(exact: ExactMesh) -> bytes:
    """Return the sidecar file of a mesh; the same mesh gives the same bytes.

    Args:
        exact: the mesh.
    """
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data, kind in (("vertices", exact.vertices, "<f8"), ("faces", exact.faces, "<i4")):
            array = io.BytesIO()
            np.save(array, np.frombuffer(data, dtype=kind).reshape(-1, 3), allow_pickle=False)
            entry = zipfile.ZipInfo(f"{name}.npy", (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, array.getvalue(), compresslevel=6)
    return packed.getvalue()


def _read(data: bytes) -> ExactMesh:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if any(entry.file_size > MOST_MESH_BYTES for entry in archive.infolist()):
            raise ValueError("it unpacks to more than a mesh needs")
    with np.load(io.BytesIO(data), allow_pickle=False) as found:
        vertices = np.asarray(found["vertices"], dtype="<f8").reshape(-1, 3)
        faces = np.asarray(found["faces"], dtype="<i4").reshape(-1, 3)
    if not np.isfinite(vertices).all() or faces.min(initial=0) < 0 or faces.max(initial=0) >= len(vertices):
        raise ValueError("its facets and vertices don't belong together")
    return ExactMesh(vertices.tobytes(), faces.tobytes())
