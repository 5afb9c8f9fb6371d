"""JSON Schemas of the contract types, with every field's description kept."""

from collections.abc import Iterable
from inspect import cleandoc
from typing import Any

import msgspec
from msgspec import inspect

from .forms import ALWAYS

Schemas = dict[str, dict[str, Any]]


def schemas_of(types: Iterable[type[msgspec.Struct]]) -> Schemas:
    """Schema by name of some contract types and of all that they refer to.

    msgspec leaves out the description of a field that refers to another type, or that may be null;
    it is put back here. Docstrings lose their indentation, which Markdown would show as code and
    which newer versions of Python take away by themselves.

    Returns
    -------
    dict
        For ``components.schemas``.
    """
    roots = list(types)
    _, schemas = msgspec.json.schema_components(roots, ref_template="#/components/schemas/{name}")
    for schema in schemas.values():
        if "description" in schema:
            schema["description"] = cleandoc(schema["description"])
    seen: set[type] = set()
    for info in inspect.multi_type_info(roots):
        _describe(info, schemas, seen)
    return schemas


def part_name(answer: str) -> str:
    """Name of the type that parts of an answer have."""
    return f"{answer}Part"


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


def _describe(info: inspect.Type, schemas: Schemas, seen: set[type]) -> None:
    """Put descriptions back into every Struct within a type."""
    match info:
        case inspect.StructType(cls=cls) if cls not in seen:
            seen.add(cls)
            properties = schemas[cls.__name__]["properties"]
            for field in info.fields:
                if said := _description(field.type):
                    properties[field.encode_name].setdefault("description", said)
                _describe(field.type, schemas, seen)
            if info.tag_field is not None:
                said = f"Always `{info.tag}`: tells this kind from the others."
                properties[info.tag_field].setdefault("description", said)
        case inspect.Metadata(type=inner) | inspect.ListType(item_type=inner):
            _describe(inner, schemas, seen)
        case inspect.UnionType(types=choices):
            for choice in choices:
                _describe(choice, schemas, seen)
        case _:
            return


def _description(info: inspect.Type) -> str:
    """Description of a field, which may stand on one of its alternatives."""
    if isinstance(info, inspect.UnionType):
        return next((said for one in info.types if (said := _description(one))), "")
    words: dict[str, str] = getattr(info, "extra_json_schema", None) or {}
    return words.get("description", "")
