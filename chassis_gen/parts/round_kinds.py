"""Kinds whose parts are round about their z axis: cells, packs, speakers, contact boards, LEDs.

The frames are stated in each `Kind` below and listed in `chassis_gen.parts.kinds`.
"""

from __future__ import annotations

import math

from chassis_gen.parts.kind import (
    DOWN,
    UP,
    WIRE,
    Kind,
    Limit,
    SizeRule,
    Sizes,
    Terminals,
    ordered,
)
from chassis_gen.parts.model import Keepout, Terminal
from chassis_gen.shapes.frame import shifted, unit
from chassis_gen.shapes.primitives import Cylinder, Pattern, Primitive


def bar(diameter: float, z0: float, z1: float) -> Cylinder:
    """Return a round bar about the z axis, mm."""
    return Cylinder(diameter / 2, z0, z1)


# cell ------------------------------------------------------------------------------------------------


def _cell_envelope(s: Sizes) -> tuple[Primitive, ...]:
    return (bar(s["diameter"], 0.0, s["length"]),)


def _cell_terminals(s: Sizes) -> Terminals:
    wire = s["largest_wire_diameter"]
    return (
        Terminal("plus", (0.0, 0.0, s["length"]), UP, wire, must_connect=True),
        Terminal("minus", (0.0, 0.0, 0.0), DOWN, wire, must_connect=True),
    )


_CELL_SIZES = (
    SizeRule("diameter", "outside diameter, sleeve included", 3.0, 60.0),
    SizeRule("length", "end face to end face, positive button included", 5.0, 200.0),
    WIRE,
)

CELL = Kind(
    name="cell",
    frame="z=0 is the negative end face, +z runs along the axis to the positive end at z=length",
    rules=_CELL_SIZES,
    envelope=_cell_envelope,
    terminals=_cell_terminals,
    cautions=("lithium_cell", "charging"),
)


# wired pack ------------------------------------------------------------------------------------------


def _pack_terminals(s: Sizes) -> Terminals:
    x, z, wire = s["lead_spacing"] / 2, s["length"], s["largest_wire_diameter"]
    return (
        Terminal("plus", (x, 0.0, z), UP, wire, must_connect=True),
        Terminal("minus", (-x, 0.0, z), UP, wire, must_connect=True),
    )


