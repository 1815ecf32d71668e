"""Kinds that are looked at or plugged into: bodies that glow, a screen on a board, a connector on a board.

The frames are stated in each `Kind` below and listed in `chassis_gen.parts.kinds`.
"""

from __future__ import annotations

import math

from chassis_gen.parts.board_kinds import BOARD, BOARD_SIZES
from chassis_gen.parts.kind import UP, WIRE, Kind, Limit, SizeRule, Sizes, Terminals, ordered
from chassis_gen.parts.model import Keepout, Terminal
from chassis_gen.parts.round_kinds import bar
from chassis_gen.shapes.primitives import Box, Outline, Primitive, Prism, Ring

# bodies that glow ------------------------------------------------------------------------------------


def _rod_envelope(s: Sizes) -> tuple[Primitive, ...]:
    if s["bore_diameter"] == 0:
        return (bar(s["diameter"], 0.0, s["length"]),)
    return (Ring(s["bore_diameter"] / 2, s["diameter"] / 2, 0.0, s["length"]),)


GLOW_ROD = Kind(
    name="glow_rod",
    frame="z=0 is the near end face, +z runs along the axis to the far end face",
    rules=(
        SizeRule("diameter", "outside diameter", 2.0, 100.0),
        SizeRule("length", "end face to end face", 5.0, 300.0),
        SizeRule("bore_diameter", "bore of a tube; 0 for a solid rod", 0.0, 98.0, default=0.0),
    ),
    envelope=_rod_envelope,
    limits=lambda s: (Limit("bore_diameter", s["diameter"] - 0.8, "diameter less two walls of 0.4 mm"),),
)


def _corners(s: Sizes) -> Outline:
    r, n = s["corner_diameter"] / 2, round(s["sides"])
    turns = (2 * math.pi * k / n for k in range(n))
    return tuple((r * math.cos(t), r * math.sin(t)) for t in turns)


GLOW_PRISM = Kind(
    name="glow_prism",
    frame="z=0 is the near end face, +z runs along the axis; the first corner lies toward +x",
    rules=(
        SizeRule("corner_diameter", "circle through the corners", 2.0, 100.0),
        SizeRule("length", "end face to end face", 5.0, 300.0),
        SizeRule("sides", "flat sides, all alike", 3, 16, unit="count", default=6),
    ),
    envelope=lambda s: (Prism(_corners(s), 0.0, s["length"]),),
)


# a screen on a board ---------------------------------------------------------------------------------


def _view_limits(s: Sizes) -> tuple[Limit, ...]:
    return (
        *BOARD.limits(s),
        *ordered(s, ("view_width", "width")),
        Limit("view_length", s["length"] - s["view_inset"], "length less view_inset"),
    )


DISPLAY_BOARD = Kind(
    name="display_board",
    frame="like a board; +z is where the picture is seen; pins and joints lie toward the -y edge",
    rules=(
        *BOARD_SIZES,
        SizeRule("pin_length", "how far pins and joints stand out below", 0.1, 30.0, optional=True),
        SizeRule("view_width", "of the picture, across the board's middle", 1.0, 100.0),
        SizeRule("view_length", "of the picture, along the board", 1.0, 300.0),
        SizeRule("view_inset", "the -y edge to the picture's nearest edge", 0.0, 300.0),
    ),
    envelope=BOARD.envelope,
    keepouts=BOARD.keepouts,
    limits=_view_limits,
    carried=BOARD.carried,
    cautions=("soldering",),
)


# a connector on a board ------------------------------------------------------------------------------


def _port_envelope(s: Sizes) -> tuple[Primitive, ...]:
    x, y, top = s["connector_width"] / 2, s["length"] / 2, s["thickness"]
    low, high = y - s["connector_depth"], y + s["connector_overhang"]
    shell = Box((-x, low, top / 2), (x, high, top + s["connector_height"]))
    return (*BOARD.envelope(s), shell)


def _port_terminals(s: Sizes) -> Terminals:
    x, y, z, wire = s["pad_spacing"] / 2, -s["length"] / 2 + s["pad_inset"], s["thickness"], WIRE.name
    return (
        Terminal("plus", (x, y, z), UP, s[wire]),
        Terminal("minus", (-x, y, z), UP, s[wire]),
    )


def _port_keepouts(s: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    x, y = s["plug_width"] / 2, s["length"] / 2 + s["connector_overhang"]
    z = s["thickness"] + s["connector_height"] / 2
    room = Box((-x, y, z - s["plug_height"] / 2), (x, y + s["plug_length"], z + s["plug_height"] / 2))
    return (Keepout("plug", room, "the plug's grip stands here while it is in"),)


PORT_BOARD = Kind(
    name="port_board",
    frame="like a board; the connector's mouth opens past the +y edge, wires are joined near the -y edge",
    rules=(
        *BOARD_SIZES,
        SizeRule("connector_width", "of the connector's shell", 2.0, 60.0),
        SizeRule("connector_height", "of the shell over the board's top", 1.0, 30.0),
        SizeRule("connector_depth", "how far the shell reaches in from the +y edge", 1.0, 100.0),
        SizeRule("connector_overhang", "how far the shell stands out past the +y edge", 0.1, 10.0),
        SizeRule("plug_width", "of the plug's grip", 2.0, 60.0, default=12.0),
        SizeRule("plug_height", "of the plug's grip", 2.0, 60.0, default=7.0),
        SizeRule("plug_length", "of the plug's grip outside the mouth", 2.0, 120.0, default=35.0),
        SizeRule("pad_spacing", "between the two pads' centres", 1.0, 60.0, default=5.0),
        SizeRule("pad_inset", "the -y edge to the pads' centres", 0.5, 60.0, default=1.5),
        WIRE,
    ),
    envelope=_port_envelope,
    terminals=_port_terminals,
    keepouts=_port_keepouts,
    limits=lambda s: (
        *BOARD.limits(s),
        *ordered(s, ("connector_width", "width"), ("connector_depth", "length")),
        Limit("pad_spacing", s["width"] - 1.0, "width less 1 mm"),
        Limit("pad_inset", s["length"] / 2, "half the board's length"),
    ),
    cautions=("charging", "soldering"),
)
