"""What texts and patterns on the outer surface stand on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from chassis_gen.plan.model import Outer, SectionPlan
from chassis_gen.sections.base import Rules, SectionContext


class OuterGround(Struct, frozen=True):
    """What surface work stands on.

    Args:
        sections: all planned sections.
        bodies: the sections in line, with their companions' obstacles.
        hosts: for each companion the section whose body it is cut into.
        contexts: what each section knows.
        outer: the chassis's outer surface.
        rules: limits of printing.
    """

    sections: Sequence[SectionPlan]
    bodies: Sequence[SectionPlan]
    hosts: Mapping[str, str]
    contexts: Mapping[str, SectionContext]
    outer: Outer
    rules: Rules
