"""Pieces to try a part in before the chassis is printed: go/no-go rings and plugs, and a ring of a build.

Each fit class has three: drawn for its smallest clearance, its design value and its largest. They carry three
digits: 9, the class (1 is the tightest), and 1 to 3 for smallest, design, largest.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec import Struct

from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP
from chassis_gen.plan.sums import FIT_CLEARANCE, PART_SIZE, Term
from chassis_gen.printer.features import Feature, FeatureKind
from chassis_gen.printer.gauge import MARK_DEPTH
from chassis_gen.printer.marks import HEIGHT, mark, mark_width
from chassis_gen.problems import InputError, Problem
from chassis_gen.shapes.frame import Frame, Vec3, topped
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive, placed
from chassis_gen.shapes.recipe import Recipe, Step, add, cut
from chassis_gen.tables.fits import FitClass

ROUND_SIZES = ("rim_diameter", "slug_diameter", "flange_diameter", "body_diameter", "diameter")
FLAT_SIZES = ("width",)
"""The size that a part is seated by, the first that it has."""

WALL, THICKNESS, SLOT_LENGTH, RING_LENGTH = 1.6, 3.0, 8.0, 8.0
_TAB_MARGIN = 1.0
_SPACING = 3.0
_LEAST_PLUG = 14.0


class Tried(Struct, frozen=True):
    """What the go/no-go pieces are made for.

    Args:
        name: part name, or the tube's.
        size: what goes in, or what they go into, mm.
        form: ``ring`` (a bore for a round part), ``slot`` (for a flat one), or ``plug`` (into a tube).
    """

    name: str
    size: Measure
    form: str


class TryPiece(Struct, frozen=True):
    """One piece to try.

    Args:
        feature: its number and its drawn size.
        recipe: standing where it is printed.
    """

    feature: Feature
    recipe: Recipe


def tried_part(part: Part) -> Tried:
    """Return what a part is tried by.

    Args:
        part: the component.

    Raises:
        InputError: when it has no size that a plain ring or slot could take.
    """
    for names, form in ((ROUND_SIZES, "ring"), (FLAT_SIZES, "slot")):
        for name in names:
            if part.has(name):
                return Tried(f"{part.name}, {name.replace('_', ' ')}", part.sizes[name], form)
    allowed = "a part with one of: " + ", ".join((*ROUND_SIZES, *FLAT_SIZES)).replace("_", " ")
    raise InputError(
        [Problem("not-allowed", "this part has no size to try in a ring", value=part.name, allowed=allowed)]
    )


def tried_tube(plan: ChassisPlan) -> Tried:
    """Return what a build's tube is tried by: its smallest bore, which the whole chassis passes or ends in."""
    bore = min(plan.tube.bores, key=lambda b: b.diameter)
    source = f"bore from station {bore.z0:g} of {plan.build}"
    return Tried(f"tube of {plan.build}", Measure(bore.diameter, bore.tolerance, source, True), "plug")


