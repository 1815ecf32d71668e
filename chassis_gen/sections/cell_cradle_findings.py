"""What can't work about a cell cradle: how its arms hold and bend, its walls, the order of its cells, the way for gas."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import chain

from chassis_gen.findings import Finding, Remedy, error, wall_left
from chassis_gen.parts.catalogue import catalogue
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import GRID
from chassis_gen.sections.cell_cradle_arms import snap_of
from chassis_gen.sections.cell_cradle_layout import Cradle, gas_path, laid_out_for, walls_of
from chassis_gen.sections.cell_cradle_model import LEVEL_RANGE, SQUEEZE_RANGE
from chassis_gen.sections.cell_cradle_sums import LEAST_HOLD, least_squeeze, mouth_width, squeeze_of
from chassis_gen.tables.materials import all_materials

LEAST_GAS_PATH = 3.0
"""Smallest free path for gas, mm2, about a 2 mm hole: common practice, no source."""
LEAST_GROOVE = 0.2
"""Shallowest groove that still takes a thin ribbon, mm: common practice, no source."""
MOST_CELLS = 2
"""How many smaller cells are tried where one has no room (chosen)."""


def findings(cradle: Cradle) -> tuple[Finding, ...]:
    """Return what can't work, as planned."""
    kinds = (_hold, _strain, _walls, _order, _gas)
    return tuple(chain.from_iterable(of(cradle) for of in kinds))


def _hold(cradle: Cradle) -> Iterator[Finding]:
    """Yield an error where the smallest cell of its sort can fall out."""
    snap, cell = cradle.detail.snap, cradle.cell
    if snap.smallest >= LEAST_HOLD - GRID:
        return
    wanted = least_squeeze(cell.sizes["diameter"])
    remedies = (
        [Remedy("squeeze", wanted, f"squeeze {wanted:g} mm")] if wanted <= SQUEEZE_RANGE[1] + 1e-9 else []
    )
    message = (
        f"the smallest {cell.name} spreads each arm by {snap.smallest:.3f} mm, less than "
        f"{LEAST_HOLD:g} mm: it can fall out; measure your own cell or squeeze more"
    )
    numbers = {"squeeze_smallest": snap.smallest, "least": LEAST_HOLD}
    yield error("cell-held-loosely", cradle.ctx.name, message, numbers, *remedies)


def _strain(cradle: Cradle) -> Iterator[Finding]:
    """Yield an error where the largest cell bends the arms further than the plastic takes."""
    snap, setting = cradle.detail.snap, cradle.ctx.setting
    if snap.strain <= snap.limit:
        return
    layers = "across the layers" if setting.print_lying else "along the layers"
    message = (
        f"the largest {cradle.cell.name} spreads each arm by {snap.largest:.3f} mm: "
        f"{100 * snap.strain:.2f} % strain in "
        f"{setting.material.name}, which takes {100 * snap.limit:.2f} % {layers}"
    )
    numbers = {
        "strain_percent": 100 * snap.strain,
        "limit_percent": 100 * snap.limit,
        "arm_length": snap.length,
        "arm_thickness": snap.thickness,
        "squeeze_largest": snap.largest,
    }
    yield error("snap-strain", cradle.ctx.name, message, numbers, *_strain_remedies(cradle))


def _strain_remedies(cradle: Cradle) -> Iterator[Remedy]:
    """Yield thinner arms, a lower base, less squeeze and plastics, each only where it would be enough."""
    setting, snap = cradle.ctx.setting, cradle.detail.snap
    thickness, level, squeeze = snap.thickness, snap.level, squeeze_of(cradle.params, cradle.cell)
    thinner = _first(
        _thinner(thickness, setting.rules.least_wall), lambda t: _bears(cradle, t, level, squeeze)
    )
    if thinner is not None:
        yield Remedy("arm_thickness", thinner, f"arms {thinner} mm thick")
    lower = _first(_lower(level), lambda v: _bears(cradle, thickness, v, squeeze))
    if lower is not None:
        yield Remedy("base_level", lower, f"base down to {lower} seat radii")
    softer = _first(
        _softer(squeeze, least_squeeze(cradle.cell.sizes["diameter"])),
        lambda s: _bears(cradle, thickness, level, s),
    )
    if softer is not None:
        yield Remedy("squeeze", softer, f"squeeze {softer} mm")
    across = setting.print_lying
    limits = {m.name: m.snap_strain_across_layers if across else m.snap_strain_limit for m in all_materials()}
    for _, name in sorted((v, name) for name, v in limits.items() if v >= snap.strain):
        yield Remedy("build.material", name, f"print in {name}; mind its own settings")
    words = (
        "a plastic that takes more strain, a smaller squeeze with a cell of your own measured, "
        "or a wider tube, in which the arms are longer"
    )
    yield Remedy(None, None, words)


def _first(values: Iterator[float], is_enough: Callable[[float], bool]) -> float | None:
    return next((v for v in values if is_enough(v)), None)


def _thinner(thickness: float, least: float) -> Iterator[float]:
    """Yield arm thicknesses below one, by tenths of a millimetre down to the least wall, mm."""
    tenths = range(math.floor(thickness * 10 - 1e-6), 0, -1)
    return (t / 10 for t in tenths if t / 10 >= least - 1e-9)


def _lower(level: float) -> Iterator[float]:
    """Yield base levels below one, in seat radii."""
    return (v / 100 for v in range(math.ceil(level * 100 + 1e-6), round(LEVEL_RANGE[1] * 100) + 1))


def _softer(squeeze: float, least: float) -> Iterator[float]:
    """Yield squeezes below one that still hold the smallest cell, mm."""
    hundredths = range(math.floor(squeeze * 100 - 1e-6), round(SQUEEZE_RANGE[0] * 100) - 1, -1)
    return (s / 100 for s in hundredths if s / 100 >= least - 1e-9)


