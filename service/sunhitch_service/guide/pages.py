"""Pages of the guide as HTML, in one frame, with the text that a search looks through."""

import re
from functools import cache
from importlib import resources
from itertools import pairwise
from typing import NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined
from markdown_it import MarkdownIt
from markdown_it.token import Token

from sunhitch_service.engine.rules.table import entries

from .codes import code_text, codes_text

FOLDER = resources.files("sunhitch_service").joinpath("guide")
CODES = "codes"
"""Name of the list of codes."""


class Section(NamedTuple):
    """What stands below one heading."""

    heading: str
    anchor: str
    text: str


def names() -> list[str]:
    """Names of all pages but those of single codes."""
    files = sorted(file.name for file in FOLDER.iterdir())
    return [name.removesuffix(".md") for name in files if name.endswith(".md")] + [CODES]


def address(name: str) -> str:
    """Where a page is served."""
    return "/guide" if name == "index" else f"/guide/{name}"


def page_html(name: str) -> bytes:
    """A page in its frame.

    Parameters
    ----------
    name : str
        One of `names`, or ``codes/`` and a code.

    Raises
    ------
    KeyError
        If there is no such code.
    """
    tokens = _parsed(_text(name))
    sections = _sections(tokens)
    parser = _parser()
    body = parser.renderer.render(tokens, parser.options, {})
    for wide in ("pre", "table"):  # may scroll: the keyboard must reach them
        body = body.replace(f"<{wide}>", f'<{wide} tabindex="0">')
    shown = {"title": sections[0].heading, "body": body, "links": _links()}
    return _frame().get_template("frame.html.j2").render(shown).encode()


def searched() -> list[dict[str, str]]:
    """Sections of every page: title, address, text."""
    pages = [
        {"address": f"{address(name)}#{anchor}", "title": heading, "text": text}
        for name in names()
        if name != CODES
        for heading, anchor, text in _sections(_parsed(_text(name)))
    ]
    codes = [
        {"address": address(f"{CODES}/{code}"), "title": code, "text": entry.meaning}
        for code, entry in entries().items()
    ]
    return pages + codes


def _text(name: str) -> str:
    if name == CODES:
        return codes_text()
    if name.startswith(f"{CODES}/"):
        return code_text(entries()[name.removeprefix(f"{CODES}/")])
    return FOLDER.joinpath(f"{name}.md").read_text("utf-8")


@cache
def _parser() -> MarkdownIt:
    return MarkdownIt("commonmark", {"html": False, "xhtmlOut": False}).enable("table")


def _parsed(text: str) -> list[Token]:
    """Tokens of a text; its links lead to pages as they are served."""
    tokens = _parser().parse(text)
    for token in tokens:
        token.content = token.content.rstrip()
    for child in (child for token in tokens for child in token.children or []):
        target = str(child.attrs.get("href", ""))
        if target.endswith(".md"):
            child.attrs["href"] = address(target.removesuffix(".md"))
        if child.type == "image":
            child.attrs["src"] = f"/guide/{child.attrs['src']}"
    return tokens


def _sections(tokens: list[Token]) -> list[Section]:
    """Sections of a page; every heading gets its section's anchor."""
    found: list[Section] = []
    for token, after in zip(tokens, [*tokens[1:], None], strict=True):
        if token.type == "heading_open" and after is not None:
            anchor = "-".join(re.findall(r"[a-z0-9]+", after.content.lower()))
            token.attrs["id"] = anchor
            found.append(Section(after.content, anchor, ""))
        elif found and token.content:
            last = found[-1]
            found[-1] = last._replace(text=f"{last.text} {token.content}".strip())
    return found


@cache
def _links() -> list[tuple[str, str]]:
    """Address and words of every page that the index names, in its order."""
    children = [child for token in _parsed(_text("index")) for child in token.children or []]
    return [
        (str(opening.attrs["href"]), words.content)
        for opening, words in pairwise(children)
        if opening.type == "link_open"
    ]


@cache
def _frame() -> Environment:
    return Environment(
        loader=PackageLoader("sunhitch_service.guide", ""),
        autoescape=True,
        undefined=StrictUndefined,
    )
