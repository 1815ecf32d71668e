"""From pydantic's errors to rejections: which key is meant, what is allowed there, which name is nearest."""

from __future__ import annotations

import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from msgspec import Struct
from pydantic import BaseModel, Tag, ValidationError
from pydantic.fields import FieldInfo

from chassis_gen.params.codes import (
    ABSENT,
    KeyPath,
    Rejection,
    kind_text,
    number_text,
    options_text,
    value_at,
)
from chassis_gen.params.quantities import Quantity
from chassis_gen.problems import nearest_name

_WANTED = {
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "string_type": "text",
    "tuple_type": "a list",
    "list_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "date_type": "a date",
    "datetime_type": "a date with time",
    "none_required": "nothing",
}
_RANGES = ("greater_than", "greater_than_equal", "less_than", "less_than_equal")
_TEXTS = ("string_too_short", "string_too_long", "string_pattern_mismatch")


class Found(Struct, frozen=True):
    """A rejection with the path of its culprit in the file.

    Args:
        path: keys and list indices from the root of the file.
        rejection: what is wrong there.
        unions: paths of those values that may be of several types, on the way to the culprit.
    """

    path: KeyPath
    rejection: Rejection
    unions: tuple[KeyPath, ...] = ()


class _Spot(Struct, frozen=True):
    """Where an error's location leads: path in the file, types wanted there, models holding it."""

    path: KeyPath
    wanted: tuple[Any, ...]
    owners: tuple[type[BaseModel], ...]
    unions: tuple[KeyPath, ...]


def explained(error: ValidationError, model: type[BaseModel], data: Mapping[str, Any]) -> list[Found]:
    """Return everything a validation found, one entry per mistake.

    Args:
        error: what pydantic raised.
        model: the model that was validated.
        data: what was read.
    """
    found: list[Found] = []
    for entry in error.errors(include_url=False):
        location = entry["loc"]
        # a fixed-length list that is too short is reported at the entry it lacks
        is_short = entry["type"] == "missing" and isinstance(location[-1], int)
        spot = _follow(model, location[:-1] if is_short else location)
        context = entry.get("ctx", {})
        if entry["type"] == "rejected":
            rejections: tuple[Rejection, ...] = context["rejections"]
            found += [Found((*spot.path, *r.at), r, spot.unions) for r in rejections]
            continue
        value = value_at(data, spot.path)
        value = entry["input"] if value is ABSENT else value
        kind = "too_short" if is_short else entry["type"]
        # entries that were refused themselves don't count for pydantic, but they are there
        if kind == "too_short" and not is_short and len(value) >= context["min_length"]:
            continue
        found.append(_explain(kind, context, entry["msg"], spot, value))
    return _merged(found, data)


def _explain(kind: str, context: Mapping[str, Any], message: str, spot: _Spot, value: Any) -> Found:
    """Return one pydantic error as a rejection; `kind` is pydantic's own code."""
    path = spot.path
    allowed = _allowed(spot.wanted)
    if kind == "extra_forbidden":
        known = [key for owner in spot.owners for key in _keys(owner)]
        keys = ", ".join(known) or None
        rejection = Rejection("unknown-key", "unknown key", keys, nearest_name(str(path[-1]), known))
    elif kind == "missing":
        rejection = Rejection("missing-key", "the key is missing", allowed or _type_text(spot.wanted))
    elif kind in ("union_tag_invalid", "union_tag_not_found"):
        key = str(context["discriminator"]).strip("'")
        path = (*path, key)
        tags = _tags(spot.wanted, key)
        rejection = _tag_rejection(kind, tags, value_at(value, (key,)))
    elif kind in ("literal_error", "enum"):
        rejection = _option_rejection(_options(spot.wanted), value)
    elif kind == "finite_number":
        rejection = Rejection("not-finite", "the number is not finite", allowed or "a finite number")
    elif kind in _RANGES or (kind == "float_type" and isinstance(value, int) and not isinstance(value, bool)):
        rejection = Rejection(
            "out-of-range", "the number is out of range", allowed or "a number that fits a float"
        )
    elif kind in _WANTED:
        text = f"{kind_text(value)} where {_WANTED[kind]} is wanted"
        rejection = Rejection("wrong-type", text, f"{_WANTED[kind]}, {allowed}" if allowed else _WANTED[kind])
    elif kind in ("too_short", "too_long"):
        rejection = Rejection("wrong-count", "the list has a wrong number of entries", _count(spot, context))
    elif kind in _TEXTS:
        rejection = Rejection("bad-text", "the text is not allowed", _text_rule(context))
    else:
        rejection = Rejection("not-allowed", str(context.get("error", message)), allowed)
    return Found(path, rejection, spot.unions)


