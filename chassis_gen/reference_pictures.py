"""The pictures of the reference pages, made from one build that has a section of each kind.

Run `python -m chassis_gen.reference_pictures` after a change to a section's recipe.
"""

from __future__ import annotations

import importlib.resources
import tomllib
from collections.abc import Mapping
from pathlib import Path

from chassis_gen import pipeline
from chassis_gen.output.pictures import section_picture
from chassis_gen.params.reading import Source, parse_model
from chassis_gen.params.writing import write_bytes_atomically
from chassis_gen.plan.inputs import BuildInputs
from chassis_gen.plan.planner import plan_build
from chassis_gen.sections.registry import section_kinds
from chassis_gen.shapes.body import Body

BUILD = "reference-build.toml"
CAP = "resonance_cap"
"""The cap has a page of its own; it is a piece of the speaker cup."""

CLOSED = "cover_closed"
LIFT = 14.0
"""A cover's page shows the lid lifted off, mm, and in place."""


def reference_pictures() -> Mapping[str, bytes]:
    """Return a PNG by page name for every section of the reference build, and for the resonance cap.

    Raises:
        OutputUnavailable: where no renderer is to be had.
    """
    text = importlib.resources.files("chassis_gen.docs").joinpath(BUILD).read_text("utf-8")
    source = Source(BUILD, text, tomllib.loads(text))
    build = parse_model(source, pipeline.model_of_builds())
    plan = plan_build(BuildInputs("reference", build, source, None, None, {}), section_kinds())
    solids = pipeline.solids_of(plan)
    shown: dict[str, tuple[Body, list[Body]]] = {}
    for section in plan.sections:
        seated = [solids.parts[p.id] for p in section.parts]
        shown[section.name] = (solids.sections[section.name], seated)
        for piece in section.extra_pieces:
            if piece.name.endswith("-cap"):
                shown[CAP] = (solids.pieces[piece.name], [])
            if section.covering:
                body, lid = solids.sections[section.name], solids.pieces[piece.name]
                out = piece.way_in
                lifted = lid.moved((-LIFT * out[0], -LIFT * out[1], -LIFT * out[2]))
                shown[section.name], shown[CLOSED] = (body, [lifted]), (body, [lid])
    return {name: section_picture(body, parts, (900, 560)) for name, (body, parts) in shown.items()}


def write_pictures(folder: Path) -> tuple[Path, ...]:
    """Write the pictures into a folder and return their paths.

    Args:
        folder: where the reference pages lie.
    """
    written = []
    for name, data in reference_pictures().items():
        path = folder / f"{name}.png"
        write_bytes_atomically(path, data)
        written.append(path)
    return tuple(written)


if __name__ == "__main__":
    for picture in write_pictures(Path(__file__).parent / "docs" / "sections"):
        print(picture.name)
