"""Every mistake of a parameter file is reported, with its place, what was read and what is allowed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chassis_gen.params.codes import CODES, Rejection
from chassis_gen.params.reading import MAX_BYTES, key_text, read_model, read_source
from chassis_gen.problems import InputError
from tests.params.models import Build

TITLE = 'title = "t"\n'
IN_MM = ', as a number in mm or as text with a unit such as "0.5 in"'
CUP = TITLE + '[[section]]\nkind = "cup"\npart = "a"\n'
BAY = TITLE + '[[section]]\nkind = "bay"\n'

BROKEN: dict[str, tuple[str, list[str]]] = {
    "empty": ("", ["1:1: [missing-key] title: the key is missing; allowed: text"]),
    "two mistakes, sorted by line": (
        "title = 5\ntibe = 1\n",
        [
            "1:9: [wrong-type] title: a whole number where text is wanted; read 5; allowed: text",
            "2:1: [unknown-key] tibe: unknown key; read 1; allowed: title, tube, section, wire, limits; "
            'did you mean "tube"?',
        ],
    ),
    "no value": ("title =\n", ['1:8: [syntax] this is not TOML (Invalid value); read "title ="']),
    "line break in text": (
        'title = "a\nb = 1',
        ['1:11: [syntax] this is not TOML (Illegal character \'\\n\'); read "title = \\"a"'],
    ),
    "open table header": (
        TITLE + "[tube",
        ["2:6: [syntax] this is not TOML (Expected ']' at the end of a table declaration); read \"[tube\""],
    ),
    "umlaut key": (
        "título = 1",
        [
            "1:2: [syntax] this is not TOML (Expected '=' after a key in a key/value pair); "
            'read "título = 1"'
        ],
    ),
    "key twice": (
        TITLE + TITLE,
        [
            "2:12: [duplicate-key] the key or table is given twice (Cannot overwrite a value); "
            'read "title = \\"t\\""'
        ],
    ),
    "table twice": (
        TITLE + "[tube]\n[tube]\n",
        [
            "3:6: [duplicate-key] the key or table is given twice (Cannot declare ('tube',) twice); "
            'read "[tube]"'
        ],
    ),
    "unknown key of a table": (
        TITLE + "[tube]\nwal = 2",
        [
            "3:1: [unknown-key] tube.wal: unknown key; "
            'read 2; allowed: wall, bores, corner; did you mean "wall"?'
        ],
    ),
    "boolean for a length": (
        TITLE + "[tube]\nwall = true",
        [
            "3:8: [wrong-type] tube.wall: a boolean where a length is wanted; read true; "
            f"allowed: 0 < mm <= 2000{IN_MM}"
        ],
    ),
    "negative length": (
        TITLE + "[tube]\nwall = -1",
        ["3:8: [out-of-range] tube.wall: the number is out of range; read -1; allowed: 0 < mm <= 2000"],
    ),
    "nan": (
        TITLE + "[tube]\nwall = nan",
        ["3:8: [not-finite] tube.wall: the number is not finite; read nan; allowed: 0 < mm <= 2000"],
    ),
    "decimal beyond float": (
        TITLE + "[tube]\nwall = 1e999",
        ["3:8: [not-finite] tube.wall: the number is not finite; read inf; allowed: 0 < mm <= 2000"],
    ),
    "integer beyond float": (
        TITLE + "[tube]\nwall = 0x" + "f" * 9000,
        [
            "3:8: [out-of-range] tube.wall: the number is out of range; read an integer of 36000 bits; "
            "allowed: 0 < mm <= 2000"
        ],
    ),
    "integer too long to read": (
        TITLE + "[tube]\nwall = " + "9" * 5000,
        ["3:8: [out-of-range] the number is out of range; allowed: fewer digits"],
    ),
    "unit of another kind": (
        TITLE + '[tube]\nwall = "5 V"',
        [
            '3:8: [bad-unit] tube.wall: the unit "V" does not measure a length; read "5 V"; '
            f"allowed: 0 < mm <= 2000{IN_MM}; units: mm, millimeter, cm, m, um, in, inch, ft, thou"
        ],
    ),
    "entries of an inline list": (
        TITLE + "[tube]\nbores = [{from_mouth = 0, diameter = 41}, {diameter = -1, from_mout = 3}, 7]",
        [
            "3:43: [missing-key] tube.bores[1].from_mouth: the key is missing; allowed: -2000 <= mm <= 2000",
            "3:55: [out-of-range] tube.bores[1].diameter: the number is out of range; read -1; "
            "allowed: 0 < mm <= 2000",
            "3:59: [unknown-key] tube.bores[1].from_mout: unknown key; "
            "read 3; allowed: from_mouth, diameter; "
            'did you mean "from_mouth"?',
            "3:75: [wrong-type] tube.bores[2]: a whole number where a table is wanted; "
            "read 7; allowed: a table",
        ],
    ),
    "too many entries": (
        TITLE + "[tube]\nbores = [" + "{from_mouth = 1, diameter = 1}," * 4 + "]",
        [
            "3:9: [wrong-count] tube.bores: the list has a wrong number of entries; read a list of 4; "
            "allowed: at most 3"
        ],
    ),
    "too few entries of a pair": (
        TITLE + "[tube]\ncorner = [1]",
        [
            "3:10: [wrong-count] tube.corner: the list has a wrong number of entries; read a list of 1; "
            "allowed: 2 entries"
        ],
    ),
    "too many entries of a pair": (
        TITLE + "[tube]\ncorner = [1, 2, 3]",
        [
            "3:10: [wrong-count] tube.corner: the list has a wrong number of entries; read a list of 3; "
            "allowed: 2 entries"
        ],
    ),
    "number for a table": (
        TITLE + "tube = 3",
        ["2:8: [wrong-type] tube: a whole number where a table is wanted; read 3; allowed: a table"],
    ),
    "list for a table": (
        TITLE + "[[tube]]",
        ["2:1: [wrong-type] tube: a list where a table is wanted; read a list of 1; allowed: a table"],
    ),
    "table for a list": (
        TITLE + "[section]",
        ["2:1: [wrong-type] section: a table where a list is wanted; read a table; allowed: a list"],
    ),
    "unknown key of a named section": (
        TITLE + '[[section]]\nkind = "cup"\nname = "loud one"\nprt = "x"',
        [
            '2:1: [missing-key] section[0] "loud one".part: the key is missing; allowed: text',
            '5:1: [unknown-key] section[0] "loud one".prt: unknown key; read "x"; '
            'allowed: kind, name, part, clock_deg, ports, sealed; did you mean "part"?',
        ],
    ),
    "unknown kind": (
        TITLE + '[[section]]\nkind = "cop"',
        [
            '3:8: [unknown-name] section[0].kind: not one of the known names; read "cop"; '
            'allowed: "cup" or "bay"; did you mean "cup"?'
        ],
    ),
    "no kind": (
        BAY + '[[section]]\nname = "x"',
        ['4:1: [missing-key] section[1] "x".kind: the key is missing; allowed: "cup" or "bay"'],
    ),
    "number for a kind": (
        TITLE + "[[section]]\nkind = 5",
        [
            "3:8: [wrong-type] section[0].kind: a whole number where text is wanted; read 5; "
            'allowed: "cup" or "bay"'
        ],
    ),
    "misspelt word where a length would do": (
        BAY + 'length = "fil"',
        [
            '4:10: [unknown-name] section[0].length: not one of the known names; read "fil"; '
            f'allowed: "fill"; or 0 < mm <= 2000{IN_MM}; did you mean "fill"?'
        ],
    ),
    "length out of range where a word would do": (
        BAY + "length = 0",
        [
            "4:10: [out-of-range] section[0].length: the number is out of range; read 0; "
            'allowed: 0 < mm <= 2000; or "fill"'
        ],
    ),
    "boolean for a length or a word": (
        BAY + "length = true",
        [
            "4:10: [wrong-type] section[0].length: a boolean is not what is wanted; read true; "
            f'allowed: 0 < mm <= 2000{IN_MM}; or "fill"'
        ],
    ),
    "unknown unit where a word would do": (
        BAY + 'length = "5 inc"',
        [
            '4:10: [bad-unit] section[0].length: the unit "inc" is unknown; read "5 inc"; '
            f"allowed: 0 < mm <= 2000{IN_MM}; units: mm, millimeter, cm, m, um, in, inch, ft, thou; "
            'or "fill"; did you mean "inch"?'
        ],
    ),
    "inside a table where a length would do": (
        BAY + "rest = {from_mouth = 1, diameter = 0}",
        [
            "4:36: [out-of-range] section[0].rest.diameter: the number is out of range; read 0; "
            "allowed: 0 < mm <= 2000"
        ],
    ),
    "count out of range": (
        CUP + "ports = 9",
        ["5:9: [out-of-range] section[0].ports: the number is out of range; read 9; allowed: 1 to 8"],
    ),
    "decimal for a count": (
        CUP + "ports = 2.0",
        [
            "5:9: [wrong-type] section[0].ports: a number where a whole number is wanted; read 2.0; "
            "allowed: a whole number, 1 to 8"
        ],
    ),
    "boolean for a count": (
        CUP + "ports = true",
        [
            "5:9: [wrong-type] section[0].ports: a boolean where a whole number is wanted; read true; "
            "allowed: a whole number, 1 to 8"
        ],
    ),
    "number for a boolean": (
        CUP + "sealed = 1",
        [
            "5:10: [wrong-type] section[0].sealed: a whole number where true or false is wanted; read 1; "
            "allowed: true or false"
        ],
    ),
    "text too long": (
        CUP + 'name = "thirteen long"',
        [
            '5:8: [bad-text] section[0] "thirteen long".name: the text is not allowed; '
            'read "thirteen long"; allowed: at most 12 characters'
        ],
    ),
    "names given twice": (
        TITLE + '[[section]]\nkind = "bay"\nname = "a"\n' * 3,
        [
            '7:8: [duplicate-name] section[1] "a".name: the name is taken; read "a"; allowed: another name',
            '10:8: [duplicate-name] section[2] "a".name: the name is taken; read "a"; allowed: another name',
        ],
    ),
    "wire": (
        TITLE + '[[wire]]\nfrom = "a"\nfron = 1\ncurrent_a = "500 mV"\ngain = 0\nend = "tined"',
        [
            "4:1: [unknown-key] wire[0].fron: unknown key; read 1; allowed: from, current_a, gain, end; "
            'did you mean "from"?',
            '5:13: [bad-unit] wire[0].current_a: the unit "mV" does not measure a current; read "500 mV"; '
            'allowed: 0 <= A <= 100, as a number in A or as text with a unit such as "500 mA"; units: A, ampere, amp, mA',
            "6:8: [out-of-range] wire[0].gain: the number is out of range; read 0; allowed: 0 < number",
            '7:7: [unknown-name] wire[0].end: not one of the known names; read "tined"; '
            'allowed: "bare" or "tinned"; did you mean "tinned"?',
        ],
    ),
    "plain number": (
        TITLE + '[[wire]]\nfrom = "a"\ngain = inf\n[[wire]]\nfrom = 1979-05-27\ngain = 0x' + "f" * 400,
        [
            "4:8: [not-finite] wire[0].gain: the number is not finite; read inf; allowed: 0 < number",
            "6:8: [wrong-type] wire[1].from: a date or time where text is wanted; read 1979-05-27; "
            "allowed: text",
            "7:8: [out-of-range] wire[1].gain: the number is out of range; read an integer of 1600 bits; "
            "allowed: 0 < number",
        ],
    ),
    "quoted key": (
        TITLE + '[limits]\n"a b" = 0',
        ['3:9: [out-of-range] limits."a b": the number is out of range; read 0; allowed: 0 < mm <= 2000'],
    ),
    "deep list": (TITLE + "tube = " + "[" * 5000, [" [too-deep] lists or tables are nested too deeply"]),
    "deep dotted key": (
        TITLE + "a." * 5000 + "b = 1",
        [
            "2:1: [unknown-key] a: unknown key; read a table; allowed: title, tube, section, wire, limits",
        ],
    ),
}


def problems_of(path: Path, workspace: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_model(path, Build, workspace)
    assert all(p.code in CODES for p in caught.value.problems)
    return [p.text() for p in caught.value.problems]


@pytest.mark.parametrize(("text", "expected"), BROKEN.values(), ids=list(BROKEN))
def test_broken_file_gives_exactly_these_problems(tmp_path: Path, text: str, expected: list[str]) -> None:
    path = tmp_path / "profiles" / "lamp" / "build.toml"
    path.parent.mkdir(parents=True)
    path.write_text(text, encoding="utf-8")
    assert problems_of(path, tmp_path) == [f"profiles/lamp/build.toml:{line}" for line in expected]


BYTES: dict[str, tuple[bytes, str]] = {
    "latin-1": (
        b'title = "t"\n# gr\xfcn\n',
        ":2:5: [encoding] a byte that no text file has; read byte 0xfc; allowed: UTF-8 text",
    ),
    "nul": (
        'title = "ü\0"'.encode(),
        ":1:11: [encoding] a byte that no text file has; read byte 0x00; allowed: UTF-8 text",
    ),
    "utf-16": (
        'title = "t"'.encode("utf-16"),
        ":1:1: [encoding] the file is UTF-16 text; allowed: UTF-8 text",
    ),
    "too large": (
        b"#" * (MAX_BYTES + 1),
        ": [too-large] the file is too large; allowed: at most 1048576 bytes",
    ),
}


@pytest.mark.parametrize(("raw", "expected"), BYTES.values(), ids=list(BYTES))
def test_bytes_that_are_no_text(tmp_path: Path, raw: bytes, expected: str) -> None:
    path = tmp_path / "build.toml"
    path.write_bytes(raw)
    assert problems_of(path, tmp_path) == [f"build.toml{expected}"]


def test_largest_file_and_byte_order_mark_are_read(tmp_path: Path) -> None:
    path = tmp_path / "build.toml"
    path.write_bytes((b"\xef\xbb\xbf" + b'title = "t"\r\n#').ljust(MAX_BYTES, b"#"))
    assert read_model(path, Build, tmp_path).title == "t"


def test_files_that_are_none(tmp_path: Path) -> None:
    assert problems_of(tmp_path / "no.toml", tmp_path) == ["no.toml: [missing-file] there is no such file"]
    assert problems_of(tmp_path, tmp_path) == [".: [not-a-file] this is not an ordinary file"]
    name = "x" * 5000
    assert problems_of(tmp_path / name, tmp_path) == [
        f"{name}: [cannot-read] the file cannot be read (File name too long)"
    ]
    assert problems_of(tmp_path / "a\0b", tmp_path) == [
        "a\\x00b: [cannot-read] the file cannot be read (embedded null byte)"
    ]


def test_file_outside_of_the_workspace_is_shown_in_full(tmp_path: Path) -> None:
    path = tmp_path / "no.toml"
    assert problems_of(path, tmp_path / "w") == [f"{path}: [missing-file] there is no such file"]


def test_good_file_gives_the_model_with_units_converted(tmp_path: Path) -> None:
    path = tmp_path / "build.toml"
    path.write_text(
        'title = "t"\n[tube]\nwall = "1/16 in"\nbores = [{ from_mouth = 0, diameter = 41 }]\n'
        '[[section]]\nkind = "bay"\nlength = 12\n[[section]]\nkind = "bay"\n[limits]\na = "1 cm"\n'
    )
    build = read_model(path, Build, tmp_path)
    # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)
    assert build.tube.wall == 25.4 / 16
    assert build.tube.bores[0].diameter == 41.0
    assert [s.length for s in build.section] == [12.0, "fill"]  # type: ignore[union-attr]
    assert build.limits == {"a": 10.0}


def test_later_stages_can_place_their_problems(tmp_path: Path) -> None:
    path = tmp_path / "build.toml"
    path.write_text(CUP)
    problem = read_source(path, tmp_path).problem(
        ("section", 0, "part"), Rejection("unknown-name", "no such part")
    )
    assert problem.text() == 'build.toml:4:8: [unknown-name] section[0].part: no such part; read "a"'


def test_key_paths_read_like_the_file() -> None:
    data = {"section": [{}, {"name": "button block"}], "a b": {"c": 1}}
    assert key_text(data, ("section", 1, "part")) == 'section[1] "button block".part'
    assert key_text(data, ("section", 0, "part")) == "section[0].part"
    assert key_text(data, ("a b", "c")) == '"a b".c'
    assert key_text(data, ()) == ""


def test_good_file_is_read_without_heavy_imports(tmp_path: Path) -> None:
    path = tmp_path / "build.toml"
    path.write_text(TITLE + '[tube]\nwall = "2 mm"\n')
    code = (
        "import sys, pathlib\n"
        "from tests.params.models import Build\n"
        "from chassis_gen.params import positions, quantities, reading, workspace, writing\n"
        "reading.read_model(pathlib.Path(sys.argv[1]), Build, pathlib.Path(sys.argv[1]).parent)\n"
        "print([m for m in ('numpy', 'pint', 'tree_sitter', 'tree_sitter_toml') if m in sys.modules])"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], cwd=root, capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"


_PIECES = st.sampled_from(
    ["title", "tube", "section", "wire", "kind", "wall", "length", "name", "bores", "=", "=", "=", "\n", "\n"]
    + ["[", "]", "[[", "]]", "{", "}", ",", ".", '"', '"bay"', '"cup"', '"fill"', "'", '"""', "#", "\r", "\0"]
    + [
        "1",
        "-0",
        "nan",
        "inf",
        "true",
        "1e999",
        "0xff",
        "1979-05-27",
        '"1/0 in"',
        '"5 V"',
        '"3 ft"',
        "ü",
        "\\u",
    ]
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.binary(max_size=60), st.lists(_PIECES, max_size=25).map(lambda p: " ".join(p).encode())))
def test_any_bytes_give_a_model_or_an_input_error(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "any.toml"
    path.write_bytes(raw)
    try:
        assert isinstance(read_model(path, Build, tmp_path), Build)
    except InputError as error:
        assert error.problems
        assert all(p.code in CODES and p.file == "any.toml" for p in error.problems)


_VALUES = st.recursive(
    st.one_of(st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.none(), st.just("bay")),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["kind", "name", "wall", "bores", "rest", "length", "zz"]), inner),
    ),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.sampled_from(["title", "tube", "section", "wire", "limits", "x"]), _VALUES))
def test_any_data_gives_a_model_or_known_codes(data: dict[str, object]) -> None:
    from chassis_gen.params.reading import Source, parse_model

    try:
        parse_model(Source("any.toml", "", data), Build)
    except InputError as error:
        assert {p.code for p in error.problems} <= set(CODES)
