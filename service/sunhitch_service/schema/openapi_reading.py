"""The part of the OpenAPI document that describes the flat questions and the reference tables."""

from collections.abc import Iterable, Mapping
from typing import Any

from msgspec import Struct

from sunhitch.questions import QUESTIONS, AnyQuestion
from sunhitch.types.service import Codes, QuickQuestions, ReferenceTable, ReferenceTables
from sunhitch_service.engine.tables import table_names
from sunhitch_service.quick.parameters import Parameter, ParameterSlot, slots
from sunhitch_service.tasks.media_types import CSV, JSON, JSON_SCHEMA, TEXT, XML

from . import paths
from .answers import answers

Document = dict[str, Any]

TEXT_CONTENT: Document = {"schema": {"type": "string"}}


def content_of(kind: type[Any]) -> Document:
    """Content that a contract type describes."""
    return {"schema": {"$ref": f"#/components/schemas/{kind.__name__}"}}


def reading_types() -> list[type[Struct]]:
    """Structs of the answers."""
    answers = [question.answered for question in QUESTIONS]
    return [*answers, Codes, QuickQuestions, ReferenceTables, ReferenceTable]


def reading_paths(
    parameters: Mapping[str, Document], calculations: Iterable[str]
) -> dict[str, Document]:
    """GET operations by path, each with its answer, but without what all share.

    `parameters` are those that several have, `calculations` the names of what is offered.
    """
    formats = [parameters[name] for name in ("json_or_csv", "errors", "decimal", "separator")]
    names = {"schema": {"type": "string", "enum": list(table_names())}}
    table = parameters["table"] | names
    one_table = _rows(
        "reference_table", "One table with its source", ReferenceTable, table, *formats
    )
    one_table["description"] = (
        "Columns carry their units in their names; in CSV the source is the last column."
    )
    return {
        paths.QUICK: _rows("quick_questions", "Every quick question", QuickQuestions, *formats),
        **{question.path: _question(question, parameters) for question in QUESTIONS},
        paths.TABLES: _rows(
            "reference_tables", "Tables that the engine reads", ReferenceTables, *formats
        ),
        paths.TABLE: one_table,
        paths.SCHEMA: _schema(parameters["schema"], calculations),
        paths.CODES: {
            "operationId": "codes",
            "summary": "Every code with its texts as templates",
            "description": "Out of these a front end makes the texts of its own language.",
            "parameters": [],
            "kind": "reference",
            "answer": "All of them.",
            "content": {JSON: content_of(Codes)},
        },
    }


def _schema(parameter: Document, calculations: Iterable[str]) -> Document:
    names = [*calculations, *(one.name for one in QUESTIONS)]
    content = {JSON_SCHEMA: {"schema": {"type": "object"}}}
    return {
        "operationId": "request_schema",
        "summary": "What a call is given, as one JSON Schema by itself",
        "description": "For forms: what need not be given is left out, never null. `x-level` is "
        "`basic` for what must be given or the shipped example gives, else `expert`.",
        "parameters": [parameter | {"schema": {"type": "string", "enum": names}}],
        "kind": "reference",
        "answer": "JSON Schema, 2020-12.",
        "content": content,
    }


def _rows(operation_id: str, summary: str, kind: type[Struct], *parameters: Document) -> Document:
    return {
        "operationId": operation_id,
        "summary": summary,
        "description": f"{summary}, as JSON or as CSV.",
        "parameters": list(parameters),
        "kind": "quick" if operation_id.startswith("quick_") else "reference",
        "answer": "All of them.",
        "content": {JSON: content_of(kind), CSV: TEXT_CONTENT},
    }


def _question(question: AnyQuestion, parameters: Mapping[str, Document]) -> Document:
    asked = [_parameter(one, slot) for slot in slots(question) for one in slot.parameters]
    field = parameters["field"] | {"schema": {"type": "string", "enum": list(question.fields)}}
    # A type each: tools for fuzzing take no list of types among choices.
    told = {"description": "One value, with `field`."}
    one = [{"type": kind, **told} for kind in ("number", "string", "null")]
    either = {
        "schema": {"anyOf": [content_of(question.answered)["schema"], *one]},
        "examples": {
            "least": {
                "summary": "Answer to a call with what must be given.",
                "value": answers()[question.name],
            }
        },
    }
    return {
        "operationId": f"quick_{question.name.replace('-', '_')}",
        "summary": question.title,
        "description": f"{question.description} `format=txt` gives `{question.fields[0]}` alone.",
        "parameters": [
            *asked,
            field,
            *(parameters[name] for name in ("any_format", "texts", "errors")),
            *(parameters[name] for name in ("decimal", "separator")),
        ],
        "kind": "quick",
        "answer": "The answer, or one value of it.",
        "content": {JSON: either, CSV: TEXT_CONTENT, TEXT: TEXT_CONTENT, XML: TEXT_CONTENT},
    }


def _parameter(one: Parameter, slot: ParameterSlot) -> Document:
    """One parameter; only the least that must be given has an example to fill in."""
    schema = {name: content for name, content in one.schema.items() if name != "description"}
    others = " or ".join(f"`{other.name}`" for other in slot.parameters if other is not one)
    choice = f" Or {others}: {'exactly' if slot.required else 'at most'} one." if others else ""
    shown = slot.required and one is slot.parameters[0]
    return {
        "name": one.name,
        "in": "query",
        "required": slot.required and not others,
        "description": one.schema["description"] + choice,
        "schema": schema,
        **({"example": schema["examples"][0]} if shown else {}),
    }
