"""Pages in a real browser: nothing from elsewhere, forms that work, open to everyone, on paper."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from contract_browser import Watched, browser, needs_browser, printed, serious_findings
from contract_serving import Served
from contract_tools import needs_node, run, workshop

from sunhitch import Client
from sunhitch.operations import OPERATIONS
from sunhitch.types.fitout import FitOutRequest
from sunhitch_service.calculations import calculation_of, calculations
from sunhitch_service.drawing.work_sheet import draw_work_sheet
from sunhitch_service.guide.pages import address, names

EXAMPLES = Path(__file__).parents[2] / "client" / "sunhitch" / "examples"
POINTS_PER_MM = 72.0 / 25.4
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height [mm], ISO 216 and ANSI/ASME Y14.1."""

MARGIN_MM = 11.5
"""Somewhat less than the narrowest margin that the sheet asks for."""

PAGES = [
    one.operation.name
    for one in calculations()
    if any(drawn.media_type == "text/html" for drawn in one.renderings)
]


@pytest.fixture(scope="module")
def opened() -> Iterator[Any]:
    """A browser."""
    with browser() as found:
        yield found


@pytest.fixture
def watched(opened: Any) -> Iterator[Watched]:
    """An empty page of it."""
    context = opened.new_context(viewport={"width": 1200, "height": 900})
    yield Watched(context.new_page())
    context.close()


def sheet(service: Served, name: str) -> str:
    """The sheet of a shipped example."""
    answer = service.http.post(
        f"/v1/{name}",
        content=(EXAMPLES / f"{name}.json").read_bytes(),
        headers={"Content-Type": "application/json", "Accept": "text/html"},
    )
    assert answer.status_code == 200, answer.text
    return answer.text


@needs_browser
def test_the_docs_page_asks_nothing_elsewhere(service: Served, watched: Watched) -> None:
    watched.page.goto(f"{service.url}/docs#call-shaded_iv")
    assert watched.page.locator("#call-shaded_iv").get_attribute("open") is not None
    watched.page.locator("#types ~ details summary").first.click()
    assert {url.removeprefix(service.url).partition("#")[0] for url in watched.asked} == {
        "/docs",
        "/docs/page.css",
        "/docs/page.js",
        "/openapi.json",
    }
    assert watched.complaints == []


@needs_browser
@needs_node
def test_the_guide_asks_nothing_elsewhere_and_finds_pages(
    service: Served, watched: Watched
) -> None:
    watched.page.goto(f"{service.url}/guide/wire-sizing")
    watched.page.get_by_label("Search").fill("bypass diode")
    found = watched.page.locator("#found a")
    found.first.wait_for()
    assert "/guide/glossary#glossary" in [link.get_attribute("href") for link in found.all()]
    assert all(url.startswith(f"{service.url}/guide") for url in watched.asked)
    for name in names():
        watched.page.goto(f"{service.url}{address(name)}")
        assert serious_findings(watched.page) == [], name
    assert watched.complaints == []


@needs_browser
@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_every_shipped_example_can_be_sent_in_every_way(
    service: Served, watched: Watched, operation: Any
) -> None:
    call = operation.name.replace("-", "_")
    watched.page.goto(f"{service.url}/docs#call-{call}")
    form = watched.page.locator(f"#call-{call} form")
    ways = form.locator("select[name=accept] option").all_text_contents()
    drawn = {one.media_type for one in calculation_of(operation).renderings}
    assert {"application/json", *drawn} <= set(ways)
    for media_type in ways:
        form.locator("select[name=accept]").select_option(media_type)
        sent(form)
        shown = form.locator("output")
        if media_type == "image/svg+xml":
            picture = shown.locator("img")
            picture.evaluate("image => image.decode()")
            assert picture.evaluate("image => image.naturalWidth") > 100
        elif media_type == "application/json":
            assert '"verdict"' in shown.locator("pre").inner_text()
        else:
            assert len(shown.locator("pre").inner_text()) > 200
    assert watched.complaints == []
    assert all(url.startswith((service.url, "blob:")) for url in watched.asked)


def sent(form: Any) -> None:
    """Press the button of a form and wait for status 200."""
    form.locator("output").evaluate("output => output.replaceChildren()")
    form.locator("button").click()
    line = form.locator("output p")
    line.wait_for()
    assert line.inner_text().startswith("200, "), form.locator("output").inner_text()[:500]


@needs_browser
def test_every_other_form_works_as_it_stands(service: Served, watched: Watched) -> None:
    watched.page.goto(f"{service.url}/docs")
    watched.page.evaluate("document.querySelectorAll('details.call').forEach(d => d.open = true)")
    forms = watched.page.locator("details.call form")
    calls = {f"call-{operation.name.replace('-', '_')}" for operation in OPERATIONS}
    tried = 0
    for index in range(forms.count()):
        form = forms.nth(index)
        if form.locator("xpath=..").get_attribute("id") not in calls:
            sent(form)
            tried += 1
    assert tried > 20
    assert watched.complaints == []


@needs_browser
def test_a_refusal_is_shown_on_the_docs_page(service: Served, watched: Watched) -> None:
    watched.page.goto(f"{service.url}/docs#call-wire_sizing")
    form = watched.page.locator("#call-wire_sizing form")
    form.locator("textarea").fill('{"length_m": -1}')
    form.locator("button").click()
    form.locator("output pre").wait_for()
    assert form.locator("output p").inner_text().startswith("400, ")
    assert '"/length_m"' in form.locator("output pre").inner_text()


