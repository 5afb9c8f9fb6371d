"""Find every fault of a decoded JSON value against a contract type, in words a caller can act on.

Whether a value fits is msgspec's decision alone; this module only walks to the places where it does
not, because msgspec itself stops at the first.
"""

import difflib
import math
import re
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from itertools import islice
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import msgspec
from msgspec import inspect

from .pointers import Json, escaped
from .texts import Text, phrase, sentence
from .types.problem import FaultLocation, FieldError
from .types.quantity import NAMELIKE

MOST_FAULTS = 50
"""Faults that are told of one request."""
_SHOWN = 60
_NEAR = 0.8
"""Likeness from which on a word is taken for what was meant."""
_PLACE = re.compile(r" - at `\$\[(\d+)\]")
"""Where in a list msgspec found the first fault."""
type_info = cache(inspect.type_info)
"""To inspect a large type takes a millisecond, and every missing field is told by its type."""


def faults_of(value: Json, kind: object) -> list[FieldError]:
    """Places where a value does not fit its type: one more than are told, if there are so many.

    Parameters
    ----------
    value : object
        Decoded JSON: dict, list, str, int, float, bool or None.
    kind : type
        Contract type.

    Returns
    -------
    list of FieldError
        Empty if the value fits.
    """
    return list(islice(_faults(value, kind, ""), MOST_FAULTS + 1))


def expected(kind: object) -> str:
    """What a type asks for, in plain words.

    Parameters
    ----------
    kind : type
        Contract type, with or without its metadata.

    Returns
    -------
    str
        For example ``a number from 0.1 to 2000 W``.
    """
    return in_words(type_info(kind))


def _faults(value: Json, kind: object, pointer: str) -> Iterator[FieldError]:
    try:
        msgspec.convert(value, kind)
    except msgspec.ValidationError:
        found = False
        for fault in _inner_faults(value, kind, pointer):
            found = True
            yield fault
        if not found:
            yield fault_at(pointer, _unfit(value, expected(kind), _words_of(kind)))


def _inner_faults(value: Json, kind: object, pointer: str) -> Iterator[FieldError]:
    choices = _alternatives(kind)
    if isinstance(value, dict):
        structs = [
            one for one in choices if isinstance(one, type) and issubclass(one, msgspec.Struct)
        ]
        yield from _object_faults(value, structs, pointer)
    elif isinstance(value, list) and len(value) <= _longest(kind):
        for choice in choices:
            if get_origin(choice) is list:
                (item_kind,) = get_args(choice)
                for index in _refused_places(value, item_kind):
                    yield from _faults(value[index], item_kind, f"{pointer}/{index}")
                return


def _refused_places(items: list[Json], kind: object) -> Iterator[int]:
    """Places in a list that do not fit; msgspec goes from one to the next, not Python's loop."""
    start = 0
    while start < len(items):
        try:
            msgspec.convert(items[start:], list[kind])  # type: ignore[valid-type]
        except msgspec.ValidationError as error:
            found = _PLACE.search(str(error))
            start += int(found[1]) if found else 0
            yield start
            start += 1
        else:
            return


def _alternatives(kind: object) -> list[Any]:
    """Types that a field may hold, without metadata."""
    if get_origin(kind) is Annotated:
        return _alternatives(get_args(kind)[0])
    if get_origin(kind) in (Union, UnionType):
        return [inner for choice in get_args(kind) for inner in _alternatives(choice)]
    return [kind]


def _longest(kind: object) -> float:
    """Most entries that a list may have; those of a longer one are not looked at."""
    if get_origin(kind) is Annotated:
        most = [m.max_length for m in get_args(kind)[1:] if getattr(m, "max_length", None)]
        return min(most, default=_longest(get_args(kind)[0]))
    if get_origin(kind) in (Union, UnionType):
        return max(_longest(choice) for choice in get_args(kind))
    return math.inf if get_origin(kind) is list else 0


def _object_faults(
    value: dict[str, Json], structs: list[type[msgspec.Struct]], pointer: str
) -> Iterator[FieldError]:
    if not structs:
        return
    tag_field = structs[0].__struct_config__.tag_field
    if tag_field is None:
        yield from _struct_faults(value, structs[0], pointer)
        return
    by_tag = {struct.__struct_config__.tag: struct for struct in structs}
    tag = value.get(tag_field)
    chosen = by_tag.get(tag) if isinstance(tag, str) else None
    if chosen is None:
        words = one_of(by_tag)
        yield fault_at(
            f"{pointer}/{tag_field}",
            _unfit(tag, words, [str(known) for known in by_tag])
            if tag_field in value
            else sentence("kind-missing", expected=words),
        )
        return
    rest = {name: item for name, item in value.items() if name != tag_field}
    yield from _struct_faults(rest, chosen, pointer)


def _struct_faults(
    value: dict[str, Json], struct: type[msgspec.Struct], pointer: str
) -> Iterator[FieldError]:
    fields = _fields(struct)
    for name in (name for name in value if name not in fields):
        yield fault_at(f"{pointer}/{escaped(name)}", unknown("field", name, fields))
    for name, field in fields.items():
        if name in value:
            yield from _faults(value[name], field.type, f"{pointer}/{name}")
        elif field.required:
            yield fault_at(f"{pointer}/{name}", _missing(field.type))


@cache
def _fields(struct: type[msgspec.Struct]) -> dict[str, msgspec.structs.FieldInfo]:
    return {field.encode_name: field for field in msgspec.structs.fields(struct)}


