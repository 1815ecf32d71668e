"""From a part's model to its envelope: a few convex pieces that are never smaller than the model.

The model is cut by planes and each cut-off component replaced by its convex hull, so that the pieces cover it
by construction; that they do is then proved with a boolean of the kernel.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import manifold3d
import numpy as np
import numpy.typing as npt
from msgspec import Struct

from chassis_gen.problems import InputError, Problem
from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.models import Model

Points = npt.NDArray[np.float64]
Faces = npt.NDArray[np.int64]

SMALLEST, LARGEST = 1.0, 500.0
"""How large a part is along its longest side, mm."""
MOST_PIECES = 16
MOST_POINTS = 96
"""Corners of one convex piece; a rounder one is taken within planes round it."""
WASTE = 0.01
"""Room that the pieces may fill beyond the model, as a share of the box round it (chosen)."""
LEFT_OUT = 1e-6
"""Volume of the model that may lie outside its envelope, as a share of its own: rounding of the kernel."""
EXACT_TRIANGLES = 20_000
"""A model with more triangles is kept as its envelope alone."""

LEAST_FACE = 0.05
"""Share of a model's surface from which on a plane face may be what the part rests on (chosen)."""

_DECIMALS = 5
_GROWN = 1e-4
_WELD = (9, 4)
_SLICES = 24
_EXACT_SPLITS = 5000
_SAMPLE = 4000
_DIRECTIONS_ROUND = 32
_PLANES_PER_AXIS = 6
_NEGLIGIBLE = 1e-9
_LEAST_SAVING = 1e-3
_BESIDE_FACE = 1e-4
"""How far beside a face it is cut, outward, mm: a cut in the very face leaves a film of the other side on it."""
_AXES = {
    "+x": (1, 0, 0),
    "-x": (-1, 0, 0),
    "+y": (0, 1, 0),
    "-y": (0, -1, 0),
    "+z": (0, 0, 1),
    "-z": (0, 0, -1),
}


class Envelope(Struct, frozen=True, eq=False):
    """A part's model and the convex pieces that cover it, in the part's own frame (mm).

    Origin at the centre of the underside; x across, y along, +z up from the face that the part rests on.

    Args:
        pieces: corners of each convex piece, n x 3.
        low: lowest corner of all pieces.
        high: highest corner.
        vertices: the model's, n x 3.
        faces: the model's, m x 3.
        volume: of the model, mm3.
        left_out: volume of the model outside its pieces, mm3.
        waste: volume of the pieces beyond the model, mm3.
        turn: the part's axes x, y, z as rows, in the model's coordinates.
        stands_on: share of the surface that the face has which decided what is up; 0 where none did.
    """

    pieces: tuple[Points, ...]
    low: Points
    high: Points
    vertices: Points
    faces: Faces
    volume: float
    left_out: float
    waste: float
    turn: Points
    stands_on: float = 0.0


def envelope_of(
    model: Model,
    unit: float,
    file: str,
    *,
    up: str | None = None,
    along: str | None = None,
    all_shells: bool = False,
) -> Envelope:
    """Return the envelope of a part's model.

    Args:
        model: as its file has it.
        unit: mm per unit of the model.
        file: the file, for messages.
        up: axis of the model that becomes the part's +z, such as ``+z``; None for away from its largest face, or as
            drawn where no face has a fair share of the surface.
        along: axis of the model that becomes the part's +y; None for its longest side across `up`.
        all_shells: take separate shells together as one part.

    Raises:
        InputError: the mesh is open, crosses itself, is in several shells, or has no size that a part has.
        GeometryError: the pieces can't be shown to cover the model.
    """
    _require_size(model.vertices * unit, file)
    points, faces = _welded(model.vertices * unit, model.faces, file)
    solid = _sound(points, faces, file, all_shells)
    points, faces = _arrays(solid)
    turn, stands_on = _turn(points, faces, up, along, file)
    points = points @ turn.T
    low, high = points.min(axis=0), points.max(axis=0)
    points = points - np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]])
    solid = _manifold(points, faces)
    rough = tuple(_hull_points(p) for p in _pieces(solid))
    for grown in (model.chord, model.chord + 10 * _GROWN, model.chord + 0.01):
        pieces = tuple(_kept(p, grown) for p in rough)
        cover = manifold3d.Manifold.batch_boolean(
            [manifold3d.Manifold.hull_points(p) for p in pieces], manifold3d.OpType.Add
        )
        left_out = float((solid - cover).volume())
        if left_out <= LEFT_OUT * solid.volume():
            every = np.concatenate(pieces)
            waste = float(cover.volume() - solid.volume())
            return Envelope(
                pieces, every.min(axis=0), every.max(axis=0), points, faces, float(solid.volume()),
                max(0.0, left_out), waste, turn, stands_on,
            )  # fmt: skip
    raise GeometryError(file, f"{left_out:.3g} mm3 of the model lie outside its convex pieces")


