"""Pages of another origin, built with a bundler and driven in the browser."""

import json
import shutil
import threading
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from contract_browser import Watched, browser
from contract_serving import serve, until
from contract_tools import run, workshop

from sunhitch import Client, build, examples
from sunhitch.codec import encode
from sunhitch_service.http.settings import Settings

EXAMPLES = Path(__file__).parents[2] / "client/sunhitch/examples"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src data:; "
    "connect-src http://127.0.0.1:*"
)

FEW_DAYS = build.changed(examples.load("harvest"), {"/weather/days": 4})

pytestmark = pytest.mark.needs_program("node", "node packages", "chromium")


class _Files(SimpleHTTPRequestHandler):
    """Files of a folder, the pages under a strict policy."""

    def end_headers(self) -> None:
        if self.path.startswith("/page.html"):
            self.send_header("Content-Security-Policy", POLICY)
        super().end_headers()

    def log_message(self, *_told: Any) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Any, str, Any]]:
    """A browser, the address of the built pages, and a service that lets them call."""
    folder = tmp_path_factory.mktemp("pages")
    files = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Files, directory=str(folder)))
    origin = f"http://localhost:{files.server_port}"
    with serve(Settings(pool_workers=1, cors_origins=[origin]), None) as served:
        schema = served.http.get("/openapi.json").content
        workshop(folder, {"openapi.json": schema})
        shutil.copy(EXAMPLES / "fit-out.json", folder)
        (folder / "harvest.json").write_bytes(encode(FEW_DAYS))
        generate = ["openapi-typescript", "openapi.json", "--default-non-nullable=false"]
        run(folder, *generate, "-o", "schema.ts")
        run(folder, "tsc", "-p", "tsconfig.page.json")
        run(folder, "esbuild", "page.ts", "form.ts", "--bundle", "--format=esm", "--outdir=.")
        threading.Thread(target=files.serve_forever, daemon=True).start()
        with browser() as opened:
            yield opened, origin, served
        files.shutdown()
        files.server_close()


def test_a_page_configures_a_fit_out_from_another_origin(pages: tuple[Any, str, Any]) -> None:
    opened, origin, served = pages
    watched = Watched(opened.new_page())
    page = watched.page
    page.goto(f"{origin}/page.html?service={served.url}")
    heading = "el => JSON.stringify(getComputedStyle(el))"
    before = page.locator("h1").evaluate(heading)
    speed = page.locator("input[data-pointer='/travel/road_speed_m_s']")
    assert speed.input_value() == "27.8"
    speed.fill("-4")
    page.locator("#check").click()
    page.wait_for_selector("input[aria-invalid=true] + .fault")
    assert speed.get_attribute("aria-invalid") == "true"
    assert "from 0 to 45 m/s" in page.locator(".fault").inner_text()
    assert page.locator("svg").count() == 0
    speed.fill("27.8")
    page.locator("#check").click()
    page.wait_for_selector("#pictures svg:nth-of-type(2)")
    assert page.locator(".fault").count() == 0
    with Client.embedded() as client:
        known = client.fit_out(examples.load("fit-out"))
    assert page.locator("#verdict").inner_text() == known.verdict
    still_open = [check for check in known.checks if check.verdict != "pass"]
    assert page.locator("#open li").count() == len(still_open)
    # Neither the page nor a picture minds the other's styles.
    assert page.locator("h1").evaluate(heading) == before
    title = page.locator("#pictures svg text[data-kind=title]").first
    assert title.evaluate("el => getComputedStyle(el).fill") == "rgb(29, 39, 48)"
    refused = [told for told in watched.complaints if "400" not in told]
    assert refused == []


def test_a_page_streams_progress_and_cancels(pages: tuple[Any, str, Any]) -> None:
    opened, origin, served = pages
    page = Watched(opened.new_page()).page
    page.goto(f"{origin}/page.html?service={served.url}")
    page.evaluate(
        "window.seen = []; new MutationObserver(() => { const bar = progress;"
        " window.seen.push(bar.value);"
        " if (window.halt && bar.value) cancel.click();"
        "}).observe(progress, {attributes: true})"
    )
    page.locator("#year").click()
    page.wait_for_selector("#verdict:not(:empty)")
    with Client.embedded() as client:
        known = client.harvest(FEW_DAYS)
    assert page.locator("#verdict").inner_text() == known.verdict
    seen = page.evaluate("window.seen")
    assert len(set(seen)) > 3
    assert seen == sorted(seen)
    page.evaluate("window.halt = true; progress.value = 0")
    page.locator("#year").click()
    page.wait_for_selector("#verdict:text-is('cancelled')")
    until(lambda: len(streamed(served)) == 2, patience_s=60.0)
    whole, cancelled = streamed(served)
    assert cancelled["sent_bytes"] < whole["sent_bytes"]


def streamed(served: Any) -> list[dict[str, Any]]:
    """What was logged of harvests."""
    asked = "/v1/harvest", "POST"
    return [line for line in served.lines() if (line["path"], line["method"]) == asked]


@pytest.mark.parametrize("call", ["wire-sizing", "mount-check", "cold-voc"])
def test_a_form_out_of_the_schema_needs_no_labels_by_hand(
    pages: tuple[Any, str, Any], call: str
) -> None:
    opened, origin, served = pages
    watched = Watched(opened.new_page())
    page = watched.page
    page.goto(f"{origin}/form.html?service={served.url}&call={call}")
    page.wait_for_selector("form label")
    schema = served.http.get(f"/v1/schemas/{call}").json()
    labels = [one.rstrip("*").strip() for one in page.locator("label, legend").all_inner_texts()]
    assert [one for one in labels if "_" in one] == []
    for name in schema["required"]:
        assert schema["properties"][name]["title"] in labels
    assert watched.complaints == []
    if call == "cold-voc":
        page.get_by_label(schema["properties"]["v_oc_v"]["title"]).fill("22.9")
        page.get_by_label(schema["properties"]["lowest_ambient_c"]["title"]).fill("-18")
        page.locator("button[type=submit]").click()
        page.wait_for_function("document.title.startsWith('{')")
        assert json.loads(page.title()) == {"v_oc_v": 22.9, "lowest_ambient_c": -18}
