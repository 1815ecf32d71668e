"""Pictures of the solids, shaded off screen: the assembly from outside and cut along its axis.

The tube's axis lies across the picture with the mouth on the left, unless the view is along it.
"""

from __future__ import annotations

import math
import os
import pickle
import subprocess
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec.structs import replace

from chassis_gen.output.scene import Colour, Item, Scene, View
from chassis_gen.shapes.frame import Vec3

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult
    from chassis_gen.plan.chassis import Route
    from chassis_gen.shapes.body import Body

PART: Colour = (0.36, 0.46, 0.56)
PART_CUT: Colour = (0.80, 0.88, 0.97)
PIECES: tuple[Colour, ...] = (
    (0.87, 0.64, 0.33),
    (0.42, 0.63, 0.55),
    (0.70, 0.48, 0.58),
    (0.55, 0.60, 0.82),
    (0.78, 0.74, 0.45),
    (0.60, 0.50, 0.42),
)
WIRES: Mapping[str, Colour] = {
    "red": (0.82, 0.16, 0.14), "black": (0.15, 0.15, 0.15), "white": (0.95, 0.95, 0.95),
    "yellow": (0.92, 0.78, 0.12), "green": (0.16, 0.58, 0.24), "blue": (0.15, 0.36, 0.80),
    "orange": (0.93, 0.52, 0.10), "brown": (0.45, 0.28, 0.14), "grey": (0.55, 0.55, 0.55),
    "violet": (0.50, 0.25, 0.65), "purple": (0.50, 0.25, 0.65), "pink": (0.93, 0.55, 0.68),
}  # fmt: skip
_OTHER_WIRE: Colour = (0.60, 0.20, 0.55)
_CUT_TINT = 0.72
_ON_PLANE = 1e-6

NEAR_VIEW: Vec3 = (-0.80, 0.52, -0.48)
FAR_VIEW: Vec3 = (0.80, 0.42, 0.48)


NO_RENDERER = (
    "no pictures can be drawn: there is no renderer that works without a screen; install one, such as the "
    "Debian packages libegl1 and libgl1-mesa-dri"
)


class OutputUnavailable(Exception):  # noqa: N818
    """An output that was asked for can't be made on this machine; the text says what is missing."""


def assembly_pictures(result: CheckResult) -> dict[str, bytes]:
    """Return PNG pictures of a build by name: from both sides, from the mouth, and two long sections.

    Args:
        result: what the checks found, with solids.

    Raises:
        OutputUnavailable: when no renderer is to be had.
    """
    if result.solids is None:
        return {}
    solids, routes = result.solids, result.plan.routes
    whole = [*_pieces(solids.pieces), *_parts(solids.parts), *map(_wire, routes)]
    scenes = {
        "view-near": Scene(whole, View(NEAR_VIEW)),
        "view-far": Scene(whole, View(FAR_VIEW)),
        "view-end": Scene(whole, View((0.0, 0.0, -1.0), size=(800, 800))),
    }
    for name, axis, view in (
        ("long-section-x0", 0, View((-1.0, 0.0, 0.0), size=(1400, 460))),
        ("long-section-y0", 1, View((0.0, 1.0, 0.0), (1.0, 0.0, 0.0), (1400, 460))),
    ):
        cut = [
            *_cut_bodies(solids.pieces, axis, _piece_colours(solids.pieces)),
            *_cut_bodies(solids.parts, axis, [PART_CUT] * len(solids.parts)),
            *(_cut_wire(_wire(r), axis) for r in routes),
        ]
        scenes[name] = Scene(cut, view)
    return dict(zip(scenes, pictures(list(scenes.values())), strict=True))


def section_picture(body: Body, parts: Iterable[Body] = (), size: tuple[int, int] = (1100, 620)) -> bytes:
    """Return a PNG picture of one section's solid with its parts as ghosts, for a reference page.

    Args:
        body: the section's solid.
        parts: envelopes of what it seats, in place.
        size: width and height, pixels.

    Raises:
        OutputUnavailable: when no renderer is to be had.
    """
    ghosts = [Item(*p.arrays(), PART, 0.35) for p in parts]
    scene = Scene([Item(*body.arrays(), PIECES[0]), *ghosts], View((-0.55, 0.75, -0.62), size=size))
    return pictures([scene])[0]


def pictures(scenes: Sequence[Scene]) -> list[bytes]:
    """Return a PNG picture of each scene, drawn in a process of its own.

    A graphics library that finds no screen ends its process at once; that must not take the build along.

    Args:
        scenes: what to show, and where from.

    Raises:
        OutputUnavailable: when no renderer is to be had.
    """
    # With no screen named, the library draws without one; a screen is the second choice.
    without = {k: v for k, v in os.environ.items() if k != "DISPLAY"}
    tries = [without, dict(os.environ)] if "DISPLAY" in os.environ else [without]
    for environment in tries:
        made = _drawn(scenes, environment)
        if isinstance(made, list):
            return made
        if made is not None:
            raise OutputUnavailable(made)
    raise OutputUnavailable(NO_RENDERER)


