"""The documentation page: complete, and with nothing from elsewhere."""

import re
from html.parser import HTMLParser

import pytest
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
