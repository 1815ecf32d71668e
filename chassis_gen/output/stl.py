"""Binary STL: what is printed, written from a faceted solid and read back to see that it is still closed."""

from __future__ import annotations

import math
import struct
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from chassis_gen.checks.places import middle, place, words
from chassis_gen.findings import Finding, worst_first
from chassis_gen.shapes.frame import Vec3

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult
    from chassis_gen.shapes.body import Body

HEADER_BYTES = 80
_MESH_OPEN = "written-mesh-open"
_FACET = np.dtype(
    [("normal", "<f4", (3,)), ("corners", "<f4", (3, 3)), ("attribute", "<u2")],
)
# Half the spacing of float32 figures, relative to their size (IEEE 754 binary32: 24 significant bits).
_FLOAT32_HALF_STEP = 2.0**-24

Corners = npt.NDArray[np.float32]
Faces = npt.NDArray[np.int64]


def single_arrays(body: Body) -> tuple[Corners, Faces]:
    """Return a body's different float32 vertices and its facets in an order that depends on the shape alone.

    Vertices that are one in float32 are one here, as a slicer makes them. Facets that have lost a corner by that
    are dropped, and so are two that lie back to back on the same corners: a union along facets that coincide
    leaves such folds of no thickness, and their edges would be used four times. Collinear facets stay, since
    dropping those would open the mesh.

    Args:
        body: the solid.

    Returns:
        The vertices, n x 3 in mm, sorted; the facets, m x 3 vertex numbers, outward counter-clockwise,
        sorted, each beginning with its least vertex.
    """
    points, faces = body.arrays()
    # Adding 0 turns -0 into 0, which are equal but not of the same bytes.
    single, key = _different(points.astype(np.float32) + np.float32(0.0))
    facets = key[faces.astype(np.int64)].reshape(-1, 3)
    a, b, c = facets.T
    facets = facets[(a != b) & (b != c) & (c != a)]
    first = facets.argmin(axis=1)[:, None]
    turned = np.take_along_axis(facets, (first + np.arange(3)) % 3, axis=1)
    return single, _unfolded(turned[np.lexsort(turned.T[::-1])], len(single))


def stl_bytes(body: Body, name: str) -> bytes:
    """Return a body as a binary STL file, in mm.

    Args:
        body: the solid.
        name: the piece's name, for the header; the part that fits is kept, in ASCII.
    """
    points, faces = single_arrays(body)
    corners = points[faces]
    facets = np.zeros(len(faces), dtype=_FACET)
    facets["corners"] = corners
    facets["normal"] = _normals(corners)
    title = f"chassis-gen, mm: {name}".encode("ascii", "replace")[:HEADER_BYTES]
    return title.ljust(HEADER_BYTES, b" ") + struct.pack("<I", len(faces)) + facets.tobytes()


def stl_corners(data: bytes) -> Corners:
    """Return the corners of a binary STL's facets, m x 3 x 3 in mm.

    Args:
        data: the file.
    """
    return np.array(np.frombuffer(data, dtype=_FACET, offset=HEADER_BYTES + 4)["corners"])


def check_written(data: bytes, body: Body, name: str = "mesh") -> tuple[Finding, ...]:
    """Return an error when a written STL isn't the closed solid that it was made of.

    Its facets are welded by exact float32 value, as a slicer does. Every edge must then be used twice,
    once each way; and the volume must be the body's, within what rounding each coordinate to
    float32 can change: the surface area times the largest shift of a corner.

    Args:
        data: the STL file.
        body: the solid that it was made of.
        name: the piece's name.
    """
    corners = stl_corners(data)
    open_at = _open_edge(corners)
    if open_at is not None:
        count, at = open_at
        message = (
            f"{name}: read back from its STL, {count} edge{'s are' if count > 1 else ' is'} not shared by "
            f"exactly two facets, at {words(at)}; two features meet in just an edge there"
        )
        numbers = {"edges": float(count), **place(at)}
        return (Finding("error", _MESH_OPEN, name, message, numbers),)
    written, allowed = _volume(corners), _float32_bound(corners, body)
    if abs(written - body.volume) <= allowed:
        return ()
    at = middle(body.bounds)
    message = (
        f"{name}: read back from its STL it holds {written:.3f} mm3, not the {body.volume:.3f} mm3 before"
    )
    numbers = {"written_mm3": written, "made_mm3": body.volume, "allowed_mm3": allowed, **place(at)}
    return (Finding("error", _MESH_OPEN, name, message, numbers),)


