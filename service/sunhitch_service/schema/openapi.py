"""The OpenAPI 3.1 document, built from the records, the contract types, and `openapi.toml`.

The framework's own generator loses limits, docstrings and `additionalProperties`, so the schemas
come straight from msgspec, which also decodes the requests: the two cannot disagree.
"""

import json
import tomllib
from collections.abc import Iterable, Sequence
from importlib import resources
from typing import Any

import msgspec

from sunhitch._version import __version__
from sunhitch.faults import fault_at
from sunhitch.selection import PART
from sunhitch.texts import sentence
from sunhitch.types.problem import Problem
from sunhitch.types.service import Health
from sunhitch_service.calculations.calculation import AnyCalculation
from sunhitch_service.drawing.spreadsheet import SPREADSHEETS
from sunhitch_service.tasks.media_types import JSON, MULTIPART, NDJSON, PROBLEM
from sunhitch_service.tasks.problems import Kind, ProblemError

from . import paths
from .answers import answers
from .openapi_reading import TEXT_CONTENT, Document, content_of, reading_paths, reading_types
from .schemas import REF, line_name, part_name, schemas_of, shipped, with_lines, with_parts

_FIXED: Document = tomllib.loads(
    resources.files("sunhitch_service.schema").joinpath("openapi.toml").read_text("utf-8")
)
_HEADERS, _PARAMETERS = _FIXED["headers"], _FIXED["parameters"]


