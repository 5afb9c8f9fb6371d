"""What handlers ask of a request: its body, the media types it takes, its query."""

import re
from collections.abc import AsyncGenerator, Collection, Mapping, Sequence
from itertools import islice
from typing import Any, TypeAlias, cast, get_args

import litestar
import msgspec
from litestar.datastructures.headers import Accept, Headers
from litestar.exceptions import InternalServerException

from sunhitch.faults import MOST_FAULTS
from sunhitch.selection import AnswerSelection, Texts, unknown_names
from sunhitch.texts import sentence
from sunhitch.types.check import Checks
from sunhitch.types.problem import FieldError
from sunhitch_service.drawing.columns import CsvStyle
from sunhitch_service.quick.reading import fault
from sunhitch_service.tasks.problems import Kind, ProblemError, refused_fields

Request: TypeAlias = litestar.Request[Any, Any, Any]

_ANYTHING = "*/*"
_LONGEST_ACCEPT = 2000
_REFUSED = re.compile(r"\s*([^\s;]+)\s*;\s*q=0(?:\.0*)?\s*")


def require_media_type(request: Request, media_type: str) -> None:
    """Refuse, by `UNSUPPORTED`, a body of another media type, or one that is compressed."""
    given = request.headers.get("content-type", "")
    if given != media_type and given.partition(";")[0].strip().lower() != media_type:
        detail = f"Send the body as {media_type}; got {given[:80] or 'no Content-Type'}."
        raise ProblemError(Kind.UNSUPPORTED, detail, headers={"Accept": media_type})
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        detail = "Send the body uncompressed."
        raise ProblemError(Kind.UNSUPPORTED, detail, headers={"Accept-Encoding": "identity"})


async def body_pieces(request: Request) -> AsyncGenerator[bytes]:
    """Body of a request as it arrives, no further than its limit; may raise `HUNG_UP`."""
    try:
        async for piece in request.stream():
            yield piece
    except InternalServerException as error:
        raise ProblemError(Kind.HUNG_UP) from error


async def whole_body(request: Request) -> bytes:
    """Body of a request; errors as above."""
    try:
        return await request.body()
    except InternalServerException as error:
        raise ProblemError(Kind.HUNG_UP) from error


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
        said = f"Accept is above {_LONGEST_ACCEPT} characters."
        raise ProblemError(Kind.HEAD_TOO_LARGE, said)
    wanted = [part for part in given.split(",") if part.strip()]
    refused = {match[1] for match in map(_REFUSED.fullmatch, wanted) if match}
    left = [media_type for media_type in offered if media_type not in refused]
    welcome = ",".join(part for part in wanted if not _REFUSED.fullmatch(part))
    best = Accept(welcome).best_match(left) if wanted else left[0]
    if best is None:
        raise ProblemError(Kind.NOT_ACCEPTABLE, f"On offer: {', '.join(offered)}.")
    return best


def takes_gzip(headers: Headers) -> bool:
    """Whether the answer to a request with these headers may be compressed."""
    given = headers.get("accept-encoding", "")
    return "gzip" in given and not re.search(r"gzip\s*;\s*q=0(?:\.0*)?\s*(?:,|$)", given)


def query_of(
    request: Request, known: Mapping[str, Sequence[str] | None] | None = None
) -> dict[str, str]:
    """Query parameters, each at most once.

    Parameters
    ----------
    request : Request
        The request.
    known : mapping, optional
        Parameters that the call knows, each with the words that it may be, or None where it may be
        any text; none if not given.

    Raises
    ------
    ProblemError
        `MALFORMED`, with every parameter that is unknown, repeated, or another word.
    """
    if not request.scope["query_string"]:
        return {}
    given, words = request.query_params.dict(), known or {}
    faults = [
        fault(name, sentence("unknown-parameter-of-none"))
        for name in islice((name for name in given if name not in words), MOST_FAULTS + 1)
    ]
    faults += word_faults(given, words)
    if faults:
        raise ProblemError(Kind.MALFORMED, "The query does not fit; see `errors`.", faults)
    return {name: texts[0] for name, texts in given.items()}


def names_of(query: Mapping[str, str], name: str, known: Collection[str]) -> tuple[str, ...]:
    """Names out of a list with commas, each once; `MALFORMED` with every one that is unknown."""
    wanted = list(dict.fromkeys(query[name].split(","))) if name in query else []
    faults = unknown_names(name, wanted, known)
    if faults:
        raise refused_fields(faults, contradictory=False)
    return tuple(wanted)


ERRORS = ("problem", "text")
"""How a fault is told: as a problem document, or with status 200 in words for a cell."""
CSV_WORDS: Mapping[str, Sequence[str]] = {
    "decimal": ("point", "comma"),
    "separator": ("comma", "semicolon", "tab"),
}
"""Query parameters of whatever may come as CSV."""


TOLD_WORDS: Mapping[str, Sequence[str]] = {"checks": get_args(Checks), "texts": get_args(Texts)}
"""Query parameters of whatever answers calculations as JSON."""


def selection_of(query: Mapping[str, str], fields: tuple[str, ...] = ()) -> AnswerSelection:
    """What of an answer a caller wants."""
    checks, texts = query.get("checks", "all"), query.get("texts", "plain")
    return AnswerSelection(cast("Checks", checks), fields, cast("Texts", texts))


def csv_style(query: Mapping[str, str]) -> CsvStyle:
    """How a caller wants CSV; `CONTRADICTORY` where decimals and cells could not be told apart."""
    told: dict[str, str] = {name: query[name] for name in CSV_WORDS if name in query}
    style = msgspec.convert(told, CsvStyle)
    if not style.is_readable:
        told_apart = fault("separator", sentence("comma-twice"))
        raise refused_fields([told_apart], contradictory=True)
    return style


def word_faults(
    given: Mapping[str, Sequence[str]], known: Mapping[str, Sequence[str] | None]
) -> list[FieldError]:
    """Faults of parameters that may be given once, as one of some words."""
    faults: list[FieldError] = []
    for name, words in known.items():
        texts = given.get(name, ())
        if len(texts) > 1:
            faults.append(fault(name, sentence("given-twice")))
        elif texts and words is not None and texts[0] not in words:
            said = ", ".join(f"`{word}`" for word in words)
            faults.append(fault(name, sentence("not-one-of", words=said)))
    return faults
