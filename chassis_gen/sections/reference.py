"""Reference pages of the section kinds: prose from ``chassis_gen/docs``, parameter tables from the models.

``python -m chassis_gen.sections.reference`` puts the tables of the models into the pages.
"""

from __future__ import annotations

import re
import types
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from chassis_gen.params.explain import bounds_of
from chassis_gen.params.quantities import Quantity
from chassis_gen.sections.registry import section_kinds
from chassis_gen.tables.reading import lookup

BEGIN, END = "<!-- parameters -->", "<!-- /parameters -->"
_WORDS: dict[Any, str] = {str: "text", bool: "true or false", int: "whole number", float: "number"}
_BOUNDS = (("gt", ">"), ("ge", ">="), ("lt", "<"), ("le", "<="))


class ReferenceError(ValueError):
    """A reference page of the package itself is unsound; a maker's input never raises this."""


def pages_folder() -> Path:
    """Return the folder of the reference pages."""
    from importlib.resources import files

    return Path(str(files("chassis_gen").joinpath("docs", "sections")))


def further_pages() -> tuple[str, ...]:
    """Return the names of the pages that are not of a section kind but of what belongs to one."""
    return tuple(sorted({p.stem for p in pages_folder().glob("*.md")} - set(section_kinds())))


def page(name: str) -> str:
    """Return a reference page as Markdown, a section kind's with the parameter table of its model.

    Args:
        name: a section kind such as ``cell_cradle``, or one of `further_pages`.

    Raises:
        InputError: code ``unknown-section``, with the nearest known name.
    """
    names = (*section_kinds(), *further_pages())
    known = lookup(name, {n: n for n in names}, "unknown-section", "section kind")
    text = (pages_folder() / f"{known}.md").read_text(encoding="utf-8")
    return with_table(text, parameter_table(known)) if known in section_kinds() else text


def with_table(text: str, parameters: str) -> str:
    """Return a page with what lies between its marker lines replaced.

    Args:
        text: the page, with one line ``<!-- parameters -->`` and after it one ``<!-- /parameters -->``.
        parameters: what to put between them.

    Raises:
        ReferenceError: when the page lacks the markers.
    """
    before, found, rest = text.partition(BEGIN)
    _, closed, after = rest.partition(END)
    if not (found and closed):
        raise ReferenceError(f"the page lacks {BEGIN} or {END}")
    return f"{before}{BEGIN}\n\n{parameters.strip()}\n\n{END}{after}"


def parameter_table(kind: str) -> str:
    """Return the parameters of a section kind as Markdown tables, one for each table of the file.

    Args:
        kind: a section kind there is.
    """
    params = section_kinds()[kind].Params
    tables = [_table(params)]
    tables += [f"`{path}`:\n\n{_table(model, path)}" for path, model in _nested(params)]
    return "\n\n".join(tables)


def _table(model: type[BaseModel], path: str = "") -> str:
    rows = ["| key | what | allowed | default |", "| --- | --- | --- | --- |"]
    for name, field in model.model_fields.items():
        what = "the section's kind" if name == "kind" and path == "" else field.description or ""
        cells = (f"`{field.alias or name}`", what, _allowed(field), _default(field))
        rows.append("| " + " | ".join(c.replace("|", "\\|") for c in cells) + " |")
    return "\n".join(rows)


def _nested(
    model: type[BaseModel], path: str = "", seen: tuple[type[BaseModel], ...] = ()
) -> Iterator[tuple[str, Any]]:
    """Yield the key path and the model of every table inside a table."""
    for name, field in model.model_fields.items():
        for inner in _models(field.annotation):
            if inner not in seen:
                here = f"{path}.{field.alias or name}" if path else field.alias or name
                yield here, inner
                yield from _nested(inner, here, (*seen, model))


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


def _allowed(field: FieldInfo) -> str:
    """Return what a key may hold: a range with its unit, the words to choose from, or the type."""
    return _type_text(field.annotation, field.metadata)


def _type_text(annotation: Any, metadata: Sequence[Any] = ()) -> str:
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _type_text(args[0], (*metadata, *args[1:]))
    ranges = [m.allowed for m in metadata if isinstance(m, Quantity)]
    if ranges:
        return ranges[0]
    if origin is Literal:
        return " or ".join(f'`"{a}"`' if isinstance(a, str) else f"`{a}`" for a in args)
    if origin in (Union, types.UnionType):
        texts = [_type_text(a, metadata) for a in args if a is not type(None)]
        return " or ".join(dict.fromkeys(texts))
    if origin is tuple:
        return _list_text(args, metadata)
    if origin is dict:
        return f"table of {_type_text(args[1])}"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "table"
    return _WORDS.get(annotation, "value") + _bounds(metadata)


def _list_text(args: tuple[Any, ...], metadata: Sequence[Any]) -> str:
    if Ellipsis in args:
        entry = _type_text(args[0])
        return f"list of {'tables' if entry == 'table' else entry}{_bounds(metadata)}"
    return f"list of {len(args)}: {', '.join(_type_text(a) for a in args)}"


def _bounds(metadata: Sequence[Any]) -> str:
    bounds = bounds_of(metadata)
    signs = [f" {sign} {bounds[key]:g}" for key, sign in _BOUNDS if key in bounds]
    if "ge" in bounds and "le" in bounds:
        signs = [f" {bounds['ge']:g} to {bounds['le']:g}"]
    longest = [
        f", at most {m.max_length} long" for m in metadata if getattr(m, "max_length", None) is not None
    ]
    return "".join((*signs, *longest))


def _default(field: FieldInfo) -> str:
    """Return a key's default as a file would state it."""
    if field.default_factory is not None:
        return "its own defaults"
    value = field.default
    if value is PydanticUndefined:
        return "required"
    if value is None:
        return "none"
    return "its own defaults" if isinstance(value, BaseModel) else f"`{_value_text(value)}`"


def _value_text(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (int, float)):
        return f"{value:g}"
    if isinstance(value, tuple):
        return "[" + ", ".join(_value_text(v) for v in value) + "]"
    return f'"{value}"'


def pictures(text: str) -> tuple[str, ...]:
    """Return the files that a page shows as pictures."""
    return tuple(re.findall(r"!\[[^\]]*\]\(([^)\s]+)\)", text))


def rewrite_pages() -> tuple[Path, ...]:
    """Put the models' tables into the pages of the package and return the pages that changed."""
    changed = []
    for kind in section_kinds():
        path = pages_folder() / f"{kind}.md"
        if not path.is_file():
            continue
        old = path.read_text(encoding="utf-8")
        new = with_table(old, parameter_table(kind))
        if new != old:
            path.write_text(new, encoding="utf-8")
            changed.append(path)
    return tuple(changed)


if __name__ == "__main__":
    for written in rewrite_pages():
        print(written.name)
