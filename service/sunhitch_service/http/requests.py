"""What every calculation route does with a request before it calculates."""

import re
from collections.abc import Sequence
from typing import Any

from litestar import Request
from litestar.datastructures.headers import Accept
from litestar.exceptions import InternalServerException

from sunhitch.types.problem import FieldError

from .problems import HUNG_UP, MALFORMED, NOT_ACCEPTABLE, UNSUPPORTED, ProblemError

JSON = "application/json"

_REFUSED = re.compile(r"\s*([^\s;]+)\s*;\s*q=0(?:\.0*)?\s*")

AnyRequest = Request[Any, Any, Any]


async def body_in(request: AnyRequest, media_type: str) -> bytes:
    """Whole body of a request in the one media type that the call takes.

    Raises
    ------
    ProblemError
        `UNSUPPORTED` for another media type or a compressed body, `HUNG_UP` if the caller left.
    """
    given = request.headers.get("content-type", "")
    if given.partition(";")[0].strip().lower() != media_type:
        detail = f"Send the body as {media_type}; got {given[:80] or 'no Content-Type'}."
        raise ProblemError(UNSUPPORTED, detail, headers={"Accept": media_type})
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        detail = "Send the body uncompressed."
        raise ProblemError(UNSUPPORTED, detail, headers={"Accept-Encoding": "identity"})
    try:
        return await request.body()
    except InternalServerException as error:
        raise ProblemError(HUNG_UP, "The caller closed the connection.") from error


def accepted(request: AnyRequest, offered: Sequence[str]) -> str:
    """Media type to answer in, the first on offer if the caller does not mind.

    Raises
    ------
    ProblemError
        `NOT_ACCEPTABLE` if none of those on offer would do.
    """
    wanted = [part for part in request.headers.get("accept", "").split(",") if part.strip()]
    refused = {match[1] for match in map(_REFUSED.fullmatch, wanted) if match}
    left = [media_type for media_type in offered if media_type not in refused]
    welcome = ",".join(part for part in wanted if not _REFUSED.fullmatch(part))
    best = Accept(welcome).best_match(left) if wanted else left[0]
    if best is None:
        raise ProblemError(NOT_ACCEPTABLE, f"On offer: {', '.join(offered)}.")
    return best


def refuse_query(request: AnyRequest, known: Sequence[str] = ()) -> None:
    """Refuse query parameters that the call does not know, and repeated ones.

    Raises
    ------
    ProblemError
        `MALFORMED`, with every parameter at fault.
    """
    errors: list[FieldError] = []
    for name, values in request.query_params.dict().items():
        if name not in known:
            errors.append(_query_error(name, "Unknown query parameter."))
        elif len(values) > 1:
            errors.append(_query_error(name, "Given more than once; give it once."))
    if errors:
        raise ProblemError(MALFORMED, "The query does not fit; see `errors`.", errors)


def _query_error(name: str, message: str) -> FieldError:
    return FieldError(pointer=f"/{name[:80]}", message=message, location="query")
