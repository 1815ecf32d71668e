"""Cut-off plug: a dummy plug that opens a round jack's switching contact and so cuts the build off its cell.

Origin and axes: the jack's mouth; +z points outward. The sleeve goes in toward -z; its blind bore takes the
jack's centre pin. One flat along sleeve and head lets it be printed lying, layers along the sleeve.

        ________
       |  head o|      o: hole for a lanyard, across the head
       |__    __|  z = 0
          |::|
          |::|         :: blind bore, open at the tip
"""

from __future__ import annotations

from msgspec import Struct

from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import CHOSEN, FIT_CLEARANCE, PART_SIZE, Dimension, Term
from chassis_gen.shapes.frame import Frame, shifted, unit
from chassis_gen.shapes.primitives import Box, Cylinder, Pattern
from chassis_gen.shapes.recipe import Step, add, cut

SLEEVE_FIT = "free"
PIN_FIT = "free"
PIN_ROOM = 0.5
"""Bore over pin, mm on the diameter: 0.4 to 0.6, so that a thin pin is never bent."""
TIP_ROOM = 0.5
"""How far tip and bore stay clear of the jack's floor and of the pin's end, mm (chosen)."""
LANYARD = 1.5
"""Hole for a thin cord, mm (chosen)."""
HEAD_GAP = 0.05
"""Between head and flange in the model, so that the two don't share a face, mm."""
NOTCH = 0.6
"""Radius of the grip's notches, mm (chosen)."""
FLAT = 0.25
"""How far the flat cuts into the sleeve, mm (chosen)."""


class CutOffPlug(Struct, frozen=True):
    """A planned plug.

    Args:
        sleeve_diameter: labelled sum.
        bore_diameter: labelled sum.
        reach: labelled sum: how deep the sleeve goes into the jack.
        head_diameter: labelled sum.
        head_height: labelled sum.
        pin_fit: fit class by which the bore is judged.
    """

    sleeve_diameter: Dimension
    bore_diameter: Dimension
    reach: Dimension
    head_diameter: Dimension
    head_height: Dimension
    pin_fit: str = PIN_FIT

    @property
    def sleeve_wall(self) -> float:
        """Return the sleeve's wall at the flat, its thinnest place, mm."""
        return (self.sleeve_diameter.total - self.bore_diameter.total) / 2 - FLAT


def plan_plug(fitter: Fitter, name: str, jack: Part, reach: float | None, least_wall: float) -> CutOffPlug:
    """Return the plug of a jack whose mouth is known.

    Args:
        fitter: makes labelled sums.
        name: stem of the dimension names.
        jack: a charge jack with ``barrel_diameter``.
        reach: how deep it goes in, mm; None for nearly to the floor.
        least_wall: thinnest wall, mm.
    """
    pin = jack.sizes["pin_diameter"]
    head = max(jack.size("flange_diameter"), jack.size("barrel_diameter") + 4.0)
    deep = jack.size("pin_depth") - TIP_ROOM if reach is None else reach
    terms = (
        Term(CHOSEN, LANYARD, "hole for the lanyard: chosen"),
        Term("walls", 2 * least_wall, "above and below the hole"),
    )
    return CutOffPlug(
        sleeve_diameter=fitter.outer(
            f"{name}_sleeve_diameter", jack.sizes["barrel_diameter"], SLEEVE_FIT, "sleeve", jack.name
        ),
        bore_diameter=fitter.printed_sum(
            f"{name}_bore_diameter",
            (
                Term(PART_SIZE, pin.value, f"{jack.name}, pin_diameter: {pin.source}", pin.tolerance),
                Term(FIT_CLEARANCE, PIN_ROOM, "0.4 to 0.6 mm over the pin: common practice, no source"),
            ),
            fitter.printer.inner,
            "blind bore for the jack's pin",
            coats=2,
        ),
        reach=fitter.chosen(f"{name}_reach", deep, "how deep the sleeve goes into the jack"),
        head_diameter=fitter.chosen(f"{name}_head_diameter", head, "of the head", f"flange of {jack.name}"),
        head_height=fitter.summed(f"{name}_head_height", terms, "of the head"),
    )


def plug_steps(plug: CutOffPlug, mouth: Frame) -> tuple[Step, ...]:
    """Return the plug as it stands in its jack.

    Args:
        plug: the plug.
        mouth: frame on the jack's mouth, +z outward.
    """
    sleeve, head = plug.sleeve_diameter.total / 2, plug.head_diameter.total / 2
    top, tip = HEAD_GAP + plug.head_height.total, -plug.reach.total
    hole_y, middle = 0.55 * head, HEAD_GAP + plug.head_height.total / 2
    across = Frame((0.0, hole_y, middle), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))
    # Level with the axis and beside the top, clear of the lanyard's hole.
    notches = tuple(shifted(head * c, head * s) for c, s in map(unit, (0.0, 180.0, 65.0, 90.0, 115.0)))
    flat = sleeve - FLAT
    return (
        *add("sleeve", Cylinder(sleeve, tip, HEAD_GAP + 0.5, mouth)),
        *add("head", Cylinder(head, HEAD_GAP, top, mouth)),
        *cut("pin's bore", Cylinder(plug.bore_diameter.total / 2, tip - 1.0, TIP_ROOM, mouth)),
        *cut("lanyard's hole", Cylinder(LANYARD / 2, -head - 1.0, head + 1.0, mouth @ across)),
        *cut("grip", Pattern(Cylinder(NOTCH, HEAD_GAP - 1.0, top + 1.0), notches, mouth)),
        *cut("flat", Box((-head - 1.0, -head - 1.0, tip - 1.0), (head + 1.0, -flat, top + 1.0), mouth)),
    )
