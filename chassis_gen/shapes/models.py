"""Reading model files of parts: STL, 3MF, GLB and STEP, with bounds on size, triangles and time.

What can be counted is counted before anything is unpacked or built, so that a small file can't ask for a
large amount of memory. STEP is read by the exact kernel in a process of its own (`chassis_gen.shapes.step_reading`).
"""

from __future__ import annotations

import io
import json
import re
import struct
import zipfile
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from chassis_gen.problems import InputError, Problem

MOST_BYTES = 64 * 2**20
MOST_UNPACKED_BYTES = 256 * 2**20
MOST_PACKED_FILES = 1000
MOST_RATIO = 200
MOST_TRIANGLES = 500_000
MOST_NODES = 10_000

UNITS: Mapping[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
"""Units that may be named, in mm."""

_STL_HEADER, _STL_FACET = 84, 50
_GLB_MAGIC, _GLB_JSON = 0x46546C67, 0x4E4F534A
_TRIANGLE_MODES = (4, 5, 6)
_ASCII_FACET = re.compile(rb"(?i)\bendfacet\b")
_XML_TRIANGLE = re.compile(rb"<(?:\w+:)?triangle[\s/>]")


class Model(Struct, frozen=True, eq=False):
    """A model as its file has it.

    Args:
        vertices: n x 3, in the file's own unit.
        faces: m x 3 vertex numbers.
        unit: mm per unit of the file, or None where the format doesn't say.
        chord: how far its facets may lie inside the true surface, in mm.
    """

    vertices: npt.NDArray[np.float64]
    faces: npt.NDArray[np.int64]
    unit: float | None
    chord: float = 0.0


def read_model_bytes(data: bytes, suffix: str, file: str) -> Model:
    """Return the model in a file's bytes.

    Args:
        data: the whole file, at most `MOST_BYTES`.
        suffix: the file's ending with its point, in small letters.
        file: the file as the maker knows it, for messages.

    Raises:
        InputError: the ending is unknown, the file isn't what its ending says, or it is too heavy.
    """
    readers: Mapping[str, Callable[[bytes, str], Model]] = {
        ".stl": _read_stl,
        ".3mf": _read_3mf,
        ".glb": _read_glb,
        ".step": _read_step,
        ".stp": _read_step,
    }
    if suffix not in readers:
        raise _problem(
            "model-format", "no model format by its ending", file, f'"{suffix}"', ", ".join(readers)
        )
    if len(data) > MOST_BYTES:
        raise _heavy("the file is too large", file, f"{len(data)} bytes", f"at most {MOST_BYTES} bytes")
    model = readers[suffix](data, file)
    if len(model.faces) == 0:
        raise _problem("model-format", "the file holds no triangles", file)
    if not np.isfinite(model.vertices).all():
        row = int(np.flatnonzero(~np.isfinite(model.vertices).all(axis=1))[0])
        raise _problem("model-format", f"vertex {row} has a coordinate that is no finite number", file)
    return model


def _problem(
    code: str, message: str, file: str, value: str | None = None, allowed: str | None = None
) -> InputError:
    return InputError([Problem(code, message, file, value=value, allowed=allowed)])


def _heavy(message: str, file: str, value: str, allowed: str) -> InputError:
    return _problem("model-heavy", message, file, value, allowed)


def require_triangles(count: int, file: str) -> None:
    """Raise where a model has more triangles than are taken.

    Args:
        count: its triangles.
        file: the file, for the message.

    Raises:
        InputError: code ``model-heavy``.
    """
    if count > MOST_TRIANGLES:
        raise _heavy(
            "the model has too many triangles", file, f"{count} triangles",
            f"at most {MOST_TRIANGLES}; export it more coarsely",
        )  # fmt: skip


def _broken(file: str, what: str, error: Exception) -> InputError:
    reason = " ".join(str(error).split())[:120] or type(error).__name__
    return _problem("model-format", f"this is no {what} file that can be read ({reason})", file)


def _read_stl(data: bytes, file: str) -> Model:
    count = struct.unpack_from("<I", data, 80)[0] if len(data) >= _STL_HEADER else -1
    if count >= 0 and len(data) == _STL_HEADER + _STL_FACET * count:
        require_triangles(count, file)
        rows = np.frombuffer(data, dtype=np.uint8, offset=_STL_HEADER).reshape(count, _STL_FACET)
        corners = rows[:, 12:48].copy().view("<f4").reshape(-1, 3).astype(np.float64)
        return Model(corners, np.arange(len(corners)).reshape(-1, 3), None)
    if data.lstrip()[:5].lower() != b"solid":
        if count < 0:
            raise _problem(
                "model-format", "the file is too short for an STL file", file, f"{len(data)} bytes"
            )
        wanted = _STL_HEADER + _STL_FACET * count
        message = f"its header promises {count} triangles, which would be {wanted} bytes"
        raise _problem("model-format", message, file, f"{len(data)} bytes")
    require_triangles(sum(1 for _ in _ASCII_FACET.finditer(data)), file)
    return _by_trimesh(data, "stl", "STL", None, file)


def _by_trimesh(data: bytes, kind: str, name: str, unit: float | None, file: str) -> Model:
    import trimesh

    try:
        scene = trimesh.load_scene(io.BytesIO(data), file_type=kind, process=False)
        made = scene.to_mesh()
        vertices, faces = np.array(made.vertices, np.float64), np.array(made.faces, np.int64)
    except Exception as error:
        raise _broken(file, name, error) from None
    return Model(vertices.reshape(-1, 3), faces.reshape(-1, 3), unit)


def _read_glb(data: bytes, file: str) -> Model:
    try:
        magic, version, length = struct.unpack_from("<III", data)
        size, chunk = struct.unpack_from("<II", data, 12)
        if (magic, version, chunk) != (_GLB_MAGIC, 2, _GLB_JSON) or length > len(data):
            raise ValueError("no glTF 2 binary header, or cut off")
        document = json.loads(data[20 : 20 + size])
        count = _glb_triangles(document)
    except (
        struct.error,
        ValueError,
        KeyError,
        IndexError,
        TypeError,
        AttributeError,
        RecursionError,
    ) as error:
        raise _broken(file, "GLB", error) from None
    require_triangles(count, file)
    # glTF 2.0, 3.4: "The units for all linear distances are meters."
    return _by_trimesh(data, "glb", "GLB", UNITS["m"], file)


def _glb_triangles(document: Any) -> int:
    """Return how many triangles a glTF document draws, each use of a mesh counted."""
    if document.get("extensionsRequired"):
        raise ValueError(f"it needs the extension {document['extensionsRequired'][0]}")
    nodes = document.get("nodes", [])
    children = [c for n in nodes for c in n.get("children", ())]
    if len(nodes) > MOST_NODES or len(set(children)) != len(children):
        raise ValueError("its nodes are no tree, or too many")
    counts = [c["count"] for c in document.get("accessors", [])]
    if any(not isinstance(c, int) or c < 0 for c in counts) or sum(counts) > 8 * MOST_TRIANGLES:
        raise ValueError("its accessors claim too many entries")
    meshes = [
        sum(
            counts[p["indices"]] if "indices" in p else counts[p["attributes"]["POSITION"]]
            for p in m["primitives"]
            if p.get("mode", 4) in _TRIANGLE_MODES
        )
        for m in document.get("meshes", [])
    ]
    return int(sum(meshes[n["mesh"]] for n in nodes if "mesh" in n)) // 3


def _read_3mf(data: bytes, file: str) -> Model:
    _require_modest_zip(data, file)
    import lib3mf

    try:
        wrapper = lib3mf.get_wrapper()
        model = wrapper.CreateModel()
        reader = model.QueryReader("3mf")
        reader.ReadFromBuffer(data)
        units = (0.001, 1.0, 10.0, 25.4, 304.8, 1000.0)
        unit = units[int(model.GetUnit())]
        found = _Items(file)
        items = model.GetBuildItems()
        while items.MoveNext():
            item = items.GetCurrent()
            found.add(item.GetObjectResource(), _matrix(item.GetObjectTransform()))
    except (lib3mf.ELib3MFException, RecursionError) as error:
        raise _broken(file, "3MF", error) from None
    return found.model(unit)


def _require_modest_zip(data: bytes, file: str) -> None:
    """Raise where an archive would unpack to more than is taken; what it says of itself isn't believed."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            if len(entries) > MOST_PACKED_FILES:
                raise _heavy("the archive holds too many files", file, f"{len(entries)} files",
                             f"at most {MOST_PACKED_FILES}")  # fmt: skip
            total, triangles = 0, 0
            for entry in entries:
                tail = b""
                with archive.open(entry) as stream:
                    while block := stream.read(2**20):
                        total += len(block)
                        if total > MOST_UNPACKED_BYTES or total > 2**22 + MOST_RATIO * len(data):
                            raise _heavy(
                                "the archive unpacks to far more than a model needs", file,
                                f"over {total // 2**20} MiB from {len(data)} bytes",
                                f"at most {MOST_UNPACKED_BYTES // 2**20} MiB and {MOST_RATIO} times its size",
                            )  # fmt: skip
                        triangles += len(_XML_TRIANGLE.findall(tail + block)) - len(
                            _XML_TRIANGLE.findall(tail)
                        )
                        tail = block[-20:]
            require_triangles(triangles, file)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, RuntimeError, EOFError) as error:
        raise _broken(file, "3MF", error) from None
    except (OSError, ValueError, struct.error) as error:
        raise _broken(file, "3MF", error) from None


def _matrix(transform: Any) -> npt.NDArray[np.float64]:
    """Return a 3MF transform (three rows of axes, then the shift) as a 4 x 3 matrix for row vectors."""
    return np.array([[transform.Fields[i][j] for j in range(3)] for i in range(4)], dtype=np.float64)


class _Items:
    """Collects the meshes of 3MF objects, components followed; how much that is is counted beforehand."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._vertices: list[npt.NDArray[np.float64]] = []
        self._faces: list[npt.NDArray[np.int64]] = []
        self._points = 0
        self._counts: dict[int, tuple[int, int]] = {}
        self._uses, self._triangles = 0, 0

    def add(self, thing: Any, matrix: npt.NDArray[np.float64]) -> None:
        """Add an object of the build with what it is made of."""
        triangles, uses = self._count(thing)
        self._triangles += triangles
        self._uses += uses
        require_triangles(self._triangles, self._file)
        if self._uses > MOST_NODES:
            message, allowed = "the model is put together of too many objects", f"at most {MOST_NODES}"
            raise _heavy(message, self._file, f"{self._uses} uses of objects", allowed)
        self._expand(thing, matrix)

    def _count(self, thing: Any) -> tuple[int, int]:
        """Return an object's triangles and uses of objects; each object is looked at once."""
        number = thing.GetResourceID()
        if number not in self._counts:
            if thing.IsComponentsObject():
                parts = [thing.GetComponent(i).GetObjectResource() for i in range(thing.GetComponentCount())]
                found = [self._count(p) for p in parts]
                self._counts[number] = sum(f[0] for f in found), 1 + sum(f[1] for f in found)
            else:
                self._counts[number] = thing.GetTriangleCount(), 1
        return self._counts[number]

    def _expand(self, thing: Any, matrix: npt.NDArray[np.float64]) -> None:
        if thing.IsComponentsObject():
            for i in range(thing.GetComponentCount()):
                part = thing.GetComponent(i)
                inner = _matrix(part.GetTransform()) if part.HasTransform() else _UNMOVED
                self._expand(part.GetObjectResource(), _chained(inner, matrix))
            return
        points = np.array([tuple(v.Coordinates) for v in thing.GetVertices()], np.float64).reshape(-1, 3)
        faces = np.array([tuple(t.Indices) for t in thing.GetTriangleIndices()], np.int64).reshape(-1, 3)
        self._vertices.append(points @ matrix[:3] + matrix[3])
        self._faces.append(faces + self._points)
        self._points += len(points)

    def model(self, unit: float) -> Model:
        """Return all that was added as one model."""
        vertices = np.concatenate([np.zeros((0, 3)), *self._vertices])
        faces = np.concatenate([np.zeros((0, 3), np.int64), *self._faces])
        return Model(vertices, faces, unit)


_UNMOVED = np.vstack([np.eye(3), np.zeros((1, 3))])


def _chained(inner: npt.NDArray[np.float64], outer: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return np.vstack([inner[:3] @ outer[:3], inner[3:] @ outer[:3] + outer[3]])


def _read_step(data: bytes, file: str) -> Model:
    if not data.lstrip()[:12].upper().startswith(b"ISO-10303-21"):
        message = "this is no STEP file: it doesn't begin with ISO-10303-21"
        raise _problem("model-format", message, file)
    from chassis_gen.shapes.step_reading import read_step_apart

    vertices, faces, chord = read_step_apart(data, file)
    require_triangles(len(faces), file)
    # the exact kernel converts to mm when it reads
    return Model(vertices, faces, UNITS["mm"], chord)
