"""Error answers after RFC 9457, with a pointer to every field at fault."""

from typing import Annotated, Literal

from .base import Output
from .basis import CodedText, Parameters
from .quantity import choice, count, listing, prose

FaultLocation = Literal["body", "query", "path", "header"]


class FieldError(Output, kw_only=True):
    """One fault in a request."""

    pointer: Annotated[
        str,
        prose("JSON Pointer (RFC 6901) to the field; empty for the whole request.", "/sun"),
    ]
    code: Annotated[str, prose("Stable kebab-case code of the message.", "unfit")]
    parameters: Parameters
    message: Annotated[
        str, prose("What is wrong and what would be right.", "Expected a number ≥ 0.")
    ]
    location: Annotated[FaultLocation, choice("Part of the request.", "body")]


class Problem(Output, kw_only=True):
    """Problem document, media type ``application/problem+json``."""

    type: Annotated[
        str, prose("Stable identifier of the kind of problem.", "urn:sunhitch:problem:malformed")
    ]
    title: Annotated[str, prose("Kind of problem in words.", "Malformed request")]
    status: Annotated[int, count(400, 599, "HTTP status.", 400)]
    detail: Annotated[str, prose("What happened and what to do.", "The body is not valid JSON.")]
    instance: Annotated[str, prose("Request id, as in the log.", "urn:sunhitch:request:4f1c")]
    errors: Annotated[
        list[FieldError], listing(0, 50, "Faults that were found, each code at a field once.")
    ]
    error_count: Annotated[
        int, count(0, 1_000_000, "How many were found; at least so many if above 50.", 1)
    ]
    texts: Annotated[
        list[CodedText],
        listing(0, 1000, "Code and parameters of texts in parameters, each once."),
    ] = []
