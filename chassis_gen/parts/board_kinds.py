"""Kinds built on a flat rectangular board: the plain board and the small board with a tactile switch.

The frames are stated in each `Kind` below and listed in `chassis_gen.parts.kinds`.
"""

from __future__ import annotations

import math

from chassis_gen.parts.kind import (
    DOWN,
    WIRE,
    Kind,
    Limit,
    SizeRule,
    Sizes,
    Terminals,
    ordered,
)
from chassis_gen.parts.model import Keepout, Terminal
from chassis_gen.parts.round_kinds import bar
from chassis_gen.shapes.frame import Vec3, shifted
from chassis_gen.shapes.primitives import Box, Outline, Pattern, Primitive, Prism

_HOLE_FACETS = 32


def _hole(x: float, y: float, radius: float) -> Outline:
    """Return an inscribed polygon, so that the plate still encloses the real board round the hole."""
    turns = (2 * math.pi * i / _HOLE_FACETS for i in range(_HOLE_FACETS))
    return tuple((x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns)


def _plate(s: Sizes) -> Primitive:
    x, y = s["width"] / 2, s["length"] / 2
    if "hole_diameter" not in s:
        return Box((-x, -y, 0.0), (x, y, s["thickness"]))
    places = [(i * s["hole_pitch_x"] / 2, j * s["hole_pitch_y"] / 2) for i in (-1, 1) for j in (-1, 1)]
    holes = tuple(_hole(px, py, s["hole_diameter"] / 2) for px, py in places)
    return Prism(((-x, -y), (x, -y), (x, y), (-x, y)), 0.0, s["thickness"], holes)


def _inset_box(s: Sizes, margin: float, z0: float, z1: float) -> Box:
    x, y = s["width"] / 2 - margin, s["length"] / 2 - margin
    return Box((-x, -y, z0), (x, y, z1))


def _board_envelope(s: Sizes) -> tuple[Primitive, ...]:
    middle, top = s["thickness"] / 2, s["thickness"]
    solids: list[Primitive] = [_plate(s)]
    if s["height_above"] > 0:
        solids.append(_inset_box(s, s["margin_above"], middle, top + s["height_above"]))
    if s["height_below"] > 0:
        solids.append(_inset_box(s, s["margin_below"], -s["height_below"], middle))
    return tuple(solids)


def _pin_bars(s: Sizes, terminals: Terminals, z1: float) -> Pattern:
    frames = tuple(shifted(t.position[0], t.position[1]) for t in terminals)
    return Pattern(bar(s["pin_diameter"], -s["pin_length"], z1), frames)


def _pins(s: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    if "pin_length" not in s or not terminals:
        return ()
    return (Keepout("pins", _pin_bars(s, terminals, 0.0), "pins and solder joints stand out below"),)


def _card_slot(s: Sizes) -> tuple[Keepout, ...]:
    if "card_slot_width" not in s:
        return ()
    x, y, z = s["card_slot_width"] / 2, s["length"] / 2, s["thickness"]
    room = Box((-x, y, z), (x, y + s["card_travel"], z + s["card_slot_height"]))
    return (Keepout("card slot", room, "the card is pulled out of the +y end through here"),)


def _antenna(s: Sizes) -> tuple[Keepout, ...]:
    if "antenna_room" not in s:
        return ()
    x, y = s["width"] / 2, s["length"] / 2
    room = Box((-x, y, 0.0), (x, y + s["antenna_room"], s["thickness"] + s["height_above"]))
    return (Keepout("antenna", room, "material, metal above all, close to the antenna weakens the radio"),)


def _board_keepouts(s: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    return (*_card_slot(s), *_antenna(s), *_pins(s, terminals))


def _hole_limits(s: Sizes) -> tuple[Limit, ...]:
    if "hole_diameter" not in s:
        return ()
    edge = s["hole_diameter"] + 0.2
    apart = min(s["hole_pitch_x"], s["hole_pitch_y"]) - 0.2
    return (
        Limit("hole_pitch_x", s["width"] - edge, "the holes lie inside the board's width"),
        Limit("hole_pitch_y", s["length"] - edge, "the holes lie inside the board's length"),
        Limit("hole_diameter", apart, "the holes keep 0.2 mm apart"),
    )


def _board_limits(s: Sizes) -> tuple[Limit, ...]:
    inside = min(s["width"], s["length"]) / 2 - 0.1
    return (
        Limit("margin_above", inside, "half the board's smaller side"),
        Limit("margin_below", inside, "half the board's smaller side"),
        *ordered(s, ("card_slot_width", "width")),
        *_hole_limits(s),
    )


def _carried_on_board(position: Vec3, old: Sizes, new: Sizes) -> Vec3:
    """Return a pad's place on a board of other sizes: in proportion across and along, on the same face."""
    x, y, z = position
    top = new["thickness"] if z >= old["thickness"] else z
    return x * new["width"] / old["width"], y * new["length"] / old["length"], top


BOARD_SIZES = (
    SizeRule("width", "across the tube, along x", 3.0, 100.0),
    SizeRule("length", "along the tube, along y", 3.0, 300.0),
    SizeRule("thickness", "of the bare board", 0.3, 5.0),
    SizeRule("height_above", "tallest component over the board's top", 0.0, 60.0),
    SizeRule("height_below", "what stands out below the board", 0.0, 40.0),
    SizeRule("margin_above", "board's edge to the components on top", 0.0, 50.0, default=1.0),
    SizeRule("margin_below", "board's edge to what stands out below", 0.0, 50.0, default=1.5),
    SizeRule("pin_diameter", "of a pin with its solder joint", 0.3, 5.0, default=1.8),
)

BOARD = Kind(
    name="board",
    frame="origin at the centre of the board's underside; x across, y along the tube, +z the component side",
    rules=(
        *BOARD_SIZES,
        SizeRule("pin_length", "how far pins and joints stand out below", 0.1, 30.0, optional=True),
        SizeRule("hole_diameter", "of the four fixing holes", 0.5, 10.0, optional=True),
        SizeRule("hole_pitch_x", "between the fixing holes' centres across", 1.0, 100.0, optional=True),
        SizeRule("hole_pitch_y", "between the fixing holes' centres along", 1.0, 300.0, optional=True),
        SizeRule("card_slot_width", "of the card slot at the +y end", 2.0, 60.0, optional=True),
        SizeRule("card_slot_height", "of the card slot over the board's top", 0.5, 10.0, optional=True),
        SizeRule("card_travel", "how far a card is pulled out past the edge", 1.0, 60.0, optional=True),
        SizeRule("antenna_room", "room past the +y edge for the antenna", 0.5, 30.0, optional=True),
    ),
    envelope=_board_envelope,
    keepouts=_board_keepouts,
    limits=_board_limits,
    together=(
        ("hole_diameter", "hole_pitch_x", "hole_pitch_y"),
        ("card_slot_width", "card_slot_height", "card_travel"),
    ),
    carried=_carried_on_board,
    cautions=("soldering",),
)


def _tactile_terminals(s: Sizes) -> Terminals:
    x, y, wire = s["pin_spacing"] / 2, s["pin_inset"] - s["length"] / 2, s["largest_wire_diameter"]
    z = -s["pin_length"]
    return (Terminal("a", (x, y, z), DOWN, wire), Terminal("b", (-x, y, z), DOWN, wire))


def _actuator_top(s: Sizes) -> float:
    return s["thickness"] + s["actuator_height"]


def _tactile_envelope(s: Sizes) -> tuple[Primitive, ...]:
    middle = s["thickness"] / 2
    actuator = bar(s["actuator_diameter"], middle, _actuator_top(s))
    return (*_board_envelope(s), actuator, _pin_bars(s, _tactile_terminals(s), middle))


def _tactile_keepouts(s: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    top = _actuator_top(s)
    travel = bar(s["actuator_diameter"], top - s["travel"], top)
    return (
        Keepout("actuator travel", travel, "what presses the actuator comes down through here"),
        *_pins(s, terminals),
    )


def _tactile_limits(s: Sizes) -> tuple[Limit, ...]:
    return (
        *_board_limits(s),
        *ordered(s, ("height_above", "actuator_height"), ("travel", "actuator_height")),
        Limit("actuator_diameter", min(s["width"], s["length"]), "the board's smaller side"),
        Limit("pin_spacing", s["width"] - s["pin_diameter"], "width less pin_diameter"),
        Limit("pin_diameter", s["pin_spacing"] - 0.2, "the pins keep 0.2 mm apart"),
        Limit("pin_inset", s["length"] / 2, "half the board's length"),
    )


TACTILE_BOARD = Kind(
    name="tactile_board",
    frame="like a board; the actuator stands on the z axis, the pins go down near the -y edge",
    rules=(
        *BOARD_SIZES,
        SizeRule("actuator_diameter", "of the switch's actuator", 0.8, 30.0),
        SizeRule("actuator_height", "board's top to the free actuator's top", 0.5, 40.0),
        SizeRule("travel", "how far the actuator is pressed", 0.1, 10.0),
        SizeRule("pin_length", "how far the pins stand out below", 0.1, 30.0),
        SizeRule("pin_spacing", "between the two pins' centres", 1.0, 60.0, default=5.0),
        SizeRule("pin_inset", "the -y edge to the pins' centres", 0.5, 60.0, default=2.0),
        WIRE,
    ),
    envelope=_tactile_envelope,
    terminals=_tactile_terminals,
    keepouts=_tactile_keepouts,
    limits=_tactile_limits,
    cautions=("soldering",),
)
