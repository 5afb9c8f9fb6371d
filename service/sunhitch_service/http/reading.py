"""What the GET calls share: routes, formats, answers that are kept ready, errors as text."""

import gzip
import hashlib
from collections.abc import Awaitable, Callable, Mapping, Sequence
from typing import TypeAlias

from anyio import to_thread
from litestar import route
from litestar.datastructures import ETag
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch_service.drawing.columns import Columns, CsvStyle
from sunhitch_service.tasks.media_types import CSV, JSON, TEXT, XML

from .exchange import exchange_of
from .requests import CSV_WORDS, ERRORS, Request, accepted, csv_style, query_of, takes_gzip

FORMATS: Mapping[str, str] = {"json": JSON, "csv": CSV, "txt": TEXT, "xml": XML}
"""Media type by the word that stands for it in a query."""

_WORTH_COMPRESSING, _LEVEL = 1000, 6

Respond: TypeAlias = Callable[[Request], Awaitable[ASGIResponse]]


def reading(path: str, respond: Respond) -> HTTPRouteHandler:
    """Handler of GET and HEAD; the outermost layer leaves out the body of an answer to HEAD."""

    @route(path, http_method=["GET", "HEAD"])
    async def read(request: Request) -> ASGIResponse:
        return await respond(request)

    return read


def ready(
    path: str,
    body_as: Callable[[str], bytes],
    media_types: Sequence[str],
    headers: Mapping[str, str] | None = None,
    columns: Callable[[], Columns] | None = None,
) -> HTTPRouteHandler:
    """Handler of what never changes: made once, compressed once, and told by its tag.

    Parameters
    ----------
    path : str
        Where it is found.
    body_as : callable
        From media type to content.
    media_types : sequence of str
        On offer, the usual one first; where there are several, the query's `format` chooses too.
    headers : mapping, optional
        Of every answer; callers may keep it if not given.
    columns : callable, optional
        The content as a table, which is on offer as CSV then, with faults in words for its cells.
    """
    media_types = [*media_types, *([CSV] if columns else [])]
    words = [word for word, media_type in FORMATS.items() if media_type in media_types]
    known: dict[str, Sequence[str]] = {"format": words} if len(media_types) > 1 else {}
    known |= {**CSV_WORDS, "errors": ERRORS} if columns else {}
    made: dict[tuple[str, CsvStyle], tuple[bytes, bytes, str]] = {}

    def make(media_type: str, style: CsvStyle) -> None:
        as_csv = columns if media_type == CSV else None
        body = style.written(as_csv()).encode() if as_csv else body_as(media_type)
        made[media_type, style] = body, gzip.compress(body, _LEVEL, mtime=0), tag_of(body)

    async def respond(request: Request) -> ASGIResponse:
        query = query_of(request, known)
        word, style = query.get("format"), csv_style(query)
        media_type = FORMATS[word] if word else accepted(request, media_types)
        if (media_type, style) not in made:
            await to_thread.run_sync(make, media_type, style)
        body, compressed, tag = made[media_type, style]
        own = {"ETag": f"W/{tag}", **(freshness(request) if headers is None else headers)}
        if is_held(request, tag):
            return ASGIResponse(status_code=304, headers=own)
        if takes_gzip(request.headers) and len(body) > _WORTH_COMPRESSING:
            body, own = compressed, {**own, "Content-Encoding": "gzip"}
        return ASGIResponse(body=body, media_type=media_type, headers=own)

    return reading(path, respond)


def tag_of(body: bytes) -> str:
    """Tag of some content, by which a caller asks whether it changed."""
    return ETag(value=hashlib.sha256(body).hexdigest()[:32]).to_header()


def is_held(request: Request, tag: str) -> bool:
    """Whether the caller has the content of a tag already."""
    held = request.headers.get("if-none-match", "")
    return tag in held or held == "*"


def freshness(request: Request) -> dict[str, str]:
    """Headers of an answer that callers may keep, since it depends on nothing but the call.

    What took a key is for that caller's own cache only.
    """
    whose = "private" if exchange_of(request).caller else "public"
    return {"Cache-Control": f"{whose}, max-age=3600"}
