"""SVG outlines: areas and places against closed forms; what can't be cut is refused with its line."""

from __future__ import annotations

import math

import pytest

from chassis_gen.lettering.drawing import figure
from chassis_gen.lettering.model import Figure
from chassis_gen.params.svg import MOST_POINTS, read_drawing
from chassis_gen.problems import InputError

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 400 300">'


def drawn(body: str, head: str = HEAD) -> Figure:
    return figure(read_drawing(f"{head}{body}</svg>", "leaf.svg"), "leaf.svg")


def area(made: Figure) -> float:
    """Return a figure's area, mm2 (shoelace formula)."""

    def loop(points: tuple[tuple[float, float], ...]) -> float:
        pairs = zip(points, (*points[1:], points[0]), strict=True)
        return abs(sum(a * d - b * c for (a, b), (c, d) in pairs)) / 2

    return sum(loop(i.outline) - sum(map(loop, i.holes)) for i in made.islands)


PENTAGRAM = " ".join(
    f"{100 + 80 * math.sin(4 * math.pi * k / 5)},{100 - 80 * math.cos(4 * math.pi * k / 5)}" for k in range(5)
)
# A pentagram in a circle of 8 mm: its tips reach from the inner pentagon, whose corners lie 8 / phi^2 from the middle.
PHI = (1 + math.sqrt(5)) / 2
PENTAGON = 2.5 * math.sin(2 * math.pi / 5) * (8 / PHI**2) ** 2
STAR = 5 * 8 * (8 / PHI**2) * math.sin(math.pi / 5)


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ('<rect x="10" y="20" width="100" height="50"/>', 50.0),
        ('<rect width="100" height="50" rx="10"/>', 50.0 - (4 - math.pi) * 1.0),
        ('<circle cx="50" cy="50" r="40"/>', math.pi * 16),
        ('<ellipse cx="50" cy="50" rx="40" ry="20"/>', math.pi * 8),
        ('<g transform="rotate(30) scale(2, 0.5)"><circle r="40"/></g>', math.pi * 16),
        ('<circle r="40" transform="matrix(1 0.3 0 2 5 5)"/>', 2 * math.pi * 16),
        ('<polygon points="0,0 100,0 0,100"/>', 50.0),
        ('<path d="M0 0h100v100h-100z m25 25v50h50v-50z"/>', 75.0),
        ('<path d="M0 0h100v100h-100z m25 25h50v50h-50z"/>', 100.0),
        ('<path style="fill-rule:evenodd" d="M0 0h100v100h-100z m25 25h50v50h-50z"/>', 75.0),
        ('<path d="M0 0 L100 0 L100 100 L0 0"/>', 50.0),
        ('<path d="M0,0 Q50,100 100,0 Z"/>', 2 / 3 * 10 * 5),
        ('<path d="M0 0C0 55.2285 44.7715 100 100 100L0 100z"/>', 100 - math.pi / 4 * 100),
        ('<rect width="60" height="100"/><rect x="40" width="60" height="100"/>', 100.0),
        (f'<polygon points="{PENTAGRAM}"/>', STAR),
        (
            '<defs><rect width="9" height="9"/></defs><rect width="10" height="10"/><g display="none"><line/></g>',
            1.0,
        ),
    ],
)
def test_areas_are_those_of_the_closed_forms(body: str, expected: float) -> None:
    """Circle, ellipse, rounded rectangle, parabola's segment (Archimedes), a determinant's scale of areas."""
    assert area(drawn(body)) == pytest.approx(expected, rel=4e-3)


def test_even_odd_leaves_a_pentagram_s_middle_and_parts_its_tips() -> None:
    made = drawn(f'<polygon fill-rule="evenodd" points="{PENTAGRAM}"/>')
    assert len(made.islands) == 5
    # tips that touched are drawn apart by 0.2 % of the size: of each, half of that along its outline
    apart = 0.002 * made.height / 2
    outline = 5 * (2 + 1 / PHI) * 8 / PHI**2 * 2 * math.sin(math.pi / 5) * PHI
    assert area(made) == pytest.approx(STAR - PENTAGON - apart * outline, rel=0.01)