def _drawn(scenes: Sequence[Scene], environment: dict[str, str]) -> list[bytes] | str | None:
    """Return the pictures, or why there are none; None when the process was lost."""
    package = Path(__file__).resolve().parents[2]
    paths = [str(package), *filter(None, [environment.get("PYTHONPATH")])]
    try:
        done = subprocess.run(
            [sys.executable, "-m", "chassis_gen.output.rendering"],
            input=pickle.dumps(list(scenes)),
            capture_output=True,
            env={**environment, "PYTHONPATH": os.pathsep.join(paths)},
            check=False,
        )
    except OSError:
        return None
    if done.returncode != 0:
        return None
    made: list[bytes] | str | None = pickle.loads(done.stdout)
    return made


def _piece_colours(pieces: Mapping[str, Body]) -> list[Colour]:
    return [PIECES[i % len(PIECES)] for i in range(len(pieces))]


def _pieces(pieces: Mapping[str, Body]) -> list[Item]:
    colours = _piece_colours(pieces)
    return [Item(*body.arrays(), colour) for body, colour in zip(pieces.values(), colours, strict=True)]


def _parts(parts: Mapping[str, Body]) -> list[Item]:
    return [Item(*body.arrays(), PART, 0.45) for body in parts.values()]


def _wire(route: Route) -> Item:
    words = route.wire.colour.lower().split()
    colour = next((WIRES[w] for w in words if w in WIRES), _OTHER_WIRE)
    points, faces = _pipe(_path(route), route.wire.outer_diameter / 2)
    return Item(points, faces, colour, edges=False)


def _path(route: Route) -> Any:
    """Return the points along a wire; where it goes round the axis, one about every five degrees."""
    found: list[Vec3] = []
    for leg in route.legs:
        found += _round(leg.start, leg.end) if leg.kind == "gallery" else [leg.start, leg.end]
    path = np.array(found, dtype=np.float64).reshape(-1, 3)
    apart = np.ones(len(path), dtype=bool)
    apart[1:] = np.linalg.norm(np.diff(path, axis=0), axis=1) > _ON_PLANE
    return path[apart]


def _round(start: Vec3, end: Vec3) -> list[Vec3]:
    (r0, a0), (r1, a1) = ((math.hypot(p[0], p[1]), math.atan2(p[1], p[0])) for p in (start, end))
    turn = (a1 - a0 + math.pi) % (2 * math.pi) - math.pi
    count = max(1, math.ceil(math.degrees(abs(turn)) / 5.0))
    shares = [i / count for i in range(count + 1)]
    return [
        (
            (r0 + s * (r1 - r0)) * math.cos(a0 + s * turn),
            (r0 + s * (r1 - r0)) * math.sin(a0 + s * turn),
            start[2] + s * (end[2] - start[2]),
        )
        for s in shares
    ]


def _pipe(path: Any, radius: float, sides: int = 12) -> tuple[Any, Any]:
    """Return a pipe of straight stretches about a path: vertices and triangles."""
    starts, ends = path[:-1], path[1:]
    along = ends - starts
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    side = np.cross(along, np.eye(3)[np.abs(along).argmin(axis=1)])
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    other = np.cross(along, side)
    angles = (np.arange(sides) * (2 * math.pi / sides))[:, None]
    ring = radius * (side[:, None] * np.cos(angles) + other[:, None] * np.sin(angles))
    # Each stretch reaches half a radius past its ends, which closes most of the gap at a bend.
    low = (starts - along * radius / 2)[:, None] + ring
    high = (ends + along * radius / 2)[:, None] + ring
    points = np.concatenate([low, high], axis=1).reshape(-1, 3)
    here = np.arange(sides)
    after = (here + 1) % sides
    one = np.stack([here, after, after + sides, here, after + sides, here + sides], axis=-1).reshape(-1, 3)
    faces = (np.arange(len(starts)) * 2 * sides)[:, None, None] + one
    return points, faces.reshape(-1, 3)


def _cut_bodies(bodies: Mapping[str, Body], axis: int, colours: Sequence[Colour]) -> list[Item]:
    """Return what is left of bodies behind a plane through the tube's axis, cut faces in a deeper colour."""
    items: list[Item] = []
    for body, colour in zip(bodies.values(), colours, strict=True):
        half = _behind(body, axis)
        if half.is_empty:
            continue
        points, faces = half.arrays()
        on_cut = (np.abs(points[faces][:, :, axis]) < _ON_PLANE).all(axis=1)
        pale: Colour = (0.45 * colour[0] + 0.5, 0.45 * colour[1] + 0.5, 0.45 * colour[2] + 0.5)
        deep: Colour = (_CUT_TINT * colour[0], _CUT_TINT * colour[1], _CUT_TINT * colour[2])
        items.append(Item(points, faces[~on_cut], pale))
        if on_cut.any():
            items.append(Item(points, faces[on_cut], deep, flat=True))
    return items


def _cut_wire(wire: Item, axis: int) -> Item:
    """Return the facets of a wire that lie behind a plane through the tube's axis."""
    side = wire.points[:, axis] * (1.0 if axis == 0 else -1.0)
    return replace(wire, faces=wire.faces[(side[wire.faces] >= 0.0).all(axis=1)])


def _behind(body: Body, axis: int) -> Body:
    """Return the half of a body that a section along the tube shows: x above 0, or y below 0."""
    low, high = ([v - 1.0 for v in body.bounds[0]], [v + 1.0 for v in body.bounds[1]])
    if axis == 0:
        low[0] = 0.0
        high[0] = max(high[0], 1.0)
    else:
        high[1] = 0.0
        low[1] = min(low[1], -1.0)
    return body.cropped((low[0], low[1], low[2]), (high[0], high[1], high[2]))
