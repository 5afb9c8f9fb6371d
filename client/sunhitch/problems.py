"""Problem documents that a request itself can earn, the same embedded and over HTTP."""

from collections.abc import Sequence
from contextlib import suppress
from typing import Any

import msgspec

from .codec import MalformedBody, encode, plain_json
from .errors import RequestRejectedError, UnexpectedAnswerError
from .faults import MOST_FAULTS, fault_at
from .pointers import Json
from .texts import Text
from .tolerant import convert_answer
from .types.problem import FieldError, Problem

_EXCERPT = 80
_DEFAULTS = {
    "type": "about:blank",
    "detail": "",
    "instance": "",
    "errors": list[Json](),
    "error_count": 0,
    "texts": list[Json](),
}
_FAULT_DEFAULTS = {
    **{"pointer": "", "code": "", "parameters": dict[str, Json]()},
    **{"message": "", "location": "body"},
}
_MARKS = ("type", "title", "detail", "errors")
"""Members one of which every problem document has."""


def read_problem(body: bytes, request_id: str, status: int = 500, title: str = "Error") -> Problem:
    """A problem document; a member that it lacks, or that makes no sense, takes its default.

    Parameters
    ----------
    body : bytes
        JSON text.
    request_id : str
        Of the call.
    status, title : int, str
        Status of the response, and that in words.

    Raises
    ------
    UnexpectedAnswerError
        It is no problem document.

    References
    ----------
    RFC 9457, section 3.1: every member may be absent, and one of the wrong type is passed over.
    """
    given: Json = None
    with suppress(MalformedBody):
        given = plain_json(body)
    if not isinstance(given, dict) or not any(name in given for name in _MARKS):
        told = body[:_EXCERPT].decode(errors="replace")
        raise UnexpectedAnswerError(f"This is no problem document: {told}", request_id)
    whole = _mended(given, _DEFAULTS | {"title": title, "status": status})
    faults: list[Json] = whole["errors"]
    whole["errors"] = [_mended(one, _FAULT_DEFAULTS) for one in faults if isinstance(one, dict)]
    return convert_answer(whole, Problem)


def _mended(given: dict[str, Json], defaults: dict[str, Any]) -> dict[str, Any]:
    """Each member as it is given, where it is given and of the kind of its default."""
    return {
        name: given[name] if type(given.get(name)) is type(default) else default
        for name, default in defaults.items()
    }


def malformed(faults: Sequence[FieldError], request_id: str = "") -> Problem:
    """Status 400: the request is not JSON, or not what the contract asks for.

    Parameters
    ----------
    faults : sequence of FieldError
        Every fault found, at least one; those with the same code at the same field count once.
    request_id : str
        Id of the call; empty where none was made.
    """
    first = faults[0]
    unique = _unique(faults)
    told = _counted(len(unique), "does not fit", "do not fit") if first.pointer else first.message
    return _problem("malformed", "Malformed request", 400, told, unique, request_id)


def refused(text: Text, pointer: str = "") -> RequestRejectedError:
    """A request that is not sent, with the reason as its only fault."""
    return RequestRejectedError(malformed([fault_at(pointer, text)]))


def contradictory(faults: Sequence[FieldError], request_id: str = "") -> Problem:
    """Status 422: the request is well-formed but contradicts itself; arguments as above."""
    unique = _unique(faults)
    told = _counted(len(unique), "contradicts the rest", "contradict each other or the rest")
    return _problem("contradictory", "Contradictory request", 422, told, unique, request_id)


def not_acceptable(on_offer: Sequence[str], request_id: str = "") -> Problem:
    """Status 406: the answer cannot be shown in the way that was asked for."""
    told = f"On offer: {', '.join(on_offer)}."
    return _problem("not-acceptable", "Not acceptable", 406, told, [], request_id)


def _problem(
    slug: str, title: str, status: int, detail: str, faults: Sequence[FieldError], request_id: str
) -> Problem:
    made = Problem(
        type=f"urn:sunhitch:problem:{slug}",
        title=title,
        status=status,
        detail=detail,
        instance=f"urn:sunhitch:request:{request_id}" if request_id else "",
        errors=list(faults[:MOST_FAULTS]),
        error_count=len(faults),
    )
    # As a service tells it: texts among the parameters stand beside them with their codes.
    return msgspec.json.decode(encode(made), type=Problem)


def _unique(faults: Sequence[FieldError]) -> list[FieldError]:
    return list({(fault.pointer, fault.code): fault for fault in reversed(faults)}.values())[::-1]


def _counted(count: int, one: str, several: str) -> str:
    if count > MOST_FAULTS:
        return f"{count} fields or more {several}; the first {MOST_FAULTS} are named."
    what = f"One field {one}" if count == 1 else f"{count} fields {several}"
    return f"{what}; each is named with what would be right."
