"""What answers have in common in the OpenAPI document: headers, and every kind of problem."""

import json
from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any

from sunhitch.types.check import VERDICT_HEADER, VERDICTS
from sunhitch.types.problem import FieldError

from . import problems
from .exchange import ENGINE_HEADER
from .problems import Kind, ProblemError

Document = dict[str, Any]

CALCULATION_PROBLEMS = (
    problems.MALFORMED,
    problems.UNAUTHORISED,
    problems.FORBIDDEN,
    problems.NOT_ACCEPTABLE,
    problems.TOO_LARGE,
    problems.UNSUPPORTED,
    problems.CONTRADICTORY,
    problems.TOO_MUCH_WORK,
    problems.RATE_LIMITED,
    problems.INTERNAL,
    problems.OVERLOADED,
    problems.TIMED_OUT,
)
BATCH_PROBLEMS = (
    problems.MALFORMED,
    problems.UNAUTHORISED,
    problems.FORBIDDEN,
    problems.NOT_ACCEPTABLE,
    problems.TOO_LARGE,
    problems.UNSUPPORTED,
    problems.RATE_LIMITED,
    problems.INTERNAL,
    problems.OVERLOADED,
)
READING_PROBLEMS = (problems.MALFORMED, problems.NOT_ACCEPTABLE, problems.INTERNAL)
QUICK_PROBLEMS = (
    problems.MALFORMED,
    problems.UNAUTHORISED,
    problems.FORBIDDEN,
    problems.NOT_FOUND,
    problems.NOT_ACCEPTABLE,
    problems.CONTRADICTORY,
    problems.RATE_LIMITED,
    problems.INTERNAL,
    problems.OVERLOADED,
    problems.TIMED_OUT,
)

EVERY_ANSWER = {
    "X-Request-Id": {
        "description": "Id of this exchange: the caller's own, or a new one. Quoted in the log.",
        "schema": {"type": "string", "maxLength": 64},
    },
    ENGINE_HEADER: {
        "description": "Version of the engine and digest of its data, by which a result can be "
        "reproduced.",
        "schema": {"type": "string"},
    },
}
VERDICT = {
    VERDICT_HEADER: {
        "description": "Worst verdict among the answer's checks, however the answer is shown.",
        "schema": {"type": "string", "enum": list(VERDICTS)},
    },
}
_RETRY_AFTER = {
    "Retry-After": {
        "description": "Seconds after which to try again.",
        "schema": {"type": "integer", "minimum": 1},
    }
}
_CHALLENGE = {
    "WWW-Authenticate": {
        "description": "How to show a key.",
        "schema": {"type": "string"},
    }
}
_RATE = {
    "RateLimit": {
        "description": "Calls left in this minute, and seconds to the next, where a limit is set.",
        "schema": {"type": "string"},
    }
}
_OWN_HEADERS: Mapping[int, Document] = {
    HTTPStatus.UNAUTHORIZED: _CHALLENGE,
    HTTPStatus.TOO_MANY_REQUESTS: _RETRY_AFTER | _RATE,
    HTTPStatus.SERVICE_UNAVAILABLE: _RETRY_AFTER,
}
CACHE_CONTROL = {
    "description": "How long the answer may be kept.",
    "schema": {"type": "string"},
}


def problem_references(kinds: Sequence[Kind]) -> Document:
    """Responses by status, each a reference to those below."""
    names = {kind.status: _response_name(kind.status) for kind in kinds}
    return {
        str(status): {"$ref": f"#/components/responses/{name}"} for status, name in names.items()
    }


def _response_name(status: int) -> str:
    return f"Problem{status}"


def problem_responses() -> Document:
    """Responses for ``components``, one for each status."""
    by_status: dict[int, list[Kind]] = {}
    for kind in (*CALCULATION_PROBLEMS, problems.NOT_FOUND, problems.NOT_READY):
        by_status.setdefault(kind.status, []).append(kind)
    return {
        _response_name(status): _problem_response(status, kinds)
        for status, kinds in by_status.items()
    }


def _problem_response(status: int, kinds: Sequence[Kind]) -> Document:
    own = _OWN_HEADERS.get(status, {})
    content = {
        "schema": {"$ref": "#/components/schemas/Problem"},
        "examples": {kind.slug: {"value": _example(kind)} for kind in kinds},
    }
    return {
        "description": " ".join(f"`{kind.slug}`: {kind.meaning}" for kind in kinds),
        "headers": {**EVERY_ANSWER, **own},
        "content": {problems.MEDIA_TYPE: content},
    }


def _example(kind: Kind) -> Document:
    error = ProblemError(kind, kind.meaning, _EXAMPLE_FAULTS.get(kind.slug, ()))
    example: Document = json.loads(problems.body_of(error, "4f1c"))
    return example


_EXAMPLE_FAULTS = {
    "malformed": [
        FieldError(
            pointer="/sun/irradiance_w_m2",
            message="Expected a number from 1 to 1500 W/m²; got 0.",
            location="body",
        )
    ],
    "contradictory": [
        FieldError(
            pointer="/wiring/strings/0/1",
            message="No panel is named `left-rear`; known: `left-front`, `right-front`.",
            location="body",
        )
    ],
}
