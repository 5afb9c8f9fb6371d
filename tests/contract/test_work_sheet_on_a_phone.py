"""The work sheet in a browser of a phone's size: one step a screen, readings judged and kept."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from contract_browser import Watched, browser, needs_browser, serious_findings
from contract_serving import Served
from contract_tools import needs_node
from shipped import answered

from sunhitch import Client, examples
from sunhitch.operations import COMMISSIONING_CHECK, FIT_OUT, ROOF_LAYOUT
from sunhitch.operations.operation import Operation
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.work import StepReading, WorkStep
from sunhitch_service.calculations import calculation_of
from sunhitch_service.drawing.work_sheet import draw_work_sheet

PHONE = {"width": 390, "height": 844}
LEAST_PX = 14.0
"""Smallest letters that are read on a roof, as the sheet promises."""

SMALL_WORDS = """
() => [...document.querySelectorAll("body *")]
  .filter(one => !one.closest("script, style, svg, [hidden]") && one.checkVisibility())
  .filter(one => [...one.childNodes].some(node => node.nodeType === 3 && node.data.trim()))
  .map(one => [one.textContent.trim().slice(0, 40), parseFloat(getComputedStyle(one).fontSize)])
  .filter(([, size]) => size < 14)
"""
SMALLEST_IN_PICTURES = """
() => [...document.querySelectorAll("figure > svg")].filter(one => one.checkVisibility())
  .map(one => {
    const picture = document.querySelector(one.querySelector("use").getAttribute("href"));
    const sizes = [...picture.querySelectorAll("text")].map(t => +t.getAttribute("font-size"));
    const scale = one.getBoundingClientRect().width / one.viewBox.baseVal.width;
    const part = one.viewBox.baseVal.width * one.viewBox.baseVal.height;
    const all = picture.viewBox.baseVal.width * picture.viewBox.baseVal.height;
    return [Math.min(...sizes) * scale, part / all, one.closest(".screen").id];
  })
