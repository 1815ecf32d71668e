"""How far the leads that parts have already reach along their wires.

A lead is as straight or twisted as the rest of its wire, and takes the slack of a part that comes out where that lies
between its terminal and its splice.
"""

from __future__ import annotations

from chassis_gen.plan.chassis import InLine, Route
from chassis_gen.tables.wire import wiring_rule


def twist_of(route: Route) -> float:
    """Return by what a wire's path is multiplied because it is twisted, 1 where it isn't.

    Args:
        route: the wire's path.
    """
    return wiring_rule("twist_lengthening").value if route.wire.twisted_with else 1.0


def lead_reaches(route: Route, body: InLine) -> bool:
    """Return True where a part's own lead goes all the way, so that it needs no splice.

    It is then cut to length at its far terminal, and at each body that parts it.

    Args:
        route: the wire's path.
        body: a body in the wire; only a splice to a lead can be needless.
    """
    parting = sum(1 for b in route.wire.in_line if b.end is None)
    allowances = (1 + 2 * parting) * wiring_rule("end_allowance").value
    wanted = route.length * twist_of(route) + route.wire.serve_out + allowances
    return body.end is not None and body.lead >= wanted - 1e-9


def slack_at(route: Route) -> float | None:
    """Return how far along its path a wire's slack lies, mm: in the middle of the first leg of its section, or None.

    Args:
        route: the wire's path.
    """
    along = 0.0
    for leg in route.legs:
        if leg.section == route.slack_section:
            return along + leg.length / 2
        along += leg.length
    return None


def lead_to(route: Route, end: str, along: float) -> float:
    """Return how long a part's own lead is up to a place on its wire, mm.

    Args:
        route: the wire's path.
        end: ``start`` or ``end``: the terminal that has the lead.
        along: the place, from the wire's start along the path, mm.
    """
    at = slack_at(route)
    beyond = at is not None and (at < along if end == "start" else at > along)
    path = along if end == "start" else route.length - along
    return path * twist_of(route) + (route.wire.serve_out if beyond else 0.0)
