"""Outlines of texts against the font's own figures, and widths against shapes of known width."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.perimeterPen import PerimeterPen
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

from chassis_gen.lettering.outline import text_outline
from chassis_gen.lettering.shaping import FLATNESS, default_font
from chassis_gen.problems import InputError
from chassis_gen.shapes.regions import Region

FONT = TTFont(io.BytesIO(default_font()), lazy=True)
GLYPHS = FONT.getGlyphSet()
EM = FONT["head"].unitsPerEm


def box(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=float)


@pytest.mark.parametrize("letter", "QFgß8&ΦΣПжאשع")
def test_the_area_of_a_letter_is_that_of_the_fonts_own_curves(letter: str) -> None:
    """fontTools' area pen integrates the curves of the font file exactly (Green's theorem)."""
    name = FONT.getBestCmap()[ord(letter)]
    area, way_round = AreaPen(GLYPHS), PerimeterPen(GLYPHS)
    GLYPHS[name].draw(area)
    GLYPHS[name].draw(way_round)
    bound = FLATNESS * way_round.value / EM
    assert text_outline(default_font(), letter).area == pytest.approx(abs(area.value) / EM**2, abs=bound)


def test_a_line_stands_at_the_fonts_advances_and_kerning() -> None:
    """Advance widths from the font's hmtx table; the default font has no kerning between these two."""
    widths = FONT["hmtx"].metrics
    second = text_outline(default_font(), "II")
    left = GLYPHS["I"].lsb / EM if hasattr(GLYPHS["I"], "lsb") else widths["I"][1] / EM
    assert second.low[0] == pytest.approx(left, abs=1e-6)
    assert second.islands[1].outline[0][0] - second.islands[0].outline[0][0] == pytest.approx(
        widths["I"][0] / EM, abs=1e-6
    )
    assert second.capital == pytest.approx(FONT["glyf"]["H"].yMax / EM)


def test_arabic_letters_join_and_hebrew_runs_from_right_to_left() -> None:
    # three joined beh: one stroke and three dots, where isolated ones would be three and three
    joined = text_outline(default_font(), "ببب")
    assert len(joined.islands) == 4
    # yod is the small letter: written second, it stands on the left
    small, large = text_outline(default_font(), "אי").islands
    height = [max(y for _, y in i.outline) - min(y for _, y in i.outline) for i in (small, large)]
    assert height[0] < 0.8 * height[1]
    assert text_outline(default_font(), "אי").right_to_left


@pytest.mark.parametrize("text", ["QUAY", "Причал", "ΦΑΡΟΣ", "מגדלור", "منارة", "Նավ", "ნავი"])
def test_the_default_font_has_many_scripts(text: str) -> None:
    assert text_outline(default_font(), text).area > 0.1


def test_a_missing_glyph_is_named() -> None:
    with pytest.raises(InputError) as caught:
        text_outline(default_font(), "A क B")
    (problem,) = caught.value.problems
    assert problem.code == "missing-glyph"
    assert "'क' (U+0915, DEVANAGARI LETTER KA)" in problem.message


def test_wide_islands_are_cut_into_strips_that_cover_the_same_ink() -> None:
    line = text_outline(default_font(), "سسسس")
    assert len(line.islands) == 1 < len(line.strips)
    widths = [max(x for x, _ in s.outline) - min(x for x, _ in s.outline) for s in line.strips]
    assert max(widths) < 0.7
    both = Region([np.array(s.outline) for s in line.strips])
    assert both.area == pytest.approx(line.area, rel=1e-6)


# fonts made here --------------------------------------------------------------------------------------------

CROSS = (((100, 450), (700, 450), (700, 550), (100, 550)), ((350, 100), (450, 100), (450, 900), (350, 900)))
"""Two overlapping bars, 600 x 100 and 100 x 800 of 1000 to the em."""