def _pack_keepouts(s: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    room = bar(s["diameter"], s["length"], s["length"] + s["lead_exit_length"])
    return (Keepout("lead exit", room, "the leads leave and bend here without being pinched"),)


PACK = Kind(
    name="wired_pack",
    frame="z=0 is the closed end, +z runs along the axis to the end where both leads leave, at z=length",
    rules=(
        SizeRule("diameter", "outside diameter, sleeve included", 3.0, 80.0),
        SizeRule("length", "over the sleeve, tabs included", 5.0, 400.0),
        SizeRule("lead_exit_length", "room beyond the end in which the leads bend", 1.0, 30.0, default=6.0),
        SizeRule("lead_spacing", "between the two leads' centres", 0.0, 60.0, default=4.0),
        WIRE,
    ),
    envelope=_cell_envelope,
    terminals=_pack_terminals,
    keepouts=_pack_keepouts,
    limits=lambda s: ordered(s, ("lead_spacing", "diameter")),
    cautions=("lithium_cell", "charging", "soldering"),
)


# speaker ---------------------------------------------------------------------------------------------


def _speaker_envelope(s: Sizes) -> tuple[Primitive, ...]:
    return (
        bar(s["rim_diameter"], 0.0, s["rim_thickness"]),
        bar(s["basket_diameter"], s["rim_thickness"] / 2, s["basket_depth"]),
        bar(s["magnet_diameter"], s["basket_depth"] / 2, s["depth"]),
    )


def _speaker_terminals(s: Sizes) -> Terminals:
    x, wire = s["terminal_spacing"] / 2, s["largest_wire_diameter"]
    y = -(s["magnet_diameter"] + s["basket_diameter"]) / 4
    return (
        Terminal("plus", (x, y, s["basket_depth"]), UP, wire),
        Terminal("minus", (-x, y, s["basket_depth"]), UP, wire),
    )


def _speaker_keepouts(s: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    if "cone_diameter" not in s:
        return ()
    room = bar(s["cone_diameter"], -s["cone_travel"], 0.0)
    return (Keepout("cone travel", room, "the cone and its surround move out through here"),)


def _terminal_limit(s: Sizes) -> tuple[Limit, ...]:
    """Return the chord of the basket halfway out to its rim, where the terminals stand."""
    middle, outer = (s["magnet_diameter"] + s["basket_diameter"]) / 4, s["basket_diameter"] / 2
    if middle > outer:
        return ()
    chord = 2 * math.sqrt(outer**2 - middle**2)
    return (Limit("terminal_spacing", chord, "the basket's back beside the magnet"),)


def _speaker_limits(s: Sizes) -> tuple[Limit, ...]:
    return (
        *ordered(
            s,
            ("basket_diameter", "rim_diameter"),
            ("magnet_diameter", "basket_diameter"),
            ("cone_diameter", "rim_diameter"),
            ("rim_thickness", "basket_depth"),
            ("basket_depth", "depth"),
        ),
        *_terminal_limit(s),
    )


SPEAKER = Kind(
    name="speaker",
    frame="z=0 is the rim's front plane, +z runs to the back (the magnet); the terminals lie toward -y",
    rules=(
        SizeRule("rim_diameter", "outside diameter of the rim", 8.0, 120.0),
        SizeRule("rim_thickness", "front plane to the rim's back", 0.3, 10.0),
        SizeRule("basket_diameter", "outside diameter of the basket behind the rim", 5.0, 120.0),
        SizeRule("basket_depth", "front plane to the basket's back", 0.5, 60.0),
        SizeRule("magnet_diameter", "outside diameter of the magnet", 3.0, 110.0),
        SizeRule("depth", "front plane to the magnet's back, the whole depth", 1.0, 80.0),
        SizeRule("cone_diameter", "cone with its surround, what moves", 5.0, 120.0, optional=True),
        SizeRule("cone_travel", "how far the cone comes out past the front plane", 0.1, 10.0, optional=True),
        SizeRule("terminal_spacing", "between the two terminals' centres", 0.5, 60.0, default=6.0),
        WIRE,
    ),
    envelope=_speaker_envelope,
    terminals=_speaker_terminals,
    keepouts=_speaker_keepouts,
    limits=_speaker_limits,
    together=(("cone_diameter", "cone_travel"),),
    cautions=("soldering",),
)


# contact board ---------------------------------------------------------------------------------------


def _pin_places(s: Sizes) -> tuple[tuple[float, float], ...]:
    count, radius = round(s["pin_count"]), s["pin_circle_diameter"] / 2
    turns = (unit(360.0 * i / count) for i in range(count))
    return tuple((radius * c, radius * d) for c, d in turns)


def _contact_envelope(s: Sizes) -> tuple[Primitive, ...]:
    pin = bar(s["pin_diameter"], s["thickness"] / 2, s["thickness"] + s["pin_height"])
    frames = tuple(shifted(x, y) for x, y in _pin_places(s))
    return (bar(s["diameter"], 0.0, s["thickness"]), Pattern(pin, frames))


def _pin_name(index: int) -> str:
    names = ("plus", "minus", "data")
    return names[index] if index < len(names) else f"data {index - 1}"


def _contact_terminals(s: Sizes) -> Terminals:
    wire = s["largest_wire_diameter"]
    return tuple(Terminal(_pin_name(i), (x, y, 0.0), DOWN, wire) for i, (x, y) in enumerate(_pin_places(s)))


def _contact_keepouts(s: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    top = s["thickness"] + s["pin_height"]
    room = bar(s["pin_circle_diameter"] + s["pin_diameter"], top - s["pin_travel"], top)
    return (
        Keepout(
            "pin travel", room, "the light tube's contact face presses the sprung pins down through here"
        ),
    )


def _contact_limits(s: Sizes) -> tuple[Limit, ...]:
    neighbour = s["pin_circle_diameter"] * math.sin(math.pi / s["pin_count"])
    on_board = s["diameter"] - s["pin_diameter"]
    return (
        Limit(
            "pin_circle_diameter", on_board, "diameter less pin_diameter, so that the pins stand on the board"
        ),
        Limit("pin_diameter", neighbour - 0.2, "the pins on their circle keep 0.2 mm apart"),
        *ordered(s, ("pin_travel", "pin_height")),
    )


CONTACT_BOARD = Kind(
    name="contact_board",
    frame="z=0 is the disc's back face, +z points at the removable light tube; the first pin lies toward +x",
    rules=(
        SizeRule("diameter", "outside diameter of the disc", 6.0, 100.0),
        SizeRule("thickness", "of the disc", 0.4, 5.0),
        SizeRule("pin_count", "sprung pins, evenly on their circle", 2, 12, unit="count"),
        SizeRule("pin_circle_diameter", "circle through the pins' centres", 1.0, 90.0),
        SizeRule("pin_diameter", "of a pin's barrel", 0.3, 6.0),
        SizeRule("pin_height", "front face to a free pin's tip", 0.5, 30.0),
        SizeRule("pin_travel", "how far a pin can be pressed in", 0.1, 20.0),
        SizeRule("pin_force_n", "force of one pin at its working travel", 0.05, 20.0, unit="N"),
        WIRE,
    ),
    envelope=_contact_envelope,
    terminals=_contact_terminals,
    keepouts=_contact_keepouts,
    limits=_contact_limits,
    cautions=("soldering",),
)


# LEDs ------------------------------------------------------------------------------------------------


def _slug_envelope(s: Sizes) -> tuple[Primitive, ...]:
    return (
        bar(s["slug_diameter"], 0.0, s["slug_thickness"]),
        bar(s["dome_diameter"], s["slug_thickness"] / 2, s["height"]),
    )


def _slug_terminals(s: Sizes) -> Terminals:
    x, z, wire = s["slug_diameter"] / 2 - s["pad_inset"], s["slug_thickness"], s["largest_wire_diameter"]
    return (
        Terminal("plus", (x, 0.0, z), (1.0, 0.0, 0.0), wire),
        Terminal("minus", (-x, 0.0, z), (-1.0, 0.0, 0.0), wire),
    )


LED_SLUG = Kind(
    name="led_slug",
    frame="z=0 is the slug's back face (the heat path), +z is where the light goes; plus lies toward +x",
    rules=(
        SizeRule("slug_diameter", "outside diameter of the metal slug", 4.0, 60.0),
        SizeRule("slug_thickness", "of the metal slug", 0.4, 10.0),
        SizeRule("dome_diameter", "of the light dome", 1.0, 50.0),
        SizeRule("height", "back face to the dome's top", 0.8, 30.0),
        SizeRule("pad_inset", "slug's rim to a pad's centre", 0.3, 10.0, default=1.5),
        WIRE,
    ),
    envelope=_slug_envelope,
    terminals=_slug_terminals,
    limits=lambda s: (
        *ordered(s, ("dome_diameter", "slug_diameter"), ("slug_thickness", "height")),
        Limit(
            "pad_inset", (s["slug_diameter"] - s["dome_diameter"]) / 2, "the pads lie between dome and rim"
        ),
    ),
    cautions=("bright_light", "soldering"),
)


def _led_envelope(s: Sizes) -> tuple[Primitive, ...]:
    x = s["lead_spacing"] / 2
    lead = bar(s["lead_diameter"], -s["lead_length"], s["flange_thickness"] / 2)
    return (
        bar(s["flange_diameter"], 0.0, s["flange_thickness"]),
        bar(s["body_diameter"], s["flange_thickness"] / 2, s["length"]),
        Pattern(lead, (shifted(x), shifted(-x))),
    )


def _led_terminals(s: Sizes) -> Terminals:
    x, z, wire = s["lead_spacing"] / 2, -s["lead_length"], s["largest_wire_diameter"]
    return (Terminal("plus", (x, 0.0, z), DOWN, wire), Terminal("minus", (-x, 0.0, z), DOWN, wire))


def _led_limits(s: Sizes) -> tuple[Limit, ...]:
    apart = s["flange_diameter"] - s["lead_diameter"]
    return (
        *ordered(s, ("body_diameter", "flange_diameter"), ("flange_thickness", "length")),
        Limit("lead_spacing", apart, "flange_diameter less lead_diameter"),
        Limit("lead_diameter", s["lead_spacing"] - 0.2, "the leads keep 0.2 mm apart"),
    )


LED_ROUND = Kind(
    name="led_round",
    frame="z=0 is the flange's back face, +z runs to the dome, the leads run to -z; plus lies toward +x",
    rules=(
        SizeRule("body_diameter", "of the round body", 1.5, 20.0),
        SizeRule("flange_diameter", "of the flange", 1.5, 25.0),
        SizeRule("flange_thickness", "of the flange", 0.3, 5.0),
        SizeRule("length", "flange's back face to the dome's top", 1.0, 40.0),
        SizeRule("lead_spacing", "between the leads' centres", 0.5, 15.0),
        SizeRule("lead_length", "leads as cut, from the flange's back face", 1.0, 40.0, default=6.0),
        SizeRule("lead_diameter", "bar round one lead", 0.3, 2.0, default=0.7),
        WIRE,
    ),
    envelope=_led_envelope,
    terminals=_led_terminals,
    limits=_led_limits,
    cautions=("bright_light", "soldering"),
)
