"""Sheets and charts of single calculations show what their answers say."""

import pickle
import re
from html import unescape
from typing import Any
from xml.etree.ElementTree import Element, fromstring

import pytest
from shipped import answered

from sunhitch.operations import COMMISSIONING_CHECK, OPERATIONS, WIRE_SIZING
from sunhitch.operations.operation import Operation
from sunhitch.report.field_words import field_words, value_words
from sunhitch.types.commissioning import CommissioningCheckAnswer
from sunhitch.types.wiring import WireSizingAnswer
from sunhitch_service.calculations import calculation_of, calculations
from sunhitch_service.drawing.readings_chart import LEFT, WIDTH, readings_chart
from sunhitch_service.drawing.wire_chart import BAR_WIDTH, LONGEST, wire_chart

SVG = "{http://www.w3.org/2000/svg}"


def words(picture: Element) -> list[str]:
    return [one.text or "" for one in picture.iter(f"{SVG}text")]


def boxes(picture: Element, *kinds: str) -> list[tuple[float, float]]:
    """Left edge and width of the rectangles of some kinds."""
    return [
        (float(one.get("x", "")), float(one.get("width", "")))
        for one in picture.iter(f"{SVG}rect")
        if one.get("data-kind") in kinds
    ]


def test_every_operation_has_a_picture_and_a_sheet_that_can_travel() -> None:
    for one in calculations():
        offered = {drawn.media_type for drawn in one.renderings}
        assert {"image/svg+xml", "text/html"} <= offered, one.operation.name
        travelled = pickle.loads(pickle.dumps(one.renderings))  # noqa: S301 - our own
        assert repr(travelled) == repr(one.renderings)


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_pictures_and_the_page_around_them_leave_each_other_alone(
    operation: Operation[Any, Any],
) -> None:
    """No style sheet, nothing that one could select by class, no id, and no text too small."""
    asked, answer = answered(operation)
    pictures = [
        one for one in calculation_of(operation).renderings if one.media_type == "image/svg+xml"
    ]
    for one in pictures:
        elements = list(fromstring(one.draw(asked, answer)).iter())  # noqa: S314 - our own
        assert not [e for e in elements if e.tag == f"{SVG}style"]
        assert not [e for e in elements if set(e.keys()) & {"class", "id", "style"}]
        sizes = [float(e.get("font-size", "0")) for e in elements if e.tag == f"{SVG}text"]
        assert min(sizes) >= 9.0


def test_every_size_has_a_bar_as_long_as_it_is_used_up() -> None:
    asked, found = answered(WIRE_SIZING)
    answer: WireSizingAnswer = found
    picture = fromstring(wire_chart(asked, answer))  # noqa: S314 - our own
    bars = [width for _, width in boxes(picture, "spare", "close", "over")]
    ladders = (answer.awg, answer.metric)
    sizes = [size for one in ladders for size in (*one.neighbours, one.chosen)]
    assert len(bars) == len({size.size for size in sizes})
    thin = next(size for size in sizes if size.verdict == "fail" and size.ladder == "awg")
    drop = next(rule for rule in thin.rules if rule.code == "voltage-drop")
    assert bars[0] == pytest.approx(BAR_WIDTH * drop.demand / drop.capacity / LONGEST, abs=0.1)
    assert answer.awg.chosen.size in words(picture)
    assert any(answer.awg.chosen.size in word and "passes" in word for word in words(picture))


def test_every_reading_stands_at_its_share_of_what_is_expected() -> None:
    asked, found = answered(COMMISSIONING_CHECK)
    answer: CommissioningCheckAnswer = found
    picture = fromstring(readings_chart(asked, answer))  # noqa: S314 - our own
    marks = [left + width / 2.0 for left, width in boxes(picture, "good", "bad")]
    shares = [one.quantities[-1].of_expected_fraction for one in answer.readings]
    assert len(marks) == len(shares) > 2
    per_share = {(mark - LEFT) / share for mark, share in zip(marks, shares, strict=True)}
    assert max(per_share) == pytest.approx(min(per_share), rel=0.01)
    assert max(marks) <= LEFT + WIDTH
    failed = [one for one in answer.readings if one.quantities[-1].verdict == "fail"]
    assert len(boxes(picture, "bad")) == len(failed) == 1
    causes = [cause for day in answer.diagnoses for cause in day.causes]
    bars = [width / WIDTH for _, width in boxes(picture, "sound", "cause")]
    told = [cause.share_fraction for cause in causes]
    assert bars == pytest.approx(told, abs=0.01)
    assert all(cause.title in words(picture) for cause in causes)


@pytest.mark.parametrize(
    "operation", [one for one in OPERATIONS if one.name != "fit-out"], ids=lambda one: one.name
)
def test_a_sheet_holds_verdict_pictures_figures_cautions_and_sources(
    operation: Operation[Any, Any],
) -> None:
    asked, answer = answered(operation)
    sheets = [one for one in calculation_of(operation).renderings if one.media_type == "text/html"]
    assert len(sheets) == 1
    page = sheets[0].draw(asked, answer)
    text = unescape(" ".join(re.sub(r"<[^>]+>", " ", page).split()))
    assert operation.title in page
    assert f'class="verdict {answer.verdict}"' in page
    drawn = [
        one for one in calculation_of(operation).renderings if one.media_type == "image/svg+xml"
    ]
    assert page.count("<svg ") >= len(drawn) >= 1
    assert "In figures" in text
    assert all(" ".join(one.text.split())[:40] in text for one in answer.cautions)
    for one in answer.assumptions:
        assert value_words(one.field, one.value) in text
        assert field_words(one.field).rpartition(", ")[2] in text
    open_points = [one for one in answer.checks if one.verdict != "pass"]
    assert bool(open_points) is ("every check passes" not in text)
    assert not re.search(r"(src|href|url)[=(\s\"']+(https?:)?//", page)
