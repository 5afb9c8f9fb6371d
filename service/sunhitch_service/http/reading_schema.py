"""The part of the OpenAPI document that describes the quick questions and the reference tables."""

from typing import Any

from msgspec import Struct

from sunhitch_service.quick.parameters import Parameter, ParameterSlot, slots
from sunhitch_service.quick.question import AnyQuestion
from sunhitch_service.quick.questions import QUESTIONS

from . import quick, reference
from .quick import QuickQuestions
from .reading import CSV, TEXT
from .reference import ReferenceTable, ReferenceTables
from .requests import JSON

Document = dict[str, Any]


def reading_types() -> list[type[Struct]]:
    """Structs of the answers."""
    answers = [question.answered for question in QUESTIONS]
    return [*answers, QuickQuestions, ReferenceTables, ReferenceTable]


def reading_paths() -> dict[str, Document]:
    """GET operations by path, each without its errors and without the headers that all share."""
    return {
        quick.LIST_PATH: _list("quick_questions", "Every quick question", QuickQuestions, "quick"),
        **{question.path: _question(question) for question in QUESTIONS},
        reference.LIST_PATH: _list(
            "reference_tables", "Tables that the engine reads", ReferenceTables, "reference"
        ),
        reference.TABLE_PATH: _table(),
    }


def _question(question: AnyQuestion) -> Document:
    name = question.name.replace("-", "_")
    asked = [_parameter(one, slot) for slot in slots(question) for one in slot.parameters]
    return {
        "operationId": f"quick_{name}",
        "tags": ["quick"],
        "summary": question.title,
        "description": f"{question.description} `format=txt` gives `{question.fields[0]}` alone.",
        "parameters": [*asked, _format("json", "csv", "txt"), _field(question), _errors()],
        "responses": {"200": _answer(question)},
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


def _word(name: str, description: str, words: list[str], usual: str | None = None) -> Document:
    return {
        "name": name,
        "in": "query",
        "required": False,
        "description": description,
        "schema": {"type": "string", "enum": words, **({"default": usual} if usual else {})},
    }


def _format(*words: str) -> Document:
    said = "How to answer; by `Accept` if not given."
    if "txt" in words:
        said += " `txt` is one value alone, numbers in plain decimal, without a line end."
    return _word("format", said, list(words))


def _field(question: AnyQuestion) -> Document:
    return _word("field", "The one value to answer.", list(question.fields))


def _errors() -> Document:
    said = "`text` answers errors with status 200 and a line that begins with `Error:`."
    return _word("errors", said, ["problem", "text"], "problem")


def _answer(question: AnyQuestion) -> Document:
    whole = {"$ref": f"#/components/schemas/{question.answered.__name__}"}
    one = {"type": ["number", "string", "null"], "description": "One value, with `field`."}
    return {
        "description": "The answer, or one value of it.",
        "content": {
            JSON: {"schema": {"anyOf": [whole, one]}},
            CSV: {"schema": {"type": "string"}},
            TEXT: {"schema": {"type": "string"}},
        },
    }


def _list(operation_id: str, summary: str, kind: type[Struct], tag: str) -> Document:
    return {
        "operationId": operation_id,
        "tags": [tag],
        "summary": summary,
        "description": f"{summary}, as JSON or as CSV.",
        "parameters": [_format("json", "csv")],
        "responses": {"200": _rows(kind)},
    }


def _rows(kind: type[Struct]) -> Document:
    return {
        "description": "All of them.",
        "content": {
            JSON: {"schema": {"$ref": f"#/components/schemas/{kind.__name__}"}},
            CSV: {"schema": {"type": "string"}},
        },
    }


def _table() -> Document:
    names = [entry.slug for entry in reference.entries()]
    one = {
        "name": "table",
        "in": "path",
        "required": True,
        "description": "Name of the table.",
        "schema": {"type": "string", "enum": names},
        "example": "wiring-nec-table-8",
    }
    return {
        "operationId": "reference_table",
        "tags": ["reference"],
        "summary": "One table with its source",
        "description": "Columns carry their units in their names; in CSV the source is the last "
        "column.",
        "parameters": [one, _format("json", "csv")],
        "responses": {"200": _rows(ReferenceTable)},
    }
