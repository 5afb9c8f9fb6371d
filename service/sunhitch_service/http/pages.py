"""Pages that need nothing from elsewhere: `/docs`, made from `/openapi.json`, and `/guide`."""

import json
import re
from collections.abc import Callable
from functools import lru_cache, partial
from importlib import resources
from pathlib import PurePath
from typing import Annotated, Any
from urllib.parse import urlencode

from jinja2 import Environment, PackageLoader
from litestar import get
from litestar.exceptions import NotFoundException
from litestar.handlers import HTTPRouteHandler
from litestar.params import Parameter
from litestar.response.base import ASGIResponse
from markupsafe import Markup, escape

from sunhitch_service.guide.pages import CODES, FOLDER, address, names, page_html, searched

from .reading import ready

_HTML = "text/html"
_DOCUMENT_HEADERS = {"Cache-Control": "no-cache"}
"""May be kept, but is asked for anew by its tag."""
PAGE_HEADERS = {
    **_DOCUMENT_HEADERS,
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "connect-src 'self'; img-src blob:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
}


def schema_handler(document: Callable[[], bytes]) -> HTTPRouteHandler:
    """Handler of the OpenAPI document."""
    return ready("/openapi.json", document, headers=_DOCUMENT_HEADERS)


def docs_handlers(document: Callable[[], bytes]) -> list[HTTPRouteHandler]:
    """Handlers of the documentation page of an OpenAPI document, of its script and its style."""
    files = resources.files("sunhitch_service.http").joinpath("page")
    style, script = (files.joinpath(name).read_bytes for name in ("page.css", "page.js"))
    return [
        ready("/docs", lambda: _page(document()), _HTML, PAGE_HEADERS),
        ready("/docs/page.css", style, "text/css", PAGE_HEADERS),
        ready("/docs/page.js", script, "text/javascript", PAGE_HEADERS),
    ]


@lru_cache(2)
def _page(document: bytes) -> bytes:
    """Once a process, however many services it starts."""
    return render(json.loads(document)).encode()


def render(document: dict[str, Any]) -> str:
    """The page as HTML, out of OpenAPI 3.1; it loads its own script and style only."""
    environment = Environment(
        loader=PackageLoader("sunhitch_service.http", "page"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "prose": _prose,
        "query": urlencode,
        "number": "{:g}".format,
    }
    return environment.get_template("page.html.j2").render(document)


def _prose(text: str) -> Markup:
    """Text with what stands between backticks as code."""
    code = r"<code>\1</code>"
    return Markup(re.sub(r"`([^`]+)`", code, str(escape(text))))  # noqa: S704 - escaped before


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
        *(ready(address(name), partial(page_html, name), _HTML, _HEADERS) for name in names()),
        *(
            ready(f"/guide/{file.name}", file.read_bytes, media_type, _HEADERS)
            for file, media_type in files.items()
            if media_type
        ),
        ready("/guide/search.json", lambda: json.dumps(searched()).encode(), headers=_HEADERS),
        code_page,
    ]


@get("/guide/codes/{code:str}", sync_to_thread=True)
def code_page(code: Annotated[str, Parameter(description="Code of a check.")]) -> ASGIResponse:
    """Page of one check code."""
    try:
        body = page_html(f"{CODES}/{code}")
    except KeyError:
        raise NotFoundException(f"There is no check code {code}: see /guide/codes.") from None
    return ASGIResponse(body=body, media_type=_HTML, headers=_HEADERS)
