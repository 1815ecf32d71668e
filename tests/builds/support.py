"""Whole builds in a workspace of their own, and readers of what they write that share no code with them."""

from __future__ import annotations

import io
import math
import shutil
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit
import trimesh

from chassis_gen.checks.result import CheckResult
from chassis_gen.output.folder import Made, build_files
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import Loaded, check_build, load_build

ROOT = Path(__file__).parents[2]
SHARED = ("printers", "tubes", "parts")
Array = Any


def silent(_: str) -> None:
    """Say nothing."""


def demo_text(name: str) -> str:
    """Return the parameter file of a demo build."""
    return (ROOT / "profiles" / name / "build.toml").read_text("utf-8")


def workspace(folder: Path, text: str, name: str = "own") -> Workspace:
    """Return a workspace with one build, and the shared files of the demo builds."""
    profiles = folder / "profiles"
    (profiles / name).mkdir(parents=True, exist_ok=True)
    (profiles / name / "build.toml").write_text(text, "utf-8")
    for kind in SHARED:
        if not (profiles / kind).exists():
            shutil.copytree(ROOT / "profiles" / kind, profiles / kind)
    return Workspace(folder)


def loaded(folder: Path, text: str) -> Loaded:
    """Return a build text as it is read from a workspace."""
    return load_build(workspace(folder, text), "own")


def checked(folder: Path, text: str) -> CheckResult:
    """Return a build text's plan, solids and findings."""
    return check_build(loaded(folder, text))


@cache
def demo(name: str) -> tuple[CheckResult, Made]:
    """Return a demo build's checks and the files that are written for it, without STEP."""
    build = load_build(Workspace(ROOT), name)
    result = check_build(build)
    return result, build_files(result, step=False, png=False, progress=silent, inputs=build.files)


def stl(files: Mapping[str, bytes], piece: str = "chassis") -> trimesh.Trimesh:
    """Return a written piece as trimesh reads it."""
    return trimesh.load(io.BytesIO(files[f"pieces/{piece}.stl"]), file_type="stl")


def written(result: CheckResult, piece: str = "chassis") -> trimesh.Trimesh:
    """Return a piece of a checked build as trimesh reads what is written of it."""
    return stl(build_files(result, step=False, png=False, progress=silent, inputs={}).files, piece)


def with_key(text: str, key: str, value: object) -> str:
    """Return a parameter file with the value at a dotted key path, such as ``section[2].part``, set."""
    document: Any = tomlkit.parse(text)
    *path, last = [int(x) if x.isdigit() else x for x in key.replace("]", "").replace("[", ".").split(".")]
    at = document
    for step in path:
        at = at[step]
    at[last] = value
    return tomlkit.dumps(document)


# what stands where: clock angles count from +x toward +y, stations from the mouth along +z


def outward(clock_deg: float) -> Array:
    """Return the unit vector that points from the tube's axis to a clock."""
    return np.array([math.cos(math.radians(clock_deg)), math.sin(math.radians(clock_deg)), 0.0])


def onward(clock_deg: float) -> Array:
    """Return the unit vector along the circumference, the way clock angles grow."""
    return outward(clock_deg + 90.0)


def hits(mesh: trimesh.Trimesh, origin: Array, direction: Array) -> Array:
    """Return the distances at which a ray meets a mesh, in order.

    T. Moeller, B. Trumbore, Fast, minimum storage ray/triangle intersection, J. Graphics Tools 2 (1997).
    """
    a, b, c = (mesh.triangles[:, k] for k in range(3))
    one, two = b - a, c - a
    across = np.cross(direction, two)
    volume = np.einsum("ij,ij->i", one, across)
    with np.errstate(divide="ignore", invalid="ignore"):
        from_a = origin - a
        u = np.einsum("ij,ij->i", from_a, across) / volume
        turned = np.cross(from_a, one)
        v = turned @ direction / volume
        distance = np.einsum("ij,ij->i", two, turned) / volume
        met = (np.abs(volume) > 1e-12) & (u >= 0) & (v >= 0) & (u + v <= 1) & (distance > 0)
    return np.sort(distance[met])


def first_walls(mesh: trimesh.Trimesh, middle: Array, one: Array, two: Array, count: int = 90) -> Array:
    """Return where rays from a point meet the first wall, in the plane of two axes, as rows of (one, two).

    The mesh is cut by the plane with trimesh; the rays then meet the cut's outline.
    """
    segments = trimesh.intersections.mesh_plane(mesh, np.cross(one, two), middle)
    flat = (segments - middle) @ np.array([one, two]).T
    start, along = flat[:, 0], flat[:, 1] - flat[:, 0]
    found = []
    for turn in (np.arange(count) + 0.37) * (2 * math.pi / count):
        way = np.array([math.cos(turn), math.sin(turn)])
        with np.errstate(divide="ignore", invalid="ignore"):
            cross = way[0] * along[:, 1] - way[1] * along[:, 0]
            distance = (start[:, 0] * along[:, 1] - start[:, 1] * along[:, 0]) / cross
            share = (start[:, 0] * way[1] - start[:, 1] * way[0]) / cross
            met = (distance > 0) & (share >= 0) & (share <= 1)
        found.append(way * distance[met].min() if met.any() else [np.nan, np.nan])
    return np.array(found)


def circle(points: Array) -> tuple[float, float, float]:
    """Return centre and radius of the circle nearest to points (algebraic least squares, I. Kasa 1976)."""
    rows = np.column_stack([2 * points, np.ones(len(points))])
    x, y, c = np.linalg.lstsq(rows, (points**2).sum(axis=1), rcond=None)[0]
    return float(x), float(y), float(math.sqrt(c + x * x + y * y))