def _words_of(kind: object) -> list[str | int]:
    """Words and numbers of which a field takes one; none where it takes anything else."""
    literals = (one for one in _alternatives(kind) if get_origin(one) is Literal)
    return [word for one in literals for word in get_args(one)]


def _unfit(value: Json, told: str, words: Iterable[str | int]) -> Text:
    """That a value is not what is expected, with the word that was meant where one is near."""
    by_spelling = {_spelt(word): word for word in words}
    near: list[str] = []
    if isinstance(value, str):
        near = difflib.get_close_matches(_spelt(value), by_spelling, n=1, cutoff=_NEAR)
    elif isinstance(value, int | float) and _spelt(value) in by_spelling:
        near = [_spelt(value)]
    if not near:
        return sentence("unfit", expected=told, got=shown(value))
    return sentence("unfit-near", expected=told, got=shown(value), near=shown(by_spelling[near[0]]))


def _spelt(word: str | float) -> str:
    """A word as it is compared: small letters, with dashes for what stands between them."""
    return re.sub(r"[\s_-]+", "-", str(word).strip().casefold())


def unknown(what: str, name: str, known: Iterable[str]) -> Text:
    """That a field or a parameter is unknown, with the one that was meant, or all."""
    close = difflib.get_close_matches(name, list(known), n=1)
    if close:
        return sentence(f"unknown-{what}-near", near=close[0])
    return sentence(f"unknown-{what}", known=", ".join(known))


def fault_at(pointer: str, text: Text, location: FaultLocation = "body") -> FieldError:
    """A fault of a request."""
    return FieldError(
        pointer=pointer,
        code=text.code,
        parameters=text.parameters,
        message=str.__str__(text),
        location=location,
    )


def shown(value: Json) -> str:
    """A value as JSON, short enough for a message."""
    if isinstance(value, dict):
        return phrase("object")
    if isinstance(value, list):
        return phrase("list-of", count=len(value))
    text = msgspec.json.encode(value).decode()
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def _missing(kind: object) -> Text:
    said: str = metadata(type_info(kind)).get("description", "")
    return sentence("missing-described", expected=expected(kind), description=said.rstrip("."))


def metadata(info: inspect.Type) -> dict[str, Any]:
    """What a type tells beside its limits: unit, description, examples."""
    return getattr(info, "extra_json_schema", None) or {}


def in_words(info: inspect.Type, unit: str = "1") -> str:
    """What a type that was looked into asks for; as `expected`."""
    if isinstance(info, inspect.Metadata):
        if isinstance(info.type, inspect.StrType) and info.type.pattern not in (None, NAMELIKE):
            return phrase("text-like", example=shown(metadata(info)["examples"][0]))
        return in_words(info.type, metadata(info).get("x-unit", unit))
    return _WORDS[type(info)](info, unit)


def _object_words(info: inspect.StructType, _unit: str) -> str:
    names = [field.encode_name for field in info.fields if field.required]
    return phrase("object-with", fields=", ".join(names)) if names else phrase("object")


def _either(info: inspect.UnionType, unit: str) -> str:
    first, *others = (in_words(one, unit) for one in info.types)
    for other in others:
        first = phrase("either", one=first, other=other)
    return first


def _text(info: inspect.StrType, _unit: str) -> str:
    code = "plain-text" if info.pattern == NAMELIKE else "text"
    return phrase(code, length=_length(info, "characters"))


_WORDS: dict[type[inspect.Type], Callable[[Any, str], str]] = {
    inspect.UnionType: _either,
    inspect.FloatType: lambda info, unit: phrase("number", range=between(info.ge, info.le, unit)),
    inspect.IntType: lambda info, unit: phrase(
        "whole-number", range=between(info.ge, info.le, unit)
    ),
    inspect.StrType: _text,
    inspect.ListType: lambda info, _: phrase("list", length=_length(info, "entries")),
    inspect.LiteralType: lambda info, _: one_of(info.values),
    inspect.StructType: _object_words,
    inspect.BoolType: lambda _info, _unit: phrase("true-or-false"),
    inspect.NoneType: lambda _info, _unit: phrase("null"),
    inspect.DictType: lambda _info, _unit: phrase("object"),
}


def between(low: float | None, high: float | None, unit: str) -> str:
    """Range of a number, with a space before it; empty where anything goes."""
    limits = {"low": low, "high": high}
    given = {name: f"{one:.15g}" for name, one in limits.items() if one is not None}
    if not given:
        return "" if unit in ("", "1") else phrase("in-unit", unit=unit)
    code = "-".join(["between", *given]) + ("" if unit in ("", "1") else "-unit")
    return phrase(code, **given, **({} if unit in ("", "1") else {"unit": unit}))


def _length(info: inspect.StrType | inspect.ListType, things: str) -> str:
    low, high = info.min_length, info.max_length
    if low in (None, 1) and high in (None, 1):
        things = {"characters": "character", "entries": "entry"}[things]
    if low is not None and low == high:
        return phrase(f"exactly-{things}", count=low)
    limits = {"low": low, "high": high}
    given = {name: one for name, one in limits.items() if one is not None}
    return phrase("-".join([things, *given]), **given) if given else ""


def one_of(values: Iterable[Any]) -> str:
    """Words out of which one is expected."""
    words = [f"`{value}`" for value in values]
    return words[0] if len(words) == 1 else phrase("one-of", words=", ".join(words))
