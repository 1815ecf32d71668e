"""Every code that a problem of the input can have is documented, and none that no problem has."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import chassis_gen
from chassis_gen.params.codes import CODES

PACKAGE = Path(chassis_gen.__file__).parent
CODE_AT = {
    "Rejection": 0,
    "Problem": 0,
    "LayoutFault": 0,
    "unknown": 2,
    "lookup": 2,
    "_problem": 0,
    "_reject": 0,
    "refuse": 0,
}


def _constants(node: ast.AST) -> Iterator[str]:
    """Yield the texts that an expression may be: a constant, or either side of a choice."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _constants(node.body)
        yield from _constants(node.orelse)


def _codes(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if name not in CODE_AT:
            continue
        at = CODE_AT[name]
        given = [k.value for k in node.keywords if k.arg == "code"] or node.args[at : at + 1]
        for value in given:
            yield from _constants(value)


def test_every_code_in_use_is_documented() -> None:
    used = {code for path in PACKAGE.rglob("*.py") for code in _codes(path)}
    # the code of a file that is no TOML is chosen in a variable
    used |= {"syntax", "duplicate-key"}
    assert sorted(used - set(CODES)) == []
    assert sorted(set(CODES) - used) == []


def test_codes_are_short_and_explained() -> None:
    for code, meaning in CODES.items():
        assert code == code.lower().replace(" ", "-")
        assert len(meaning) > 15