def with_written_meshes(result: CheckResult) -> tuple[CheckResult, Mapping[str, bytes]]:
    """Return a result with what reading its STL files back adds to the findings, and those files by piece.

    Args:
        result: what the checks found.
    """
    bodies = result.solids.pieces if result.solids else {}
    meshes = {name: stl_bytes(body, name) for name, body in bodies.items()}
    found = [f for name, data in meshes.items() for f in check_written(data, bodies[name], name)]
    return replace(result, findings=worst_first([*result.findings, *found])), meshes


def closed_meshes(result: CheckResult) -> Mapping[str, bool]:
    """Return by piece whether its STL reads back closed.

    Args:
        result: as `with_written_meshes` returned it.
    """
    opened = {f.where for f in result.findings if f.code == _MESH_OPEN}
    return {name: name not in opened for name in (result.solids.pieces if result.solids else {})}


def _different(points: Corners) -> tuple[Corners, npt.NDArray[np.int64]]:
    """Return the different points, sorted, and for each point given the number of its equal among them."""
    order = np.lexsort(points.T[::-1])
    ranked = points[order]
    first = np.ones(len(points), dtype=np.bool_)
    first[1:] = (ranked[1:] != ranked[:-1]).any(axis=1)
    key = np.empty(len(points), dtype=np.int64)
    key[order] = np.cumsum(first) - 1
    return ranked[first], key


def _unfolded(facets: Faces, count: int) -> Faces:
    """Return facets, each beginning with its least vertex of so many, without those on one another's corners."""
    least, b, c = facets.T
    corners = (least * count + np.minimum(b, c)) * count + np.maximum(b, c)
    _, place, times = np.unique(corners, return_inverse=True, return_counts=True)
    return np.asarray(facets[times[place] == 1])


def _normals(corners: Corners) -> Corners:
    """Return unit normals, zero where a facet has no area."""
    a, b, c = (corners[:, k].astype(np.float64) for k in range(3))
    across = np.cross(b - a, c - a)
    length = np.linalg.norm(across, axis=1, keepdims=True)
    normals = np.divide(across, length, out=np.zeros_like(across), where=length > 0)
    return np.asarray(normals.astype(np.float32) + np.float32(0.0))


def _open_edge(corners: Corners) -> tuple[int, Vec3] | None:
    """Return how many edges are not used once each way, and the middle of the first, or None."""
    if len(corners) == 0:
        return None
    points, faces = _welded(corners)
    ends = np.concatenate([faces[:, (0, 1)], faces[:, (1, 2)], faces[:, (2, 0)]])
    count = len(points)
    forward, back = (np.sort(a * count + b) for a, b in (ends.T, ends[:, ::-1].T))
    if np.array_equal(forward, back) and (forward[1:] > forward[:-1]).all():
        return None
    used = np.unique(np.concatenate([forward, back]))
    uses = [np.searchsorted(e, used, "right") - np.searchsorted(e, used, "left") for e in (forward, back)]
    wrong = used[(uses[0] != 1) | (uses[1] != 1)]
    low, high = divmod(int(wrong[0]), count)
    x, y, z = (points[low].astype(float) + points[high].astype(float)) / 2
    return len({frozenset(divmod(int(w), count)) for w in wrong}), (float(x), float(y), float(z))


def _welded(corners: Corners) -> tuple[Corners, Faces]:
    """Return the different corners, n x 3, and the facets as their numbers; only equal figures are one."""
    points, key = _different(corners.reshape(-1, 3))
    return points, key.reshape(-1, 3)


def _volume(corners: Corners) -> float:
    """Return the volume that facets enclose, mm3: tetrahedra from the middle of their bounds."""
    if len(corners) == 0:
        return 0.0
    points = corners.astype(np.float64)
    flat = points.reshape(-1, 3)
    a, b, c = ((points - (flat.min(axis=0) + flat.max(axis=0)) / 2)[:, k] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


def _float32_bound(corners: Corners, body: Body) -> float:
    largest = float(np.abs(corners).max(initial=0.0))
    shift = math.sqrt(3.0) * largest * _FLOAT32_HALF_STEP
    # The second order of the shift and the kernel's own rounding are far below a hundredth of the first.
    return 1.01 * shift * body.area + 1e-9 * max(1.0, body.volume)
