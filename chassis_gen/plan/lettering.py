"""Lettering of a build: texts put on their faces, held against room, wall and nozzle, and added to the pieces."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.lettering.model import TextOutline
from chassis_gen.params.codes import Rejection
from chassis_gen.params.lettering import LetteringTable
from chassis_gen.plan.beside import with_companions
from chassis_gen.plan.chassis import PiecePlan
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.letter_faces import Letter, PlacedText, RoundFace, TextFace, engraved, raised, text_box
from chassis_gen.plan.letter_findings import text_findings
from chassis_gen.plan.letter_laying import LaidText, laid_text
from chassis_gen.plan.letter_room import Blank
from chassis_gen.plan.model import OVERLAP, Obstacle, Outer, SectionPlan
from chassis_gen.plan.outer_room import Patch
from chassis_gen.plan.pieces import file_safe
from chassis_gen.problems import nearest_name
from chassis_gen.sections.base import Rules, SectionContext
from chassis_gen.shapes.primitives import Point2, Primitive
from chassis_gen.shapes.recipe import Step, add, cut

LEFT_OUT = ("text-outside", "text-room")
"""Findings with which a text isn't cut."""
FLOOR_SKIN = 0.05
"""The floor's look begins this far beneath it, mm: beyond the sag of facets."""


class Lettering(Struct, frozen=True):
    """Pieces with their texts, the texts as they were placed, and what was found."""

    pieces: tuple[PiecePlan, ...]
    texts: tuple[PlacedText, ...] = ()
    findings: tuple[Finding, ...] = ()

    def patches(self, hosts: Mapping[str, str]) -> dict[str, tuple[Patch, ...]]:
        """Return what the texts take of the outer surface, by the section whose body it is.

        Args:
            hosts: for each companion the section whose body it is cut into.
        """
        found: dict[str, tuple[Patch, ...]] = {}
        for t in self.texts:
            if t.patch:
                name = hosts.get(t.section, t.section)
                found[name] = (*found.get(name, ()), Patch(*t.patch, f'lettering "{t.text}"'))
        return found


def check_lettering(
    inputs: BuildInputs,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    contexts: Mapping[str, SectionContext],
    gathering: Gathering,
) -> None:
    """Gather texts on sections, pieces or faces that there are not.

    Args:
        inputs: the build's files.
        sections: all planned sections.
        hosts: for each companion the section whose body it is cut into.
        contexts: what each section knows.
        gathering: takes the problems.
    """
    names = [s.name for s in sections]
    for i, table in enumerate(inputs.build.lettering):
        if table.section not in names:
            rejection = Rejection(
                "unknown-name",
                f'there is no section "{table.section}"',
                ", ".join(names),
                nearest_name(table.section, names),
            )
            gathering.reject(inputs, ("lettering", i, "section"), rejection)
            continue
        if table.on is None:
            here = contexts[hosts.get(table.section, table.section)]
            if (table.face == "near" and here.joined_near) or (table.face == "far" and here.joined_far):
                why = f'the {table.face} face of "{here.name}" is joined to the next section of its piece'
                gathering.reject(
                    inputs, ("lettering", i, "face"), Rejection("not-allowed", why, "an end of the piece")
                )
            continue
        section = next(s for s in sections if s.name == table.section)
        own = [e.name for e in section.extra_pieces]
        if file_safe(table.on) not in own:
            rejection = Rejection(
                "unknown-name",
                f'"{table.section}" makes no piece "{table.on}"',
                ", ".join(own) or "none: leave it out for the section itself",
                nearest_name(table.on, own),
            )
            gathering.reject(inputs, ("lettering", i, "on"), rejection)
        elif table.face == "flat":
            why = "the printing flat is cut into the chassis only"
            gathering.reject(
                inputs, ("lettering", i, "face"), Rejection("not-allowed", why, "outside, near or far")
            )


