"""What every calculation route does with a request before it calculates."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, cast

from litestar import Request, types
from litestar.datastructures.headers import Accept

from sunhitch.faults import escaped
from sunhitch.types.problem import FieldError

from .asgi import Receive, Scope, header, headers
from .problems import HUNG_UP, MALFORMED, NOT_ACCEPTABLE, TOO_LARGE, UNSUPPORTED, ProblemError

JSON = "application/json"
NDJSON = "application/x-ndjson"

_ANYTHING = "*/*"
_REFUSED = re.compile(r"\s*([^\s;]+)\s*;\s*q=0(?:\.0*)?\s*")


def scope_of(request: Request[Any, Any, Any]) -> Scope:
    """What the framework's request was made of."""
    return cast("Scope", request.scope)


def require_media_type(scope: Scope, media_type: str) -> None:
    """Refuse a body that is not of the one media type that the call takes.

    Raises
    ------
    ProblemError
        `UNSUPPORTED` for another media type or a compressed body.
    """
    given = header(scope, "content-type") or ""
    if given.partition(";")[0].strip().lower() != media_type:
        detail = f"Send the body as {media_type}; got {given[:80] or 'no Content-Type'}."
        raise ProblemError(UNSUPPORTED, detail, headers={"Accept": media_type})
    if (header(scope, "content-encoding") or "identity").lower() != "identity":
        detail = "Send the body uncompressed."
        raise ProblemError(UNSUPPORTED, detail, headers={"Accept-Encoding": "identity"})


async def whole_body(scope: Scope, receive: Receive, largest: int) -> bytes:
    """Body of a request, read no further than the limit.

    Raises
    ------
    ProblemError
        `TOO_LARGE`, or `HUNG_UP` if the caller left.
    """
    declared = header(scope, "content-length") or ""
    if declared.isdecimal() and int(declared) > largest:
        raise _too_large(largest)
    pieces: list[bytes] = []
    length, more = 0, True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise ProblemError(HUNG_UP, "The caller closed the connection.")
        pieces.append(message.get("body", b""))
        length += len(pieces[-1])
        if length > largest:
            raise _too_large(largest)
        more = message.get("more_body", False)
    return b"".join(pieces)


def _too_large(largest: int) -> ProblemError:
    return ProblemError(TOO_LARGE, f"The body is above the limit of {largest} bytes.")


def accepted(scope: Scope, offered: Sequence[str]) -> str:
    """Media type to answer in, the first on offer if the caller does not mind.

    Raises
    ------
    ProblemError
        `NOT_ACCEPTABLE` if none of those on offer would do.
    """
    given = ", ".join(headers(scope, "accept")) or _ANYTHING
    if given in (_ANYTHING, offered[0]):
        return offered[0]
    wanted = [part for part in given.split(",") if part.strip()]
    refused = {match[1] for match in map(_REFUSED.fullmatch, wanted) if match}
    left = [media_type for media_type in offered if media_type not in refused]
    welcome = ",".join(part for part in wanted if not _REFUSED.fullmatch(part))
    best = Accept(welcome).best_match(left) if wanted else left[0]
    if best is None:
        raise ProblemError(NOT_ACCEPTABLE, f"On offer: {', '.join(offered)}.")
    return best


def with_charset(media_type: str) -> str:
    """Media type as an answer names it."""
    return f"{media_type}; charset=utf-8" if media_type.startswith("text/") else media_type


def queries(scope: Scope) -> Mapping[str, Sequence[str]]:
    """Values of every query parameter, in their order."""
    return Request[Any, Any, Any](cast("types.HTTPScope", scope)).query_params.dict()


def query_of(scope: Scope, known: Sequence[str] = ()) -> dict[str, str]:
    """Query parameters, each at most once.

    Parameters
    ----------
    scope : mapping
        The request.
    known : sequence of str
        Parameters that the call knows.

    Raises
    ------
    ProblemError
        `MALFORMED`, with every parameter that is unknown or repeated.
    """
    if not scope["query_string"]:
        return {}
    given = queries(scope)
    errors = [_query_error(name, "Unknown query parameter.") for name in given if name not in known]
    errors += [
        _query_error(name, "Given more than once; give it once.")
        for name, values in given.items()
        if name in known and len(values) > 1
    ]
    refuse_any(errors)
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
        refuse_any([_query_error(name, f"Expected one of {', '.join(f'`{w}`' for w in words)}.")])
    return value


def refuse_any(errors: Sequence[FieldError]) -> None:
    """Refuse a request whose query has faults.

    Raises
    ------
    ProblemError
        `MALFORMED`.
    """
    if errors:
        raise ProblemError(MALFORMED, "The query does not fit; see `errors`.", errors)


def _query_error(name: str, message: str) -> FieldError:
    return FieldError(pointer=f"/{escaped(name[:80])}", message=message, location="query")
