"""The part of the OpenAPI document that describes the flat questions and the reference tables."""

from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from sunhitch.types.service import QuickQuestions, ReferenceTable, ReferenceTables
from sunhitch_service.quick.parameters import Parameter, ParameterSlot, slots
from sunhitch_service.quick.question import AnyQuestion
from sunhitch_service.quick.questions import QUESTIONS

from . import quick, reference
from .reading import CSV, TEXT
from .requests import JSON

Document = dict[str, Any]

_AS_TEXT: Document = {"schema": {"type": "string"}}


def reading_types() -> list[type[Struct]]:
    """Structs of the answers."""
    answers = [question.answered for question in QUESTIONS]
    return [*answers, QuickQuestions, ReferenceTables, ReferenceTable]


def reading_paths(parameters: Mapping[str, Document]) -> dict[str, Document]:
    """GET operations by path, each with its answer, but without what all share.

    Parameters
    ----------
    parameters : mapping
        Those that several have.
    """
    formats = [parameters["json_or_csv"]]
    return {
        quick.LIST_PATH: {
            **_rows("quick_questions", "Every quick question", QuickQuestions),
            "parameters": formats,
        },
        **{question.path: _question(question, parameters) for question in QUESTIONS},
        reference.LIST_PATH: {
            **_rows("reference_tables", "Tables that the engine reads", ReferenceTables),
            "parameters": formats,
        },
        reference.TABLE_PATH: {
            **_rows("reference_table", "One table with its source", ReferenceTable),
            "description": "Columns carry their units in their names; in CSV the source is the "
            "last column.",
            "parameters": [_table(), *formats],
        },
    }


def _rows(operation_id: str, summary: str, kind: type[Struct]) -> Document:
    whole = {"schema": {"$ref": f"#/components/schemas/{kind.__name__}"}}
    return {
        "operationId": operation_id,
        "summary": summary,
        "description": f"{summary}, as JSON or as CSV.",
        "answer": ("All of them.", {JSON: whole, CSV: _AS_TEXT}),
        "tagged": True,
    }


def _question(question: AnyQuestion, parameters: Mapping[str, Document]) -> Document:
    asked = [_parameter(one, slot) for slot in slots(question) for one in slot.parameters]
    whole = {"$ref": f"#/components/schemas/{question.answered.__name__}"}
    one = {"type": ["number", "string", "null"], "description": "One value, with `field`."}
    field = {
        "name": "field",
        "in": "query",
        "required": False,
        "description": "The one value to answer.",
        "schema": {"type": "string", "enum": list(question.fields)},
    }
    return {
        "operationId": f"quick_{question.name.replace('-', '_')}",
        "summary": question.title,
        "description": f"{question.description} `format=txt` gives `{question.fields[0]}` alone.",
        "parameters": [*asked, parameters["any_format"], field, parameters["errors"]],
        "answer": (
            "The answer, or one value of it.",
            {JSON: {"schema": {"anyOf": [whole, one]}}, CSV: _AS_TEXT, TEXT: _AS_TEXT},
        ),
    }


def _parameter(one: Parameter, slot: ParameterSlot) -> Document:
    """One parameter; only the least that must be given has an example to fill in."""
    schema = {name: content for name, content in one.schema.items() if name != "description"}
    shown = slot.required and one is slot.parameters[0]
    return {
        "name": one.name,
        "in": "query",
        "required": slot.required and len(slot.parameters) == 1,
        "description": one.schema["description"] + _choice(one, slot),
        "schema": schema,
        **({"example": schema["examples"][0]} if shown else {}),
    }


def _choice(one: Parameter, slot: ParameterSlot) -> str:
    others = " or ".join(f"`{other.name}`" for other in slot.parameters if other is not one)
    if not others:
        return ""
    return f" Or {others}: exactly one." if slot.required else f" Or {others}: at most one."


def _table() -> Document:
    names = [entry.slug for entry in reference.entries()]
    return {
        "name": "table",
        "in": "path",
        "required": True,
        "description": "Name of the table.",
        "schema": {"type": "string", "enum": names},
        "example": "wiring-nec-table-8",
    }
