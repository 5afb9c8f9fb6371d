"""The documentation page: complete, and with nothing from elsewhere."""

import re
import shlex
import subprocess
import sys
from html.parser import HTMLParser
from typing import Any

import pytest
from contract_browser import Watched, browser, needs_browser
from contract_serving import Served


class _Elements(HTMLParser):
    """Collects the ids, and the addresses that are loaded or linked."""

    def __init__(self) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.loaded: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note one element."""
        given = dict(attrs)
        self.ids += [given["id"] or ""] if "id" in given else []
        address = given.get("href") or given.get("src")
        if address:
            (self.links if tag == "a" else self.loaded).append(address)


@pytest.fixture(scope="module")
def page(service: Served) -> _Elements:
    """The page, taken apart."""
    elements = _Elements()
    elements.feed(service.http.get("/docs").text)
    return elements


def test_every_call_and_type_is_on_the_page(service: Served, page: _Elements) -> None:
    document = service.http.get("/openapi.json").json()
    operations = [one for item in document["paths"].values() for one in item.values()]
    assert {f"call-{one['operationId']}" for one in operations} <= set(page.ids)
    assert {f"type-{name}" for name in document["components"]["schemas"]} <= set(page.ids)
    assert len(page.ids) == len(set(page.ids))


def test_links_lead_somewhere(service: Served, page: _Elements) -> None:
    assert {link[1:] for link in page.links if link.startswith("#")} <= set(page.ids)
    for address in {link for link in (*page.links, *page.loaded) if not link.startswith("#")}:
        assert address.startswith("/")
        assert service.http.get(address).status_code == 200


def test_nothing_comes_from_elsewhere(service: Served) -> None:
    for path in ("/docs", "/docs/page.css", "/docs/page.js"):
        answer = service.http.get(path)
        assert not re.search(r"(src|href|url|import)[=(\s\"']+(https?:)?//", answer.text)
        assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_the_page_is_small(service: Served) -> None:
    """300 kB before compression, as callers were promised."""
    assert len(service.http.get("/docs").content) <= 300_000


@needs_browser
def test_calls_can_be_searched_and_copied_in_three_languages(service: Served) -> None:
    with browser() as opened:
        watched = Watched(opened.new_page())
        page = watched.page
        page.goto(f"{service.url}/docs")
        page.locator("#search").fill("lowest_ambient_c")
        page.wait_for_selector("#found a[href='#call-quick_cold_voc']")
        assert page.locator("#found a[href='#type-SiteTemperatures']").count() == 1
        page.locator("#found a[href='#call-quick_cold_voc']").click()
        told = snippets(page, "quick_cold_voc")
        assert run_python(told["Python"]).startswith("QuickColdVoc(string_v_oc_v=")
        page.goto(f"{service.url}/docs#call-wire_sizing")
        told = snippets(page, "wire_sizing")
        known = run_python(told["Python"])
        asked = shlex.split(told["curl"])
        assert asked[:2] == ["curl", "-s"]
        headers = dict([asked[asked.index("-H") + 1].split(": ")])
        body = asked[asked.index("-d") + 1]
        answer = service.http.post(asked[2], content=body, headers=headers).json()
        assert answer["verdict"] == known.strip()
        assert page.evaluate(f"(async () => {{ {said(told['TypeScript'])} }})()") == answer
        page.goto(f"{service.url}/docs#type-WireSizingRequest")
        field = page.locator("#type-WireSizingRequest tr", has_text="length_m")
        assert "number (0.05 to 200 m)" in field.inner_text()
        assert watched.complaints == []
        dark = opened.new_page(color_scheme="dark")
        dark.goto(f"{service.url}/docs")
        colour = "el => getComputedStyle(el).backgroundColor"
        assert dark.locator("body").evaluate(colour) == "rgb(22, 25, 28)"


def snippets(page: Any, call: str) -> dict[str, str]:
    """Texts below a call that is open, by their titles."""
    page.wait_for_selector(f"#call-{call} figure")
    return {
        figure.locator("figcaption").inner_text().removesuffix("Copy").strip(): figure.locator(
            "pre"
        ).inner_text()
        for figure in page.locator(f"#call-{call} figure").all()
    }


def run_python(text: str) -> str:
    run = subprocess.run([sys.executable, "-c", text], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    return run.stdout


def said(script: str) -> str:
    """A script that returns what it would write."""
    return script.replace("console.log(await response.text());", "return response.json();")
