"""What a picture shows and where it is taken from, as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from msgspec import Struct

from chassis_gen.shapes.frame import Vec3

Colour = tuple[float, float, float]
UP: Vec3 = (0.0, 1.0, 0.0)


class Item(Struct, frozen=True):
    """One thing in a picture.

    Args:
        points: vertices, n x 3, mm.
        faces: triangles, m x 3 vertex numbers.
        colour: red, green, blue, 0 to 1.
        opacity: 1 for solid.
        edges: whether its creases are drawn.
        flat: whether it is shown in its plain colour, without light and shade.
    """

    points: Any
    faces: Any
    colour: Colour
    opacity: float = 1.0
    edges: bool = True
    flat: bool = False


class View(Struct, frozen=True):
    """Where a picture is taken from.

    Args:
        toward_eye: direction from the middle of things to the eye.
        up: direction that points up in the picture.
        size: width and height, pixels.
    """

    toward_eye: Vec3
    up: Vec3 = UP
    size: tuple[int, int] = (1400, 640)


class Scene(Struct, frozen=True):
    """One picture: what it shows, and where from."""

    items: Sequence[Item]
    view: View
