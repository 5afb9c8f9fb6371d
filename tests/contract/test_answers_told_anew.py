"""A front end tells an answer anew from codes and parameters: nothing of ours stays English."""

import json
import re
from collections.abc import Iterator
from functools import cache
from typing import Any

from msgspec import inspect

from sunhitch.codec import MalformedBody, decode_strict, encode
from sunhitch.operations.operation import Operation
from sunhitch.texts.templates import Template, template
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.http.codes import codes

KEYS = re.compile(r"key|keys|code|basis|field|path|unit|currency|symbol|formula|version|answer_id")
"""Fields whose texts are for programs, or units."""
TOLD_BY_CODE = {"title", "note", "remedy", "text", "hold_until", "why"}
"""Texts beside a code of their own, which other tests hold to it."""


def foreign(text: str) -> str:
    """Every letter of ours becomes another."""
    return re.sub(r"[A-Za-z]", "ж", text)


@cache
def abroad() -> dict[str, Template]:
    """Templates of the pseudo-locale, as a front end makes them from the list of codes."""
    found: dict[str, Template] = {}
    for one in codes().codes:
        if one.kind == "statement":
            own = template(one.template)
            parts = tuple((foreign(text), name, form) for text, name, form in own.parts)
            found[one.code] = Template(own.text, parts, own.names)
    return found


class Reader:
    """Tells texts of one answer in the pseudo-locale."""

    def __init__(self, answer: dict[str, Any]) -> None:
        self.known = {one["text"]: one for one in answer["texts"]}

    def told(self, text: str) -> str:
        one = self.known.get(text)
        return self.made(one["code"], one["parameters"]) if one else text

    def made(self, code: str, parameters: dict[str, Any]) -> str:
        inner = {
            name: self.told(one)
            if isinstance(one, str)
            else [self.told(each) for each in one]
            if isinstance(one, list)
            else one
            for name, one in parameters.items()
        }
        return abroad()[code].filled(inner)


def strings(value: Any, kind: inspect.Type, name: str) -> Iterator[tuple[str, str]]:
    """Texts of an answer with the names of their fields, words of fixed sets left out."""
    if isinstance(kind, inspect.Metadata):
        yield from strings(value, kind.type, name)
    elif isinstance(kind, inspect.UnionType):
        fits = [one for one in kind.types if _fits(value, one)]
        yield from strings(value, fits[0], name) if fits else ()
    elif isinstance(kind, inspect.StructType):
        for field in kind.fields:
            if field.encode_name in value:
                own = f"{kind.cls.__name__}.{field.encode_name}"
                yield from strings(value[field.encode_name], field.type, own)
    elif isinstance(kind, inspect.ListType):
        for one in value:
            yield from strings(one, kind.item_type, name)
    elif isinstance(kind, inspect.StrType):
        yield name, value


def _fits(value: Any, kind: inspect.Type) -> bool:
    if isinstance(kind, inspect.Metadata):
        return _fits(value, kind.type)
    kinds: list[tuple[type | tuple[type, ...], type]] = [
        (dict, inspect.StructType),
        (list, inspect.ListType),
        (str, inspect.StrType),
    ]
    return any(isinstance(value, plain) and isinstance(kind, own) for plain, own in kinds)


def names_given(request: Any) -> Iterator[str]:
    if isinstance(request, str):
        yield request
    for one in request.values() if isinstance(request, dict) else ():
        yield from names_given(one)
    for one in request if isinstance(request, list) else ():
        yield from names_given(one)


def escapes(operation: Operation[Any, Any], body: dict[str, Any]) -> list[tuple[str, str]]:
    """Texts that stay English, by field."""
    try:
        request = decode_strict(json.dumps(body).encode(), operation.request)
        answer = json.loads(encode(calculation_of(operation).calculate(request)))
    except (MalformedBody, ContradictionError):
        return []
    reader, given = Reader(answer), sorted(set(names_given(body)), key=len, reverse=True)
    found: list[tuple[str, str]] = []
    for field, text in strings(answer, inspect.type_info(operation.answer), operation.name):
        if KEYS.search(field.partition(".")[2]) or field.startswith("Basis."):
            continue
        told = reader.told(text)
        for name in given:
            told = told.replace(name, "")
        if re.search(r"[A-Za-z]{3}|[a-z]{2}", told):
            found.append((field, told))
    return found
