"""The OpenAPI 3.1 document, built from the records, the contract types, and `openapi.toml`.

The framework's own generator loses limits, docstrings and `additionalProperties`, so the schemas
come straight from msgspec, which also decodes the requests: the two cannot disagree.
"""

import json
import re
import tomllib
from collections.abc import Iterable, Sequence
from importlib import resources
from typing import Any

from sunhitch._version import __version__
from sunhitch.types.problem import FieldError, Problem
from sunhitch.types.service import Health
from sunhitch_service.calculations.calculation import AnyCalculation

from . import problems
from .batch import batch_path
from .openapi_reading import Document, reading_paths, reading_types
from .problems import Kind, ProblemError
from .requests import JSON, NDJSON
from .schemas import schemas_of

_FIXED: Document = tomllib.loads(
    resources.files("sunhitch_service.http").joinpath("openapi.toml").read_text("utf-8")
)
_HEADERS, _PARAMETERS = _FIXED["headers"], _FIXED["parameters"]
_OPEN = ("/health/live", "/health/ready", "/openapi.json")
"""Answered without a key in any case."""


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
    fixed = _FIXED["document"]
    return {
        **fixed,
        "info": {**fixed["info"], "version": __version__},
        "paths": {
            **{e.operation.path: {"post": _calculation(e)} for e in endpoints},
            **{batch_path(e): {"post": _batch(e)} for e in endpoints},
            **{path: {"get": _reading(one)} for path, one in reading_paths(_PARAMETERS).items()},
            **{one["path"]: {"get": _operating(one)} for one in _FIXED["operating"]},
        },
        "components": {
            "schemas": schemas_of([*types, *reading_types(), Problem, Health]),
            "responses": _problem_responses(),
            "securitySchemes": {"apiKey": _FIXED["security_scheme"]},
        },
    }


def encoded(endpoints: Sequence[AnyCalculation]) -> bytes:
    """The document as JSON for machines and for version control."""
    text = json.dumps(document(endpoints), indent=2, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode()


def _calculation(endpoint: AnyCalculation) -> Document:
    operation = endpoint.operation
    content = {JSON: _content(operation.answer)}
    content |= {one.media_type: _TEXT for one in endpoint.renderings}
    if operation.in_pieces:
        content[NDJSON] = {**_TEXT, "examples": {"progress": _FIXED["progress"]}}
    return {
        "operationId": operation.name.replace("-", "_"),
        "tags": ["calculations"],
        "summary": operation.title,
        "description": operation.description,
        "parameters": [*_view_parameters(endpoint), _PARAMETERS["request_id"]],
        "requestBody": {
            "description": "What is given.",
            "required": True,
            "content": {JSON: _content(operation.request) | _examples(operation.name)},
        },
        "responses": {
            "200": _answer("The answer with all its checks.", content, "calculated"),
            **_problems("calculations"),
        },
    }


_TEXT: Document = {"schema": {"type": "string"}}


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
    return {
        "operationId": f"batch_{operation.name.replace('-', '_')}",
        "tags": ["batches"],
        "summary": f"Batch: {operation.title}",
        "description": f"One `{request}` as JSON in each line. Exactly one line comes back for "
        f"each, in order, as it is ready: its `{answer}`, or a `Problem` whose `instance` ends in "
        "the line's number. A fault in one line does not touch the others. A "
        "batch with very many malformed lines, or one that takes too much processor time, ends "
        "with a problem of type `urn:sunhitch:problem:batch-ended`, which says how far it came.",
        "parameters": [_PARAMETERS["request_id"]],
        "requestBody": {
            "description": "Lines of JSON.",
            "required": True,
            "content": {NDJSON: {**_TEXT, **_examples(operation.name, as_lines=True)}},
        },
        "responses": {
            "200": _answer("One answer or problem a line.", {NDJSON: _TEXT}),
            **_problems("batches"),
        },
    }


def _reading(one: Document) -> Document:
    """A question, a list or a table, with what all of them share."""
    kind = "quick" if one["operationId"].startswith("quick_") else "reference"
    told = one.pop("answer")
    tagged = one.pop("tagged", False)
    return one | {
        "tags": [kind],
        "parameters": [*one["parameters"], _PARAMETERS["request_id"]],
        "responses": {
            "200": _answer(*told, "kept", *_tagged(tagged)),
            **_unchanged(tagged),
            **_problems(kind),
        },
    }


def _operating(one: Document) -> Document:
    tagged = one.get("tagged", False)
    told = {name: one[name] for name in ("operationId", "summary", "description")}
    return {
        **told,
        "tags": ["operation"],
        "parameters": [_PARAMETERS["request_id"]],
        "responses": {
            "200": _answer(one["answer"], one["content"], *_tagged(tagged)),
            **_unchanged(tagged),
            **_problems("operation", one.get("problems", ())),
        },
        **({"security": []} if one["path"] in _OPEN else {}),
    }


def _tagged(tagged: bool) -> list[str]:
    return ["tagged"] if tagged else []


def _unchanged(tagged: bool) -> Document:
    return {"304": _FIXED["unchanged"]} if tagged else {}


def _answer(description: str, content: Document, *headers: str) -> Document:
    told = {name: one for kind in ("every", *headers) for name, one in _HEADERS[kind].items()}
    return {"description": description, "headers": told, "content": content}


def _content(kind: type[Any]) -> Document:
    return {"schema": {"$ref": f"#/components/schemas/{kind.__name__}"}}


def _examples(name: str, *, as_lines: bool = False) -> Document:
    """Shipped requests of an operation, so that the documentation shows what is tested."""
    folder = resources.files("sunhitch").joinpath("examples")
    shipped = sorted(
        entry.name
        for entry in folder.iterdir()
        if re.fullmatch(rf"{name}(-\d+)?\.json", entry.name)
    )
    values = {entry: json.loads(folder.joinpath(entry).read_bytes()) for entry in shipped}
    examples = {
        entry.removesuffix(".json"): {"value": json.dumps(value) + "\n" if as_lines else value}
        for entry, value in values.items()
    }
    return {"examples": examples} if examples else {}


_KINDS = {kind.slug: kind for kind in vars(problems).values() if isinstance(kind, Kind)}


def _problems(kind: str, more: Iterable[str] = ()) -> Document:
    """Responses by status, each a reference to those below."""
    statuses = dict.fromkeys(_KINDS[slug].status for slug in (*_FIXED["problems"][kind], *more))
    return {str(one): {"$ref": f"#/components/responses/Problem{one}"} for one in statuses}


def _problem_responses() -> Document:
    """Responses for ``components``, one for each status."""
    told = {slug for kinds in _FIXED["problems"].values() for slug in kinds} | {"not-ready"}
    by_status: dict[int, list[Kind]] = {}
    for slug, kind in _KINDS.items():
        if slug in told:
            by_status.setdefault(kind.status, []).append(kind)
    return {
        f"Problem{status}": {
            "description": " ".join(f"`{kind.slug}`: {kind.meaning}" for kind in kinds),
            "headers": {**_HEADERS["every"], **_HEADERS.get(str(status), {})},
            "content": {
                problems.MEDIA_TYPE: {
                    **_content(Problem),
                    "examples": {kind.slug: {"value": _example(kind)} for kind in kinds},
                }
            },
        }
        for status, kinds in by_status.items()
    }


def _example(kind: Kind) -> Document:
    faults = [FieldError(**fault) for fault in _FIXED["faults"].get(kind.slug, ())]
    error = ProblemError(kind, kind.meaning, faults)
    example: Document = json.loads(problems.body_of(error, "4f1c"))
    return example
