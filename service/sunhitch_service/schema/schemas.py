"""JSON Schemas of the contract types, in the form that generators and form builders take.

msgspec, which also decodes the requests, gives limits, words and structure. Here sets of words get
their names, fields their titles, and whatever may be null a plain type.
"""

import pkgutil
import re
from collections.abc import Iterable
from functools import cache
from importlib import import_module, resources
from inspect import cleandoc
from typing import Annotated, Any, Literal, get_args, get_origin

import msgspec
from msgspec import inspect

from sunhitch import types
from sunhitch.faults import metadata
from sunhitch.report.field_words import title_of
from sunhitch.selection import ALWAYS
from sunhitch.types.base import Output
from sunhitch.types.stream import ProblemLine, ProgressLine

Schema = dict[str, Any]
Schemas = dict[str, Schema]

REF = "#/components/schemas/"
_JSON_TYPES = {str: "string", int: "integer", bool: "boolean", float: "number"}
NULL = {"type": "null"}


def schemas_of(kinds: Iterable[type[msgspec.Struct]]) -> Schemas:
    """Schema by name of some contract types and of all that they refer to.

    msgspec leaves out the description of a field that refers to another type, or that may be null;
    it is put back here. Docstrings lose their indentation, which Markdown would show as code and
    which newer versions of Python take away by themselves.

    Returns
    -------
    dict
        For ``components.schemas``.
    """
    roots = list(kinds)
    _, schemas = msgspec.json.schema_components(roots, ref_template=f"{REF}{{name}}")
    seen: dict[str, inspect.StructType] = {}
    for info in inspect.multi_type_info(roots):
        _structs(info, seen)
    told: Schemas = {}
    for name, schema in schemas.items():
        described = schema | {"description": cleandoc(schema.get("description", ""))}
        told[name] = _struct(described, seen[name], told)
    return dict(sorted(told.items()))


def with_parts(schemas: Schemas, answers: Iterable[str]) -> Schemas:
    """Schemas with one more for each answer: the same, but for parts that were not asked for."""
    parts = {
        part_name(name): schemas[name]
        | {
            "title": part_name(name),
            "description": f"Named parts of `{name}`, as asked for by `fields`.",
            "required": list(ALWAYS),
        }
        for name in answers
    }
    return schemas | parts


def part_name(answer: str) -> str:
    """Name of the type that parts of an answer have."""
    return f"{answer}Part"


def line_name(answer: str) -> str:
    """Name of the type that lines of a stream of such answers have."""
    return f"{answer.removesuffix('Answer')}Line"


def with_lines(schemas: Schemas, answers: Iterable[str]) -> Schemas:
    """Schemas with what the lines of a stream of each answer may be."""
    found = schemas | schemas_of([ProgressLine, ProblemLine])
    for answer in answers:
        kind = {"title": "Kind", "type": "string", "const": "answer", "description": "An answer."}
        told = {"title": "Answer", "$ref": f"{REF}{answer}", "description": "All of it."}
        found[f"{answer}Line"] = {
            "title": f"{answer}Line",
            "description": "An answer: the last line of progress, or a line of a batch.",
            "type": "object",
            "properties": {"kind": kind, "answer": told},
            "required": ["kind", "answer"],
        }
        names = {"progress": "ProgressLine", "answer": f"{answer}Line", "problem": "ProblemLine"}
        refs = {kind: f"{REF}{name}" for kind, name in names.items()}
        found[line_name(answer)] = {
            "title": line_name(answer),
            "description": "One line of a batch, or of an answer that tells its progress.",
            "oneOf": [{"$ref": ref} for ref in refs.values()],
            "discriminator": {"propertyName": "kind", "mapping": refs},
        }
    return found


@cache
def _sets_of_words() -> dict[frozenset[Any], tuple[str, list[Any]]]:
    """Name and order of the contract's sets of words, by the words."""
    found: dict[frozenset[Any], tuple[str, list[Any]]] = {}
    for module in pkgutil.walk_packages(types.__path__, f"{types.__name__}."):
        for name, alias in vars(import_module(module.name)).items():
            one = get_args(alias)[0] if get_origin(alias) is Annotated else alias
            if get_origin(one) is Literal and len(get_args(one)) > 1 and not name.startswith("_"):
                found[frozenset(get_args(one))] = name, list(get_args(one))
    return found


