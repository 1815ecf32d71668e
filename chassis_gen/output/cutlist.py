"""The cut list: what to cut of each wire and why, what to buy, what to solder, and where the harness fails.

The plan gives the lengths; here they are taken apart into the terms that they are made of. Terms add up to
the length to cut. A joint where several wires meet is soldered once and counts once.
"""

from __future__ import annotations

import csv
import io
import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from msgspec import Struct

from chassis_gen.electrics.poles import RESISTOR
from chassis_gen.electrics.result import amount
from chassis_gen.output.failure_points import END, START, FailurePoint, Plug, failure_points, plugs_of
from chassis_gen.output.leads import (
    between,
    cut_of,
    nothing_to_cut,
    pieces_of,
    real_bodies,
    used,
    used_at,
)
from chassis_gen.output.nets import JoinedNet, all_wires, joined_nets, net_names
from chassis_gen.output.words import ohm_words
from chassis_gen.plan.chassis import ChassisPlan, Leg, PlacedBody, Route, Wire
from chassis_gen.plan.leads import twist_of
from chassis_gen.plan.model import clock_of
from chassis_gen.tables.wire import wiring_rule

LANES, DROPS, BENDS, TWIST = "along lanes", "drops", "bends", "twist"
ENDS, JOINTS, SLACK, HAVE, ROUNDING = (
    "ends",
    "joints in it",
    "service slack",
    "lead already there",
    "rounding up",
)
TERMS = (LANES, DROPS, BENDS, TWIST, ENDS, JOINTS, SLACK, HAVE, ROUNDING)
_LEG_TERMS: Mapping[str, str] = {"lane": LANES, "tube": LANES, "drop": DROPS, "gallery": BENDS}
_TOLD_TURN = 5.0
"""A route in words leaves out turns of fewer degrees than this (chosen)."""


class CutRow(Struct, frozen=True):
    """What to cut of one wire.

    Args:
        wire: the wire.
        net: name of its net.
        route: its way in words.
        terms: label and length of each term, mm; they add up to `cut_length`.
        cut_length: to cut from the reel, mm; 0 where a part's own lead goes all the way.
        pieces: what that is cut into, mm, from the wire's start on.
        notes: what to heed when it's made.
    """

    wire: Wire
    net: str
    route: str
    terms: tuple[tuple[str, float], ...]
    cut_length: float
    pieces: tuple[float, ...]
    notes: tuple[str, ...]

    def term(self, label: str) -> float:
        """Return one term of the sum, mm; 0 where there is none."""
        return sum(v for name, v in self.terms if name == label)


class WireTotal(Struct, frozen=True):
    """How much of one sort of wire is wanted.

    Args:
        gauge: in words.
        insulation: in words, shield included.
        colour: in words.
        count: of wires cut from it.
        length: of all of them, mm.
        spare: added to it, mm.
        to_buy: both, rounded up, mm.
    """

    gauge: str
    insulation: str
    colour: str
    count: int
    length: float
    spare: float
    to_buy: float


class NetJoints(Struct, frozen=True):
    """What is joined in one net.

    Args:
        name: of the net.
        terminals: terminal ids.
        soldered: joints to solder, splices and bodies in wires included.
        connectors: connectors.
    """

    name: str
    terminals: tuple[str, ...]
    soldered: int
    connectors: int


class CutList(Struct, frozen=True):
    """A build's harness, taken apart.

    Args:
        rows: one per routed wire, in the build file's order.
        totals: by gauge, insulation and colour.
        joints: per net.
        points: points of failure as the build file has it, worst first.
        left: the same with needless connectors soldered instead.
        plugs: connectors, and what needs each.
        unrouted: wires without a path, which can't be cut yet.
    """

    rows: tuple[CutRow, ...]
    totals: tuple[WireTotal, ...]
    joints: tuple[NetJoints, ...]
    points: tuple[FailurePoint, ...]
    left: tuple[FailurePoint, ...]
    plugs: tuple[Plug, ...]
    unrouted: tuple[str, ...]

    @property
    def needless(self) -> tuple[Plug, ...]:
        """Return the connectors that nothing needs."""
        return tuple(p for p in self.plugs if p.keeps is None)


def cut_list(plan: ChassisPlan) -> CutList:
    """Return the cut list of a build.

    Args:
        plan: the build.
    """
    nets = joined_nets(all_wires(plan))
    names = net_names(nets)
    rows = tuple(_row(plan, r, names[r.wire.id]) for r in plan.routes)
    plugs = plugs_of(plan)
    needless = tuple(p for p in plugs if p.keeps is None)
    routes = {r.wire.id: r for r in plan.routes}
    return CutList(
        rows,
        _totals(rows),
        tuple(_joints(net, plugs, routes) for net in nets),
        failure_points(plan),
        failure_points(plan, needless),
        plugs,
        tuple(w.id for w in plan.unrouted),
    )


def _row(plan: ChassisPlan, route: Route, net: str) -> CutRow:
    cut = cut_of(route)
    pieces = pieces_of(route) if between(route) else tuple(c for c in (cut,) if c > 0)
    return CutRow(route.wire, net, route_words(plan, route), _terms(route), cut, pieces, _notes(route))