def _tag_rejection(kind: str, tags: list[Any], value: Any) -> Rejection:
    if kind == "union_tag_not_found":
        return Rejection("missing-key", "the key is missing", options_text(tags) if tags else None)
    return _option_rejection(tags, value)


def _option_rejection(options: list[Any], value: Any) -> Rejection:
    allowed = options_text(options) if options else None
    names = [o for o in options if isinstance(o, str)]
    if not isinstance(value, str) and len(names) == len(options):
        return Rejection("wrong-type", f"{kind_text(value)} where text is wanted", allowed)
    nearest = nearest_name(value, names) if isinstance(value, str) else None
    return Rejection(
        "unknown-name", "not one of the known names" if names else "not one of the values", allowed, nearest
    )


def _count(spot: _Spot, context: Mapping[str, Any]) -> str | None:
    """Return how many entries a list may have."""
    for wanted in (p for a in spot.wanted for p in _members(a)):
        args = get_args(_bare(wanted))
        if get_origin(_bare(wanted)) is tuple and Ellipsis not in args:
            return f"{len(args)} entries"
    low, high = context.get("min_length"), context.get("max_length")
    return f"at least {low}" if low is not None else f"at most {high}" if high is not None else None


def _text_rule(context: Mapping[str, Any]) -> str:
    """Return what a text must look like."""
    rules = {
        "min_length": "at least {} characters",
        "max_length": "at most {} characters",
        "pattern": "the pattern {}",
    }
    return "; ".join(text.format(context[key]) for key, text in rules.items() if key in context)


def _merged(found: list[Found], data: Mapping[str, Any]) -> list[Found]:
    """Return the rejections with those of one value's alternative types joined into one.

    A value that may be of several types is refused by each of them. If one of them got further into
    the value than the others, only its word counts.
    """
    deeper = {u for f in found for u in f.unions if len(f.path) > len(u)}
    groups: dict[KeyPath, list[Found]] = {}
    result: list[Found] = []
    for f in found:
        if f.path not in f.unions:
            result.append(f)
        elif f.path not in deeper:
            groups.setdefault(f.path, []).append(f)
    result += [_joined(group, value_at(data, path)) for path, group in groups.items()]
    return list(dict.fromkeys(result))


def _joined(group: list[Found], value: Any) -> Found:
    """Return one entry for a value that several types refused."""
    names_meant = [f for f in group if isinstance(value, str) and f.rejection.code == "unknown-name"]
    telling = [f for f in names_meant if f.rejection.nearest] or [
        f for f in group if f.rejection.code not in ("wrong-type", "unknown-name")
    ]
    main = (telling or group)[0].rejection
    ordered = sorted(
        (f.rejection.allowed for f in group if f.rejection.allowed), key=lambda a: a != main.allowed
    )
    allowed = "; or ".join(dict.fromkeys(ordered)) or None
    is_type = main.code == "wrong-type" and len(group) > 1
    message = f"{kind_text(value)} is not what is wanted" if is_type else main.message
    return Found(group[0].path, Rejection(main.code, message, allowed, main.nearest), group[0].unions)


def _follow(model: type[BaseModel], location: Sequence[int | str]) -> _Spot:
    """Walk the model along pydantic's location, which has a label after each value of several types."""
    path: KeyPath = ()
    here: tuple[Any, ...] = (model,)
    owners: tuple[type[BaseModel], ...] = ()
    unions: tuple[KeyPath, ...] = ()
    for item in location:
        members = [_members(a) for a in here]
        if any(len(m) > 1 for m in members):
            here = _labelled([m for group in members for m in group], item)
            unions = (*unions, path)
        elif item != "[key]":
            bare = [_bare(m) for group in members for m in group]
            owners = tuple(b for b in bare if _is_model(b))
            here = tuple(child for b in bare for child in _children(b, item))
            path = (*path, item)
    return _Spot(path, here, owners, unions)


def _members(annotation: Any) -> list[Any]:
    """Return the alternatives of a type, other than nothing at all; a plain type is its own only one."""
    bare = _bare(annotation)
    if get_origin(bare) not in (Union, types.UnionType):
        return [annotation]
    members = [m for m in get_args(bare) if m is not type(None)]
    return _members(members[0]) if len(members) == 1 else members


def _labelled(members: list[Any], label: int | str) -> tuple[Any, ...]:
    """Return those alternatives that pydantic means by a label: a tag, or the name of a type."""
    meant = [m for m in members if any(_answers(m, str(label)))]
    return tuple(meant or members)


