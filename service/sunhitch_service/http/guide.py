"""`/guide`: the pages of the guide, its script and style, and the text of its search."""

import json
from collections.abc import Callable
from functools import partial
from pathlib import PurePath
from typing import Annotated

from litestar import get
from litestar.exceptions import NotFoundException
from litestar.handlers import HTTPRouteHandler
from litestar.params import Parameter
from litestar.response.base import ASGIResponse

from sunhitch_service.guide.pages import CODES, FOLDER, address, names, page_html, searched
from sunhitch_service.tasks.media_types import JSON

from .docs import PAGE_HEADERS
from .reading import ready

_HTML = "text/html"
_POLICY = "Content-Security-Policy"
_HEADERS = {
    **PAGE_HEADERS,
    _POLICY: PAGE_HEADERS[_POLICY].replace("img-src blob:", "img-src 'self'"),
}
"""Those of the documentation page, but with pictures of our own."""
_FILES = {".svg": "image/svg+xml", ".css": "text/css", ".js": "text/javascript"}


def guide_handlers() -> list[HTTPRouteHandler]:
    """Handlers of everything below `/guide`; each page is made when it is first asked for."""
    files = {file: _FILES.get(PurePath(file.name).suffix) for file in FOLDER.iterdir()}
    return [
        *(_kept(address(name), _HTML, partial(page_html, name)) for name in names()),
        *(
            _kept(f"/guide/{file.name}", media_type, file.read_bytes)
            for file, media_type in files.items()
            if media_type
        ),
        _kept("/guide/search.json", JSON, lambda: json.dumps(searched()).encode()),
        code_page,
    ]


def _kept(path: str, media_type: str, make: Callable[[], bytes]) -> HTTPRouteHandler:
    return ready(path, lambda _: make(), (media_type,), _HEADERS)


@get("/guide/codes/{code:str}", sync_to_thread=True)
def code_page(code: Annotated[str, Parameter(description="Code of a check.")]) -> ASGIResponse:
    """Page of one check code."""
    try:
        body = page_html(f"{CODES}/{code}")
    except KeyError:
        raise NotFoundException(f"There is no check code {code}: see /guide/codes.") from None
    return ASGIResponse(body=body, media_type=_HTML, headers=_HEADERS)