def letter_pieces(
    inputs: BuildInputs,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    contexts: Mapping[str, SectionContext],
    pieces: Sequence[PiecePlan],
    blocked: Sequence[Obstacle],
    outer: Outer,
    rules: Rules,
) -> Lettering:
    """Return the pieces with the build's texts.

    A text that finds no room isn't cut; the finding says why.

    Args:
        inputs: the build's files, the texts' outlines among them.
        sections: all planned sections.
        hosts: for each companion the section whose body it is cut into.
        contexts: what each section knows.
        pieces: from `chassis_gen.plan.pieces.plan_pieces`; none where a section can't be made.
        blocked: obstacles of the whole chassis.
        outer: the chassis's outer surface.
        rules: limits of printing.
    """
    made = Lettering(tuple(pieces))
    if not pieces:
        return made
    merged = {s.name: s for s in with_companions(sections, hosts)}
    for i, table in enumerate(inputs.build.lettering):
        section = merged[hosts.get(table.section, table.section)]
        name = file_safe(table.on) if table.on else section.name
        blank = Blank(
            name,
            next(r for p in made.pieces for r in p.recipes if r.name == name).steps,
            section,
            table.on is not None,
            outer,
            tuple(blocked),
            rules,
            made.patches(hosts).get(section.name, ()),
        )
        outline = inputs.texts[(table.font, table.text)]
        made = _with_text(made, i, table, outline, blank, contexts[table.section].clock_deg)
    return made


def _with_text(
    made: Lettering, i: int, table: LetteringTable, outline: TextOutline, blank: Blank, top: float
) -> Lettering:
    """Return the pieces with one more text, or with what bars it."""
    laid = laid_text(table, outline, blank, top)
    found = (*made.findings, *text_findings(i, table, outline, laid, top))
    if any(f.code in LEFT_OUT for f in found[len(made.findings) :]):
        return replace(made, findings=found)
    make = engraved if table.style == "engraved" else raised
    solids = make(laid.place.face, laid.letters, table.depth)
    steps = _steps(table, laid.place.face, solids, laid.field)
    pieces = tuple(
        replace(p, recipes=tuple(r.then(steps) if r.name == blank.name else r for r in p.recipes))
        for p in made.pieces
    )
    owner = next(p.name for p in made.pieces if any(r.name == blank.name for r in p.recipes))
    return Lettering(pieces, (*made.texts, _placed_text(i, table, outline, laid, owner, solids)), found)


def _placed_text(
    i: int,
    table: LetteringTable,
    outline: TextOutline,
    laid: LaidText,
    piece: str,
    solids: tuple[Primitive, ...],
) -> PlacedText:
    place, blank, scale = laid.place, laid.place.blank, table.size / outline.capital
    (x0, y0), (x1, y1) = text_box(laid.letters)
    across = table.face in ("outside", "flat") and (table.direction or "along").startswith("along")
    under = laid.sunk + blank.rules.least_wall, laid.sunk + FLOOR_SKIN
    grounds = laid.letters if table.style == "engraved" else (_rectangle(laid.field),)
    return PlacedText(
        id=f"lettering[{i}]",
        text=table.text,
        section=table.section,
        piece=piece,
        face=table.face,
        style=table.style,
        font=outline.font,
        clock_deg=place.clock_deg,
        station=place.station,
        size=table.size,
        depth=table.depth,
        length=y1 - y0 if across else x1 - x0,
        height=x1 - x0 if across else y1 - y0,
        stroke=outline.stroke * scale,
        gap=outline.gap * scale,
        area=outline.area * scale**2,
        letters=solids,
        floors=tuple(place.face.solid(x, *under) for x in grounds),
        patch=None if blank.extra else laid.patch,
    )


def _steps(
    table: LetteringTable, face: TextFace, letters: Sequence[Primitive], whole: tuple[Point2, Point2]
) -> tuple[Step, ...]:
    label = f'lettering "{table.text}"'
    if table.style == "engraved":
        steps = cut(label, *letters)
    else:
        steps = (
            *cut(f"panel of {label}", face.panel(*whole, table.depth + OVERLAP)),
            *add(label, *letters),
        )
    # letters on the round surface take an exact kernel seconds, those on planes a tenth of that
    return tuple(replace(s, surface=isinstance(face, RoundFace)) for s in steps)


def _rectangle(box: tuple[Point2, Point2]) -> Letter:
    (x0, y0), (x1, y1) = box
    return Letter(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), ())
