"""A maker's own drawing as a figure that can be cut: its shapes resolved once, before either kernel."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from msgspec import Struct

from chassis_gen.lettering.model import Figure, Island
from chassis_gen.params.beside import file_beside
from chassis_gen.params.reading import Source, read_text
from chassis_gen.params.surfaces import SurfaceTable
from chassis_gen.params.svg import Drawing, read_drawing
from chassis_gen.problems import InputError, Problem
from chassis_gen.shapes.primitives import Outline

APART = 0.002
"""Edges nearer than this share of the figure's size are drawn apart (chosen: 0.04 mm of 20 mm)."""
SAME_POINT = 1e-5
"""Corners nearer than this share of the figure's size are one: closer ones fall together in a written mesh."""
MOST_NARROW = 0.25
"""Strokes and gaps are measured up to this share of the figure's larger size."""


class Figures(Struct, frozen=True):
    """The outlines that a build brings along.

    Args:
        figures: by the file's name as the build file gives it.
        files: text of each file that was read, by its name as shown.
    """

    figures: Mapping[str, Figure]
    files: Mapping[str, str]


def figure(drawing: Drawing, file: str) -> Figure:
    """Return what a drawing fills.

    Args:
        drawing: as it was read.
        file: its name as shown to the maker.

    Raises:
        InputError: code ``drawing``, when it fills nothing or its edges can't be kept apart.
    """
    import numpy as np

    from chassis_gen.shapes.errors import GeometryError
    from chassis_gen.shapes.regions import Region

    first, *others = (Region([np.array(c) for c in s.contours], s.even_odd) for s in drawing.shapes)
    whole = first.joined(others)
    if whole.is_empty:
        raise InputError(
            [Problem("drawing", "the drawing fills nothing", file, allowed="closed, filled paths")]
        )
    (x0, y0), (x1, y1) = whole.bounds
    width, height = x1 - x0, y1 - y0
    size = max(width, height)
    try:
        loops = whole.parted(APART * size).islands()
    except GeometryError as error:
        why = f"the outline can't be made solid: {error.why}"
        raise InputError([Problem("drawing", why, file, allowed="outlines that don't touch")]) from None
    x, y, same = (x0 + x1) / 2, (y0 + y1) / 2, SAME_POINT * size

    def centred(outline: Outline) -> Outline:
        apart = [
            p for p, q in zip(outline, (*outline[1:], outline[0]), strict=True) if math.dist(p, q) > same
        ]
        return tuple((px - x, py - y) for px, py in apart)

    islands = tuple(Island(centred(outline), tuple(centred(h) for h in holes)) for outline, holes in loops)
    most = MOST_NARROW * size
    return Figure(islands, width, height, whole.thinnest(most), whole.narrowest_gap(most))


def build_figures(source: Source, tables: Sequence[SurfaceTable], folder: Path, root: Path) -> Figures:
    """Return the outlines that a build's patterns name, each file read once.

    Args:
        source: the build file.
        tables: its patterns.
        folder: the build's folder, where the drawings lie.
        root: the workspace, which files' names are shown relative to.

    Raises:
        InputError: a file isn't there, lies elsewhere, or can't be used; with all problems.
    """
    figures: dict[str, Figure] = {}
    files: dict[str, str] = {}
    problems: list[Problem] = []
    for i, table in enumerate(tables):
        if table.svg is None or table.svg in figures:
            continue
        try:
            what = 'an SVG file in the build\'s folder, such as "leaf.svg"'
            path = file_beside(source, ("surface", i, "svg"), table.svg, folder, ".svg", what)
            shown, text = read_text(path, root)
            files[shown] = text
            figures[table.svg] = figure(read_drawing(text, shown), shown)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return Figures(figures, files)
