"""Where each key of a TOML text stands; used only when an error has to be located."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Literal

from chassis_gen.params.codes import KeyPath

if TYPE_CHECKING:
    from tree_sitter import Node

Point = tuple[int, int]
_HEADERS = {"table": "[", "table_array_element": "[["}
_KEYS = ("bare_key", "quoted_key", "dotted_key")


def locate(text: str, path: KeyPath, part: Literal["key", "value"] = "key") -> Point:
    """Return the 1-based line and column, in characters, of a key path in a TOML text.

    A path that the text does not hold (a missing key) is placed at its nearest existing parent,
    at worst at the start of the text. Tables and their list entries are placed at their header.

    Args:
        text: the TOML text.
        path: keys and 0-based list indices from the root of the file.
        part: whether to place the key or its value.
    """
    places = _places(text)
    found = next((path[:n] for n in range(len(path), 0, -1) if path[:n] in places), None)
    if found is None:
        return 1, 1
    key, value = places[found]
    return key if part == "key" or found != path else value


def _places(text: str) -> dict[KeyPath, tuple[Point, Point]]:
    """Return for each key path of the text where its key and where its value begins."""
    import tree_sitter
    import tree_sitter_toml

    source = text.encode("utf-8", "replace")
    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
    lines = source.split(b"\n")
    places: dict[KeyPath, tuple[Point, Point]] = {}
    for path, key, value in _entries(parser.parse(source).root_node):
        places.setdefault(path, (_point(lines, key), _point(lines, value)))
    return places


def _point(lines: list[bytes], node: Node) -> Point:
    """Return where a node begins; the parser counts columns in bytes."""
    row, column = node.start_point
    return row + 1, len(lines[row][:column].decode("utf-8", "replace")) + 1


def _entries(root: Node) -> Iterator[tuple[KeyPath, Node, Node]]:
    """Yield path, key node and value node of everything in the file, in file order."""
    lengths: dict[KeyPath, int] = {}
    for node in root.children:
        if node.type == "pair":
            yield from _pair(node, ())
        elif node.type in _HEADERS:
            base: KeyPath = ()
            for path in _header_paths(node, lengths):
                base = path
                yield path, node, node
            for child in node.children:
                if child.type == "pair":
                    yield from _pair(child, base)


def _header_paths(node: Node, lengths: dict[KeyPath, int]) -> Iterator[KeyPath]:
    """Yield the path of each table a header opens, outermost first; `lengths` counts list entries so far."""
    path: KeyPath = ()
    names = [name for child in node.children if child.type in _KEYS for name, _ in _names(child)]
    for i, name in enumerate(names):
        path = (*path, name)
        yield path
        if node.type == "table_array_element" and i == len(names) - 1:
            lengths[path] = lengths.get(path, 0) + 1
        if path in lengths:
            path = (*path, lengths[path] - 1)
            yield path


def _pair(pair: Node, base: KeyPath) -> Iterator[tuple[KeyPath, Node, Node]]:
    """Yield the entries of ``key = value``, then those inside an inline table or a list."""
    children = [c for c in pair.children if c.type != "comment"]
    if len(children) < 3:
        return
    key, value = children[0], children[-1]
    path = base
    for name, node in _names(key):
        path = (*path, name)
        yield path, node, value
    yield from _inside(value, path)


def _inside(value: Node, path: KeyPath) -> Iterator[tuple[KeyPath, Node, Node]]:
    """Yield the entries inside an inline table or a list."""
    if value.type == "inline_table":
        for child in value.children:
            if child.type == "pair":
                yield from _pair(child, path)
    elif value.type == "array":
        for i, item in enumerate(c for c in value.children if c.is_named and c.type != "comment"):
            yield (*path, i), item, item
            yield from _inside(item, (*path, i))


def _names(key: Node) -> list[tuple[str, Node]]:
    """Return the names of a key, which may be dotted, with their nodes."""
    # dotted keys nest to the left, as deep as the key is long, so they are taken apart in a loop
    names: list[tuple[str, Node]] = []
    node: Node | None = key
    while node is not None:
        parts = [c for c in node.children if c.type in _KEYS] if node.type == "dotted_key" else [node]
        node = parts.pop(0) if parts and parts[0].type == "dotted_key" else None
        names[:0] = [(_name(p), p) for p in parts]
    return names


def _name(key: Node) -> str:
    """Return a single key without its quotes and escapes."""
    text = (key.text or b"").decode("utf-8", "replace")
    if key.type == "bare_key":
        return text
    try:
        parsed: dict[str, Any] = tomllib.loads(f"{text} = 0")
    except tomllib.TOMLDecodeError:
        return text
    return next(iter(parsed))
