"""The OpenAPI 3.1 document, built from the calculations and the contract types alone.

The framework's own generator loses limits, docstrings and `additionalProperties`, so the schemas
come straight from msgspec, which also decodes the requests: the two cannot disagree.
"""

import json
import re
from collections.abc import Sequence
from importlib import resources
from typing import Any

from sunhitch._version import __version__
from sunhitch.types.problem import Problem
from sunhitch_service.calculations.calculation import AnyCalculation

from . import problems
from .access import KEY_HEADER
from .batch import batch_path
from .health import Health
from .openapi_answers import (
    BATCH_PROBLEMS,
    CACHE_CONTROL,
    CALCULATION_PROBLEMS,
    EVERY_ANSWER,
    QUICK_PROBLEMS,
    READING_PROBLEMS,
    VERDICT,
    Document,
    problem_references,
    problem_responses,
)
from .reading_schema import reading_paths, reading_types
from .requests import JSON, NDJSON
from .schemas import schemas_of

_KEY_SCHEME = {
    "type": "apiKey",
    "in": "header",
    "name": KEY_HEADER,
    "description": "Needed where the operator asks for keys, which is the usual case on every "
    "address but the loopback ones.",
}

_INTRODUCTION = """\
Engineering of solar panels on the roofs of trailers, vans and motorhomes: arrangement, shade,
wiring and mounting, with every rule checked and every figure traced to its source.

Every call is a pure computation: no state is kept, and repeating one is always safe. Units are SI
and stand in the field names; ratios are fractions from 0 to 1. Unknown fields are refused. Physics
that cannot be met is an answer with the verdict `fail`, not an error; input that makes no sense is
an error with a JSON Pointer to every field at fault.

The answers do not replace local codes, makers' instructions or licensed practice.
"""


def document(endpoints: Sequence[AnyCalculation]) -> Document:
    """The whole document.

    Parameters
    ----------
    endpoints : sequence of Calculation
        What the service offers.

    Returns
    -------
    dict
        OpenAPI 3.1, ready to be written as JSON.
    """
    types = [t for e in endpoints for t in (e.operation.request, e.operation.answer)]
    return {
        "openapi": "3.1.0",
        "info": _info(),
        "servers": [{"url": "/", "description": "The service that serves this document."}],
        "security": [{"apiKey": []}, {}],
        "tags": [
            {"name": "calculations", "description": "One engineering question each."},
            {"name": "batches", "description": "Many requests of one calculation at once."},
            {"name": "quick", "description": "Flat questions for spreadsheets, one GET each."},
            {"name": "reference", "description": "Tables of the engine with their sources."},
            {"name": "operation", "description": "State and description of the service."},
        ],
        "paths": {
            **{e.operation.path: {"post": _calculation(e)} for e in endpoints},
            **{batch_path(e): {"post": _batch(e)} for e in endpoints},
            **{path: {"get": _completed(one)} for path, one in reading_paths().items()},
            **_operating_paths(),
        },
        "components": {
            "schemas": schemas_of([*types, *reading_types(), Problem, Health]),
            "responses": problem_responses(),
            "securitySchemes": {"apiKey": _KEY_SCHEME},
        },
    }