"""
IN_VIEW = """
() => [...document.querySelectorAll(".screen")].filter(one => {
  const box = one.getBoundingClientRect();
  return box.right > 1 && box.left < innerWidth - 1;
}).map(one => one.id)
"""


@pytest.fixture(scope="module")
def opened() -> Iterator[Any]:
    """A browser."""
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def job() -> tuple[FitOutRequest, FitOutAnswer]:
    request = examples.load("fit-out")
    return request, Client.embedded().fit_out(request)


@pytest.fixture(scope="module")
def sheet(job: tuple[FitOutRequest, FitOutAnswer], tmp_path_factory: Any) -> Path:
    """The sheet of the shipped job as a file."""
    file: Path = tmp_path_factory.mktemp("sheet") / "sheet.html"
    file.write_text(draw_work_sheet(*job), "utf-8")
    return file


def phone(opened: Any, file: Path, **more: Any) -> Watched:
    """A file in a fresh phone."""
    context = opened.new_context(viewport=PHONE, has_touch=True, is_mobile=True, **more)
    watched = Watched(context.new_page())
    watched.page.goto(file.as_uri())
    return watched


def plain(text: str) -> str:
    return " ".join(text.replace("`", "").split())


def names_of(answer: FitOutAnswer, reading: StepReading) -> list[str]:
    """Panels of the type that a reading is of, else its subject."""
    of_type = [one.name for one in answer.plan.panels if one.panel_type == reading.subject]
    return of_type or [reading.subject]


def field_of(page: Any, step: WorkStep, reading: StepReading, name: str) -> Any:
    return page.locator(f'input[name="reading-{step.number}-{reading.quantity}-{name}"]')


def told_of(field: Any) -> Any:
    """What the page says of what is entered."""
    return field.locator("xpath=ancestor::div[1]").locator("output")


@needs_browser
def test_every_step_fills_a_screen_and_tells_what_the_answer_tells(
    opened: Any, sheet: Path, job: tuple[FitOutRequest, FitOutAnswer], tmp_path: Path
) -> None:
    watched, steps = phone(opened, sheet), job[1].work_steps
    page = watched.page
    assert page.locator(".step").count() == len(steps) + 1
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    for step in steps:
        screen = page.locator(f"#step-{step.number}")
        screen.evaluate("one => one.scrollIntoView()")
        page.wait_for_function(f"() => ({IN_VIEW})().join() === 'step-{step.number}'")
        assert screen.bounding_box()["width"] == PHONE["width"]
        words = plain(screen.inner_text())
        for told in (step.title, step.text, step.hold_until, *step.subjects):
            assert plain(told) in words, step.title
        assert len(page.screenshot(path=tmp_path / f"{step.code}.png")) > 10_000
    page.get_by_label("Back").click()
    page.wait_for_function(f"() => ({IN_VIEW})().join() === 'step-{len(steps) - 1}'")
    page.get_by_label("Go to").select_option(label="Parts")
    page.wait_for_function(f"() => ({IN_VIEW})().join() === 'parts'")
    assert watched.asked == [sheet.as_uri()]
    assert watched.complaints == []
    page.context.close()


@needs_browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_is_smaller_than_a_roof_allows_and_pictures_show_the_step(
    opened: Any, sheet: Path, job: tuple[FitOutRequest, FitOutAnswer], scheme: str
) -> None:
    page = phone(opened, sheet, color_scheme=scheme).page
    assert page.evaluate(SMALL_WORDS) == []
    shown = page.evaluate(SMALLEST_IN_PICTURES)
    assert min(size for size, _, _ in shown) >= LEAST_PX
    with_pictures = {screen: part for _, part, screen in shown if screen.startswith("step-")}
    assert set(with_pictures) == {f"step-{one.number}" for one in job[1].work_steps if one.views}
    overview = [part for _, part, screen in shown if screen == "wiring"]
    assert max(
        with_pictures[f"step-{one.number}"]
        for one in job[1].work_steps
        if one.views == ["wiring-diagram"] and one.subjects
    ) < max(overview)
    page.context.close()


@needs_browser
@needs_node
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_phone_view_is_open_to_everyone(opened: Any, sheet: Path, scheme: str) -> None:
    page = phone(opened, sheet, color_scheme=scheme).page
    assert serious_findings(page) == []
    page.context.close()


@needs_browser
def test_readings_are_judged_by_the_bands_of_the_answer(
    opened: Any, sheet: Path, job: tuple[FitOutRequest, FitOutAnswer]
) -> None:
    answer, judged = job[1], 0
    page = phone(opened, sheet).page
    readings = ((step, one) for step in answer.work_steps for one in step.readings)
    for step, reading in readings:
        for name in names_of(answer, reading):
            field = field_of(page, step, reading, name)
            told = told_of(field)
            for limit, beyond, words in (
                (reading.low, 0.999, "✗ below"),
                (reading.high, 1.001, "✗ above"),
            ):
                if limit is None:
                    continue
                field.fill(str(limit).replace(".", ","))
                assert told.inner_text() == "✓ in band"
                field.fill(str(limit * beyond))
                assert told.inner_text() == f"{words} {limit:g}"
                judged += 1
            field.fill("none")
            known = reading.low is not None or reading.high is not None
            assert told.inner_text() == ("? no number" if known else "")
            field.fill("")
            assert told.inner_text() == ""
    assert judged > 20
    page.context.close()


@needs_browser
def test_what_is_entered_stays_in_the_file_that_is_saved(
    opened: Any, sheet: Path, job: tuple[FitOutRequest, FitOutAnswer], tmp_path: Path
) -> None:
    page = phone(opened, sheet, accept_downloads=True).page
    step = next(one for one in job[1].work_steps if one.readings)
    reading = step.readings[0]
    name = names_of(job[1], reading)[-1]
    assert reading.low is not None
    field_of(page, step, reading, name).fill("0.5")
    page.locator('input[name="step-1"]').check()
    page.locator('input[name="part-2"]').evaluate("one => one.click()")
    page.locator('input[name="job"]').fill('<b>"Van" & 1</b>')
    page.reload()
    assert page.locator('input[name="step-1"]').is_checked()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save").click()
    assert re.fullmatch(r"Work-sheet-.*\.html", saved.value.suggested_filename)
    saved.value.save_as(tmp_path / "saved.html")
    page.context.close()
    for runs in (True, False):
        again = phone(opened, tmp_path / "saved.html", java_script_enabled=runs).page
        field = field_of(again, step, reading, name)
        assert field.input_value() == "0.5"
        told = told_of(field)
        assert told.inner_text() == f"✗ below {reading.low:g}"
        assert again.locator('input[name="step-1"]').is_checked()
        assert again.locator('input[name="part-2"]').is_checked()
        assert not again.locator('input[name="step-2"]').is_checked()
        assert again.locator('input[name="job"]').input_value() == '<b>"Van" & 1</b>'
        again.context.close()


@needs_browser
def test_the_script_runs_under_the_policy_that_the_service_sends(
    service: Served, opened: Any
) -> None:
    answer = service.http.post(
        "/v1/fit-out",
        content=examples.text(FIT_OUT),
        headers={"Content-Type": "application/json", "Accept": "text/html"},
    )
    assert answer.status_code == 200
    policy = answer.headers["content-security-policy"]
    assert "unsafe-inline" not in policy.partition("script-src")[2]
    context = opened.new_context(viewport=PHONE)
    watched = Watched(context.new_page())
    headers = {"Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": policy}
    watched.page.route("**/*", lambda route: route.fulfill(body=answer.text, headers=headers))
    watched.page.goto("https://sheet.invalid/")
    assert watched.page.get_by_role("button", name="Save").is_visible()
    watched.page.evaluate(
        "document.body.append(Object.assign(document.createElement('script'), "
        "{textContent: 'document.title = \"run\"'}))"
    )
    assert watched.page.title() != "run"
    context.close()


LETTERS_IN_DRAWINGS = """
() => [...document.querySelectorAll("figure > svg")].map(one => {
  const sizes = [...one.querySelectorAll("text")].map(t => +t.getAttribute("font-size"));
  return Math.min(...sizes) * one.getBoundingClientRect().width / one.viewBox.baseVal.width;
})
"""


@needs_browser
@pytest.mark.parametrize("operation", [COMMISSIONING_CHECK, ROOF_LAYOUT], ids=lambda one: one.name)
def test_sheets_of_other_calculations_are_read_on_a_phone(
    opened: Any, operation: Operation[Any, Any], tmp_path: Path
) -> None:
    """Nothing to scroll sideways but what is within a frame, and no small letters anywhere."""
    request, answer = answered(operation)
    (drawing,) = [
        one for one in calculation_of(operation).renderings if one.media_type == "text/html"
    ]
    file = tmp_path / "sheet.html"
    file.write_text(drawing.draw(request, answer), "utf-8")
    watched = phone(opened, file)
    assert watched.page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    assert watched.page.evaluate(SMALL_WORDS) == []
    assert min(watched.page.evaluate(LETTERS_IN_DRAWINGS)) >= LEAST_PX