def try_pieces(tried: Tried, fitter: Fitter, bed_width: float) -> tuple[TryPiece, ...]:
    """Return three pieces per fit class, in rows, tightest class first.

    Args:
        tried: what they are made for.
        fitter: fit classes and printer terms.
        bed_width: room for a row, mm.

    Raises:
        InputError: when a plug would be too small to carry its number.
    """
    if tried.form == "plug" and tried.size.value < _LEAST_PLUG:
        allowed = f"a bore of at least {_LEAST_PLUG:g} mm"
        value = f"{tried.size.value:g} mm"
        raise InputError(
            [Problem("out-of-range", "the tube is too narrow for plugs", value=value, allowed=allowed)]
        )
    drawn = [_drawn(tried, fitter, c, n) for n, c in enumerate(_by_clearance(fitter.classes), 1)]
    features = [f for row in drawn for f in row]
    across = max(max(f.nominal for f in features) + 2 * WALL, _tab_width()) + _SPACING
    along = max(f.nominal for f in features) + 2 * WALL + _tab_depth() + _SPACING
    columns = 3 if 3 * across <= bed_width else max(1, int(bed_width // across))
    pieces = []
    for k, f in enumerate(features):
        row, column = divmod(k, columns)
        at = Frame(((column + 0.5) * across, (row + 0.5) * along + _tab_depth() / 2, 0.0))
        steps = tuple(
            Step(s.operation, s.label, placed(s.solid, at), s.must_touch) for s in _steps(tried.form, f)
        )
        pieces.append(TryPiece(f, Recipe(f"try {f.number}", steps)))
    return tuple(pieces)


def build_ring(plan: ChassisPlan) -> Recipe:
    """Return a short ring of a build: its bearing on the tube and its cell's seat, lying as the chassis is printed.

    A build without a cell cradle gives the bearing alone, as a ring.

    Args:
        plan: the build.
    """
    cradle = next((s for s in plan.sections if s.kind == "cell_cradle"), None)
    z = (cradle.z0 + cradle.z1) / 2 if cradle else plan.z0
    step = min((s for s in plan.outer.steps if s.bearing), key=lambda s: abs((s.z0 + s.z1) / 2 - z))
    seat = plan.dimensions.get(f"{cradle.name}.seat_diameter") if cradle else None
    hole = seat.total / 2 if seat else step.radius - 2 * WALL
    flat = plan.outer.flat_distance
    steps: list[Step] = [*add("bearing", Cylinder(step.radius, 0.0, RING_LENGTH))]
    steps += cut("cell seat" if seat else "inside", Cylinder(hole, -OVERLAP, RING_LENGTH + OVERLAP))
    if flat is None:
        return Recipe("ring", tuple(steps))
    turn, radius = topped(plan.outer.flat_clock + 180.0), step.radius + 1.0
    below = Box((-radius, -radius, -1.0), (radius, -flat, RING_LENGTH + 1.0), turn)
    steps += cut("printing flat", below)
    # Lying: the side opposite the flat points up from the bed.
    up = Frame((0.0, RING_LENGTH, flat), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
    back = Frame((0.0, 0.0, 0.0), _column(turn, 0), _column(turn, 1), (0.0, 0.0, 1.0))
    lying = up @ back
    return Recipe(
        "ring", tuple(Step(s.operation, s.label, placed(s.solid, lying), s.must_touch) for s in steps)
    )


def _column(frame: Frame, axis: int) -> Vec3:
    """Return where an outer axis lies in a frame that is turned about z: the frame turned back."""
    return (frame.x_axis[axis], frame.y_axis[axis], 0.0)


def _by_clearance(classes: Mapping[str, FitClass]) -> list[FitClass]:
    return sorted(classes.values(), key=lambda c: c.clearance)[:9]


def _drawn(tried: Tried, fitter: Fitter, c: FitClass, row: int) -> list[Feature]:
    plug = tried.form == "plug"
    kind: FeatureKind = "outer" if plug else "inner"
    behaviour = fitter.printer.outer if plug else fitter.printer.inner
    features = []
    for n, (clearance, words) in enumerate(
        ((c.low, "smallest"), (c.clearance, "design"), (c.high, "largest")), 1
    ):
        change = Term(FIT_CLEARANCE, -2 * clearance if plug else 2 * clearance, f"{c.name}: {c.source}")
        terms = (Term(PART_SIZE, tried.size.value, tried.size.source), change)
        drawn = fitter.printed_sum(f"try.9{row}{n}", terms, behaviour, "").total
        what = f"{tried.name}: {c.name} at its {words} clearance, {clearance:g} per side"
        features.append(Feature(f"9{row}{n}", kind, drawn, what, "try"))
    return features


def _tab_width() -> float:
    return mark_width("000") + 2 * _TAB_MARGIN


def _tab_depth() -> float:
    return HEIGHT + 2 * _TAB_MARGIN


def _steps(form: str, f: Feature) -> tuple[Step, ...]:
    return _plug(f) if form == "plug" else _seat(form, f)


def _seat(form: str, f: Feature) -> tuple[Step, ...]:
    half, tab = f.nominal / 2, _tab_width() / 2
    body: Primitive
    hole: Primitive
    if form == "ring":
        front = half + WALL
        body = Cylinder(half + WALL, 0.0, THICKNESS)
        hole = Cylinder(half, -OVERLAP, THICKNESS + OVERLAP)
    else:
        front = SLOT_LENGTH / 2 + WALL
        body = Box((-half - WALL, -front, 0.0), (half + WALL, front, THICKNESS))
        hole = Box((-half, -SLOT_LENGTH / 2, -OVERLAP), (half, SLOT_LENGTH / 2, THICKNESS + OVERLAP))
    # The tab reaches to the middle and is opened with the hole, so that it meets the wall in a face.
    carrier = Box((-tab, -front - _tab_depth(), 0.0), (tab, 0.0, THICKNESS))
    number = mark(f.number, -mark_width(f.number) / 2, -front - HEIGHT - _TAB_MARGIN, THICKNESS, MARK_DEPTH)
    return (*add("seat", body), *add("tab", carrier), *cut("hole", hole), *cut(f"number {f.number}", *number))


def _plug(f: Feature) -> tuple[Step, ...]:
    radius, half = f.nominal / 2, HEIGHT / 2 + _TAB_MARGIN
    number = mark(f.number, -mark_width(f.number) / 2, -HEIGHT / 2, THICKNESS, MARK_DEPTH)
    reach = math.sqrt(radius**2 - half**2) - WALL / 2
    steps: tuple[Step, ...] = add("plug", Cylinder(radius, 0.0, THICKNESS))
    if radius - 2 * WALL > half:
        steps += cut("inside", Cylinder(radius - 2 * WALL, -OVERLAP, THICKNESS + OVERLAP))
        steps += add("bar", Box((-reach, -half, 0.0), (reach, half, THICKNESS)))
    return steps + cut(f"number {f.number}", *number)
