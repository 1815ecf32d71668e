"""Each key path of a TOML text is found where it stands."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
import tomlkit
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from chassis_gen.params.positions import locate

TEXT = """\
a.b = 1
"x y".'z' = {p = [1, {q = 2}], r.s = 3}  # comment
[tube]
wall = 1.5
bores = [ # stepped
  { at = 0 }, # first
  { at = 60 },
]
[[tube.seg]]
ü = 1
[tube.seg.sub]
v = '''
multi'''
[[tube.seg]]
j = "äöü"
  k = [[1], [2, 3]]
[[tube.seg.hole]]
[[tube.seg.hole]]
d = 2
[deep."q\\u00fc".inner]
n = 5
"""

PLACES = [
    # path, key, value
    (("a",), (1, 1), (1, 7)),
    (("a", "b"), (1, 3), (1, 7)),
    (("x y", "z"), (2, 7), (2, 13)),
    (("x y", "z", "p", 0), (2, 19), (2, 19)),
    (("x y", "z", "p", 1, "q"), (2, 23), (2, 27)),
    (("x y", "z", "r", "s"), (2, 34), (2, 38)),
    (("tube",), (3, 1), (3, 1)),
    (("tube", "wall"), (4, 1), (4, 8)),
    (("tube", "bores", 1), (7, 3), (7, 3)),
    (("tube", "bores", 1, "at"), (7, 5), (7, 10)),
    (("tube", "seg"), (9, 1), (9, 1)),
    (("tube", "seg", 0, "sub", "v"), (12, 1), (12, 5)),
    (("tube", "seg", 1), (14, 1), (14, 1)),
    (("tube", "seg", 1, "j"), (15, 1), (15, 5)),
    (("tube", "seg", 1, "k", 1, 1), (16, 17), (16, 17)),
    (("tube", "seg", 1, "hole", 1, "d"), (19, 1), (19, 5)),
    (("deep", "qü", "inner", "n"), (21, 1), (21, 5)),
    # missing keys stand at their nearest parent
    (("tube", "wal"), (3, 1), (3, 1)),
    (("tube", "seg", 1, "missing", "deeper"), (14, 1), (14, 1)),
    (("tube", "bores", 0, "diameter"), (6, 3), (6, 3)),
    (("nothing",), (1, 1), (1, 1)),
    ((), (1, 1), (1, 1)),
]


@pytest.mark.parametrize(("path", "key", "value"), PLACES, ids=[str(p[0]) for p in PLACES])
def test_key_and_value_places(
    path: tuple[str | int, ...], key: tuple[int, int], value: tuple[int, int]
) -> None:
    if "ü" not in path:
        assert locate(TEXT.replace("ü = 1", "u = 1"), path) == key
        assert locate(TEXT.replace("ü = 1", "u = 1"), path, "value") == value


def test_columns_count_characters_not_bytes() -> None:
    assert locate('a = {"ü" = "äö", b = 1}', ("b",)) == (1, 1)
    assert locate('a = {"ü" = "äö", b = 1}', ("a", "b")) == (1, 18)


def test_windows_line_ends_do_not_shift() -> None:
    assert locate("a = 1\r\n[b]\r\nc = 2\r\n", ("b", "c"), "value") == (3, 5)


def test_text_that_is_no_toml_still_gives_a_place() -> None:
    assert locate("a = [1, \n[[[", ("a", 3)) in {(1, 1), (1, 5)}


def _leaves(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], int]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from _leaves(inner, (*path, key))
    if isinstance(value, int):
        yield path, value


_TREES = st.recursive(
    st.integers(0, 9999),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.text(st.characters(codec="utf-8", exclude_categories=["C"]), max_size=4), inner, max_size=3
        ),
    ),
    max_leaves=12,
)


@settings(max_examples=40, deadline=None)
@given(st.dictionaries(st.sampled_from(["a", "b c", "ü", 'q"']), _TREES, max_size=3))
def test_every_number_is_found_in_texts_that_tomlkit_writes(data: dict[str, Any]) -> None:
    text = tomlkit.dumps(data)
    assume(tomllib.loads(text) == data)
    lines = text.split("\n")
    for path, value in _leaves(data):
        line, column = locate(text, path, "value")
        assert lines[line - 1][column - 1 :].startswith(str(value))
