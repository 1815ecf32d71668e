"""Panel button: how it sits in a bore with a flat, clamped between its head and its nut."""

from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_gen.findings import Finding, Remedy, error
from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import GRID, PART_SIZE, Dimension, Term
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.switch_seat_findings import radial_finding
from chassis_gen.sections.switch_seat_model import COVER, Site, SwitchSeat, Wishes
from chassis_gen.sections.switch_seat_places import placed_switch, switch_fit, switch_terminals
from chassis_gen.sections.switch_seat_sums import head_recess, highest_flat, room_width, spine_under
from chassis_gen.shapes.primitives import Box, Cylinder, Within
from chassis_gen.shapes.recipe import Step, cut

THREAD_LEFT = 1.0


def plan_button(part: Part, fitter: Fitter, site: Site, wishes: Wishes) -> SwitchSeat:
    """Return how a panel button sits at its site.

    Args:
        part: the button.
        fitter: makes labelled sums.
        site: where it stands.
        wishes: what the maker asks.
    """
    s = part.sizes
    recess = head_recess(part, fitter, site.id)
    name, note = f"{site.id}.bore_diameter", "bore for the body"
    bore = fitter.inner(name, s["body_diameter"], "slide", note, part.name)
    play = (bore.total - s["body_diameter"].value) / 2
    seat = _seat_height(part, fitter, site, wishes, play)
    frame = site.frame(seat.total + REST)
    back = s["body_depth"].largest + s["lug_length"].largest
    spine = spine_under(fitter, site, seat.total - back - wishes.wire_room, wishes.spine)
    flat = _flat_width(part, fitter, site)
    plate = fitter.chosen(
        f"{site.id}.plate_thickness", wishes.plate_thickness, "clamped between head and nut"
    )
    return SwitchSeat(
        part=placed_switch(part, site, frame, play, play),
        seat_height=seat,
        plate_thickness=plate,
        room_width=room_width(part, fitter, site.id),
        spine=spine,
        opening_width=recess,
        opening_length=recess,
        bore_diameter=bore,
        bore_flat_width=flat,
        window_width=None,
        window_length=None,
        cutters=_cutters(site, seat, recess, bore, flat, wishes.plate_thickness),
        fits=(switch_fit(fitter, bore, site, frame.x_axis, frame.y_axis),),
        terminals=switch_terminals(part, site, frame, spine.total),
        findings=(
            *_nut_finding(part, site, plate.total),
            *radial_finding(site, part, wishes, spine.total, _radial_rows(part, site, wishes, seat)),
        ),
        top=seat.total + REST + s["head_height"].value,
    )


def _flat_width(part: Part, fitter: Fitter, site: Site) -> Dimension:
    body, flat = part.sizes["body_diameter"], part.sizes["flat_depth"]
    across = Measure(body.value - flat.value, body.tolerance, f"body less its flat, {body.source}")
    name, note = f"{site.id}.bore_flat_width", "bore across its anti-turn flat"
    return fitter.inner(name, across, "slide", note, part.name)


def _seat_height(part: Part, fitter: Fitter, site: Site, wishes: Wishes, play: float) -> Dimension:
    """Return the height of the head's seat: all above it stays under the outer surface, rim included."""
    head, diameter = part.sizes["head_height"], part.sizes["head_diameter"]
    top = highest_flat(site, diameter.largest / 2 + play)
    terms = [
        Term("outer radius", site.radius, "chassis in tube"),
        Term("cover", -COVER, "under the outer surface while sliding in"),
        Term("head's rim", top - (site.radius - COVER), f"a flat head {diameter.value:g} mm wide"),
    ]
    if wishes.slide_in == "free":
        travel = part.sizes["travel"]
        terms.append(Term("travel", -travel.value, f"{part.name}: the released actuator: {travel.source}"))
    terms += [
        Term(PART_SIZE, -head.value, f"{part.name}: head height, {head.source}", head.tolerance),
        Term("tolerance", -head.tolerance, f"{part.name}: the highest head"),
        Term("rest", -REST, "gap between head and seat in the model"),
    ]
    return fitter.summed(f"{site.id}.seat_height", tuple(terms), "head's seat over the tube's axis")


def _cutters(
    site: Site, seat: Dimension, recess: Dimension, bore: Dimension, flat: Dimension, plate: float
) -> tuple[Step, ...]:
    frame = site.frame(seat.total)
    out = site.largest_radius + 1.0 - seat.total
    r = bore.total / 2
    barrel = Cylinder(r, -plate - 0.5, 0.5)
    # The far side of the bore stands at -r, so the flat stands at its width less r.
    keep = Box((-r - 1.0, -r - 1.0, -plate - 1.0), (flat.total - r, r + 1.0, 1.0))
    return (
        *cut("head recess", Cylinder(recess.total / 2, 0.0, out, frame)),
        *cut("button bore", Within(barrel, keep, frame)),
    )


def _nut_finding(part: Part, site: Site, plate: float) -> Iterator[Finding]:
    """Yield an error where plate and nut are thicker than the button's body is deep."""
    nut, deep = part.sizes["nut_height"].largest, part.size("body_depth")
    needed = plate + nut + THREAD_LEFT
    if needed <= deep + GRID:
        return
    thickest = math.floor((deep - nut - THREAD_LEFT) * 10) / 10
    message = (
        f"plate {plate:.2f} + nut {nut:.2f} + {THREAD_LEFT:g} mm of thread = "
        f"{needed:.2f} mm, but the body of {part.name} is {deep:.2f} mm deep"
    )
    remedies = (Remedy("plate_thickness", thickest, f"a plate of {thickest:g} mm"),) if thickest > 0 else ()
    yield error("plate-too-thick", site.id, message, {"needed": needed, "available": deep}, *remedies)


def _radial_rows(part: Part, site: Site, wishes: Wishes, seat: Dimension) -> tuple[tuple[str, float], ...]:
    """Return what the button needs from the surface down to its lugs, by label, mm."""
    s, travel = part.sizes, part.size("travel") if wishes.slide_in == "free" else 0.0
    head = s["head_height"].largest
    return (
        ("cover and rim", site.radius - seat.total - head - REST - travel),
        ("travel", travel),
        ("head", head + REST),
        ("body", s["body_depth"].largest),
        ("lugs", s["lug_length"].largest),
    )