@needs_browser
def test_a_key_travels_with_what_is_tried(service: Served, watched: Watched) -> None:
    watched.page.goto(f"{service.url}/docs#call-wire_sizing")
    watched.page.locator("#api-key").fill(" of-a-shop ")
    with watched.page.expect_request("**/v1/wire-sizing") as asked:
        sent(watched.page.locator("#call-wire_sizing form"))
    assert asked.value.headers["x-api-key"] == "of-a-shop"


@needs_browser
@needs_node
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_docs_page_is_open_to_everyone(service: Served, opened: Any, scheme: str) -> None:
    context = opened.new_context(color_scheme=scheme)
    page = Watched(context.new_page()).page
    page.goto(f"{service.url}/docs")
    page.evaluate(
        "document.querySelectorAll('details.call, details.type:nth-of-type(-n+20)')"
        ".forEach(d => d.open = true)"
    )
    sent(page.locator("#call-wire_sizing form"))
    assert serious_findings(page) == []
    context.close()


@needs_browser
@needs_node
def test_the_check_does_find_what_keeps_people_out(watched: Watched) -> None:
    watched.page.set_content("<img src='a.png'><input><p style='color:#ccc'>pale</p>")
    rules = {finding.split()[1].rstrip(":") for finding in serious_findings(watched.page)}
    assert {"image-alt", "label", "color-contrast", "html-has-lang"} <= rules


@needs_browser
@needs_node
@pytest.mark.parametrize("name", PAGES)
def test_sheets_are_open_to_everyone_and_need_nothing_else(
    service: Served, watched: Watched, name: str
) -> None:
    watched.page.set_content(sheet(service, name))
    assert serious_findings(watched.page) == []
    assert watched.asked == []
    assert watched.complaints == []


@needs_node
def test_pages_are_valid_html(service: Served, tmp_path: Path) -> None:
    files = {f"{name}.html": sheet(service, name).encode() for name in PAGES}
    files["docs.html"] = service.http.get("/docs").content
    for name in (*names(), "codes/cold-voc-controller"):
        answer = service.http.get(address(name))
        files[f"guide-{name.replace('/', '-')}.html"] = answer.content
    folder = workshop(tmp_path, files)
    run(folder, "html-validate", "--config", "html-validate.json", *files)
    (folder / "wrong.html").write_text("<!DOCTYPE html><html><p><div></p></html>", "utf-8")
    with pytest.raises(AssertionError, match=r"close-order|element-permitted"):
        run(folder, "html-validate", "--config", "html-validate.json", "wrong.html")


def words(text: str) -> set[str]:
    """Words of a text."""
    return set(re.findall(r"[A-Za-z]{4,}", text))


def text_beside_drawings(page: Any) -> str:
    """What a page says in letters, its buttons aside; drawings may print theirs as outlines."""
    show = "shown => document.querySelectorAll('svg, nav').forEach(s => s.style.display = shown)"
    page.evaluate(show, "none")
    text: str = page.locator("body").inner_text()
    page.evaluate(show, "")
    return text


@needs_browser
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", PAGES)
def test_sheets_print_to_clean_pages(
    service: Served, watched: Watched, tmp_path: Path, name: str, paper: str
) -> None:
    """Every page has the paper's size and ink, no letter leaves it, and no word is lost."""
    watched.page.set_content(sheet(service, name))
    shown = words(text_beside_drawings(watched.page))
    pages = printed(watched.page, paper, tmp_path / "sheet.pdf")
    upright = [side * POINTS_PER_MM for side in PAPERS[paper]]
    margin = MARGIN_MM * POINTS_PER_MM
    assert 1 <= len(pages) <= 6
    letters = ""
    for page in pages:
        width, height = upright if page.size[0] < page.size[1] else upright[::-1]
        assert page.size == pytest.approx((width, height), abs=1.0)
        assert page.text.strip(), "a page without a word"
        letters += re.sub(r"[^A-Za-z]", "", page.text)
        left, bottom, right, top = page.ink
        assert left >= margin
        assert bottom >= margin
        assert right <= width - margin
        assert top <= height - margin
    assert {word for word in shown if word not in letters} == set()
    assert len(shown) > 200
    assert max(page.ink[3] - page.ink[1] for page in pages) > upright[1] / 2


@needs_browser
@pytest.mark.parametrize("paper", PAPERS)
def test_a_wide_wiring_diagram_prints_on_one_page(
    watched: Watched, tmp_path: Path, paper: str
) -> None:
    """Twelve panels on three strings: roof, inside and key of the diagram stand on one page."""
    job = json.loads((EXAMPLES / "fit-out.json").read_text("utf-8"))
    job["roof"] = {"outline": {"kind": "rectangle", "length_m": 7.5, "width_m": 2.3}}
    job["panel_types"][0]["panels_wanted"] = 12
    strong = {"max_output_current_a": 120.0, "max_input_short_circuit_a": 100.0}
    job["controllers"][0] |= strong | {"max_input_voltage_v": 150.0}
    job["battery"]["capacity_ah"] = 800.0
    for name in ("placements", "light", "sun", "harvest"):
        job.pop(name, None)
    asked = msgspec.convert(job, FitOutRequest)
    answer = Client.embedded().fit_out(asked)
    assert [len(s.panels) for s in answer.configurations[0].arrays[0].strings] == [4, 4, 4]
    watched.page.set_content(draw_work_sheet(asked, answer))
    pages = printed(watched.page, paper, tmp_path / "sheet.pdf")
    parts = ("ON THE ROOF", "PV disconnect", "BAT +", "lines that cross without")
    assert [all(part in page.text for part in parts) for page in pages].count(True) == 1
    assert sum("ON THE ROOF" in page.text for page in pages) == 1