def _terms(route: Route) -> tuple[tuple[str, float], ...]:
    """Return the terms of a cut length; what no other term explains is the rounding."""
    sums = dict.fromkeys(TERMS, 0.0)
    for leg in route.legs:
        sums[_LEG_TERMS[leg.kind]] += leg.length
    sums[TWIST] = route.length * (twist_of(route) - 1)
    # a lead that goes all the way is joined at its one end already
    sums[ENDS] = (1 if nothing_to_cut(route) else 2) * wiring_rule("end_allowance").value
    sums[JOINTS] = len(between(route)) * 2 * wiring_rule("end_allowance").value
    sums[SLACK] = route.slack
    sums[HAVE] = -sum(sums.values()) if nothing_to_cut(route) else -used(route)
    sums[ROUNDING] = cut_of(route) - sum(sums.values())
    return tuple((label, v) for label, v in sums.items() if abs(v) > 1e-9)


def _notes(route: Route) -> tuple[str, ...]:
    wire, notes = route.wire, []
    if route.fit_connector_after:
        notes.append("fit connector after threading")
    for at, plug in (("from", wire.start_connector), ("to", wire.end_connector)):
        if plug:
            notes.append(f"{plug.ways}-way {plug.pitch:g} mm plug at the {at} end")
    for at, end, have in (("from", "start", wire.start_have), ("to", "end", wire.end_have)):
        if have:
            notes.append(_lead_words(route, at, end, have))
    notes += [_body_words(b) for b in route.bodies]
    if between(route) and not nothing_to_cut(route):
        notes.append(_piece_words(route))
    if route.slack:
        place = f', lies in "{route.slack_section}"' if route.slack_section else ""
        notes.append(f"{route.slack:.0f} mm slack to serve its part{place}")
    if wire.twisted_with:
        notes.append(f'twist with "{wire.twisted_with}"')
    if wire.ribbon:
        notes.append(f'way of ribbon "{wire.ribbon}"')
    if wire.bundle:
        notes.append(f'bundle "{wire.bundle}"')
    return tuple(notes)


def _lead_words(route: Route, at: str, end: str, have: float) -> str:
    if nothing_to_cut(route):
        return f"nothing to cut: the {have:.0f} mm lead at the {at} end reaches"
    return f"extends the {have:.0f} mm lead at the {at} end, {used_at(route, end):.0f} mm of it to the splice"


def _body_words(placed: PlacedBody) -> str:
    body = placed.body
    value = f" of {ohm_words(body.resistance_ohm)}" if body.kind == RESISTOR and body.resistance_ohm else ""
    value += f" of {amount(body.rating_a)}" if body.rating_a else ""
    return f'{body.kind}{value} {placed.from_start:.0f} mm from the "from" terminal, in "{placed.section}"'


def _piece_words(route: Route) -> str:
    """Return a wire's pieces and what joins them, in order."""
    pieces = [f"{p:.0f} mm" for p in pieces_of(route)]
    joined = itertools.zip_longest(pieces, (b.body.kind for b in between(route)))
    chain = ", ".join(word for pair in joined for word in pair if word)
    return f'pieces from the "from" terminal: {chain}'


def route_words(plan: ChassisPlan, route: Route) -> str:
    """Return a wire's way in words: sections with their lanes, clocks and turns.

    Args:
        plan: the build.
        route: of the wire.
    """
    words = []
    for kind, legs in itertools.groupby(_told(route.legs), key=lambda g: g.kind):
        words += _run_words(plan, route.wire.id, kind, list(legs))
    return "; ".join(words)


def _told(legs: Sequence[Leg]) -> Iterator[Leg]:
    """Return the legs worth telling: a turn by a degree or two isn't."""
    for leg in legs:
        if leg.kind != "gallery" or _turned(leg) >= _TOLD_TURN:
            yield leg


def _turned(leg: Leg) -> float:
    turned = abs(_clock(leg.end) - _clock(leg.start)) % 360
    return min(turned, 360 - turned)


def _clock(point: Sequence[float]) -> float:
    return clock_of(point[0], point[1])


def _run_words(plan: ChassisPlan, wire: str, kind: str, legs: Sequence[Leg]) -> list[str]:
    if kind == "drop":
        # A drop goes straight to the lane's bottom and on through its mouth: two legs, told once.
        return list(dict.fromkeys(f"drop in {g.section} at station {g.start[2]:.0f}" for g in legs))
    if kind == "gallery":
        return [f"turn in {g.section} at station {g.end[2]:.0f} to clock {_clock(g.end):.0f}" for g in legs]
    places = ", ".join(
        f"{section}{_lane_numbers(plan, wire, section, list(own))}"
        for section, own in itertools.groupby(legs, key=lambda g: g.section)
    )
    return [f"{'through tube' if kind == 'tube' else 'along'} {places} at clock {_clock(legs[0].start):.0f}"]


