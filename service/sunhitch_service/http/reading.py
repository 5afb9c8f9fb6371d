"""What the GET calls with flat answers share: route, format, caching, and errors as text."""

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from sunhitch_service.quick.reading import fault

from .asgi import Receive, Route, Scope, Send, send_whole
from .problems import INTERNAL, MALFORMED, ProblemError, as_problem, send_error
from .requests import JSON, accepted, with_charset

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
    headers : mapping
        Further headers.
    """

    body: bytes
    media_type: str
    headers: Mapping[str, str] = field(default_factory=dict[str, str])


Respond: TypeAlias = Callable[[Scope, Receive], Awaitable[Shown]]


def reading_route(path: str, respond: Respond) -> Route:
    """Route of a GET call.

    Parameters
    ----------
    path : str
        Where it is found.
    respond : callable
        Coroutine from the request, and the rest of the connection, to what is shown; what it raises
        becomes a problem document.
    """

    async def reading(scope: Scope, receive: Receive, send: Send) -> None:
        try:
            shown = await respond(scope, receive)
        except Exception as error:  # noqa: BLE001 - becomes a problem document
            await send_error(send, scope, error)
        else:
            kind = with_charset(shown.media_type)
            own = {"Content-Type": kind, "Content-Length": str(len(shown.body)), **shown.headers}
            await send_whole(send, 200, own, shown.body)

    return Route("GET", path, reading)


def format_of(scope: Scope, given: str | None, *words: str) -> str:
    """Media type to answer in: by the query's `format`, or else by `Accept`.

    Parameters
    ----------
    scope : mapping
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
        return accepted(scope, [FORMATS[word] for word in words])
    if given not in words:
        offered = ", ".join(f"`{word}`" for word in words)
        errors = [fault("format", f"Expected one of {offered}.")]
        raise ProblemError(MALFORMED, "The query does not fit; see `errors`.", errors)
    return FORMATS[given]


def cacheable(scope: Scope, body: bytes, media_type: str) -> Shown:
    """Answer that callers may keep, since it depends on nothing but the call.

    What took a key is for that caller's own cache only. There is no tag to ask again with: to know
    it, the answer would have to be reckoned anyway.

    Parameters
    ----------
    scope : mapping
        The request.
    body, media_type : bytes, str
        The answer.
    """
    whose = "private" if "caller" in scope["state"] else "public"
    headers = {
        "Cache-Control": f"{whose}, max-age={_FRESH_S}",
        "Vary": "Accept, Origin",
    }
    return Shown(body, media_type, headers)


def as_text(scope: Scope, error: Exception) -> Shown:
    """Any error as status 200 with one readable line, for cells that cannot show anything else.

    Parameters
    ----------
    scope : mapping
        The request.
    error : Exception
        What went wrong; a fault of the service goes to the log as ever.

    Returns
    -------
    Shown
        Text that begins with ``Error:``, without a line end.
    """
    problem = as_problem(error)
    if problem.kind is INTERNAL:
        scope["state"]["exception"] = error
    faults = [f"{one.pointer.removeprefix('/')}: {one.message}" for one in problem.errors]
    said = (
        " ".join(fault.removeprefix(": ") for fault in faults)
        or f"{problem.kind.title}. {problem.detail}"
    )
    return Shown(f"Error: {said}".encode(), TEXT)