def _structs(info: inspect.Type, seen: dict[str, inspect.StructType]) -> None:
    """Every Struct within a type, by the name of its schema."""
    match info:
        case inspect.StructType(cls=cls):
            if cls.__name__ not in seen:
                seen[cls.__name__] = info
                for field in info.fields:
                    _structs(field.type, seen)
        case inspect.Metadata(type=inner) | inspect.ListType(item_type=inner):
            _structs(inner, seen)
        case inspect.UnionType(types=choices):
            for choice in choices:
                _structs(choice, seen)
        case _:
            return


def _struct(schema: Schema, info: inspect.StructType, told: Schemas) -> Schema:
    """Schema of a Struct; sets of words that it uses are added to those that are told."""
    properties = {
        field.encode_name: _described(schema["properties"][field.encode_name], field.type)
        for field in info.fields
    }
    if info.tag_field is not None:
        said = f"Always `{info.tag}`: tells this kind from the others."
        tag = {"type": "string", "const": info.tag, "description": said}
        properties = {info.tag_field: tag, **properties}
    named = {
        name: {"title": title_of(name), **_tidied(one, told)} for name, one in properties.items()
    }
    whole = schema | {"properties": named}
    if issubclass(info.cls, Output) and not info.cls.__struct_config__.omit_defaults:
        whole["required"] = list(named)  # Defaults serve to read older answers.
    if one_of := getattr(info.cls, "EXACTLY_ONE", ()):
        # Within `allOf`, since generators take an object with `oneOf` for a choice of objects.
        whole["allOf"] = [{"oneOf": [_given(name) for name in one_of]}]
    return whole


def _given(name: str) -> Schema:
    """That a field is there and not null."""
    absent = {"properties": {name: NULL}}
    return {"title": title_of(name), "required": [name], "not": absent}


def _tidied(schema: Schema, told: Schemas) -> Schema:
    """Schema with named sets of words, and null as one of its types where that can be said."""
    if "enum" in schema:
        return _words(schema, told)
    rest = {name: one for name, one in schema.items() if name != "anyOf"}
    if rest.get("type") == "array":
        rest.setdefault("items", {})  # any entries: without it generators refuse the list
    for name in ("items", "additionalProperties"):
        if isinstance(rest.get(name), dict):
            rest[name] = _tidied(rest[name], told)
    if "anyOf" not in schema:
        return rest
    choices = [_tidied(one, told) for one in schema["anyOf"]]
    if "discriminator" in rest:
        return rest | {"oneOf": choices}
    if all(set(one) == {"type"} for one in choices):
        return rest | {"type": [one["type"] for one in choices]}
    kinds = [one for one in choices if one != NULL]
    return rest | (_or_null(kinds[0]) if len(kinds) == 1 else {"anyOf": choices})


def _or_null(kind: Schema) -> Schema:
    if "$ref" not in kind:
        return kind | {"type": [kind["type"], "null"]}
    hoisted = {name: one for name, one in kind.items() if name != "$ref"}
    return hoisted | {"anyOf": [{"$ref": kind["$ref"]}, NULL]}


def _words(schema: Schema, told: Schemas) -> Schema:
    rest = {name: one for name, one in schema.items() if name != "enum"}
    words = [one for one in schema["enum"] if one is not None]
    kind = {"type": _JSON_TYPES[type(words[0])]}
    name, words = _sets_of_words().get(frozenset(words), ("", words))
    if not name:
        return kind | ({"const": words[0]} if len(words) == 1 else {"enum": words}) | rest
    told[name] = {"title": name, **kind, "enum": words}
    ref = {"$ref": f"{REF}{name}"}
    return rest | ({"anyOf": [ref, NULL]} if None in schema["enum"] else ref)


def _described(schema: Schema, info: inspect.Type) -> Schema:
    said = _description(info)
    return {"description": said, **schema} if said else schema


def _description(info: inspect.Type) -> str:
    """Description of a field, which may stand on one of its alternatives."""
    if isinstance(info, inspect.UnionType):
        return next((said for one in info.types if (said := _description(one))), "")
    return str(metadata(info).get("description", ""))


def shipped(name: str) -> dict[str, str]:
    """Shipped requests of a calculation as JSON, by the name of their file."""
    folder = resources.files("sunhitch").joinpath("examples")
    found = {one.name.removesuffix(".json"): one for one in folder.iterdir()}
    names = sorted(one for one in found if re.fullmatch(rf"{name}(-\d+)?", one))
    return {one: found[one].read_text("utf-8") for one in names}
