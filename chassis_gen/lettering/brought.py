"""What a build's surface work brings along: texts as outlines, drawings as figures; loaded only where asked for."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field

from chassis_gen.params.reading import Source
from chassis_gen.problems import InputError, Problem

if TYPE_CHECKING:
    from chassis_gen.lettering.model import Figure, TextOutline


class Brought(Struct, frozen=True):
    """Outlines for a build's surfaces.

    Args:
        texts: by font file (None for the default font) and text.
        figures: drawings by the file's name as the build file gives it.
        files: text of each drawing that was read, by its name as shown.
        binaries: content of each font file that was read, by its name as shown.
    """

    texts: Mapping[tuple[str | None, str], TextOutline] = field(default_factory=dict)
    figures: Mapping[str, Figure] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    binaries: Mapping[str, bytes] = field(default_factory=dict)


def brought_along(source: Source, build: Any, folder: Path, root: Path) -> Brought:
    """Return the outlines that a build's surface work asks for.

    Args:
        source: the build file.
        build: its model.
        folder: the build's folder, where fonts and drawings lie.
        root: the workspace, which files' names are shown relative to.

    Raises:
        InputError: with every problem of its fonts, texts and drawings.
    """
    problems: list[Problem] = []
    made = Brought()
    if build.surface:
        from chassis_gen.lettering.drawing import build_figures

        try:
            drawn = build_figures(source, build.surface, folder, root)
            made = Brought(figures=drawn.figures, files=drawn.files)
        except InputError as error:
            problems += error.problems
    if build.lettering:
        from chassis_gen.lettering.texts import build_texts

        try:
            texts = build_texts(source, build.lettering, folder, root)
            made = Brought(texts.outlines, made.figures, made.files, texts.files)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return made
