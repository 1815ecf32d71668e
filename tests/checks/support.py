"""A small sound chassis made by hand, with places where tests plant their faults.

Two sections in a plain 40 mm bore: `cradle` (stations 16 to 66) with a cell of 18.5 x 39.7 mm in a seat
that leaves 0.15 mm all round, and `button` (66 to 96) with a 12.2 mm bore under a tube opening at station
81, clock 90. A tapped M3 hole stands in the cradle at clock 225, a lane with one wire runs through both
sections at clock 200.
"""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from chassis_gen.checks.result import Solids
from chassis_gen.parts.model import Part
from chassis_gen.plan.chassis import ChassisPlan, Lane, Leg, PiecePlan, Route, Wire
from chassis_gen.plan.model import Fit, Outer, OuterStep, PlacedPart, Play, PlayProbe, ScrewHole, SectionPlan
from chassis_gen.plan.sums import FIT_CLEARANCE, PART_SIZE, Dimension, Term
from chassis_gen.plan.tube import Bore, Segment, Tube
from chassis_gen.sections.base import Material, Opening, Rules
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import Vec3, radial, reversed_axis, shifted, unit
from chassis_gen.shapes.mesh import make, solid
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive, TubeSegment, placed
from chassis_gen.shapes.recipe import Recipe, Step, add, cut

CHORD = 0.01
X: Vec3 = (1.0, 0.0, 0.0)
Y: Vec3 = (0.0, 1.0, 0.0)
Z: Vec3 = (0.0, 0.0, 1.0)
RADIUS = 19.8
SEAT = 9.4
OPENING = Opening("button", 81.0, 90.0, 12.2)


def neg(v: Vec3) -> Vec3:
    return -v[0], -v[1], -v[2]


def cell(**changes: Any) -> PlacedPart:
    part = Part("cell", "cell", "a cell", {}, 45.0, (Cylinder(9.25, 0.0, 39.7),))
    plays = tuple(Play(d, 0.15) for d in (X, neg(X), neg(Y), Z, neg(Z)))
    placed_part = PlacedPart(
        "cradle", part, shifted(z=20.15), "cradle", "chassis", neg(Y), (*plays, Play(Y, None))
    )
    return replace(placed_part, **changes)


def screw(**changes: Any) -> ScrewHole:
    frame = reversed_axis(radial(225.0, 41.0, RADIUS))
    diameter = Dimension("cradle.screw_diameter", (Term(PART_SIZE, 2.5, "test"),))
    hole = ScrewHole("cradle.screw", "tapped", "M3", frame, 7.0, diameter, 7.0, 6.0, 1.5, "chassis")
    return replace(hole, **changes)


def lane(section: str, z0: float, z1: float, **changes: Any) -> Lane:
    made = Lane(
        f"{section} lane 1", section, 195.0, 205.0, z0, z1, 17.5, RADIUS, ("wire 1",), False, 0.2, 0.6
    )
    return replace(made, **changes)


def cradle_steps(seat: float = SEAT) -> tuple[Step, ...]:
    hole = screw()
    return (
        *add("bar", Cylinder(RADIUS, 16.0, 66.0625)),
        *cut("seat", Cylinder(seat, 20.0, 60.0), Box((-seat, 0.0, 20.0), (seat, 30.0, 60.0))),
        *cut("screw", Cylinder(hole.diameter.total / 2, -0.5, hole.depth, hole.frame)),
        *cut("lane", TubeSegment(17.5, 21.0, 15.0, 66.2, 195.0, 205.0)),
    )


def button_steps(round_off: float = 0.0, along: float = 0.0) -> tuple[Step, ...]:
    bore = Cylinder(6.1, 2.0, 25.0, radial(90.0, 81.0 + along).moved((-round_off, 0.0, 0.0)))
    return (
        *add("bar", Cylinder(RADIUS, 66.0, 96.0)),
        *cut("button bore", bore),
        *cut("lane", TubeSegment(17.5, 21.0, 65.9, 97.0, 195.0, 205.0)),
    )


