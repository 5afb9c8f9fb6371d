"""What the GET calls with flat answers share: format, caching, and errors as text."""

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

    What took a key is for that caller's own cache only. There is no tag to ask again with: to know
    it, the answer would have to be reckoned anyway.

    Parameters
    ----------
    request : Request
        The request.
    shown : Shown
        The answer.
    """
    scope = cast("Scope", request.scope)
    whose = "private" if "caller" in scope["state"] else "public"
    headers = {
        "Cache-Control": f"{whose}, max-age={_FRESH_S}",
        "Vary": "Accept, Origin",
    }
    return ASGIResponse(body=shown.body, media_type=shown.media_type, headers=headers)


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
