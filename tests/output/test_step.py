import json
import math
import os
import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest
from msgspec.structs import replace

from chassis_gen.cache.solids import exact_of
from chassis_gen.cache.store import NOTHING
from chassis_gen.output.exact import ExactSolids, exact_solids
from chassis_gen.output.step import exact_kernel, step_bytes
from chassis_gen.plan.chassis import PiecePlan
from chassis_gen.problems import InputError
from chassis_gen.shapes.frame import shifted
from chassis_gen.shapes.mesh import make
from chassis_gen.shapes.primitives import Cylinder, Pattern
from chassis_gen.shapes.recipe import Recipe, add, cut
from tests.checks import support
from tests.output.support import CAP, digests, files, result, silent

ROOT = Path(__file__).resolve().parents[2]
STEP_FILES = {"assembly.step", "pieces/chassis.step", "pieces/cap.step"}


@pytest.fixture(scope="module")
def made() -> Mapping[str, bytes]:
    return files(True)


@pytest.fixture(scope="module")
def exact() -> ExactSolids:
    return exact_solids(result(), silent)


def exact_volume(solids: ExactSolids, piece: str) -> float:
    """Return the volume of a piece's exact solid, mm3."""
    return next(a.figures[0].exact for a in solids.pieces if a.name == piece)


def test_there_is_a_file_per_piece_and_one_of_all(made: Mapping[str, bytes]) -> None:
    assert {n for n in made if n.endswith(".step")} == STEP_FILES
    assert json.loads(made["fit-report.json"])["step_made"] is True


def test_the_schema_is_ap242_and_the_pieces_have_their_names(made: Mapping[str, bytes]) -> None:
    # ISO 10303-242; a product's name is the second figure of PRODUCT (ISO 10303-41).
    text = made["assembly.step"].decode("ascii")
    assert "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING" in text
    assert re.findall(r"= PRODUCT\('([^']*)','([^']*)'", text) == [
        (n, n) for n in ("small", "chassis", "cap")
    ]
    assert re.findall(r"USAGE_OCCURRENCE\('(\d+)'", text) == ["1", "2"]
    assert re.findall(r"= PRODUCT\('([^']*)'", made["pieces/cap.step"].decode("ascii")) == ["cap"]


def test_another_reader_finds_the_volumes(
    made: Mapping[str, bytes], tmp_path: Path, exact: ExactSolids
) -> None:
    # gmsh as an independent reader; its lengths are mm.
    gmsh = pytest.importorskip("gmsh")
    path = tmp_path / "assembly.step"
    path.write_bytes(made["assembly.step"])
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        found = gmsh.model.occ.importShapes(str(path))
        volumes = [gmsh.model.occ.getMass(d, t) for d, t in found if d == 3]
    finally:
        gmsh.finalize()
    # The cap in closed form: pi (19^2 - 5^2) 4 mm3.
    assert volumes == [
        pytest.approx(exact_volume(exact, "chassis"), rel=1e-9),
        pytest.approx(math.pi * (19.0**2 - 5.0**2) * 4.0, rel=1e-9),
    ]


def test_the_kernels_agree_on_every_section_and_piece(made: Mapping[str, bytes]) -> None:
    rows = json.loads(made["fit-report.json"])["agreement"]
    assert [(r["of"], r["name"], r["ok"]) for r in rows] == [
        ("section", "cradle", True),
        ("section", "button", True),
        ("section", "cap", True),
        ("piece", "chassis", True),
        ("piece", "cap", True),
    ]


def test_another_process_writes_the_same_bytes(made: Mapping[str, bytes]) -> None:
    code = (
        "import json\n"
        "from tests.output.support import CAP, digests, files\n"
        "print(json.dumps(digests(files(True))))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "11"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(done.stdout.splitlines()[-1]) == digests(made)


def test_names_beyond_the_file_s_alphabet_don_t_spoil_it() -> None:
    data = step_bytes([("cap", exact_of(CAP, NOTHING))], "Lanterne du quai n\u00ba 2, l'\u00e9t\u00e9")
    assert data.isascii()
    assert data.rstrip().endswith(b"END-ISO-10303-21;")


def test_a_mesh_that_lacks_a_hole_is_an_error() -> None:
    solids = result().solids
    assert solids is not None
    no_bore = make(Recipe("button", tuple(s for s in support.button_steps() if s.label != "button bore")))
    broken = replace(result(), solids=replace(solids, sections={**solids.sections, "button": no_bore}))
    found = exact_solids(broken, silent).findings
    assert {(f.level, f.code, f.where) for f in found} == {
        ("error", "kernels-disagree", "button"),
        ("error", "kernels-disagree", "chassis"),
    }


def test_patterns_stay_out_of_step_and_a_note_says_so() -> None:
    holes = Pattern(Cylinder(0.6, -1.0, 3.0), tuple(shifted(x=3.0 * i) for i in range(-2, 3)))
    recipe = Recipe("grille", (*add("plate", Cylinder(10.0, 0.0, 2.0)), *cut("sound holes", holes)))
    plan = replace(result().plan, pieces=(PiecePlan("grille", (recipe,), ("button",), owner="button"),))
    solids = result().solids
    assert solids is not None
    build = replace(result(), plan=plan, solids=replace(solids, pieces={"grille": make(recipe)}))
    made = exact_solids(build, silent)
    assert [(f.level, f.code) for f in made.findings] == [("note", "step-without-patterns")]
    assert "sound holes" in made.findings[0].message
    assert exact_volume(made, "grille") == pytest.approx(math.pi * 100.0 * 2.0, rel=1e-9)


def test_a_missing_system_library_is_told_with_its_package(monkeypatch: pytest.MonkeyPatch) -> None:
    import chassis_gen.shapes

    monkeypatch.delattr(chassis_gen.shapes, "brep", raising=False)
    monkeypatch.delitem(sys.modules, "chassis_gen.shapes.brep", raising=False)
    monkeypatch.setitem(sys.modules, "cadquery", None)
    with pytest.raises(InputError) as caught:
        exact_kernel()
    (problem,) = caught.value.problems
    assert problem.code == "kernel-missing"
    assert "libgl1" in problem.message
    assert "libx11-6" in problem.message
    assert problem.allowed is not None
    assert "--no-step" in problem.allowed