def model_size(model: Model, unit: float) -> tuple[float, float, float]:
    """Return a model's size along its three axes, mm.

    Args:
        model: the model.
        unit: mm per unit of the model.
    """
    used = model.vertices[np.unique(model.faces)] if len(model.faces) else model.vertices
    x, y, z = ((used.max(axis=0) - used.min(axis=0)) * unit).tolist()
    return float(x), float(y), float(z)


def plausible(size: Sequence[float]) -> bool:
    """Return whether a part may have a size: its longest side within `SMALLEST` and `LARGEST`.

    Args:
        size: along the three axes, mm.
    """
    return SMALLEST <= max(size) <= LARGEST


def _reject(code: str, message: str, file: str, value: str | None, allowed: str | None) -> InputError:
    return InputError([Problem(code, message, file, value=value, allowed=allowed)])


def _require_size(points: Points, file: str) -> None:
    size = points.max(axis=0) - points.min(axis=0)
    shown = " x ".join(f"{s:.4g}" for s in size)
    if not plausible(size.tolist()):
        allowed = f"{SMALLEST:g} to {LARGEST:g} mm along the longest side; another --units?"
        raise _reject("model-size", "no size that a part in a tube has", file, f"{shown} mm", allowed)
    if size.min() < 0.01:
        raise _reject("model-size", "the model is flat, it encloses nothing", file, f"{shown} mm", None)


def _welded(points: Points, faces: Faces, file: str) -> tuple[Points, Faces]:
    """Return the mesh with equal corners made one, coarser where that is what closes it."""
    if faces.min() < 0 or faces.max() >= len(points):
        raise _reject("model-format", "a triangle names a vertex that there is not", file, None, None)
    for digits in _WELD:
        _, first, merged = np.unique(
            points.round(digits) + 0.0, axis=0, return_index=True, return_inverse=True
        )
        welded = merged.reshape(-1)[faces]
        a, b, c = welded.T
        welded = welded[(a != b) & (b != c) & (c != a)]
        if len(_open_edges(welded)) == 0:
            break
    return points[first], welded