def _lane_numbers(plan: ChassisPlan, wire: str, section: str, legs: Sequence[Leg]) -> str:
    """Return the lanes of a section that some legs of a wire pass, in the order in which they pass them."""
    low = min(min(g.start[2], g.end[2]) for g in legs)
    high = max(max(g.start[2], g.end[2]) for g in legs)
    forward = legs[-1].end[2] >= legs[0].start[2]
    passed = [
        x
        for x in plan.lanes
        if x.section == section and wire in x.wires and min(x.z1, high) - max(x.z0, low) > 1e-6
    ]
    numbers = [x.id.rpartition(" ")[2] for x in sorted(passed, key=lambda x: x.z0 if forward else -x.z0)]
    return f" (lane {', '.join(numbers)})" if numbers else ""


def _totals(rows: Sequence[CutRow]) -> tuple[WireTotal, ...]:
    sorts: dict[tuple[float, str, str, str], list[float]] = {}
    for row in rows:
        w = row.wire
        insulation = f"{w.insulation}, shielded" if w.shielded else w.insulation
        key = (-w.conductor_diameter, w.gauge_text, insulation, w.colour)
        if row.cut_length > 0:
            sorts.setdefault(key, []).append(row.cut_length)
    share, up = wiring_rule("wire_spare").value, wiring_rule("cut_round_up").value
    made = []
    for (_, gauge, insulation, colour), lengths in sorted(sorts.items()):
        length = math.fsum(lengths)
        to_buy = math.ceil(length * (1 + share) / up - 1e-9) * up
        made.append(WireTotal(gauge, insulation, colour, len(lengths), length, to_buy - length, to_buy))
    return tuple(made)


def _joints(net: JoinedNet, plugs: Sequence[Plug], routes: Mapping[str, Route]) -> NetJoints:
    """Return a net's joints: terminals where a wire is soldered, and what is soldered within the wires."""
    ids = {w.id for w in net.wires}
    plugged = {(p.wire, p.at) for p in plugs}
    soldered = set()
    within = 0
    for w in net.wires:
        for at, terminal, have in ((START, w.start, w.start_have), (END, w.end, w.end_have)):
            if (w.id, at) not in plugged and not have:
                soldered.add(terminal)
        bodies = real_bodies(routes[w.id]) if w.id in routes else w.in_line
        within += sum({"splice": 1, "connector": 0}.get(b.kind, 2) for b in bodies)
    connectors = sum(1 for p in plugs if p.wire in ids)
    return NetJoints(net.name, net.terminals, len(soldered) + within, connectors)


CSV_HEADINGS = (
    "wire", "net", "colour", "gauge", "insulation", "from", "to", "cut_mm", *(f"{t.replace(' ', '_')}_mm" for t in TERMS),
    "notes", "route",
)  # fmt: skip


def cut_list_csv(cuts: CutList) -> str:
    """Return the wires of a cut list as comma-separated values with a line of headings (RFC 4180, line feeds).

    Args:
        cuts: the cut list.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(CSV_HEADINGS)
    for row in cuts.rows:
        w = row.wire
        writer.writerow(
            (
                w.id,
                row.net,
                w.colour,
                w.gauge_text,
                w.insulation,
                w.start,
                w.end,
                f"{row.cut_length:.0f}",
                *(f"{row.term(label) + 0.0:.2f}" for label in TERMS),
                "; ".join(row.notes),
                row.route,
            )
        )
    return text.getvalue()


def harness_json(cuts: CutList) -> dict[str, Any]:
    """Return what a fit report holds of a harness beside its wires: totals, joints, points of failure.

    Args:
        cuts: the cut list.
    """
    return {
        "wires": [
            {
                "id": r.wire.id,
                "net": r.net,
                "route": r.route,
                "terms_mm": {label: round(v, 4) for label, v in r.terms},
                "cut_mm": r.cut_length,
                "pieces_mm": list(r.pieces),
                "notes": list(r.notes),
            }
            for r in cuts.rows
        ],
        "totals": [
            {
                "gauge": t.gauge,
                "insulation": t.insulation,
                "colour": t.colour,
                "count": t.count,
                "length_mm": t.length,
                "spare_mm": t.spare,
                "to_buy_mm": t.to_buy,
            }
            for t in cuts.totals
        ],
        "joints": [
            {
                "net": j.name,
                "terminals": list(j.terminals),
                "soldered": j.soldered,
                "connectors": j.connectors,
            }
            for j in cuts.joints
        ],
        "failure_points": [
            {
                "kind": p.kind.name,
                "rank": p.kind.rank,
                "text": p.kind.text,
                "remedy": p.kind.remedy,
                "where": p.where,
                "wires": list(p.wires),
                "detail": p.detail,
            }
            for p in cuts.points
        ],
        "failure_count": len(cuts.points),
        "failure_count_without_needless_connectors": len(cuts.left),
        "connectors": [{"wire": p.wire, "at": p.at, "where": p.where, "keeps": p.keeps} for p in cuts.plugs],
        "spare_share": wiring_rule("wire_spare").value,
    }