def sections(**cradle: Any) -> tuple[SectionPlan, SectionPlan]:
    given = {"parts": (cell(),), "holes": (screw(),), "fits": (seat_fit(),), **cradle}
    first = SectionPlan("cell_cradle", "cradle", 16.0, 66.0, "chassis", None, **given)
    axis = {"button axis": ((0.0, 0.0, 81.0), Y)}
    second = SectionPlan(
        "switch_block", "button", 66.0, 96.0, "chassis", None, features=axis, openings=("button",)
    )
    return first, second


def seat_fit() -> Fit:
    terms = (Term(PART_SIZE, 18.5, "test", 0.05), Term(FIT_CLEARANCE, 0.3, "slide, 0.15 per side"))
    return Fit(
        id="cradle.seat_diameter",
        kind="part in seat",
        between=("cell", "cradle"),
        fit_class="slide",
        required=(0.05, 0.25),
        planned=0.15,
        as_printed=0.15,
        tolerance_terms=(0.025, 0.015),
        probe=PlayProbe("cradle", (X, neg(X), neg(Y))),
        dimension=Dimension("cradle.seat_diameter", terms),
    )


def tube(*bores: Bore) -> Tube:
    made = bores or (Bore(0.0, 120.0, 40.0, 0.1),)
    return Tube((Segment("tube", 0.0, 120.0, 1.5, "aluminium", made),), (OPENING,))


def route() -> Route:
    wire = Wire("wire 1", "a", "b", 26, "silicone", "red", 1.0, 0.4)
    c, s = unit(200.0)
    legs = tuple(
        Leg("lane", name, (18 * c, 18 * s, z0), (18 * c, 18 * s, z1), z1 - z0)
        for name, z0, z1 in (("cradle", 16.0, 66.0), ("button", 66.0, 96.0))
    )
    return Route(wire, legs, 80.0, 100.0)


def plan(**changes: Any) -> ChassisPlan:
    made = sections()
    given: dict[str, Any] = {
        "build": "small",
        "title": "small",
        "printer": "test",
        "calibrated": False,
        "material": Material("PETG", 1.27, 0.04, 0.5),
        "rules": Rules(0.4, 0.2, 0.8, 1.6),
        "tube": tube(),
        "outer": Outer((OuterStep(16.0, 96.0, RADIUS, True),)),
        "z0": 16.0,
        "z1": 96.0,
        "sections": made,
        "contexts": {},
        "routes": (route(),),
        "lanes": (lane("cradle", 16.0, 66.0), lane("button", 66.0, 96.0)),
        "pieces": (PiecePlan("chassis", (), ("cradle", "button")),),
        "fits": made[0].fits,
        "dimensions": {},
        "hardware": (),
        "findings": (),
        "cautions": (),
        **changes,
    }
    return ChassisPlan(**given)


def solids(
    build: ChassisPlan,
    cradle: tuple[Step, ...] | None = None,
    button: tuple[Step, ...] | None = None,
    **pieces: Body,
) -> Solids:
    parts = {
        "cradle": make(Recipe("cradle", cradle or cradle_steps()), CHORD),
        "button": make(Recipe("button", button or button_steps()), CHORD),
    }
    chassis = parts["cradle"].union(parts["button"])
    envelopes = {p.id: envelope(*(placed(s, p.frame) for s in p.part.envelope)) for p in build.parts}
    return Solids({"chassis": chassis, **pieces}, parts, envelopes, tube_body(build), CHORD)


def tube_body(build: ChassisPlan) -> Body:
    outer = solid(Cylinder(21.5, 0.0, 120.0), CHORD)
    bores = [solid(Cylinder(b.diameter / 2, b.z0 - 1.0, b.z1 + 1.0), CHORD) for b in build.tube.bores]
    hole = solid(Cylinder(6.1, 15.0, 25.0, radial(90.0, 81.0)), CHORD)
    return outer.cut(*bores, hole)


def envelope(*primitives: Primitive) -> Body:
    made = [solid(p, CHORD) for p in primitives]
    return made[0].union(*made[1:])