def font_of(cff: bool) -> bytes:
    """Return a font whose letter H is two overlapping bars, as TrueType or as OpenType with CFF outlines."""
    build = FontBuilder(1000, isTTF=not cff)
    build.setupGlyphOrder([".notdef", "H"])
    build.setupCharacterMap({ord("H"): "H"})
    pen = T2CharStringPen(800, None) if cff else TTGlyphPen(None)
    for bar in CROSS:
        pen.moveTo(bar[0])
        for corner in bar[1:]:
            pen.lineTo(corner)
        pen.closePath()
    if cff:
        empty = T2CharStringPen(800, None).getCharString()
        build.setupCFF("Cross", {}, {".notdef": empty, "H": pen.getCharString()}, {})
    else:
        build.setupGlyf({".notdef": TTGlyphPen(None).glyph(), "H": pen.glyph()})
    build.setupHorizontalMetrics({".notdef": (800, 0), "H": (800, 100)})
    build.setupHorizontalHeader(ascent=900, descent=-100)
    build.setupNameTable({"familyName": "Cross", "styleName": "Regular", "fullName": "Cross Regular"})
    build.setupOS2()
    build.setupPost()
    kept = io.BytesIO()
    build.save(kept)
    return kept.getvalue()


@pytest.mark.parametrize("cff", [False, True], ids=["TrueType", "CFF"])
def test_overlapping_contours_are_resolved_once(cff: bool) -> None:
    line = text_outline(font_of(cff), "H")
    assert line.font == "Cross Regular"
    (island,) = line.islands
    # inclusion and exclusion: 0.6 x 0.1 + 0.1 x 0.8 - 0.1 x 0.1
    assert line.area == pytest.approx(0.13, abs=1e-7)  # corners are kept to some 1e-8 em
    assert len(island.outline) == 12
    assert island.holes == ()
    assert line.stroke == pytest.approx(0.1, abs=0.004)
    assert line.capital == pytest.approx(0.9)


@pytest.mark.parametrize("data", [b"", b"no font at all", b"wOF2" + bytes(60), default_font()[:3000]])
def test_what_is_no_font_is_refused(data: bytes) -> None:
    with pytest.raises(InputError) as caught:
        text_outline(data, "A")
    assert caught.value.problems[0].code == "font-format"


# widths -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [0.05, 0.11, 0.3])
def test_the_thinnest_stroke_of_shapes_of_known_width(width: float) -> None:
    bar = Region([box(0, 0, 2, width)])
    assert bar.thinnest(0.5) == pytest.approx(width, abs=0.003)
    # an annulus is as thick as its radii differ; its hole is a gap of twice the inner radius
    turns = np.linspace(0, 2 * math.pi, 97)[:-1]
    circle = np.column_stack([np.cos(turns), np.sin(turns)])
    ring = Region([circle, (1 - width) * circle[::-1]], even_odd=True)
    assert ring.thinnest(0.5) == pytest.approx(width, abs=0.004)
    # a square dot is as thin as it is wide
    assert Region([box(0, 0, width, width), box(1, 0, 2, 1)]).thinnest(0.5) == pytest.approx(width, abs=0.003)


@pytest.mark.parametrize("gap", [0.04, 0.12, 0.3])
def test_the_narrowest_gap_of_shapes_of_known_distance(gap: float) -> None:
    assert Region([box(0, 0, 1, 1), box(1 + gap, 0, 2, 1)]).narrowest_gap(0.5) == pytest.approx(
        gap, abs=0.003
    )
    counter = Region([box(0, 0, 1, 1), box(0.3, 0.3, 0.3 + gap, 0.9)], even_odd=True)
    assert counter.narrowest_gap(0.5) == pytest.approx(gap, abs=0.003)


def test_pointed_corners_are_no_thin_strokes() -> None:
    wedge = Region([np.array([(0, 0), (1, 0), (0.5, 1.0)])])
    # the largest disc in it: twice the area over the perimeter, 1 / (1 + sqrt(5)) across its diameter
    assert wedge.thinnest(0.9) == pytest.approx(2 / (1 + math.sqrt(5)), abs=0.08)
    assert Region([box(0, 0, 1, 1)]).thinnest(0.5) == 0.5
