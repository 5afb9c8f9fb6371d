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
    content: Callable[[], bytes],
    media_type: str = JSON,
    headers: Mapping[str, str] | None = None,
    columns: Callable[[], Columns] | None = None,
) -> HTTPRouteHandler:
    """Handler of what never changes: made once, compressed once, and told by its tag.

    Parameters
    ----------
    path : str
        Where it is found.
    content : callable
        Makes what is answered.
    media_type : str
        Of the content.
    headers : mapping, optional
        Of every answer; callers may keep it if not given.
    columns : callable, optional
        The content as a table, which is on offer as CSV then, with faults in words for its cells;
        the query's `format` chooses too.
    """
    offered = [media_type, CSV] if columns else [media_type]
    known: dict[str, Sequence[str]] = {}
    if columns:
        words = [word for word, one in FORMATS.items() if one in offered]
        known = {"format": words, **CSV_WORDS, "errors": ERRORS}
    made: dict[tuple[str, CsvStyle], tuple[bytes, bytes, str]] = {}

    def make(chosen: str, style: CsvStyle) -> None:
        as_csv = columns if chosen == CSV else None
        body = style.written(as_csv()).encode() if as_csv else content()
        made[chosen, style] = body, gzip.compress(body, _LEVEL, mtime=0), tag_of(body)

    async def respond(request: Request) -> ASGIResponse:
        query = query_of(request, known)
        word, style = query.get("format"), csv_style(query)
        chosen = FORMATS[word] if word else accepted(request, offered)
        if (chosen, style) not in made:
            await to_thread.run_sync(make, chosen, style)
        body, compressed, tag = made[chosen, style]
        own = {"ETag": f"W/{tag}", **(freshness(request) if headers is None else headers)}
        if is_held(request, tag):
            return ASGIResponse(status_code=304, headers=own)
        if takes_gzip(request.headers) and len(body) > _WORTH_COMPRESSING:
            body, own = compressed, {**own, "Content-Encoding": "gzip"}
        return ASGIResponse(body=body, media_type=chosen, headers=own)

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
