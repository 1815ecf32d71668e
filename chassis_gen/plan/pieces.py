"""Pieces: what is printed as one body, the recipes it is the union of, and how it fits the tube."""

from __future__ import annotations

import itertools
import re
import unicodedata
from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from chassis_gen.params.codes import Rejection
from chassis_gen.params.workspace import is_reserved
from chassis_gen.plan.beside import with_companions
from chassis_gen.plan.chassis import PiecePlan
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.laying import Wiring
from chassis_gen.plan.model import OVERLAP, BoreProbe, Fit, GapProbe, Outer, PlayProbe, SectionPlan
from chassis_gen.plan.sums import shown
from chassis_gen.plan.surface import Bearing, Reach
from chassis_gen.plan.transfer import transfer_pads
from chassis_gen.plan.tube import Tube
from chassis_gen.sections.base import SectionContext, SectionKind
from chassis_gen.shapes.frame import clocked
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Recipe, Step, cut


def file_safe(name: str) -> str:
    """Return a name as it may stand in a file's name: small letters of any script, digits, points and dashes.

    A name that stands for a device on some system gets "-piece" behind it.
    """
    plain = unicodedata.normalize("NFC", name).lower()
    safe = re.sub(r"[^\w.]+|_", "-", plain).strip("-.") or "piece"
    return f"{safe}-piece" if is_reserved(safe) else safe


def with_file_names(section: SectionPlan) -> SectionPlan:
    """Return a section whose own pieces (caps, carriers) go by their file-safe names throughout.

    Args:
        section: as its kind planned it.
    """
    names = {e.name: file_safe(e.name) for e in section.extra_pieces}

    def safe(name: str) -> str:
        return names.get(name, name)

    def probe(p: PlayProbe | GapProbe | BoreProbe) -> PlayProbe | GapProbe | BoreProbe:
        if isinstance(p, GapProbe):
            return replace(p, a=safe(p.a), b=safe(p.b))
        return replace(p, piece=safe(p.piece)) if isinstance(p, BoreProbe) else p

    return replace(
        section,
        parts=tuple(
            replace(p, piece=safe(p.piece), pierces=tuple(safe(x) for x in p.pierces)) for p in section.parts
        ),
        fits=tuple(
            replace(f, between=(safe(f.between[0]), safe(f.between[1])), probe=probe(f.probe))
            for f in section.fits
        ),
        holes=tuple(replace(h, piece=safe(h.piece)) for h in section.holes),
        extra_pieces=tuple(
            replace(e, name=safe(e.name), nominal_contact=tuple(safe(x) for x in e.nominal_contact))
            for e in section.extra_pieces
        ),
    )


def check_piece_names(inputs: BuildInputs, sections: Sequence[SectionPlan], gathering: Gathering) -> None:
    """Gather caps and carriers whose file would be another piece's.

    Args:
        inputs: the build's files.
        sections: the planned sections, in file order.
        gathering: takes the problems.
    """
    taken = {s.piece for s in sections}
    for i, s in enumerate(sections):
        for extra in s.extra_pieces:
            if extra.name in taken:
                why = f'its piece "{extra.name}" has the name of another piece'
                gathering.reject(
                    inputs, ("section", i, "name"), Rejection("duplicate-name", why, "another name")
                )
            taken.add(extra.name)


def plan_pieces(
    kinds: Mapping[str, SectionKind],
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    contexts: Mapping[str, SectionContext],
    wiring: Wiring,
    outer: Outer,
    tube: Tube,
) -> tuple[PiecePlan, ...]:
    """Return the printed pieces: runs of sections, then caps and carriers; none if a section can't be made.

    Args:
        kinds: section kinds by name.
        sections: the planned sections.
        hosts: for each companion the section whose body it is cut into.
        contexts: what each section knows, by section name.
        wiring: its cuts come after a section's own steps.
        outer: the chassis's outer surface.
        tube: the tube, whose transfer holes want pads.
    """
    if any(f.blocks_solids for s in sections for f in s.findings):
        return ()
    pieces = []
    in_line = [s for s in sections if s.name not in hosts]
    bodies = {s.name: s for s in with_companions(sections, hosts)}
    for name, run in itertools.groupby(in_line, key=lambda s: s.piece):
        members = tuple(run)
        recipes = tuple(
            Recipe(
                s.name,
                (
                    *kinds[s.kind].recipe(s, contexts[s.name]),
                    *(
                        step
                        for c in sections
                        if hosts.get(c.name) == s.name
                        for step in kinds[c.kind].recipe(c, contexts[c.name])
                    ),
                    *transfer_pads(tube, bodies[s.name], outer),
                    *_flat(outer, s),
                    *wiring.steps.get(s.name, ()),
                ),
            )
            for s in members
        )
        pieces.append(PiecePlan(name, recipes, tuple(s.name for s in members)))
    for s in sections:
        for extra in s.extra_pieces:
            recipe = Recipe(extra.name, extra.steps)
            pieces.append(PiecePlan(extra.name, (recipe,), (s.name,), extra.way_in, owner=s.name))
    return tuple(pieces)


def _flat(outer: Outer, section: SectionPlan) -> tuple[Step, ...]:
    """Return the cut of the printing flat over a section."""
    if outer.flat_distance is None:
        return ()
    wide = 2 * max(s.radius for s in outer.steps)
    z0, z1 = section.z0 - 2 * OVERLAP, section.z1 + 2 * OVERLAP
    box = Box((outer.flat_distance, -wide, z0), (wide, wide, z1), clocked(outer.flat_clock))
    return cut("printing flat", box, must_touch=False)


def tube_fits(
    reaches: Sequence[Reach],
    outer: Outer,
    sections: Sequence[SectionPlan],
    tube: Tube,
    bearing: Bearing,
    fitter: Fitter,
) -> tuple[Fit, ...]:
    """Return the fit of the bearing bands in the bores that they were made for, piece by piece.

    Args:
        reaches: the bore that each range of stations passes.
        outer: the chassis's outer surface.
        sections: the planned sections.
        tube: the tube.
        bearing: see `Bearing`.
        fitter: made the bearing diameters.
    """
    fits = []
    for name, run in itertools.groupby(sections, key=lambda s: s.piece):
        members = tuple(run)
        for reach in reaches:
            z0, z1 = max(reach.z0, members[0].z0), min(reach.z1, members[-1].z1)
            for step in outer.over(z0, z1):
                here = tube.smallest_bore(step.z0, step.z1).diameter
                if not step.bearing or abs(here - reach.bore.diameter) > 1e-9:
                    continue
                low, high = _bearing_of(step.z0, step.z1, members)
                if high - low < 2 * OVERLAP:
                    continue
                probe = GapProbe(name, "tube", low, high)
                between = (name, "tube")
                fit = fitter.fit(reach.diameter, "chassis in tube", between, bearing.fit, probe, outer=True)
                fits.append(replace(fit, id=f"{fit.id}@{shown(step.z0)}"))
    return tuple(fits)


def _bearing_of(z0: float, z1: float, sections: Sequence[SectionPlan]) -> tuple[float, float]:
    """Return what of a range of stations bears: less what sections at the piece's ends leave of it."""
    near, far = sections[0].rim, sections[-1].rim
    return max(z0, near.z0) if near else z0, min(z1, far.z1) if far else z1
