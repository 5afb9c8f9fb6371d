"""What a call is given, as one JSON Schema by itself, for forms."""

import json
from typing import Any

import msgspec

from sunhitch.operations.operation import Operation
from sunhitch.questions import AnyQuestion
from sunhitch.report.field_words import title_of
from sunhitch_service.quick.parameters import ParameterSlot, slots

from .paths import SCHEMA
from .schemas import NULL, REF, Schema, Schemas, schemas_of, shipped

_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def question_schema(question: AnyQuestion) -> Schema:
    """Schema of an object with the question's query parameters."""
    asked = slots(question)
    properties = {
        one.name: {
            "title": title_of(one.name),
            **one.schema,
            "x-level": "basic" if slot.required else "expert",
        }
        for slot in asked
        for one in slot.parameters
    }
    return {
        "$schema": _DIALECT,
        "$id": SCHEMA.format(name=question.name),
        "title": question.title,
        "description": question.description,
        "type": "object",
        "properties": properties,
        "required": [s.parameters[0].name for s in asked if s.required and len(s.parameters) == 1],
        "additionalProperties": False,
        "allOf": [_one_way(slot) for slot in asked if len(slot.parameters) > 1],
    }


def _one_way(slot: ParameterSlot) -> Schema:
    """Exactly one way to give something, or at most one where it need not be given."""
    ways: list[Schema] = [
        {"title": title_of(one.name), "required": [one.name]} for one in slot.parameters
    ]
    none = {"title": "Not given", "not": {"anyOf": [{"required": way["required"]} for way in ways]}}
    return {"oneOf": ways if slot.required else [*ways, none]}


def request_schema(operation: Operation[Any, Any]) -> Schema:
    """Schema of one calculation's request by itself, for forms.

    What need not be given is left out rather than null, and every property has an `x-level`:
    `basic` if it must be given or a shipped example gives it, else `expert`.
    """
    used: set[tuple[str, str]] = set()
    for example in shipped(operation.name).values():
        _note_used(msgspec.json.decode(example, type=operation.request), used)
    schemas = schemas_of([operation.request])
    for struct, schema in schemas.items():
        choices = [one for all_of in schema.pop("allOf", ()) for one in all_of["oneOf"]]
        if choices:
            schema["oneOf"] = [{k: v for k, v in one.items() if k != "not"} for one in choices]
        chosen = (one["required"][0] for one in choices)
        needed = {*schema.get("required", ()), *chosen}
        for field, one in schema.get("properties", {}).items():
            schema["properties"][field] = _without_null(one) | {
                "x-level": "basic" if field in needed or (struct, field) in used else "expert"
            }
    text = json.dumps(schemas).replace(REF, "#/$defs/")
    defined: Schemas = json.loads(text)
    root = defined.pop(operation.request.__name__)
    return {
        "$schema": _DIALECT,
        "$id": SCHEMA.format(name=operation.name),
        **root,
        "$defs": defined,
    }


def _note_used(value: Any, used: set[tuple[str, str]]) -> None:  # noqa: ANN401
    """Fields of Structs that differ from their defaults."""
    if isinstance(value, list):
        entries: list[Any] = value  # pyright: ignore[reportUnknownVariableType]
        for one in entries:
            _note_used(one, used)
    elif isinstance(value, msgspec.Struct):
        for field in msgspec.structs.fields(value):
            inner = getattr(value, field.name)
            if inner != field.default:
                used.add((type(value).__name__, field.encode_name))
            _note_used(inner, used)


def _without_null(schema: Schema) -> Schema:
    rest = {name: one for name, one in schema.items() if (name, one) != ("default", None)}
    if isinstance(rest.get("type"), list):
        kinds = [one for one in rest["type"] if one != "null"]
        rest["type"] = kinds[0] if len(kinds) == 1 else kinds
    choices: list[Schema] = [one for one in rest.get("anyOf", ()) if one != NULL]
    if len(choices) == 1:
        del rest["anyOf"]
        return choices[0] | rest
    if choices:
        rest["anyOf"] = choices
    return rest
