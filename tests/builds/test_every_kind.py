"""Every section kind with its defaults: both kernels make the same solid, and its STEP file says so elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from chassis_gen.output.step import step_bytes
from chassis_gen.sections.registry import section_kinds
from chassis_gen.shapes import mesh
from chassis_gen.shapes.agreement import VOLUME_SHARE, compare, cut_stations, without_patterns
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.recipe import Recipe
from tests.sections.support import planned

# What a kind has no default for.
ASKED: Mapping[str, Mapping[str, Any]] = {
    "speaker_cup": {"part": "speaker 32 mm", "cap": "round"},
    "custom": {"part": "radio board"},
}
KINDS = tuple(section_kinds())


def recipes(kind: str) -> tuple[Recipe, ...]:
    """Return the recipes of a section with its defaults in a 40 mm bore: its own, then its extra pieces'."""
    section = section_kinds()[kind]
    params = section.Params.model_validate({"kind": kind, "name": kind, **ASKED.get(kind, {})})
    # A cup opens to an end of the chassis.
    mouth = kind == "speaker_cup"
    plan, _, recipe = planned(section, params, ends=(mouth, False), joined=(not mouth, True))
    assert not [f for f in plan.findings if f.blocks_solids]
    extra = tuple(Recipe(p.name, p.steps) for p in plan.extra_pieces)
    return tuple(map(without_patterns, (recipe, *extra)))


def volumes_read(path: Path) -> list[float]:
    """Return the volumes, mm3, of the solids of a STEP file as gmsh reads it."""
    gmsh = pytest.importorskip("gmsh")
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        return [gmsh.model.occ.getMass(d, t) for d, t in gmsh.model.occ.importShapes(str(path)) if d == 3]
    finally:
        gmsh.finalize()


def volume_bound(body: Body) -> float:
    """Return by how much the chord tolerance may change a mesh's volume, mm3."""
    return VOLUME_SHARE * mesh.DEFAULT_CHORD * body.area + 1e-6


@pytest.mark.parametrize("kind", KINDS)
def test_the_kernels_agree_and_another_reader_finds_the_mesh_s_volume_in_the_step_file(
    kind: str, tmp_path: Path
) -> None:
    brep = pytest.importorskip("chassis_gen.shapes.brep")
    made = recipes(kind)
    assert made[0].steps
    for recipe in made:
        body, shape = mesh.make(recipe), brep.make(recipe)
        assert shape.isValid()
        agreement = compare(recipe, body, shape, mesh.DEFAULT_CHORD, cut_stations(recipe, mesh.DEFAULT_CHORD))
        assert agreement.ok, "\n".join(agreement.rows())
        path = tmp_path / f"{recipe.name}.step"
        path.write_bytes(step_bytes([(recipe.name, shape)], recipe.name))
        # gmsh as an independent reader.
        volumes = volumes_read(path)
        assert len(volumes) == len(body.components())
        assert sum(volumes) == pytest.approx(body.volume, abs=volume_bound(body))
