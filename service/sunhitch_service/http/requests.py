"""What handlers ask of a request: its body, the media types it takes, its query."""

import re
from collections.abc import AsyncGenerator, Mapping, Sequence
from itertools import islice
from typing import Any, TypeAlias

import litestar
from litestar.datastructures.headers import Accept, Headers
from litestar.exceptions import InternalServerException

from sunhitch.faults import MOST_FAULTS
from sunhitch_service.quick.reading import fault

from .problems import HEAD_TOO_LARGE, HUNG_UP, MALFORMED, NOT_ACCEPTABLE, UNSUPPORTED, ProblemError

Request: TypeAlias = litestar.Request[Any, Any, Any]

JSON = "application/json"
NDJSON = "application/x-ndjson"

_ANYTHING = "*/*"
_LONGEST_ACCEPT = 2000
_REFUSED = re.compile(r"\s*([^\s;]+)\s*;\s*q=0(?:\.0*)?\s*")


def require_media_type(request: Request, media_type: str) -> None:
    """Refuse a body that is not of the one media type that the call takes.

    Raises
    ------
    ProblemError
        `UNSUPPORTED` for another media type or a compressed body.
    """
    given = request.headers.get("content-type", "")
    if given != media_type and given.partition(";")[0].strip().lower() != media_type:
        detail = f"Send the body as {media_type}; got {given[:80] or 'no Content-Type'}."
        raise ProblemError(UNSUPPORTED, detail, headers={"Accept": media_type})
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        detail = "Send the body uncompressed."
        raise ProblemError(UNSUPPORTED, detail, headers={"Accept-Encoding": "identity"})


async def body_pieces(request: Request) -> AsyncGenerator[bytes]:
    """Body of a request as it arrives; the framework reads no further than its limit.

    Raises
    ------
    ProblemError
        `HUNG_UP` if the caller left.
    """
    try:
        async for piece in request.stream():
            yield piece
    except InternalServerException as error:
        raise _hung_up() from error


async def whole_body(request: Request) -> bytes:
    """Body of a request; errors as above."""
    try:
        return await request.body()
    except InternalServerException as error:
        raise _hung_up() from error


def _hung_up() -> ProblemError:
    return ProblemError(HUNG_UP, "The caller closed the connection.")


def accepted(request: Request, offered: Sequence[str]) -> str:
    """Media type to answer in, the first on offer if the caller does not mind.

    Raises
    ------
    ProblemError
        `NOT_ACCEPTABLE` if none of those on offer would do, `HEAD_TOO_LARGE`.
    """
    given = ", ".join(request.headers.getall("accept", [])) or _ANYTHING
    if given in (_ANYTHING, offered[0]):
        return offered[0]
    if len(given) > _LONGEST_ACCEPT:
        raise ProblemError(HEAD_TOO_LARGE, f"Accept is above {_LONGEST_ACCEPT} characters.")
    wanted = [part for part in given.split(",") if part.strip()]
    refused = {match[1] for match in map(_REFUSED.fullmatch, wanted) if match}
    left = [media_type for media_type in offered if media_type not in refused]
    welcome = ",".join(part for part in wanted if not _REFUSED.fullmatch(part))
    best = Accept(welcome).best_match(left) if wanted else left[0]
    if best is None:
        raise ProblemError(NOT_ACCEPTABLE, f"On offer: {', '.join(offered)}.")
    return best


def takes_gzip(headers: Headers) -> bool:
    """Whether the answer to a request with these headers may be compressed."""
    given = headers.get("accept-encoding", "")
    return "gzip" in given and not re.search(r"gzip\s*;\s*q=0(?:\.0*)?\s*(?:,|$)", given)


def query_of(request: Request, known: Sequence[str] = ()) -> dict[str, str]:
    """Query parameters, each at most once.

    Parameters
    ----------
    request : Request
        The request.
    known : sequence of str
        Parameters that the call knows.

    Raises
    ------
    ProblemError
        `MALFORMED`, with every parameter that is unknown or repeated.
    """
    if not request.scope["query_string"]:
        return {}
    given = request.query_params.dict()
    errors = [
        fault(name, "Given more than once; give it once." if name in known else _UNKNOWN)
        for name, values in islice(given.items(), MOST_FAULTS + len(known))
        if name not in known or len(values) > 1
    ]
    if errors:
        raise ProblemError(MALFORMED, _QUERY, errors)
    return {name: values[0] for name, values in given.items()}


def query_choice(query: Mapping[str, str], name: str, words: Sequence[str]) -> str | None:
    """Value of a query parameter that must be one of some words; None if it is absent.

    Raises
    ------
    ProblemError
        `MALFORMED` if it is another word.
    """
    value = query.get(name)
    if value is not None and value not in words:
        errors = [fault(name, f"Expected one of {', '.join(f'`{word}`' for word in words)}.")]
        raise ProblemError(MALFORMED, _QUERY, errors)
    return value


_UNKNOWN = "Unknown query parameter."
_QUERY = "The query does not fit; see `errors`."