def _answers(member: Any, label: str) -> Iterator[bool]:
    bare = _bare(member)
    yield any(isinstance(m, Tag) and m.tag == label for m in _metadata(member))
    if _is_model(bare):
        yield label == bare.__name__ or label.endswith(f", {bare.__name__}]")
        yield any(label in _options((f.annotation,)) for f in bare.model_fields.values())
    if get_origin(bare) is Literal:
        yield label.startswith("literal[") and all(repr(o) in label for o in get_args(bare))
    if isinstance(bare, type):
        yield label == bare.__name__


def _children(bare: Any, item: int | str) -> Iterator[Any]:
    """Yield the types wanted at a key or an index of a type."""
    args = get_args(bare)
    if _is_model(bare):
        yield from (_annotated(f) for name, f in bare.model_fields.items() if item in (name, f.alias))
    elif get_origin(bare) is tuple and isinstance(item, int):
        yield from args[:1] if Ellipsis in args else args[item : item + 1]
    elif get_origin(bare) in (list, set, frozenset):
        yield from args[:1]
    elif get_origin(bare) is dict:
        yield from args[1:]


def _annotated(field: FieldInfo) -> Any:
    return Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation


def _bare(annotation: Any) -> Any:
    """Return a type without its metadata and alias names."""
    while get_origin(annotation) is Annotated or hasattr(annotation, "__value__"):
        annotation = annotation.__value__ if hasattr(annotation, "__value__") else annotation.__origin__
    return annotation


def _metadata(annotation: Any) -> tuple[Any, ...]:
    return tuple(annotation.__metadata__) if get_origin(annotation) is Annotated else ()


def _is_model(bare: Any) -> bool:
    return isinstance(bare, type) and issubclass(bare, BaseModel)


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _options(wanted: Sequence[Any]) -> list[Any]:
    """Return the values that literals and enumerations among some types allow."""
    options: list[Any] = []
    for bare in (_bare(m) for a in wanted for m in _members(a)):
        if get_origin(bare) is Literal:
            options += get_args(bare)
        elif isinstance(bare, type) and hasattr(bare, "__members__"):
            options += [member.value for member in typing.cast(Any, bare)]
    return options


def _tags(wanted: Sequence[Any], key: str) -> list[Any]:
    """Return the values of the key that tells alternative models apart."""
    models = [_bare(m) for a in wanted for m in _members(a)]
    fields = [f for m in models if _is_model(m) for n, f in m.model_fields.items() if key in (n, f.alias)]
    return _options([f.annotation for f in fields])


def _allowed(wanted: Sequence[Any]) -> str | None:
    """Return what some types allow, as far as ranges and options say it."""
    texts = [_range(_metadata(a) + _metadata(m)) for a in wanted for m in _members(a)]
    options = _options(wanted)
    texts += [options_text(options)] if options else []
    return "; or ".join(dict.fromkeys(t for t in texts if t)) or None


def _type_text(wanted: Sequence[Any]) -> str | None:
    """Return the kinds of value that some types stand for, as far as TOML has a word for them."""
    names = {str: "text", bool: "true or false", int: "a whole number", float: "a number", dict: "a table"}
    names |= {tuple: "a list", list: "a list"}
    bare = [_bare(m) for a in wanted for m in _members(a)]
    texts = ["a table" if _is_model(b) else names.get(get_origin(b) or b) for b in bare]
    return " or ".join(dict.fromkeys(t for t in texts if t)) or None


def _range(metadata: Sequence[Any]) -> str | None:
    """Return a number's range from a type's metadata."""
    quantities = [m.allowed for m in metadata if isinstance(m, Quantity)]
    if quantities:
        return quantities[0]
    bounds = bounds_of(metadata)
    low = next((f"{number_text(bounds[k])} {s} " for k, s in (("gt", "<"), ("ge", "<=")) if k in bounds), "")
    high = next((f" {s} {number_text(bounds[k])}" for k, s in (("lt", "<"), ("le", "<=")) if k in bounds), "")
    if "ge" in bounds and "le" in bounds:
        return f"{number_text(bounds['ge'])} to {number_text(bounds['le'])}"
    return f"{low}number{high}" if low or high else None


def bounds_of(metadata: Sequence[Any]) -> dict[str, float]:
    """Return a number's bounds by pydantic's words for them: ``gt``, ``ge``, ``lt``, ``le``.

    Args:
        metadata: of the number's type; a field within an alternative of several types holds its own.
    """
    inner = [x for m in metadata for x in (m.metadata if isinstance(m, FieldInfo) else (m,))]
    return {k: b for m in inner for k in ("gt", "ge", "lt", "le") if (b := getattr(m, k, None)) is not None}
