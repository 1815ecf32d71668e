"""A harness made by hand: a cell, a board, a speaker on a cap, a lamp in a second piece, and nine wires."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from chassis_gen.params.workspace import Workspace
from chassis_gen.parts.model import Part
from chassis_gen.pipeline import load_build
from chassis_gen.plan.chassis import ChassisPlan, Connector, InLine, Leg, PiecePlan, PlacedBody, Route, Wire
from chassis_gen.plan.model import Gallery, PlacedPart, PlacedTerminal, SectionPlan
from chassis_gen.plan.planner import plan_build
from chassis_gen.sections.registry import section_kinds
from chassis_gen.shapes.frame import Vec3, shifted, unit
from tests.checks import support

ROOT = Path(__file__).resolve().parents[2]
RADIUS = 18.0
TERMINALS: Mapping[str, Vec3] = {
    "cup.plus": (0.0, 9.0, 20.0),
    "cup.minus": (4.0, 9.0, 20.0),
    "board.battery plus": (5.0, 1.0, 34.0),
    "board.battery minus": (2.0, 1.0, 34.0),
    "board.out plus": (-2.0, 1.0, 34.0),
    "board.out minus": (-5.0, 1.0, 34.0),
    "board.lamp": (-5.0, 1.0, 40.0),
    "cell.plus": (0.0, 0.0, 116.0),
    "cell.minus": (0.0, 0.0, 72.0),
    "lamp.plus": (6.0, 0.0, 140.0),
    "lamp.minus": (-6.0, 0.0, 140.0),
}
PLUG = Connector(2.0, 2, 6.0, 4.0, 8.0)


def _placed(section: str, kind: str, piece: str, *cautions: str) -> PlacedPart:
    part = Part(f"{kind} part", kind, f"a {kind}", {}, 5.0, (), cautions=cautions)
    return PlacedPart(section, part, shifted(), section, piece, (0.0, 1.0, 0.0))


def _section(
    name: str, z0: float, z1: float, piece: str, *parts: PlacedPart, hollow: bool = False
) -> SectionPlan:
    terminals = tuple(
        PlacedTerminal(t, p, ((0.0, 359.0),), 1.0) for t, p in TERMINALS.items() if t.startswith(f"{name}.")
    )
    rooms = (Gallery((z0 + z1) / 2, z1 - z0, name, True),) if hollow else ()
    return SectionPlan("test", name, z0, z1, piece, None, parts=parts, terminals=terminals, galleries=rooms)


SECTIONS = (
    _section("cup", 16.0, 30.0, "fore", _placed("cup", "speaker", "cap")),
    _section("board", 30.0, 60.0, "fore", _placed("board", "board", "fore")),
    _section("bay", 60.0, 70.0, "fore", hollow=True),
    _section("cell", 70.0, 120.0, "aft", _placed("cell", "cell", "aft", "lithium_cell")),
    _section("lamp", 120.0, 150.0, "aft", _placed("lamp", "led_slug", "aft", "bright_light")),
)


def _at(clock: float, z: float) -> Vec3:
    c, s = unit(clock)
    return RADIUS * c, RADIUS * s, z


def route(wire: Wire, clock: float, end_clock: float | None = None, **more: Any) -> Route:
    """Return a wire's way: down, along, round in the bay where it ends at another clock, along, down."""
    a, b = TERMINALS[wire.start], TERMINALS[wire.end]
    last = clock if end_clock is None else end_clock
    forward = b[2] >= a[2]
    legs = [_leg("drop", a, _at(clock, a[2]))]
    at, z = clock, a[2]
    for s in SECTIONS if forward else SECTIONS[::-1]:
        near, far = (s.z0, s.z1) if forward else (s.z1, s.z0)
        low, high = sorted((a[2], b[2]))
        start, stop = min(max(near, low), high), min(max(far, low), high)
        if start == stop:
            continue
        middle = 65.0 if s.name == "bay" and last != clock else stop
        legs.append(_leg("lane", _at(at, z), _at(at, middle), s.name))
        if middle != stop:
            turn = math.radians(min((last - clock) % 360, (clock - last) % 360)) * RADIUS
            legs.append(_leg("gallery", _at(at, 65.0), _at(last, 65.0), s.name, turn))
            legs.append(_leg("lane", _at(last, 65.0), _at(last, stop), s.name))
            at = last
        z = stop
    legs.append(_leg("drop", _at(last, b[2]), b))
    length = sum(g.length for g in legs)
    slack = more.get("slack", 0.0)
    cut = math.ceil((length + 30.0 + slack) / 5 - 1e-9) * 5.0
    return Route(wire, tuple(legs), length, cut, **more)


def _leg(kind: str, a: Vec3, b: Vec3, section: str | None = None, length: float | None = None) -> Leg:
    z = (a[2] + b[2]) / 2
    where = section or next(s.name for s in SECTIONS if s.z0 <= z <= s.z1)
    return Leg(kind, where, a, b, math.dist(a, b) if length is None else length)


def wire(name: str, start: str, end: str, gauge: int = 26, colour: str = "red", **more: Any) -> Wire:
    return Wire(name, start, end, gauge, "silicone", colour, 1.2, 0.4, **more)


SPLICE = InLine("splice", 2.2, 12.0, end="end", lead=20.0)


@cache
def plan() -> ChassisPlan:
    """Return the build."""
    spliced = wire("lamp", "board.lamp", "lamp.plus", 28, "white", end_have=20.0, in_line=(SPLICE,))
    body = PlacedBody("lamp", SPLICE, "lamp", _at(200.0, 132.0), 90.0, 126.0, 138.0, True)
    routes = (
        route(wire("supply", "cell.plus", "board.battery plus", 22, start_connector=PLUG), 300.0, 20.0),
        route(wire("return", "cell.minus", "board.battery minus", 22, "black", end_connector=PLUG), 320.0),
        route(wire("sound", "board.out plus", "cup.plus", 26, "yellow", serve_out=40.0), 130.0, slack=40.0),
        route(wire("sound return", "board.out minus", "cup.minus", 26, "grey", start_connector=PLUG), 50.0),
        route(spliced, 200.0, bodies=(body,)),
        route(wire("lamp return", "cell.minus", "lamp.minus", 28, "black"), 220.0),
        route(wire("link", "board.out minus", "board.lamp", 26, "green", end_connector=PLUG), 180.0),
    )
    pieces = (
        PiecePlan("fore", (), ("cup", "board", "bay")),
        PiecePlan("aft", (), ("cell", "lamp")),
        PiecePlan("cap", (), ("cup",), owner="cup"),
    )
    made = support.plan(sections=SECTIONS, routes=routes, lanes=(), pieces=pieces, z0=16.0, z1=150.0)
    return made


@cache
def demo(name: str) -> ChassisPlan:
    """Return the plan of one of the demo builds, without trying its findings' remedies."""
    return plan_build(load_build(Workspace(ROOT), name).inputs, section_kinds())
