"""The kind of parts whose envelope was taken from a model, and the exact mesh that goes with it."""

from __future__ import annotations

from chassis_gen.parts.kind import Kind, SizeRule, Sizes
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.primitives import Box, Hull, Primitive


def _box(s: Sizes) -> tuple[Primitive, ...]:
    x, y = s["width"] / 2, s["length"] / 2
    return (Box((-x, -y, 0.0), (x, y, s["height"])),)


def _carried(position: Vec3, old: Sizes, new: Sizes) -> Vec3:
    x, y, z = position
    return (
        x * new["width"] / old["width"],
        y * new["length"] / old["length"],
        z * new["height"] / old["height"],
    )


def carried_envelope(envelope: tuple[Primitive, ...], old: Sizes, new: Sizes) -> tuple[Primitive, ...]:
    """Return the convex pieces of an imported part stretched to other outside sizes.

    Args:
        envelope: hulls in the part's frame.
        old: the sizes that they have.
        new: the sizes that they get.
    """
    return tuple(
        Hull(tuple(_carried(p, old, new) for p in h.points)) if isinstance(h, Hull) else h for h in envelope
    )


IMPORTED = Kind(
    name="imported",
    frame="origin at the centre of the underside; x across, y along, +z up from the face that it rests on",
    rules=(
        SizeRule("width", "of the whole part, along x", 0.2, 500.0),
        SizeRule("length", "of the whole part, along y", 0.2, 500.0),
        SizeRule("height", "of the whole part, along z", 0.05, 500.0),
    ),
    envelope=_box,
    carried=_carried,
)
