"""The texts of a build: their font files read, their outlines made, each only once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from msgspec import Struct, field

from chassis_gen.lettering.model import TextOutline
from chassis_gen.params.beside import file_beside
from chassis_gen.params.codes import Rejection
from chassis_gen.params.lettering import LetteringTable
from chassis_gen.params.reading import Source, read_bytes, shown_name
from chassis_gen.problems import InputError, Problem

MOST_FONT_BYTES = 32 * 2**20
"""Of a font file; one with all Chinese, Japanese and Korean characters has some 20 MB."""
_ENDINGS = (".ttf", ".otf", ".ttc")
_KEYS = {"missing-glyph": "text", "not-allowed": "text"}


class Texts(Struct, frozen=True):
    """The texts of a build.

    Args:
        outlines: by font file (None for the default font) and text.
        files: content of each font file that was read, by its name as shown.
    """

    outlines: Mapping[tuple[str | None, str], TextOutline] = field(default_factory=dict)
    files: Mapping[str, bytes] = field(default_factory=dict)


def build_texts(source: Source, tables: Sequence[LetteringTable], folder: Path, root: Path) -> Texts:
    """Return the texts that a build asks for.

    Args:
        source: the build file.
        tables: its lettering.
        folder: the build's folder, where the fonts lie.
        root: the workspace, which files' names are shown relative to.

    Raises:
        InputError: a font can't be read or lacks a glyph, placed at the key that names it.
    """
    if not tables:
        return Texts()
    from chassis_gen.lettering.outline import text_outline
    from chassis_gen.lettering.shaping import default_font

    outlines: dict[tuple[str | None, str], TextOutline] = {}
    files: dict[str, bytes] = {}
    problems: list[Problem] = []
    for i, table in enumerate(tables):
        try:
            font = default_font() if table.font is None else _font(source, i, table.font, folder, root, files)
            if (table.font, table.text) not in outlines:
                outlines[table.font, table.text] = text_outline(font, table.text)
        except InputError as error:
            problems += [_placed(p, source, i, table) for p in error.problems]
    if problems:
        raise InputError(problems)
    return Texts(outlines, files)


def _font(source: Source, i: int, name: str, folder: Path, root: Path, files: dict[str, bytes]) -> bytes:
    ending = next((e for e in _ENDINGS if name.lower().endswith(e)), _ENDINGS[0])
    what = 'a font file in the build\'s folder, such as "stencil.ttf"'
    path = file_beside(source, ("lettering", i, "font"), name, folder, ending, what)
    shown = shown_name(path, root)
    if shown not in files:
        files[shown] = read_bytes(path, root, MOST_FONT_BYTES)
    return files[shown]


def _placed(problem: Problem, source: Source, i: int, table: LetteringTable) -> Problem:
    """Return a problem of a font or a text at its place in the build file."""
    if problem.file:
        return problem
    key = _KEYS.get(problem.code, "font" if table.font is not None else "text")
    rejection = Rejection(problem.code, problem.message, problem.allowed, problem.nearest)
    return source.problem(("lettering", i, key), rejection)
