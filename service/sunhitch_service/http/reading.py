"""What the GET calls with flat answers share: format, caching, and errors as text."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast

from litestar.response.base import ASGIResponse

from sunhitch_service.quick.reading import fault

from .asgi import Scope
from .problems import INTERNAL, MALFORMED, ProblemError, as_problem
from .requests import JSON, AnyRequest, accepted

CSV = "text/csv"
TEXT = "text/plain"
FORMATS: Mapping[str, str] = {"json": JSON, "csv": CSV, "txt": TEXT}
"""Media type by the word that stands for it in a query."""

_FRESH_S = 3600


@dataclass(frozen=True, slots=True)
class Shown:
    """An answer ready to be sent.

    Parameters
    ----------
    body : bytes
        Content.
    media_type : str
        Its media type.
    """

    body: bytes
    media_type: str


def format_of(request: AnyRequest, given: str | None, *words: str) -> str:
    """Media type to answer in: by the query's `format`, or else by `Accept`.

    Parameters
    ----------
    request : Request
        The request.
    given : str or None
        What the query says.
    *words : str
        Formats on offer, the usual one first.

    Raises
    ------
    ProblemError
        `MALFORMED` for another word, `NOT_ACCEPTABLE` if no media type on offer would do.
    """
    if given is None:
        return accepted(request, [FORMATS[word] for word in words])
    if given not in words:
        offered = ", ".join(f"`{word}`" for word in words)
        errors = [fault("format", f"Expected one of {offered}.")]
        raise ProblemError(MALFORMED, "The query does not fit; see `errors`.", errors)
    return FORMATS[given]


def cacheable(request: AnyRequest, shown: Shown) -> ASGIResponse:
    """Response that callers may keep, since it depends on nothing but the call.

    Parameters
    ----------
    request : Request
        The request, perhaps with the tag of what the caller has.
    shown : Shown
        The answer.

    Returns
    -------
    ASGIResponse
        Status 304 without a body if the caller has it already.
    """
    digest = hashlib.sha256(shown.media_type.encode() + b"\0" + shown.body).hexdigest()[:32]
    tag = f'"{digest}"'
    headers = {
        "Cache-Control": f"max-age={_FRESH_S}",
        "ETag": tag,
        "Vary": "Accept, Origin",
    }
    if tag in _tags(request):
        return ASGIResponse(status_code=304, headers=headers)
    return ASGIResponse(body=shown.body, media_type=shown.media_type, headers=headers)


def _tags(request: AnyRequest) -> list[str]:
    given = request.headers.get("if-none-match", "")
    return [part.strip().removeprefix("W/") for part in given.split(",")]


def as_text(request: AnyRequest, error: Exception) -> ASGIResponse:
    """Any error as status 200 with one readable line, for cells that cannot show anything else.

    Parameters
    ----------
    request : Request
        The request.
    error : Exception
        What went wrong; a fault of the service goes to the log as ever.

    Returns
    -------
    ASGIResponse
        Text that begins with ``Error:``, without a line end.
    """
    problem = as_problem(error)
    if problem.kind is INTERNAL:
        cast("Scope", request.scope)["state"]["exception"] = error
    faults = [f"{one.pointer.removeprefix('/')}: {one.message}" for one in problem.errors]
    said = (
        " ".join(fault.removeprefix(": ") for fault in faults)
        or f"{problem.kind.title}. {problem.detail}"
    )
    return ASGIResponse(body=f"Error: {said}".encode(), media_type=TEXT)