def _bears(cradle: Cradle, thickness: float, level: float, squeeze: float) -> bool:
    """Return whether the plastic would bear the strain in arms of a thickness over a base at a level."""
    setting, cell = cradle.ctx.setting, cradle.cell
    mouth = mouth_width(cradle.ctx.name, squeeze, cell, setting.fitter)
    snap = snap_of(setting, cell, cradle.bore, mouth, level, thickness)
    return snap.strain <= snap.limit


def _walls(cradle: Cradle) -> Iterator[Finding]:
    """Yield what is too thin: arms clipped by the outer surface, or else the base under seat and ribbon."""
    ctx, bore, left = cradle.ctx, cradle.bore, walls_of(cradle)
    least = ctx.setting.rules.least_wall
    blocks = min(left.arms, left.floor) - left.groove < least / 2
    if left.arms < least:
        message = (
            f"between the seat's {2 * bore:.2f} mm bore and the chassis's {2 * ctx.radius:.2f} mm outside "
            f"{wall_left(left.arms)}, less than {least:g} mm"
        )
        numbers = {"wall": left.arms, "least_wall": least, "largest_seat": 2 * (ctx.radius - least)}
        yield error("wall-thin", ctx.name, message, numbers, *_room_remedies(cradle), blocks=blocks)
    elif left.under < least:
        message = f"{wall_left(left.under)} under the cell, less than {least:g} mm"
        numbers = {"wall": left.under, "least_wall": least, "groove": left.groove}
        remedies = (*_ribbon_remedies(cradle), *_room_remedies(cradle))
        yield error("wall-thin", ctx.name, message, numbers, *remedies, blocks=blocks)


def _ribbon_remedies(cradle: Cradle) -> Iterator[Remedy]:
    """Yield a shallower groove and none, where the floor would be thick enough without it."""
    floor, least = walls_of(cradle).floor, cradle.ctx.setting.rules.least_wall
    if cradle.detail.ribbon is None or floor < least:
        return
    depth = math.floor((floor - least) * 10 + 1e-6) / 10
    if depth >= LEAST_GROOVE:
        yield Remedy("ribbon_depth", depth, f"ribbon groove {depth:g} mm deep")
    yield Remedy("ribbon_slot", False, "no ribbon slot")


def _room_remedies(cradle: Cradle) -> Iterator[Remedy]:
    """Yield what gives a cell its wall: bearing all along, the largest like cells that fit, a wider tube.

    Thinner arms or another squeeze don't: the seat's bore alone decides what is left beside it.
    """
    ctx, left = cradle.ctx, walls_of(cradle)
    least = ctx.setting.rules.least_wall
    short = least - min(left.arms, left.under)
    wider = max((s.radius for s in ctx.outer.steps if s.bearing), default=ctx.radius) - ctx.radius
    if not cradle.params.bearing and wider > GRID and left.arms + wider >= least and left.floor >= least:
        yield Remedy("bearing", True, "bear on the bore over the whole section")
    for cell in _cells_that_fit(cradle)[:MOST_CELLS]:
        words = f"{cell.name}, the largest of its sort that fits; mind its capacity and protection"
        yield Remedy("part", cell.name, words)
    bore = math.ceil(20 * (ctx.bore_radius + short)) / 10
    words = f"a tube with a bore of {bore:g} mm or more, or a thinner cell"
    if cradle.detail.ribbon and left.floor >= least:
        words += "; without its ribbon slot (ribbon_slot = false) the wall would do, if all else has room"
    yield Remedy(None, None, words)


def _cells_that_fit(cradle: Cradle) -> list[Part]:
    """Return the generic cells of the same sort that leave enough wall, the thickest first, of these the longest.

    Of the same sort are those whose cautions are the same: another chemistry has another voltage.
    """
    setting, own = cradle.ctx.setting, cradle.cell
    alike = (
        setting.find_part(generic.name)
        for generic in catalogue().values()
        if generic.kind == own.kind and generic.cautions == own.cautions and generic.name != own.name
    )
    fitting = [cell for cell in alike if _leaves_wall(laid_out_for(cell, cradle.params, cradle.ctx))]
    return sorted(fitting, key=lambda c: (-c.size("diameter"), -c.size("length")))


def _leaves_wall(cradle: Cradle) -> bool:
    left = walls_of(cradle)
    return min(left.arms, left.under) >= cradle.ctx.setting.rules.least_wall


def _order(cradle: Cradle) -> Iterator[Finding]:
    """Yield an error where two cells in line meet with like poles."""
    each = cradle.params.each_direction
    clash = next((k for k in range(1, len(each)) if each[k] != each[k - 1]), None)
    if clash is None:
        return
    pole = "plus" if each[clash - 1] == "plus_far" else "minus"
    message = f"cells {clash} and {clash + 1} meet {pole} to {pole}: they don't add up"
    remedy = Remedy("directions", [each[0]], f"all cells {each[0]}")
    yield error("cells-opposed", cradle.ctx.name, message, {"cell": float(clash)}, remedy)


def _gas(cradle: Cradle) -> Iterator[Finding]:
    """Yield an error where gas from a failing cell can't get past the chassis."""
    gas = gas_path(cradle)
    if gas >= LEAST_GAS_PATH:
        return
    message = (
        f"gas from the cell has {gas:.1f} mm2 to the outside past the chassis, less than "
        f"{LEAST_GAS_PATH:g} mm2: it must never be sealed in; give the chassis more clearance in the tube"
    )
    numbers = {"gas_path_mm2": gas, "least_mm2": LEAST_GAS_PATH}
    yield error("gas-path-closed", cradle.ctx.name, message, numbers)
