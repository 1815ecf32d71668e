"""A bench build for electrics: parts at stations in a plain tube, wires of known length, no geometry to fit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from chassis_gen.parts.catalogue import find_part
from chassis_gen.plan.chassis import ChassisPlan, InLine, Route, Wire
from chassis_gen.plan.electrics import Draw, ElectricsAsked, State
from chassis_gen.plan.model import PlacedPart, PlacedTerminal, SectionPlan
from chassis_gen.shapes.frame import shifted
from chassis_gen.tables.wire import awg_diameter
from tests.checks import support

ANYWHERE = ((0.0, 360.0),)


def seated(id: str, part: str, z: float) -> SectionPlan:
    """Return a section that holds one generic part at a station."""
    found = find_part(part)
    placed = PlacedPart(id, found, shifted(z=z), id, "chassis", (0.0, 0.0, 1.0))
    terminals = tuple(
        PlacedTerminal(f"{id}.{t.name}", placed.frame.point(t.position), ANYWHERE, t.largest_wire_diameter)
        for t in found.terminals
    )
    return SectionPlan(found.kind, id, z, z + 10.0, "chassis", None, parts=(placed,), terminals=terminals)


def wire(id: str, start: str, end: str, gauge: int = 26, length: float = 100.0, fuse: float = 0.0) -> Route:
    """Return a laid wire cut to a length, mm, with a fuse in it where a rating is given, A."""
    bodies = (InLine("fuse", 5.0, 20.0, rating_a=fuse),) if fuse else ()
    made = Wire(
        id, start, end, gauge, "silicone", "", 1.2, awg_diameter(gauge), key="wire[0]", in_line=bodies
    )
    return Route(made, (), length, length)


def bench(
    parts: Mapping[str, str], wires: tuple[Route, ...], *states: State, **electrics: Any
) -> ChassisPlan:
    """Return a build of generic parts by id, joined by wires, in some states."""
    sections = tuple(seated(id, part, 10.0 * k + 5.0) for k, (id, part) in enumerate(parts.items()))
    asked = ElectricsAsked(states=states, **electrics)
    return support.plan(sections=sections, routes=wires, electrics=asked, fits=(), lanes=())


def lit(amps: float = 0.2, **changes: Any) -> State:
    """Return a state in which the LED called ``light`` draws a current."""
    return State("lit", draws=(Draw("light", current_a=amps),), **changes)


def led_on_board(*states: State, gauge: int = 26, fuse: float = 0.0, **electrics: Any) -> ChassisPlan:
    """Return a cell that feeds a sound board which lights an LED, all wires 100 mm."""
    wires = (
        wire("plus", "cell.plus", "board.battery plus", gauge, fuse=fuse),
        wire("minus", "cell.minus", "board.battery minus", gauge),
        wire("light", "board.light plus", "light.plus", gauge),
        wire("light return", "board.light minus", "light.minus", gauge),
    )
    parts = {"cell": "cell 18650", "board": "sound board", "light": "led slug 20 mm"}
    return bench(parts, wires, *states, **electrics)


def with_jack(*states: State, cut_off: bool = True, **electrics: Any) -> ChassisPlan:
    """Return a cell, a board and a jack; the board's return goes to the jack's cut-off lug, or past it."""
    wires = (
        wire("plus", "cell.plus", "board.battery plus"),
        wire("charge plus", "cell.plus", "jack.plus"),
        wire("charge minus", "cell.minus", "jack.minus"),
        wire("return", "jack.switched" if cut_off else "cell.minus", "board.battery minus"),
    )
    return bench(
        {"cell": "cell 18650", "board": "sound board", "jack": "charge jack"}, wires, *states, **electrics
    )