@pytest.mark.parametrize(
    ("head", "size"),
    [
        ('<svg width="2in" height="1in" viewBox="0 0 20 10">', 25.4),
        ('<svg width="3cm" viewBox="0 0 20 20">', 15.0),
        ('<svg viewBox="0 0 20 20">', 10 * 25.4 / 96),
        ('<svg width="100%" height="30mm" viewBox="0 0 20 20">', 15.0),
        ("<svg>", 10 * 25.4 / 96),
        ('<svg width="72pt" height="72pt" viewBox="0 0 20 20">', 12.7),
    ],
)
def test_sizes_come_from_width_height_and_view_box(head: str, size: float) -> None:
    made = drawn('<rect width="10" height="10"/>', head)
    assert (made.width, made.height) == pytest.approx((size, size))


def test_up_in_the_drawing_is_up_in_the_figure() -> None:
    made = drawn('<path d="M0 0h100l-100 -200z"/>')
    assert max(p[1] for p in made.islands[0].outline) == pytest.approx(10.0)
    (tip,) = [p for p in made.islands[0].outline if p[1] > 9.9]
    assert tip[0] == pytest.approx(-5.0)


LAUGHS = '<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]><svg>&b;</svg>'


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        (f"{HEAD}\n<path d='M0 0 L10 0 L10 10'/></svg>", "drawing-open", "begins at 0, 0 and ends at 10, 10"),
        (f"{HEAD}<path fill='none' d='M0 0h9v9z'/></svg>", "drawing-open", "a <path> is drawn as a line"),
        (f"{HEAD}<polyline points='0,0 5,0 5,5'/></svg>", "drawing-open", "a path is open"),
        (f"{HEAD}<line x1='0' x2='9'/></svg>", "drawing", "<line> can't be cut"),
        (f"{HEAD}<text>Quay</text></svg>", "drawing", "<text> can't be cut"),
        (f"{HEAD}<use href='#a'/></svg>", "drawing", "<use> can't be cut"),
        (f"{HEAD}</svg>", "drawing", "the drawing shows nothing"),
        (f"{HEAD}<path d='M0 0 L10'/></svg>", "drawing", 'the path "M0 0 L10" can\'t be read'),
        (f"{HEAD}<path d='M0 0 Lhello'/></svg>", "drawing", "can't be read"),
        (f"{HEAD}<rect width='10em' height='5'/></svg>", "drawing", 'width is "10em"'),
        (
            f"{HEAD}<g transform='spin(3)'><rect width='5' height='5'/></g></svg>",
            "drawing",
            'the transform "spin(3)"',
        ),
        (f"{HEAD}<rect width='5' height='5'>", "drawing", "this is no SVG (no element found)"),
        ("<html></html>", "drawing", "outermost element is <html>"),
        ("plainly no XML", "drawing", "this is no SVG (syntax error)"),
        ("<svg width='5 furlongs'></svg>", "drawing", 'size is "5 furlongs"'),
        ("<svg viewBox='0 0 0 5'></svg>", "drawing", "viewBox"),
        (LAUGHS, "drawing-heavy", "declares entities"),
        ('<!DOCTYPE svg SYSTEM "file:///etc/hostname"><svg>&x;</svg>', "drawing", "shows nothing"),
        (f"{HEAD}{'<g>' * 40}{'</g>' * 40}</svg>", "drawing-heavy", "nested too deeply"),
        (
            f"{HEAD}<path d='M0 0{'h1v1' * MOST_POINTS}z'/></svg>",
            "drawing-heavy",
            f"more than {MOST_POINTS} points",
        ),
        (HEAD + "<rect width='5' height='5'/>" * 501 + "</svg>", "drawing-heavy", "too many shapes"),
        (f"{HEAD}<path d='M0 0h1e-9v1e-9z'/></svg>", "drawing", "mm large"),
        (f"{HEAD}<path d='M0 0h1e999v1z'/></svg>", "drawing", "isn't finite"),
    ],
)
def test_what_can_t_be_cut_is_refused(text: str, code: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        figure(read_drawing(text, "leaf.svg"), "leaf.svg")
    (problem,) = caught.value.problems
    assert problem.code == code
    assert said in problem.message
    assert problem.file == "leaf.svg"


def test_a_problem_has_the_line_of_its_element() -> None:
    with pytest.raises(InputError) as caught:
        read_drawing(f"{HEAD}\n\n<path d='M0 0 L10 0 L10 10'/></svg>", "leaf.svg")
    assert caught.value.problems[0].line == 3
