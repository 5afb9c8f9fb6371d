"""JSON Schemas of the contract types, with every field's description kept."""

from collections.abc import Iterable, Iterator
from inspect import cleandoc
from typing import Any

import msgspec
from msgspec import inspect

Schemas = dict[str, dict[str, Any]]


def schemas_of(types: Iterable[type[msgspec.Struct]]) -> Schemas:
    """Schema by name of some contract types and of all that they refer to.

    msgspec leaves out the description of a field that refers to another type, or that may be null;
    it is put back here. Docstrings lose their indentation, which Markdown would show as code and
    which newer versions of Python take away by themselves.

    Parameters
    ----------
    types : iterable of type
        Contract Structs.

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
        for struct in _structs(info, seen):
            _describe(schemas[struct.cls.__name__]["properties"], struct)
    return schemas


def _structs(info: inspect.Type, seen: set[type]) -> Iterator[inspect.StructType]:
    """Every Struct within a type, once."""
    match info:
        case inspect.StructType(cls=cls, fields=fields):
            if cls not in seen:
                seen.add(cls)
                yield info
                for field in fields:
                    yield from _structs(field.type, seen)
        case inspect.Metadata(type=inner) | inspect.ListType(item_type=inner):
            yield from _structs(inner, seen)
        case inspect.UnionType(types=choices):
            for choice in choices:
                yield from _structs(choice, seen)
        case _:
            return


def _describe(properties: dict[str, Any], struct: inspect.StructType) -> None:
    for field in struct.fields:
        description = _description(field.type)
        if description:
            properties[field.encode_name].setdefault("description", description)
    if struct.tag_field is not None:
        said = f"Always `{struct.tag}`: tells this kind from the others."
        properties[struct.tag_field].setdefault("description", said)


def _description(info: inspect.Type) -> str:
    """Description of a field, which may stand on one of its alternatives."""
    if isinstance(info, inspect.UnionType):
        return next((said for one in info.types if (said := _description(one))), "")
    words: dict[str, str] = getattr(info, "extra_json_schema", None) or {}
    return words.get("description", "")
