"""Kinds that sit in a hole with a head outside and a nut inside: the panel button and the charge jack.

Their nut is no part of the envelope: where it sits depends on the wall it clamps. The frames are
stated in each `Kind` below and listed in `chassis_gen.parts.kinds`.
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
from chassis_gen.shapes.frame import shifted
from chassis_gen.shapes.primitives import Box, Pattern, Primitive, Ring, Within, centred_box

_OVERLAP = 0.5


def _lug_end(s: Sizes) -> float:
    return -(s["body_depth"] + s["lug_length"])


def _lugs(s: Sizes, terminals: Terminals) -> Pattern:
    lug = centred_box((s["lug_width"], s["lug_width"], s["lug_length"] + _OVERLAP))
    return Pattern(lug, tuple(shifted(*t.position) for t in terminals))


def _lug_limits(s: Sizes) -> tuple[Limit, ...]:
    across = s["body_diameter"] - s["lug_width"] * math.sqrt(2)
    apart = s["lug_spacing"] / math.sqrt(2) - 0.2
    return (
        Limit("lug_spacing", across, "the lugs stand within the body's diameter"),
        Limit("lug_width", apart, "the lugs on their circle keep 0.2 mm apart"),
    )


def _nut_limits(s: Sizes) -> tuple[Limit, ...]:
    return ordered(s, ("body_diameter", "nut_across_flats"), ("nut_across_flats", "nut_across_corners"))


_LUGS = (
    SizeRule("lug_length", "body's back end to the lugs' tips", 0.5, 40.0),
    SizeRule("lug_spacing", "circle through the lugs' centres", 0.5, 60.0, default=5.0),
    SizeRule("lug_width", "square round one lug", 0.3, 10.0, default=1.8),
    WIRE,
)


# panel button ----------------------------------------------------------------------------------------


def _button_body(s: Sizes) -> Primitive:
    whole = bar(s["body_diameter"], -s["body_depth"], s["head_height"] / 2)
    if s["flat_depth"] == 0:
        return whole
    r = s["body_diameter"] / 2
    side = Box((-r - 1, -r - 1, -s["body_depth"] - 1), (r - s["flat_depth"], r + 1, s["head_height"]))
    return Within(whole, side)


def _button_terminals(s: Sizes) -> Terminals:
    y, z, wire = s["lug_spacing"] / 2, _lug_end(s), s["largest_wire_diameter"]
    return (Terminal("a", (0.0, y, z), DOWN, wire), Terminal("b", (0.0, -y, z), DOWN, wire))


def _button_envelope(s: Sizes) -> tuple[Primitive, ...]:
    return (bar(s["head_diameter"], 0.0, s["head_height"]), _button_body(s), _lugs(s, _button_terminals(s)))


def _button_keepouts(s: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    top = s["head_height"]
    room = bar(s["head_diameter"], top, top + s["travel"])
    return (Keepout("actuator travel", room, "the actuator stands out by its travel where it isn't latched"),)


def _button_limits(s: Sizes) -> tuple[Limit, ...]:
    # a hexagon's sharp corners lie 2 / sqrt(3) further apart than its flats; 0.01 mm is for rounded figures
    sharp = s["nut_across_flats"] * 2 / math.sqrt(3) + 0.01
    return (
        *ordered(s, ("body_diameter", "head_diameter"), ("nut_height", "body_depth")),
        *_nut_limits(s),
        Limit("nut_across_corners", sharp, "a sharp hexagon on nut_across_flats"),
        Limit("flat_depth", s["body_diameter"] / 4, "a quarter of body_diameter"),
        *_lug_limits(s),
    )


PANEL_BUTTON = Kind(
    name="panel_button",
    frame="z=0 is the head's underside (the seat plane), +z points outward; the flat lies toward +x",
    rules=(
        SizeRule("head_diameter", "of the head outside the panel", 3.0, 60.0),
        SizeRule("head_height", "seat plane to the head's top", 0.3, 30.0),
        SizeRule("body_diameter", "of the threaded body", 2.0, 50.0),
        SizeRule("body_depth", "seat plane to the body's back end", 2.0, 80.0),
        SizeRule(
            "flat_depth", "how much the anti-turn flat takes off the body's diameter", 0.0, 10.0, default=0.0
        ),
        SizeRule("nut_across_flats", "of the nut", 3.0, 70.0),
        SizeRule("nut_across_corners", "of the nut", 3.0, 80.0),
        SizeRule("nut_height", "of the nut", 0.5, 20.0),
        SizeRule("travel", "of the actuator", 0.1, 10.0),
        *_LUGS,
    ),
    envelope=_button_envelope,
    terminals=_button_terminals,
    keepouts=_button_keepouts,
    limits=_button_limits,
    cautions=("soldering", "drilling"),
)


# charge jack -----------------------------------------------------------------------------------------


def _jack_terminals(s: Sizes) -> Terminals:
    r, z, wire = s["lug_spacing"] / 2, _lug_end(s), s["largest_wire_diameter"]
    return (
        Terminal("plus", (0.0, r, z), DOWN, wire),
        Terminal("minus", (0.0, -r, z), DOWN, wire),
        Terminal("switched", (r, 0.0, z), DOWN, wire),
    )


def _jack_envelope(s: Sizes) -> tuple[Primitive, ...]:
    back, mouth, lugs = -s["body_depth"], s["flange_height"], _lugs(s, _jack_terminals(s))
    if "barrel_diameter" not in s:
        return (
            bar(s["flange_diameter"], 0.0, mouth),
            bar(s["body_diameter"], back, mouth / 2),
            lugs,
        )
    inner, floor = s["barrel_diameter"] / 2, max(mouth - s["pin_depth"], back + _OVERLAP)
    return (
        Ring(inner, s["flange_diameter"] / 2, 0.0, mouth),
        Ring(inner, s["body_diameter"] / 2, back, mouth / 2),
        bar(s["body_diameter"], back, floor),
        bar(s["pin_diameter"], back, mouth),
        lugs,
    )


def _jack_keepouts(s: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    mouth = s["flange_height"]
    room = bar(s["plug_diameter"], mouth, mouth + s["plug_length"])
    return (Keepout("plug", room, "the plug's grip stands here while charging"),)


def _barrel_limits(s: Sizes) -> tuple[Limit, ...]:
    if "barrel_diameter" not in s:
        return ()
    return (
        Limit("barrel_diameter", s["body_diameter"] - 0.6, "body_diameter less two walls of 0.3 mm"),
        Limit("pin_diameter", s["barrel_diameter"] - 0.6, "barrel_diameter less two walls of 0.3 mm"),
    )


def _jack_limits(s: Sizes) -> tuple[Limit, ...]:
    inside = s["body_depth"] + s["flange_height"]
    return (
        *ordered(
            s,
            ("body_diameter", "flange_diameter"),
            ("pin_diameter", "body_diameter"),
            ("nut_height", "body_depth"),
            ("contact_depth", "pin_depth"),
        ),
        *_nut_limits(s),
        Limit("pin_depth", inside, "body_depth and flange_height together"),
        *_barrel_limits(s),
        *_lug_limits(s),
    )


CHARGE_JACK = Kind(
    name="charge_jack",
    frame="z=0 is the panel seat plane, +z points outward (the mouth), the body lies toward -z",
    rules=(
        SizeRule("flange_diameter", "of the flange outside the panel", 3.0, 60.0),
        SizeRule("flange_height", "seat plane to the mouth", 0.3, 20.0),
        SizeRule("body_diameter", "of the threaded body", 2.0, 50.0),
        SizeRule("body_depth", "seat plane to the body's back end", 2.0, 80.0),
        SizeRule("nut_across_flats", "of the nut", 3.0, 70.0),
        SizeRule("nut_height", "of the nut", 0.5, 20.0),
        SizeRule("pin_diameter", "of the centre pin, or of the plug's hole", 0.5, 10.0),
        SizeRule("pin_depth", "mouth to the end of the plug's way in", 1.0, 60.0),
        SizeRule("barrel_diameter", "of the mouth that takes the plug's barrel", 1.0, 45.0, optional=True),
        SizeRule("contact_depth", "mouth to where a barrel opens the contact", 0.5, 60.0, optional=True),
        SizeRule("plug_diameter", "of the plug's grip", 2.0, 60.0, default=11.0),
        SizeRule("plug_length", "of the plug's grip outside the mouth", 2.0, 120.0, default=35.0),
        *_LUGS,
    ),
    envelope=_jack_envelope,
    terminals=_jack_terminals,
    keepouts=_jack_keepouts,
    limits=_jack_limits,
    cautions=("charging", "soldering", "drilling"),
)
