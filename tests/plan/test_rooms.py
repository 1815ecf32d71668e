"""The rooms of the code: imports run one way, kernels stay in shapes."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import chassis_gen

ROOT = Path(chassis_gen.__file__).parent
LEAVES = {"problems", "findings", "records"}
SHARED_SHAPES = {"shapes.frame", "shapes.primitives", "shapes.recipe", "shapes"}
KERNELS = {"manifold3d", "cadquery", "OCP"}
WRITERS_OF_EXACT_SOLIDS = {"cadquery", "OCP", "vtk", "vtkmodules", "lib3mf"}

# a room may import those named here and itself; plan and sections know each other's contract
MAY_IMPORT = {
    "problems": set(),
    "findings": set(),
    "records": set(),
    "tables": LEAVES,
    "params": LEAVES,
    "parts": LEAVES | {"tables", "params", *SHARED_SHAPES},
    "lettering": LEAVES | {"params", "shapes"},
    "plan": LEAVES
    | {"tables", "params", "parts", "lettering.model", "sections.base", "sections.features", *SHARED_SHAPES},
    "sections": LEAVES | {"tables", "params", "parts", "plan", *SHARED_SHAPES},
    "shapes": LEAVES,
    "cache": LEAVES | {"shapes"},
    "electrics": LEAVES | {"tables", "params", "parts", "plan", *SHARED_SHAPES},
    "checks": LEAVES
    | {"tables", "params", "parts", "plan", "electrics", "sections.base", "sections.features", "shapes"},
    "printer": LEAVES | {"tables", "params", "parts", "plan", "sections.base", "shapes", "checks"},
    "output": LEAVES
    | {"tables", "params", "parts", "plan", "electrics", "sections.base"}
    | {"shapes", "checks", "printer", "cache"},
}


def name_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


MODULES = {name_of(p): p for p in sorted(ROOT.rglob("*.py"))}


@cache
def imports(path: Path) -> tuple[str, ...]:
    """Return the full names that a module imports at run time anywhere in it, its functions included."""
    return tuple(_imports(path))


def _imports(path: Path) -> Iterator[str]:
    tree = ast.parse(path.read_text("utf-8"))
    typing_only = {
        id(node)
        for branch in tree.body
        if isinstance(branch, ast.If) and "TYPE_CHECKING" in ast.dump(branch.test)
        for node in ast.walk(branch)
    }
    for node in ast.walk(tree):
        if id(node) in typing_only:
            continue
        if isinstance(node, ast.Import):
            yield from (a.name for a in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written in full"
            yield from (f"{node.module}.{a.name}" for a in node.names)


def inner(path: Path) -> set[str]:
    """Return the modules of this package that a module imports, without the package's name."""
    found = set()
    for name in imports(path):
        if name == "chassis_gen" or name.startswith("chassis_gen."):
            rest = name.removeprefix("chassis_gen").removeprefix(".")
            while rest and rest not in MODULES:
                rest = rest.rpartition(".")[0]
            found.add(rest)
    return found - {""}


def allowed(module: str, room: str) -> bool:
    return any(module == a or module.startswith(a + ".") for a in MAY_IMPORT[room] | {room})


@pytest.mark.parametrize("room", sorted(MAY_IMPORT))
def test_a_room_imports_only_what_comes_before_it(room: str) -> None:
    members = {n: p for n, p in MODULES.items() if n == room or n.startswith(room + ".")}
    assert members
    wrong = {n: bad for n, p in members.items() if (bad := {m for m in inner(p) if not allowed(m, room)})}
    assert wrong == {}


@pytest.mark.parametrize("kernel", sorted(KERNELS))
def test_only_shapes_imports_a_geometry_kernel(kernel: str) -> None:
    """Project rule: only shapes/ imports a kernel; exact solids are written with its library."""
    users = {n for n, p in MODULES.items() if kernel in {i.split(".")[0] for i in imports(p)}}
    writers = {n for n in users if n.startswith("output.")} if kernel in WRITERS_OF_EXACT_SOLIDS else set()
    assert {n for n in users - writers if not n.startswith("shapes.")} == set()


def test_kinds_of_sections_know_nothing_of_each_other() -> None:
    """Project rule: a section knows nothing of other sections; what two share is a module that is no kind."""
    kinds = {
        n for n, p in MODULES.items() if n.startswith("sections.") and "\nKIND = " in p.read_text("utf-8")
    }
    assert len(kinds) >= 2
    for n, path in MODULES.items():
        if n.startswith("sections."):
            assert inner(path) & (kinds - {n}) == set(), n


def test_sections_know_no_files_no_command_line_and_no_planner() -> None:
    far = (
        "cli",
        "output",
        "pipeline",
        "plan.planner",
        "plan.pieces",
        "plan.lanes",
        "plan.wiring",
        "params.workspace",
    )
    for n, path in MODULES.items():
        if n.startswith("sections."):
            assert not [m for m in inner(path) if m.startswith(far)], n


def test_a_check_never_prints() -> None:
    for n, path in MODULES.items():
        if n.startswith(("checks.", "plan.")):
            calls = (c.func for c in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(c, ast.Call))
            assert "print" not in {f.id for f in calls if isinstance(f, ast.Name)}, n


def test_no_module_imports_itself_in_a_ring() -> None:
    """Within plan, modules can be put in an order in which each imports only earlier ones."""
    graph = {n: inner(p) & MODULES.keys() for n, p in MODULES.items() if n.startswith("plan.")}
    left = dict(graph)
    while left:
        ready = {n for n, needs in left.items() if not (needs - {n}) & left.keys()}
        assert ready, f"a ring among {sorted(left)}"
        left = {n: needs for n, needs in left.items() if n not in ready}
