"""Leads that parts have already, with the slack of a part that comes out: what is cut makes up for what they lack."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from chassis_gen.output.leads import cut_of, used
from chassis_gen.plan.chassis import InLine, Route
from chassis_gen.plan.lanes import lay_wires
from chassis_gen.plan.leads import lead_to
from chassis_gen.plan.model import Gallery
from tests.plan.support import ground, section, terminal, wire

SLACK, END = 60.0, 15.0


def with_lead(lead: float, end: str, twisted: bool = False) -> Route:
    """Return a wire over a bay that holds its slack, with a lead at one end."""
    hollow = [Gallery(55.0, 90.0, "bay", open_room=True)]
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5)]),
        section("bay", 10, 100, galleries=hollow),
        section("c", 100, 110, terminals=[terminal("c.x", 105)]),
    ]
    splice = InLine("splice", 2.6, 12.0, end=end, lead=lead)
    own = {"start_have": lead} if end == "start" else {"end_have": lead}
    pair = {"twisted_with": "other"} if twisted else {}
    w = replace(wire("w", "a.x", "c.x"), in_line=(splice,), serve_out=SLACK, **own, **pair)
    (route,) = lay_wires([w], ground(parts)).routes
    return route


@pytest.mark.parametrize("end", ["start", "end"])
@pytest.mark.parametrize("twisted", [False, True])
def test_lead_and_extension_together_are_as_long_as_path_and_slack(end: str, twisted: bool) -> None:
    """A lead that reaches the terminal but not with the slack is extended; of no lead is used more than there is.

    A helix with a lay of twelve wire diameters is 3.5 % longer than its axis (wiring_rules.toml).
    """
    for lead in (40.0, 75.0, 110.0, 150.0, 170.0):
        route = with_lead(lead, end, twisted)
        whole = route.length * (1.035 if twisted else 1.0) + SLACK
        assert lead < whole + END
        (splice,) = route.bodies
        assert used(route) == pytest.approx(lead_to(route, end, splice.from_start))
        assert used(route) <= lead
        assert cut_of(route) == math.ceil((whole + 2 * END - used(route)) / 5 - 1e-9) * 5


def test_a_lead_with_the_slack_in_it_leaves_nothing_to_cut() -> None:
    whole = with_lead(40.0, "end").length + SLACK + END
    assert cut_of(with_lead(math.ceil(whole), "end")) == 0.0
    assert cut_of(with_lead(math.ceil(whole) - 1.0, "end")) > 0.0
