"""The switch in its seat: how it may play, its fits, and where wires leave its terminals."""

from __future__ import annotations

import math

from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import Fit, PlacedPart, PlacedTerminal, Play, PlayProbe
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.features.straight_ways import Clocks, across_and_toward, is_steep, straight_ways
from chassis_gen.sections.switch_seat_model import Site
from chassis_gen.shapes.frame import Frame, Vec3, negated

EXIT_MARGIN_DEG = 8.0
"""How far inside the floor's solid edge a wire may leave, degrees (chosen)."""


def placed_switch(part: Part, site: Site, frame: Frame, across: float, along: float) -> PlacedPart:
    """Return the switch as it rests in its seat.

    Args:
        part: the switch.
        site: where it stands.
        frame: the part's frame.
        across: how far it may move across either way, mm.
        along: how far it may move along the tube either way, mm.
    """
    x, y, inward = frame.x_axis, frame.y_axis, negated(frame.z_axis)
    plays = (
        *(Play(way, across) for way in (x, negated(x))),
        *(Play(way, along) for way in (y, negated(y))),
        Play(inward, REST),
        Play(frame.z_axis, None),
    )
    return PlacedPart(site.id, part, frame, site.section, site.piece, inward, plays)


def switch_fit(fitter: Fitter, seat: Dimension, site: Site, *axes: Vec3) -> Fit:
    """Return the fit of a switch in its seat, measured as its mean play both ways along some axes.

    Args:
        fitter: holds the fit classes.
        seat: the seat's size across those axes, mm.
        site: where the switch stands.
        axes: unit vectors.
    """
    probe = PlayProbe(site.id, tuple(way for axis in axes for way in (axis, negated(axis))))
    return fitter.fit(seat, "part in seat", (site.id, site.piece), "slide", probe)


def switch_terminals(part: Part, site: Site, frame: Frame, spine: float) -> tuple[PlacedTerminal, ...]:
    """Return the terminals; wires drop through the floor of the room, which is solid below its open sides.

    Args:
        part: the switch.
        site: where it stands.
        frame: the part's frame.
        spine: what is left under the room, mm.
    """
    floor = spine - site.radius
    edge = math.degrees(math.asin(min(1.0, max(-1.0, -floor / site.radius))))
    widest = 90.0 - edge - EXIT_MARGIN_DEG
    found = []
    for t in part.terminals:
        spot = frame.point(t.position)
        exits = _through_floor(spot, site, widest)
        name = f"{site.id}.{t.name}"
        found.append(PlacedTerminal(name, spot, exits, t.largest_wire_diameter, t.must_connect))
    return tuple(found)


def _through_floor(spot: Vec3, site: Site, widest: float) -> Clocks:
    """Return the clocks at which a wire may leave a terminal through the room's floor, degrees.

    Args:
        spot: the terminal.
        site: the switch's place.
        widest: how far from straight down the floor is solid, degrees.
    """
    down, most = site.clock_deg + 180.0, math.floor(max(widest, 0.0))
    joint = across_and_toward((spot[0], spot[1]), down)
    return straight_ways(joint, down, site.radius, range(-most, most + 1), lambda x, y: is_steep(y, x))