def encoded(endpoints: Sequence[AnyCalculation]) -> bytes:
    """The document as JSON for machines and for version control."""
    text = json.dumps(document(endpoints), indent=2, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode()


def _info() -> Document:
    return {
        "title": "sunhitch",
        "version": __version__,
        "summary": "Engineering of solar panels on trailer, van and motorhome roofs.",
        "description": _INTRODUCTION,
        "license": {"name": "MIT", "identifier": "MIT"},
        "contact": {"name": "sunhitch maintainers"},
    }


_TOLD: Document = {
    "progress": {
        "summary": "Lines of progress, then the answer, or a problem document, as the last line.",
        "value": '{"done":0,"total":2}\n{"done":1,"total":2}\n{"done":2,"total":2}\n{"verdict":…\n',
    }
}


def _calculation(endpoint: AnyCalculation) -> Document:
    operation = endpoint.operation
    answer = _answer("The answer with all its checks.", _content(operation.answer))
    answer["headers"] = EVERY_ANSWER | VERDICT
    answer["content"] |= {
        rendering.media_type: {"schema": {"type": "string"}} for rendering in endpoint.renderings
    }
    if operation.in_pieces:
        answer["content"][NDJSON] = {"schema": {"type": "string"}, "examples": _TOLD}
    return {
        "operationId": operation.name.replace("-", "_"),
        "tags": ["calculations"],
        "summary": operation.title,
        "description": operation.description,
        "parameters": [*_view_parameters(endpoint), _request_id_parameter()],
        "requestBody": {
            "description": "What is given.",
            "required": True,
            "content": {JSON: _content(operation.request, _examples(operation.name))},
        },
        "responses": {"200": answer, **problem_references(CALCULATION_PROBLEMS)},
    }


def _view_parameters(endpoint: AnyCalculation) -> list[Document]:
    """What `view` offers; absent where there is nothing to choose."""
    if not endpoint.renderings:
        return []
    views = " ".join(f"`{r.view}` ({r.media_type}): {r.description}" for r in endpoint.renderings)
    words = list(dict.fromkeys(rendering.view for rendering in endpoint.renderings))
    return [
        {
            "name": "view",
            "in": "query",
            "required": False,
            "description": f"Which drawing, where `Accept` asks for one. {views}",
            "schema": {"type": "string", "enum": words},
        }
    ]


def _batch(endpoint: AnyCalculation) -> Document:
    operation = endpoint.operation
    request, answer = operation.request.__name__, operation.answer.__name__
    lines = {NDJSON: {"schema": {"type": "string"}}}
    given = {NDJSON: {"schema": {"type": "string"}, "examples": _example_lines(operation.name)}}
    return {
        "operationId": f"batch_{operation.name.replace('-', '_')}",
        "tags": ["batches"],
        "summary": f"Batch: {operation.title}",
        "description": f"One `{request}` as JSON in each line. Exactly one line comes back for "
        f"each, in order, as it is ready: its `{answer}`, or a `Problem` whose `instance` ends in "
        "the line's number. A fault in one line does not touch the others.",
        "parameters": [_request_id_parameter()],
        "requestBody": {"description": "Lines of JSON.", "required": True, "content": given},
        "responses": {
            "200": {
                "description": "One answer or problem a line.",
                "headers": EVERY_ANSWER,
                "content": lines,
            },
            **problem_references(BATCH_PROBLEMS),
        },
    }


def _completed(operation: Document) -> Document:
    """A reading operation with what all of them share."""
    answer = operation["responses"]["200"]
    headers = {**EVERY_ANSWER, "Cache-Control": CACHE_CONTROL}
    return operation | {
        "parameters": [*operation["parameters"], _request_id_parameter()],
        "responses": {
            "200": answer | {"headers": headers},
            **problem_references(QUICK_PROBLEMS),
        },
    }


def _content(kind: type[Any], shown: Document | None = None) -> Document:
    schema = {"$ref": f"#/components/schemas/{kind.__name__}"}
    return {"schema": schema, "examples": shown} if shown else {"schema": schema}


def _answer(description: str, content: Document, media_type: str = JSON) -> Document:
    return {
        "description": description,
        "headers": EVERY_ANSWER,
        "content": {media_type: content},
    }


def _request_id_parameter() -> Document:
    return {
        "name": "X-Request-Id",
        "in": "header",
        "required": False,
        "description": "Id of the caller's own for this exchange: up to 64 letters, digits and "
        "`._~:-`. Anything else is replaced.",
        "schema": {"type": "string"},
        "example": "job-4711",
    }


def _examples(name: str) -> Document:
    """Shipped requests of an operation, so that the documentation shows what is tested."""
    folder = resources.files("sunhitch").joinpath("examples")
    shipped = sorted(
        entry.name
        for entry in folder.iterdir()
        if re.fullmatch(rf"{name}(-\d+)?\.json", entry.name)
    )
    return {
        entry.removesuffix(".json"): {"value": json.loads(folder.joinpath(entry).read_bytes())}
        for entry in shipped
    }


def _example_lines(name: str) -> Document:
    """The shipped requests again, each as a line."""
    shipped = _examples(name).items()
    return {key: {"value": json.dumps(example["value"]) + "\n"} for key, example in shipped}


_OPEN: Document = {"security": []}
"""Answered without a key in any case."""


def _operating_paths() -> Document:
    return {
        "/health/live": {"get": _live() | _OPEN},
        "/health/ready": {"get": _ready() | _OPEN},
        "/metrics": {"get": _metrics()},
        "/openapi.json": {"get": _self() | _OPEN},
    }


def _reading(operation_id: str, summary: str, description: str, answer: Document) -> Document:
    return {
        "operationId": operation_id,
        "tags": ["operation"],
        "summary": summary,
        "description": description,
        "parameters": [_request_id_parameter()],
        "responses": {"200": answer, **problem_references(READING_PROBLEMS)},
    }


def _live() -> Document:
    answer = _answer("It answers.", _content(Health))
    return _reading("live", "Is it alive?", "Answers as long as the process runs.", answer)


def _ready() -> Document:
    answer = _answer("It is ready for calculations.", _content(Health))
    reading = _reading(
        "ready", "Is it ready?", "Answers when tables are loaded and workers are up.", answer
    )
    reading["responses"] |= problem_references([problems.NOT_READY])
    return reading


def _metrics() -> Document:
    answer = _answer("Metrics.", {"schema": {"type": "string"}}, "text/plain")
    reading = _reading("metrics", "Metrics", "Counters in Prometheus' text format.", answer)
    reading["responses"] |= problem_references([problems.UNAUTHORISED, problems.FORBIDDEN])
    return reading


def _self() -> Document:
    answer = _answer("This document.", {"schema": {"type": "object"}})
    return _reading("openapi", "This document", "OpenAPI 3.1 of this service.", answer)
