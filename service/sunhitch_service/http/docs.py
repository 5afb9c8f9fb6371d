"""`/openapi.json`, and `/docs`: a page made from it that needs nothing from elsewhere."""

import json
import re
from functools import lru_cache
from importlib import resources
from typing import Any
from urllib.parse import urlencode

from jinja2 import Environment, PackageLoader
from litestar.handlers import HTTPRouteHandler
from markupsafe import Markup, escape

from sunhitch_service.tasks.media_types import JSON

from .reading import ready

_DOCUMENT_HEADERS = {"Cache-Control": "no-cache"}
"""May be kept, but is asked for anew by its tag."""
PAGE_HEADERS = {
    **_DOCUMENT_HEADERS,
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "connect-src 'self'; img-src blob:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
}


def schema_handler(document: bytes) -> HTTPRouteHandler:
    """Handler of the OpenAPI document."""
    return ready("/openapi.json", lambda _: document, (JSON,), _DOCUMENT_HEADERS)


def docs_handlers(document: bytes) -> list[HTTPRouteHandler]:
    """Handlers of the documentation page of an OpenAPI document, of its script and its style."""
    files = resources.files("sunhitch_service.http").joinpath("page")
    parts = {
        "/docs": (_page(document), "text/html"),
        "/docs/page.css": (files.joinpath("page.css").read_bytes(), "text/css"),
        "/docs/page.js": (files.joinpath("page.js").read_bytes(), "text/javascript"),
    }
    return [
        ready(path, lambda _, body=body: body, (media_type,), PAGE_HEADERS)  # type: ignore[misc]
        for path, (body, media_type) in parts.items()
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