def _open_edges(faces: Faces) -> npt.NDArray[np.int64]:
    """Return the directed edges that no facet runs along the other way."""
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    most = int(faces.max(initial=0)) + 1
    there, back = edges[:, 0] * most + edges[:, 1], edges[:, 1] * most + edges[:, 0]
    keys, counts = np.unique(there, return_counts=True)
    back_keys, back_counts = np.unique(back, return_counts=True)
    at = np.searchsorted(back_keys, keys)
    at = np.minimum(at, len(back_keys) - 1) if len(back_keys) else at
    matched = np.where(back_keys[at] == keys, back_counts[at], 0) if len(keys) else counts
    lonely = keys[counts != matched]
    return np.stack([lonely // most, lonely % most], axis=1)


def _place(point: Points) -> str:
    return "(" + ", ".join(f"{v:.2f}" for v in point.tolist()) + ")"


def _sound(points: Points, faces: Faces, file: str, all_shells: bool) -> manifold3d.Manifold:
    """Return the mesh as a solid, its overlapping shells joined."""
    lonely = _open_edges(faces)
    if len(lonely):
        a, b = points[lonely[0]]
        message = f"the mesh isn't closed: at {len(lonely)} edges facets are missing or face the wrong way"
        value = f"the first from {_place(a)} to {_place(b)} mm"
        raise _reject("model-open", message, file, value, "a closed mesh, all its facets facing outward")
    made = _manifold(points, faces)
    if made.status() != manifold3d.Error.NoError or made.is_empty():
        message = f"the mesh encloses no solid (the kernel says {made.status().name})"
        raise _reject("model-open", message, file, None, "a closed mesh, all its facets facing outward")
    if made.volume() < 0:
        made = _manifold(points, faces[:, ::-1])
    shells = made.decompose()
    solids = [s for s in shells if s.volume() > 0]
    for shell in solids:
        _require_simple(shell, file)
    joined = manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add)
    for void in (s for s in shells if s.volume() < 0):
        _require_inside(void, joined, file)
    apart = [s for s in joined.decompose() if s.volume() > 0]
    if len(apart) > 1 and not all_shells:
        message = f"the model is in {len(apart)} shells that don't touch"
        places = ", ".join(_place(_middle(s)) for s in apart[:3])
        allowed = "one body, or --all-shells to take them together as one part"
        raise _reject("model-shells", message, file, f"round {places} mm", allowed)
    return joined


def _require_inside(void: manifold3d.Manifold, joined: manifold3d.Manifold, file: str) -> None:
    """Raise where a shell that faces inward isn't a void inside the others; a void counts as part."""
    points, faces = _arrays(void)
    outside = _manifold(points, faces[:, ::-1]) - joined
    if outside.volume() > LEFT_OUT * abs(void.volume()):
        message = "a shell of the mesh faces inward and isn't a void inside another"
        place = f"round {_place(_middle(void))} mm"
        raise _reject("model-open", message, file, place, "a closed mesh, all its facets facing outward")


def _manifold(points: Points, faces: Faces) -> manifold3d.Manifold:
    mesh = manifold3d.Mesh64(np.array(points, np.float64, order="C"), np.array(faces, np.uint64, order="C"))
    return manifold3d.Manifold(mesh)


def _arrays(solid: manifold3d.Manifold) -> tuple[Points, Faces]:
    mesh = solid.to_mesh64()
    return np.array(mesh.vert_properties[:, :3], np.float64), np.array(mesh.tri_verts, np.int64)


def _middle(solid: manifold3d.Manifold) -> Points:
    b: Points = np.array(solid.bounding_box(), np.float64)
    middle: Points = (b[:3] + b[3:]) / 2
    return middle


def _require_simple(solid: manifold3d.Manifold, file: str) -> None:
    """Raise where a shell passes through itself, seen in sections across its three axes.

    A section through a sound shell has the area that its cut facets enclose; where the shell overlaps itself
    these count twice, and where it is turned inside out they count as less than nothing.
    """
    points, faces = _arrays(solid)
    for axis in range(3):
        order = [(axis + 1) % 3, (axis + 2) % 3, axis]
        turned = points[:, order]
        low, high = turned[:, 2].min(), turned[:, 2].max()
        upright = _manifold(turned, faces)
        for i in range(_SLICES):
            # golden-ratio steps fall on no face of a drawn part
            at = low + (high - low) * ((i + 1) * 0.6180339887498949 % 1.0)
            enclosed = _enclosed(turned, faces, at)
            if abs(enclosed - upright.slice(at).area()) > 1e-6 * (1.0 + abs(enclosed)):
                place = f"{'xyz'[axis]} = {at:.2f} mm"
                raise _reject("model-crosses", "the mesh passes through itself", file, f"at {place}",
                              "a mesh whose surface doesn't cross itself")  # fmt: skip


def _enclosed(points: Points, faces: Faces, at: float) -> float:
    """Return the area that the facets enclose in the plane z = at, overlaps counted as often as they occur."""
    height = points[faces][:, :, 2] - at
    over = height > 0
    crossing = over.any(axis=1) & ~over.all(axis=1)
    corners, height, over = points[faces[crossing]], height[crossing], over[crossing]
    total = 0.0
    ends: dict[bool, Points] = {}
    for rising in (True, False):
        place = np.zeros((len(corners), 2))
        for k in range(3):
            n = (k + 1) % 3
            here = (over[:, k] != over[:, n]) & (over[:, n] == rising)
            share = height[here, k] / (height[here, k] - height[here, n])
            place[here] = corners[here, k, :2] + share[:, None] * (
                corners[here, n, :2] - corners[here, k, :2]
            )
        ends[rising] = place
    p, q = ends[False], ends[True]
    total = float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum()) / 2
    return abs(total)


