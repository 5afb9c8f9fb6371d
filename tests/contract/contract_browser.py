"""Debian's browser, driven through its own protocol."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from outside_programs import NODE_MODULES, place_of

PATIENCE_MS = 180_000
"""Longest wait for anything of the browser: machines that test are busy."""

needs_browser = pytest.mark.needs_program("chromium")


@contextmanager
def browser() -> Iterator[Any]:
    """A browser without a window."""
    from playwright.sync_api import sync_playwright

    options = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
    with sync_playwright() as driver:
        opened = driver.chromium.launch(
            executable_path=place_of("chromium"), args=options, timeout=PATIENCE_MS
        )
        try:
            yield opened
        finally:
            opened.close()


class Watched:
    """A page, and what it asked for and complained about.

    Parameters
    ----------
    page : Page
        Of the browser.
    """

    def __init__(self, page: Any) -> None:
        self.page = page
        page.set_default_timeout(PATIENCE_MS)
        self.asked: list[str] = []
        self.complaints: list[str] = []
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on(
            "console",
            lambda said: self.complaints.append(said.text) if said.type == "error" else None,
        )


def serious_findings(page: Any) -> list[str]:
    """What axe-core finds on a page that keeps people from using it, each with its places."""
    page.evaluate((NODE_MODULES / "axe-core" / "axe.min.js").read_text("utf-8"))
    found = page.evaluate("async () => (await axe.run(document)).violations")
    return [
        f"{one['impact']} {one['id']}: {[node['html'][:160] for node in one['nodes'][:4]]}"
        for one in found
        if one["impact"] in ("serious", "critical")
    ]


@dataclass(frozen=True)
class Printed:
    """One printed page.

    Parameters
    ----------
    size : tuple of float
        Width and height [pt].
    text : str
        Every word on it.
    ink : tuple of float
        Left, bottom, right and top of all letters together [pt].
    """

    size: tuple[float, float]
    text: str
    ink: tuple[float, float, float, float]


def printed(page: Any, paper: str, target: Path) -> list[Printed]:
    """A page as the browser prints it, read back."""
    import pypdfium2

    page.emulate_media(media="print")
    page.pdf(path=target, format=paper, print_background=True)
    document = pypdfium2.PdfDocument(target)
    try:
        return [_read_back(document[index]) for index in range(len(document))]
    finally:
        document.close()


def _read_back(page: Any) -> Printed:
    letters = page.get_textpage()
    text = letters.get_text_range()
    boxes = [letters.get_charbox(index) for index in range(letters.count_chars())]
    inked = [box for box in boxes if box[2] > box[0] and box[3] > box[1]]
    left, bottom = (min((box[side] for box in inked), default=0.0) for side in (0, 1))
    right, top = (max((box[side] for box in inked), default=0.0) for side in (2, 3))
    return Printed(page.get_size(), text, (left, bottom, right, top))