def encoded(endpoints: Sequence[AnyCalculation]) -> bytes:
    """The document as JSON for machines and for version control."""
    text = json.dumps(document(endpoints), indent=2, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode()


def document(endpoints: Sequence[AnyCalculation]) -> Document:
    """The whole document, for what the service offers."""
    fixed = _FIXED["document"]
    reading = reading_paths(_PARAMETERS, (one.operation.name for one in endpoints))
    return {
        **fixed,
        "info": {**fixed["info"], "version": __version__},
        "paths": {
            **{e.operation.path: {"post": _calculation(e)} for e in endpoints},
            **{
                paths.BATCH.format(calculation=e.operation.name): {"post": _batch(e)}
                for e in endpoints
            },
            **{path: {"get": _operation(tagged=True, **one)} for path, one in reading.items()},
            **{
                path: {"get": _operation("operation", **one)}
                for path, one in _FIXED["operating"].items()
            },
        },
        "components": {
            "schemas": _schemas(endpoints),
            "responses": _problem_responses(),
            "securitySchemes": {"apiKey": _FIXED["security_scheme"]},
        },
    }


def _schemas(endpoints: Sequence[AnyCalculation]) -> Document:
    kinds = [kind for e in endpoints for kind in (e.operation.request, e.operation.answer)]
    answers = [e.operation.answer.__name__ for e in endpoints]
    schemas = schemas_of([*kinds, *reading_types(), Problem, Health])
    return with_lines(with_parts(schemas, answers), answers)


def _calculation(endpoint: AnyCalculation) -> Document:
    operation, renderings = endpoint.operation, endpoint.renderings
    part = {"schema": {"$ref": f"{REF}{part_name(operation.answer.__name__)}"}}
    content = {JSON: content_of(operation.answer), PART: part}
    if operation.name in answers():
        summary = "Answer to the shipped request, with the first entries of each list."
        told = {"shortened": {"summary": summary, "value": answers()[operation.name]}}
        content[JSON] |= {"examples": told}
    content |= {one.media_type: TEXT_CONTENT for one in renderings}
    content |= dict.fromkeys(SPREADSHEETS, TEXT_CONTENT)
    if renderings:
        content[MULTIPART] = TEXT_CONTENT
    if operation.in_pieces:
        content[NDJSON] = _lines_of(operation.answer, {"progress": _FIXED["progress"]})
    return _operation(
        "calculations",
        "The answer with all its checks.",
        content,
        parameters=_choices(endpoint),
        given=("What is given.", {JSON: content_of(operation.request) | _examples(operation.name)}),
        operationId=operation.name.replace("-", "_"),
        summary=operation.title,
        description=operation.description,
    )


def _choices(endpoint: AnyCalculation) -> list[Document]:
    """Query parameters by which a caller chooses what is told of an answer."""
    told = [_PARAMETERS["checks"], _PARAMETERS["fields"], _PARAMETERS["texts"]]
    words = {"fields": list(endpoint.operation.answer.__struct_fields__)}
    if endpoint.renderings:
        told += [_PARAMETERS["view"], _PARAMETERS["views"], _PARAMETERS["theme"]]
        views = [one.view for one in endpoint.renderings]
        words |= {"view": views, "views": views}
    if any(one.columns for one in endpoint.renderings):
        told += [_PARAMETERS["decimal"], _PARAMETERS["separator"]]
    return [_with_words(one, words.get(one["name"])) for one in told]


def _with_words(parameter: Document, words: list[str] | None) -> Document:
    """A parameter, or the entries of its list, limited to some words."""
    if words is None:
        return parameter
    schema, limited = parameter["schema"], {"type": "string", "enum": words}
    schema = schema | {"items": limited} if schema["type"] == "array" else limited
    return parameter | {"schema": schema}


def _lines_of(answer: type[Any], examples: Document | None = None) -> Document:
    """Lines of JSON: text, each line of which has a schema."""
    ref = f"{REF}{line_name(answer.__name__)}"
    lines = {"contentMediaType": NDJSON, "contentSchema": {"$ref": ref}}
    return {"schema": {"type": "string", **lines}, **({"examples": examples} if examples else {})}


def _batch(endpoint: AnyCalculation) -> Document:
    operation = endpoint.operation
    request, answer = operation.request.__name__, operation.answer.__name__
    told: dict[str, str] = _FIXED["batch"]
    lines = {**TEXT_CONTENT, **_examples(operation.name, as_lines=True)}
    return _operation(
        "batches",
        told["answer"],
        {NDJSON: _lines_of(operation.answer)},
        parameters=(_PARAMETERS["checks"], _PARAMETERS["texts"]),
        given=(told["given"], {NDJSON: lines}),
        operationId=f"batch_{operation.name.replace('-', '_')}",
        summary=f"Batch: {operation.title}",
        description=told["description"].format(request=request, answer=answer),
    )


def _operation(
    kind: str,
    answer: str,
    content: Document,
    *,
    parameters: Iterable[Document] = (),
    given: tuple[str, Document] | None = None,
    tagged: bool = False,
    problems: Iterable[str] = (),
    open: bool = False,  # noqa: A002 - as the table has it
    **told: str,
) -> Document:
    """A call with what all of its kind share; `given` describes the body of a request."""
    shown = [*_FIXED["shown"][kind], *(["tagged"] if tagged else [])]
    body = {"description": given[0], "required": True, "content": given[1]} if given else None
    return {
        **told,
        "tags": [kind],
        "parameters": [*parameters, _PARAMETERS["request_id"]],
        **({"requestBody": body} if body else {}),
        "responses": {
            "200": {
                "description": answer,
                "headers": {name: one for each in shown for name, one in _HEADERS[each].items()},
                "content": content,
            },
            **({"304": _FIXED["unchanged"]} if tagged else {}),
            **_problems(kind, problems),
        },
        **({"security": []} if open else {}),
    }


def _examples(name: str, *, as_lines: bool = False) -> Document:
    """Shipped requests of an operation, so that the documentation shows what is tested."""
    found = {one: json.loads(text) for one, text in shipped(name).items()}
    examples = {
        one: {"value": json.dumps(value) + "\n" if as_lines else value}
        for one, value in found.items()
    }
    return {"examples": examples} if examples else {}


def _problems(kind: str, more: Iterable[str] = ()) -> Document:
    """Responses by status, each a reference to those below."""
    slugs = (*_FIXED["problems"][kind], *_FIXED["problems"]["every"], *more)
    statuses = sorted({Kind(slug).status for slug in slugs})
    return {str(one): {"$ref": f"#/components/responses/Problem{one}"} for one in statuses}


def _problem_responses() -> Document:
    """Responses for ``components``, one for each status."""
    told = {slug for kinds in _FIXED["problems"].values() for slug in kinds} | {"not-ready"}
    by_status: dict[int, list[Kind]] = {}
    for kind in Kind:
        if kind.value in told:
            by_status.setdefault(kind.status, []).append(kind)
    return {
        f"Problem{status}": {
            "description": " ".join(f"`{kind.value}`: {kind.meaning}" for kind in kinds),
            "headers": {**_HEADERS["every"], **_HEADERS.get(str(status), {})},
            "content": {
                PROBLEM: {
                    **content_of(Problem),
                    "examples": {kind.value: {"value": _example(kind)} for kind in kinds},
                }
            },
        }
        for status, kinds in by_status.items()
    }


def _example(kind: Kind) -> Document:
    faults = [
        fault_at(fault["pointer"], sentence(fault["code"], **fault["parameters"]))
        for fault in _FIXED["faults"].get(kind.value, ())
    ]
    return msgspec.json.decode(ProblemError(kind, errors=faults).body("4f1c"), type=Document)
