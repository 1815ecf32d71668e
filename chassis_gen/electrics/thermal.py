"""Steady temperatures by a small thermal network: part, frame, tube, still air.

Heat flows as current does: a part warms the plastic of the frame that touches it and the air beside it, both
warm the tube at its stations, the tube leads heat along itself (cells of about 10 mm) and gives it off to
the room through a film coefficient. Film coefficients are the textbook range of free convection in gases;
everything is an estimate with its range: good contact in moved air, likely, poor contact in still air.
Method: thermal resistances in series and parallel, any text on heat transfer.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct

from chassis_gen.electrics.network import Element, Feed, Resistor, solve
from chassis_gen.electrics.result import Temperature
from chassis_gen.parts.extent import extent, extent_of
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import PlacedPart
from chassis_gen.plan.tube import Tube
from chassis_gen.shapes.primitives import placed
from chassis_gen.tables.conducting import named_in
from chassis_gen.tables.electrical import conductivities, electrical_rule

AIR = "air"
PLASTIC = "printed plastic"

_CELL = 10.0
_LEAST_GAP = 0.5
_MM = 1e-3


class Conditions(Struct, frozen=True):
    """One end of the range of an estimate.

    Args:
        film: W/(m2 K), on the tube's outside and on what a part doesn't touch.
        touching: share of a part's surface that the frame touches, 0 to 1.
    """

    film: float
    touching: float


class HeatSource(Struct, frozen=True):
    """A part that gives off heat.

    Args:
        part: part id.
        heat_w: W.
        z0: near end, mm.
        z1: far end, mm.
        area: its surface, mm2.
        gap: from its surface to the tube, mm.
    """

    part: str
    heat_w: float
    z0: float
    z1: float
    area: float
    gap: float


def conditions() -> tuple[Conditions, Conditions, Conditions]:
    """Return the conditions of the coolest, the likely and the warmest estimate."""
    rule = electrical_rule
    return (
        Conditions(rule("film_high").value, rule("touching_share_high").value),
        Conditions(rule("film").value, rule("touching_share").value),
        Conditions(rule("film_low").value, rule("touching_share_low").value),
    )


def wall_resistance(thickness: float, conductivity: float, area: float) -> float:
    """Return the thermal resistance of a plane wall, K/W: thickness / (conductivity x area).

    Args:
        thickness: mm.
        conductivity: W/(m K).
        area: mm2.
    """
    return thickness * _MM / (conductivity * area * _MM**2)


def film_resistance(film: float, area: float) -> float:
    """Return the thermal resistance of a film, K/W: 1 / (film coefficient x area).

    Args:
        film: W/(m2 K).
        area: mm2.
    """
    return 1.0 / (film * area * _MM**2)


def temperatures(plan: ChassisPlan, heats: Mapping[str, float]) -> tuple[Temperature, ...]:
    """Return the estimated steady temperature of each part that gives off heat.

    Args:
        plan: the build.
        heats: heat by part id, W.
    """
    sources = tuple(_source(plan, p, heats[p.id]) for p in plan.parts if heats.get(p.id, 0.0) > 0)
    if not sources:
        return ()
    rises = [part_rises(plan.tube, sources, c) for c in conditions()]
    ambient = plan.electrics.ambient_c
    return tuple(Temperature(s.part, s.heat_w, *(ambient + r[s.part] for r in rises)) for s in sources)


def part_rises(tube: Tube, sources: Sequence[HeatSource], at: Conditions) -> Mapping[str, float]:
    """Return how much warmer than the room each source gets, K.

    Args:
        tube: the tube.
        sources: what gives off heat.
        at: conditions.
    """
    stations = _stations(tube)
    # the room comes first, so that it is the reference
    elements: list[Element] = []
    for i in range(len(stations) - 1):
        elements += _tube_cell(tube, stations, i, at)
    for s in sources:
        elements += _source_elements(s, stations, at)
    solution = solve(elements)
    return {s.part: solution.across(s.part, AIR) for s in sources}


def _stations(tube: Tube) -> list[float]:
    count = max(2, math.ceil(tube.length / _CELL))
    return [tube.length * i / count for i in range(count + 1)]


def _tube_cell(tube: Tube, stations: Sequence[float], i: int, at: Conditions) -> list[Element]:
    z0, z1 = stations[i], stations[i + 1]
    middle = (z0 + z1) / 2
    outside = math.pi * tube.outer_diameter(middle) * (z1 - z0)
    film: Element = Resistor(f"film {i}", AIR, f"tube {i}", film_resistance(at.film, outside))
    if i + 2 == len(stations):
        return [film]
    along = wall_resistance((stations[i + 2] - z0) / 2, _conductivity(tube, middle), _ring_area(tube, middle))
    return [film, Resistor(f"along {i}", f"tube {i}", f"tube {i + 1}", along)]


def _ring_area(tube: Tube, z: float) -> float:
    bore = tube.smallest_bore(z, z + _MM).diameter
    return math.pi / 4 * (tube.outer_diameter(z) ** 2 - bore**2)


def _conductivity(tube: Tube, z: float) -> float:
    return conductivity_of(next((s.material for s in tube.segments if s.z0 <= z <= s.z1), PLASTIC))


def conductivity_of(material: str) -> float:
    """Return a material's conductivity, W/(m K); one that isn't tabled counts as plastic, the warmer guess.

    Args:
        material: in words, such as ``aluminium``.
    """
    known = conductivities()
    names = named_in(material, known)
    return known[names[0] if names else PLASTIC]


def _source_elements(s: HeatSource, stations: Sequence[float], at: Conditions) -> list[Element]:
    """Return the ways of one part's heat: through frame and touching plastic, and through the air inside."""
    touching = s.area * at.touching
    frame, inside = f"{s.part}: frame", f"{s.part}: air inside"
    half = wall_resistance(s.gap / 2, conductivities()[PLASTIC], touching)
    free = film_resistance(at.film, s.area - touching)
    found: list[Element] = [
        Feed(f"{s.part}: heat", AIR, s.part, s.heat_w),
        Resistor(f"{s.part}: into frame", s.part, frame, half),
        Resistor(f"{s.part}: into air", s.part, inside, free / 2),
    ]
    for i, share in _shares(s, stations):
        found.append(Resistor(f"{s.part}: frame {i}", frame, f"tube {i}", half / share))
        found.append(Resistor(f"{s.part}: inside {i}", inside, f"tube {i}", free / 2 / share))
    return found


def _shares(s: HeatSource, stations: Sequence[float]) -> list[tuple[int, float]]:
    """Return which cells of the tube lie round a part, and the share of its length in each."""
    spans = [(i, min(s.z1, stations[i + 1]) - max(s.z0, stations[i])) for i in range(len(stations) - 1)]
    inside = [(i, d) for i, d in spans if d > 0]
    total = sum(d for _, d in inside)
    if not inside:
        return [(0 if s.z1 <= 0 else len(stations) - 2, 1.0)]
    return [(i, d / total) for i, d in inside]


def _source(plan: ChassisPlan, part: PlacedPart, heat_w: float) -> HeatSource:
    low, high = extent(extent_of(placed(p, part.frame)) for p in part.part.envelope)
    x, y, z = (b - a for a, b in zip(low, high, strict=True))
    # A round bar's surface is pi / 4 of that of the box round it, its end faces included.
    area = math.pi / 4 * 2 * (x * y + y * z + z * x)
    bore = plan.tube.smallest_bore(max(0.0, low[2]), min(plan.tube.length, high[2])).diameter
    return HeatSource(part.id, heat_w, low[2], high[2], area, max(_LEAST_GAP, bore / 2 - (x + y) / 4))