def _turn(points: Points, faces: Faces, up: str | None, along: str | None, file: str) -> tuple[Points, float]:
    """Return the rotation whose rows are the part's axes in the model's coordinates, and the face's share behind it.

    On a round body one facet is as large as the next: none is what the part rests on.
    """
    share = 0.0
    z = np.array(_axis(up or "+z", file), float)
    if up is None:
        face, its_share = _largest_face(points, faces)
        if its_share >= LEAST_FACE:
            z, share = -face, its_share
    if along:
        y = np.array(_axis(along, file), float)
        if abs(float(y @ z)) > 0.5:
            raise InputError([Problem("usage", "--up and --along lie along one axis", value=f'"{along}"')])
        y = y - (y @ z) * z
    else:
        y = _longest_across(points, z)
    y = y / np.linalg.norm(y)
    return np.stack([np.cross(y, z), y, z]), share


def _axis(name: str, file: str) -> tuple[int, int, int]:
    if name not in _AXES:
        raise InputError(
            [Problem("usage", "this is no axis of the model", value=f'"{name}"', allowed=", ".join(_AXES))]
        )
    return _AXES[name]


def _largest_face(points: Points, faces: Faces) -> tuple[Points, float]:
    """Return the outward normal of the direction in which most of the plane surface faces, and its share of all."""
    a, b, c = (points[faces[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    area = np.linalg.norm(cross, axis=1)
    sound = area > _NEGLIGIBLE
    normals = cross[sound] / area[sound, None]
    keys, merged = np.unique(normals.round(3) + 0.0, axis=0, return_inverse=True)
    areas = np.bincount(merged.reshape(-1), area[sound])
    largest = int(np.argmax(areas))
    normal: Points = keys[largest]
    return _snapped(normal / np.linalg.norm(normal)), float(areas[largest] / areas.sum())


def _snapped(v: Points) -> Points:
    """Return a direction as an exact axis where it is one within rounding."""
    k = int(np.argmax(np.abs(v)))
    if abs(v[k]) < 1.0 - 1e-6:
        return v
    exact = np.zeros(3)
    exact[k] = math.copysign(1.0, v[k])
    return exact


def _longest_across(points: Points, z: Points) -> Points:
    """Return the model's axis across z along which it is longest; any direction where z is no axis."""
    flat = np.eye(3) - np.outer(z, z)
    across = [row / np.linalg.norm(row) for row in flat if np.linalg.norm(row) > 0.5]
    return max(across, key=lambda d: float(np.ptp(points @ d)))


def _pieces(solid: manifold3d.Manifold) -> list[manifold3d.Manifold]:
    """Return the solid cut into pieces that their hulls fill well."""
    b = np.array(solid.bounding_box())
    allowed = WASTE * float(np.prod(b[3:] - b[:3]))
    pieces = [s for s in solid.decompose() if s.volume() > 0]
    settled: list[manifold3d.Manifold] = []
    while pieces and len(pieces) + len(settled) < MOST_PIECES:
        if sum(_waste(p) for p in (*pieces, *settled)) <= allowed:
            break
        worst = max(pieces, key=_waste)
        pieces.remove(worst)
        halves = _best_split(worst)
        if halves is None or len(pieces) + len(settled) + len(halves) > MOST_PIECES:
            settled.append(worst)
        else:
            pieces += halves
    return [*pieces, *settled]


def _waste(solid: manifold3d.Manifold) -> float:
    return float(solid.hull().volume() - solid.volume())


def _best_split(solid: manifold3d.Manifold) -> list[manifold3d.Manifold] | None:
    """Return a piece's components on both sides of the plane that saves most.

    Where no single plane saves (a ring), the piece is halved across its longest side, so that the next may.
    """
    points, faces = _arrays(solid)
    planes = list(_planes(points, faces))
    if len(faces) <= _EXACT_SPLITS:
        splits = [_split(solid, axis, at) for axis, at in planes]
    else:
        few = points[:: max(1, len(points) // _SAMPLE)]
        splits = [_split(solid, *min(planes, key=lambda p: _guess(few, *p)))]
    best = min(splits, key=_hulls_volume)
    whole = float(solid.hull().volume())
    if len(best) > 1 and _hulls_volume(best) < (1.0 - _LEAST_SAVING) * whole:
        return best
    low, high = points.min(axis=0), points.max(axis=0)
    axis = int(np.argmax(high - low))
    halves = _split(solid, axis, float(low[axis] + high[axis]) / 2)
    return halves if len(halves) > 1 else None


def _hulls_volume(solids: Sequence[manifold3d.Manifold]) -> float:
    return sum(float(s.hull().volume()) for s in solids)


def _split(solid: manifold3d.Manifold, axis: int, at: float) -> list[manifold3d.Manifold]:
    normal = [0.0, 0.0, 0.0]
    normal[axis] = 1.0
    halves = solid.split_by_plane((normal[0], normal[1], normal[2]), at)
    return [p for half in halves for p in half.decompose() if p.volume() > _NEGLIGIBLE]


def _guess(points: Points, axis: int, at: float) -> float:
    """Return the volume of the hulls of a cloud's two sides, mm3."""
    sides = (points[points[:, axis] <= at], points[points[:, axis] >= at])
    return sum(float(manifold3d.Manifold.hull_points(s).volume()) for s in sides if len(s) >= 4)


def _planes(points: Points, faces: Faces) -> Iterator[tuple[int, float]]:
    """Yield the planes to cut by: just over the largest faces across each axis, and the quarters between."""
    a, b, c = (points[faces[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    area = np.linalg.norm(cross, axis=1)
    low, high = points.min(axis=0), points.max(axis=0)
    for axis in range(3):
        level = area - np.abs(cross[:, axis]) <= 1e-6 * area
        outward = np.sign(cross[level, axis]) * _BESIDE_FACE
        at, merged = np.unique((a[level, axis] + outward).round(_DECIMALS), return_inverse=True)
        sizes = np.bincount(merged.reshape(-1), area[level]) if len(at) else np.zeros(0)
        margin = 1e-3 * (high[axis] - low[axis])
        faces_at = [float(at[i]) for i in np.argsort(-sizes)]
        inner = [z for z in faces_at if low[axis] + margin < z < high[axis] - margin]
        quarters = [float(low[axis] + (high[axis] - low[axis]) * q) for q in (0.25, 0.5, 0.75)]
        yield from ((axis, z) for z in (*inner[:_PLANES_PER_AXIS], *quarters))


def _hull_points(solid: manifold3d.Manifold) -> Points:
    points, _ = _arrays(solid.hull())
    return points


def _kept(points: Points, grown: float) -> Points:
    """Return a convex piece's corners, grown so that rounding and the model's chord leave nothing outside."""
    if grown > 0:
        corners = np.array([(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], float)
        points = (points[:, None, :] + grown * corners[None, :, :]).reshape(-1, 3)
        points = _hull_points(manifold3d.Manifold.hull_points(points))
    if len(points) > MOST_POINTS:
        points = _within_planes(points)
    middle = points.mean(axis=0)
    rounded: Points = (middle + (points - middle) * (1.0 + _GROWN)).round(_DECIMALS)
    return np.unique(rounded, axis=0)


def _within_planes(points: Points) -> Points:
    """Return the corners of the body that planes all round enclose: never smaller than the hull of points."""
    low, high = points.min(axis=0), points.max(axis=0)
    made = manifold3d.Manifold.cube(tuple((high - low).tolist())).translate(tuple(low.tolist()))
    for direction in _directions():
        reach = float((points @ direction).max())
        x, y, z = (-direction).tolist()
        made = made.trim_by_plane((x, y, z), -reach - 1e-9)
    return _hull_points(made)


def _directions() -> Iterator[Points]:
    for axis in range(3):
        for i in range(_DIRECTIONS_ROUND):
            turn = 2 * math.pi * i / _DIRECTIONS_ROUND
            d = np.zeros(3)
            d[(axis + 1) % 3], d[(axis + 2) % 3] = math.cos(turn), math.sin(turn)
            if np.abs(d).max() < 1.0 - 1e-9:
                yield d
    for x in (-1, 1):
        for y in (-1, 1):
            for z in (-1, 1):
                yield np.array([x, y, z]) / math.sqrt(3)
