"""Which materials lead current: metals and carbon do, plastics, glass and wood don't (general handbooks)."""

from __future__ import annotations

import pytest

from chassis_gen.tables.conducting import conducting


@pytest.mark.parametrize(
    ("material", "conducts"),
    [
        ("aluminium", True),
        ("Aluminum 6061-T6", True),
        ("anodised aluminium", True),
        ("powder-coated steel", True),
        ("titanium", True),
        ("carbon fibre", True),
        ("chromed ABS", True),
        ("wood, brass lined", True),
        ("stainless steel", True),
        ("PVC", False),
        ("glass-fibre", False),
        ("painted beech", False),
        ("Acrylic", False),
    ],
)
def test_one_word_of_a_conductor_is_enough(material: str, conducts: bool) -> None:
    assert conducting(material).conducts is conducts


@pytest.mark.parametrize(
    ("material", "nearest"), [("alluminium", "aluminium"), ("titanum", "titanium"), ("zzzz", None)]
)
def test_an_unknown_name_is_nothing_and_names_the_nearest(material: str, nearest: str | None) -> None:
    found = conducting(material)
    assert (found.conducts, found.known_as, found.nearest) == (None, None, nearest)


def test_words_are_taken_whole() -> None:
    """Ironwood is no iron, a pineapple no pine."""
    assert conducting("ironwood").conducts is None
    assert conducting("pineapple").conducts is None
