"""Do the two kernels make the same solid of a recipe? Volume, bounds and areas of sections are compared.

The bounds of the comparison come from the chord tolerance. Area-preserving polygons err by at most
0.017 x chord x surface area (measured over random recipes); 0.03 is allowed. A section across a round
wall errs as little. A section along a round wall does not: there the wall's edge shifts bodily by
up to the facets' own distance from the circle, so each round wall that the plane runs along adds that.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.shapes.body import Body, inverse
from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.facets import Points, signed_area
from chassis_gen.shapes.frame import IDENTITY, Frame, shifted
from chassis_gen.shapes.primitives import Cone, Cylinder, Pattern, Primitive, Ring, TubeSegment, Within
from chassis_gen.shapes.recipe import Recipe

if TYPE_CHECKING:
    from chassis_gen.shapes.brep import Shape
else:
    Shape = Any

VOLUME_SHARE = 0.03
SECTION_SHARE = 0.05
KERNEL_NOISE = 1e-6
# Stations of faces are multiples of 2^-14 mm; half of 2^-15 off a multiple of that keeps a section out of every face.
_OFF_FACES = 2.0**-16
_ALONG = 0.1


class Compared(Struct, frozen=True):
    """One figure of both kernels.

    Args:
        what: what is compared, with its unit.
        mesh: the mesh kernel's figure.
        exact: the exact kernel's figure.
        allowed: the difference that is allowed.
    """

    what: str
    mesh: float
    exact: float
    allowed: float

    @property
    def ok(self) -> bool:
        """Return whether the figures agree."""
        return abs(self.mesh - self.exact) <= self.allowed

    def text(self) -> str:
        """Return the figures as one line."""
        verdict = "agrees" if self.ok else "DIFFERS"
        difference = f"difference {self.mesh - self.exact:+.6f}, allowed {self.allowed:.6f}"
        return f"{self.what}: mesh {self.mesh:.6f}, exact {self.exact:.6f}, {difference}: {verdict}"


class Agreement(Struct, frozen=True):
    """What both kernels say about one recipe.

    Args:
        name: the recipe's name.
        figures: the volume, the six bounds, then each section's area.
    """

    name: str
    figures: tuple[Compared, ...]

    @property
    def ok(self) -> bool:
        """Return whether all figures agree."""
        return all(f.ok for f in self.figures)

    def rows(self) -> tuple[str, ...]:
        """Return one line of text per figure."""
        return tuple(f"{self.name}: {f.text()}" for f in self.figures)


def compare(
    recipe: Recipe, mesh_body: Body, shape: Shape, chord: float, stations: Sequence[float] = ()
) -> Agreement:
    """Compare the two solids made of one recipe.

    Bounds may differ by the chord tolerance; where a body's outermost point lies on the shallow
    crossing of two round walls, that is not a strict limit.

    Args:
        recipe: the recipe both were made of.
        mesh_body: the mesh kernel's solid.
        shape: the exact kernel's solid.
        chord: the mesh's chord tolerance, mm.
        stations: of level sections, mm; `cut_stations` gives useful ones.
    """
    from chassis_gen.shapes import brep

    volume_allowed = VOLUME_SHARE * chord * mesh_body.area + KERNEL_NOISE
    figures = [Compared("volume, mm3", mesh_body.volume, brep.volume(shape), volume_allowed)]
    figures += _bounds_figures(mesh_body, shape, chord)
    exact_areas = brep.section_areas(shape, IDENTITY, stations) if stations else ()
    for number, (z, exact) in enumerate(zip(stations, exact_areas, strict=True), 1):
        frame = shifted(z=z)
        polygons = mesh_body.section_polygons(frame)
        allowed = SECTION_SHARE * chord * sum(map(_perimeter, polygons)) + KERNEL_NOISE
        allowed += sum(_shift_along(p, frame, chord) for p in _all_round_walls(recipe))
        area = sum(map(signed_area, polygons))
        figures.append(Compared(f"section {number} at station {z:.4f}, mm2", area, exact, allowed))
    return Agreement(recipe.name, tuple(figures))


def without_patterns(recipe: Recipe) -> Recipe:
    """Return the recipe without surface work and steps that hold a pattern, which an exact kernel is slow on."""
    return replace(recipe, steps=tuple(s for s in recipe.steps if not (s.surface or _holds_pattern(s.solid))))


def cut_stations(recipe: Recipe, chord: float) -> tuple[float, ...]:
    """Return few stations, mm, of level sections through the middle half of what each cut takes from the added solids.

    They lie across the tube's axis, where the faceted tube walls keep their area and a forgotten hole
    shows. Cuts share a plane where their middle halves overlap.

    Args:
        recipe: the recipe.
        chord: chord tolerance, mm.

    Raises:
        GeometryError: when a primitive of the recipe encloses no solid.
    """
    from chassis_gen.shapes import mesh

    added = Recipe(recipe.name, tuple(s for s in recipe.steps if s.operation == "add"))
    if not added.steps:
        raise GeometryError(recipe.name, "the recipe adds nothing")
    body = mesh.make(added, chord)
    middles: list[tuple[float, float]] = []
    for step in recipe.steps:
        if step.operation == "cut":
            taken = body.common(mesh.solid(step.solid, chord))
            if not taken.is_empty:
                (_, _, low), (_, _, high) = taken.bounds
                middles.append((low + (high - low) / 4.0, high - (high - low) / 4.0))
    return tuple(round(z * 2.0**15) / 2.0**15 + _OFF_FACES for z in _shared(middles))


def _shared(ranges: Sequence[tuple[float, float]]) -> tuple[float, ...]:
    """Return as few values as there must be, rising, so that one lies in each range of lowest and highest value.

    The least highest value serves every range that has begun by then (greedy stabbing of intervals, from memory).
    """
    values: list[float] = []
    for low, high in sorted(ranges, key=lambda r: r[1]):
        if not values or low > values[-1]:
            values.append(high)
    return tuple(values)


def _bounds_figures(mesh_body: Body, shape: Shape, chord: float) -> list[Compared]:
    from chassis_gen.shapes import brep

    names = [f"{end} {axis}, mm" for end in ("lowest", "highest") for axis in "xyz"]
    ours = np.array(mesh_body.bounds).ravel().tolist()
    theirs = np.array(brep.bounds(shape)).ravel().tolist()
    return [Compared(n, m, e, chord + KERNEL_NOISE) for n, m, e in zip(names, ours, theirs, strict=True)]


def _perimeter(polygon: Points) -> float:
    return float(np.linalg.norm(polygon - np.roll(polygon, -1, axis=0), axis=1).sum())


def _holds_pattern(solid: Primitive) -> bool:
    if isinstance(solid, Within):
        return _holds_pattern(solid.a) or _holds_pattern(solid.b)
    return isinstance(solid, Pattern)


def _all_round_walls(recipe: Recipe) -> Iterator[tuple[float, float, float, Frame]]:
    """Yield the round walls of a recipe: radius, z0, z1 and frame of each."""
    for step in recipe.steps:
        yield from _round_walls(step.solid, IDENTITY)


def _round_walls(solid: Primitive, outer: Frame) -> Iterator[tuple[float, float, float, Frame]]:
    frame = outer @ solid.frame
    match solid:
        case Cylinder():
            yield solid.radius, solid.z0, solid.z1, frame
        case Cone():
            yield max(solid.r0, solid.r1), solid.z0, solid.z1, frame
        case Ring() | TubeSegment():
            yield solid.outer_radius, solid.z0, solid.z1, frame
            yield solid.inner_radius, solid.z0, solid.z1, frame
        case Within():
            yield from _round_walls(solid.a, frame)
            yield from _round_walls(solid.b, frame)
        case Pattern():
            for place in solid.frames:
                yield from _round_walls(solid.solid, frame @ place)
        case _:
            return


def _shift_along(wall: tuple[float, float, float, Frame], plane: Frame, chord: float) -> float:
    """Return the section area, mm2, that a round wall's facets may add or take where the plane runs along it.

    At height h from the axis the wall's half width is sqrt(r^2 - h^2) (circle geometry); it is taken
    for the radius and for radii a chord tolerance larger and smaller, on both sides of the axis.
    """
    radius, z0, z1, frame = wall
    local = inverse(plane) @ frame
    if radius <= 0.0 or abs(local.z_axis[2]) > _ALONG:
        return 0.0
    ends = [local.point((0.0, 0.0, z))[2] for z in (z0, z1)]
    nearest = 0.0 if ends[0] * ends[1] <= 0.0 else min(map(abs, ends))
    farthest = max(map(abs, ends))
    heights = (nearest, min(farthest, radius), farthest)
    widths = [[_half_width(radius + d, h) for d in (-chord, 0.0, chord)] for h in heights]
    return 2.0 * (z1 - z0) * max(max(at - small, large - at) for small, at, large in widths)


def _half_width(radius: float, height: float) -> float:
    return math.sqrt(max(0.0, radius * radius - height * height))
