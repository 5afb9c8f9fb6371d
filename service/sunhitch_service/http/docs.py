"""`/openapi.json`, and `/docs`: a page made from it that needs nothing from elsewhere."""

import json
import re
from collections.abc import Mapping
from functools import partial
from importlib import resources
from typing import Any, NamedTuple
from urllib.parse import urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined
from litestar.handlers import HTTPRouteHandler
from markupsafe import Markup, escape

from .reading import ready
from .requests import JSON

Node = dict[str, Any]

_REFERENCE = "#/components/"
_DOCUMENT_HEADERS = {"Cache-Control": "no-cache"}
"""May be kept, but is asked for anew by its tag."""
_PAGE_HEADERS = {
    **_DOCUMENT_HEADERS,
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "connect-src 'self'; img-src blob:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
}


def schema_handler(document: bytes) -> HTTPRouteHandler:
    """Handler of the OpenAPI document."""
    return _static("/openapi.json", document, JSON)


def docs_handlers(document: bytes) -> list[HTTPRouteHandler]:
    """Handlers of the documentation page and of its script and style.

    Parameters
    ----------
    document : bytes
        The OpenAPI document.
    """
    files = resources.files("sunhitch_service.http").joinpath("page")
    page = render(json.loads(document)).encode()
    return [
        _static("/docs", page, "text/html"),
        _static("/docs/page.css", files.joinpath("page.css").read_bytes(), "text/css"),
        _static("/docs/page.js", files.joinpath("page.js").read_bytes(), "text/javascript"),
    ]


def _static(path: str, body: bytes, media_type: str) -> HTTPRouteHandler:
    headers = _DOCUMENT_HEADERS if media_type == JSON else _PAGE_HEADERS
    return ready(path, lambda _: body, (media_type,), headers)


def render(document: Node) -> str:
    """The page as HTML.

    Parameters
    ----------
    document : dict
        OpenAPI 3.1.

    Returns
    -------
    str
        Complete HTML; loads its own script and style only.
    """
    environment = Environment(
        loader=PackageLoader("sunhitch_service.http", "page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["prose"] = _prose
    return environment.get_template("page.html.j2").render(
        info=document["info"],
        groups=_groups(document),
        schemas=document["components"]["schemas"],
        type_of=type_of,
        name_of=name_of,
    )


def _prose(text: str) -> Markup:
    """Text with what stands between backticks as code."""
    code = r"<code>\1</code>"
    return Markup(re.sub(r"`([^`]+)`", code, str(escape(text))))  # noqa: S704 - escaped before


def _groups(document: Node) -> list[Node]:
    """Calls by tag, in the document's order."""
    calls = [
        _call(document, path, method, operation)
        for path, item in document["paths"].items()
        for method, operation in item.items()
    ]
    return [
        {**tag, "calls": [call for call in calls if call["tags"] == [tag["name"]]]}
        for tag in document["tags"]
    ]


def _call(document: Node, path: str, method: str, operation: Node) -> Node:
    resolved = partial(_resolved, document)
    parameters = [resolved(parameter) for parameter in operation.get("parameters", [])]
    given: Node = operation.get("requestBody", {}).get("content", {})
    answered: Node = operation["responses"]["200"].get("content", {})
    return {
        **operation,
        "method": method.upper(),
        "path": path,
        "example_url": _example_url(path, parameters),
        "parameters": [parameter for parameter in parameters if parameter["in"] != "header"],
        "given": [(media_type, content["schema"]) for media_type, content in given.items()],
        "answered": [(media_type, content["schema"]) for media_type, content in answered.items()],
        "example": next((_example(content) for content in given.values()), ""),
        "problems": {
            status: resolved(answer)["description"]
            for status, answer in operation["responses"].items()
            if status != "200"
        },
    }


def _resolved(document: Node, node: Node) -> Node:
    if "$ref" not in node:
        return node
    _, _, kind, name = node["$ref"].split("/")
    found: Node = document["components"][kind][name]
    return found


def _example_url(path: str, parameters: list[Node]) -> str:
    """Path with an example for each parameter that must be there, and for some others."""
    shown = {p["name"]: _shown(p) for p in parameters if _shown(p) is not None}
    for parameter in parameters:
        if parameter["in"] == "path":
            value = shown.get(parameter["name"]) or parameter["schema"]["enum"][0]
            path = path.replace(f"{{{parameter['name']}}}", str(value))
    query = {p["name"]: shown[p["name"]] for p in parameters if _in_example(p, shown)}
    return f"{path}?{urlencode(query)}" if query else path


def _in_example(parameter: Node, shown: Mapping[str, object]) -> bool:
    return parameter["in"] == "query" and parameter["name"] in shown


def _shown(parameter: Node) -> object:
    if "example" in parameter or not parameter.get("required"):
        return parameter.get("example")
    return next(iter(parameter["schema"].get("examples", [])), None)


def _example(content: Node) -> str:
    """First shipped body of a call; text as it is, everything else as JSON."""
    for example in content.get("examples", {}).values():
        value = example["value"]
        return value if isinstance(value, str) else json.dumps(value, indent=2, ensure_ascii=False)
    return ""


def name_of(schema: Node) -> str:
    """Name of the component that a schema refers to; empty if it refers to none."""
    reference = str(schema.get("$ref", ""))
    return reference.removeprefix(f"{_REFERENCE}schemas/")


class Piece(NamedTuple):
    """Part of a type in words; `name` where it names another schema."""

    text: str
    name: str = ""


def type_of(schema: Node) -> list[Piece]:
    """A schema in words, as pieces of text of which some name another schema.

    Parameters
    ----------
    schema : dict
        JSON Schema of a field.

    Returns
    -------
    list of Piece
        In reading order.
    """
    if name := name_of(schema):
        return [Piece(name, name)]
    choices = schema.get("anyOf") or schema.get("oneOf")
    if choices:
        pieces: list[Piece] = []
        for choice in choices:
            pieces += [Piece(" or ")] if pieces else []
            pieces += type_of(choice)
        return pieces
    if "enum" in schema:
        return [Piece("one of " + ", ".join(str(value) for value in schema["enum"]))]
    if schema.get("type") == "array":
        limits = _limits(schema, "minItems", "maxItems", "")
        return [Piece(f"list{limits} of "), *type_of(schema.get("items", {}))]
    return [Piece(_plain_type(schema))]


def _plain_type(schema: Node) -> str:
    kind = str(schema.get("type", "any"))
    words = {
        "number": "number",
        "integer": "whole number",
        "string": "text",
        "boolean": "true or false",
    }
    unit = schema.get("x-unit", "")
    limits = _limits(schema, "minimum", "maximum", "" if unit == "1" else unit)
    return words.get(kind, kind) + (
        limits or _limits(schema, "minLength", "maxLength", "characters")
    )


def _limits(schema: Node, low: str, high: str, unit: str) -> str:
    bounds = [f"{schema[key]:g}" for key in (low, high) if key in schema]
    return f" ({' to '.join(bounds)}{' ' if unit else ''}{unit})" if bounds else ""
