"""The roof plan is to scale and complete; the marking-out list says where every point is."""

import csv
import io
import json
import re
from importlib import resources
from itertools import pairwise
from xml.etree import ElementTree

import msgspec
import pytest

from sunhitch.report.amounts import inches, tape
from sunhitch.types.roof import RoofLayoutAnswer, RoofLayoutRequest
from sunhitch_service.drawing.columns import CsvStyle
from sunhitch_service.drawing.marking_out import cable_marks, marking_out, marks
from sunhitch_service.drawing.roof_plan import roof_plan
from sunhitch_service.engine.roof.layout import roof_layout

EXAMPLE = json.loads(
    resources.files("sunhitch.examples").joinpath("roof-layout.json").read_text("utf-8")
)
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def request_() -> RoofLayoutRequest:
    plain = EXAMPLE | {"try_without_obstacles": False}
    return msgspec.convert(plain, RoofLayoutRequest)


@pytest.fixture(scope="module")
def answer(request_: RoofLayoutRequest) -> RoofLayoutAnswer:
    return roof_layout(request_)


@pytest.fixture(scope="module")
def picture(request_: RoofLayoutRequest, answer: RoofLayoutAnswer) -> ElementTree.Element:
    return parsed(roof_plan(request_, answer))


def parsed(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text)  # noqa: S314 - drawn by ourselves


def boxes(picture: ElementTree.Element, kind: str) -> list[tuple[float, float, float, float]]:
    found = []
    for area in picture.iter(f"{SVG}polygon"):
        if area.get("data-kind") == kind:
            points = [tuple(map(float, p.split(","))) for p in area.get("points", "").split()]
            xs, ys = [p[0] for p in points], [p[1] for p in points]
            found.append((min(xs), min(ys), max(xs), max(ys)))
    return found


def test_panels_lie_on_paper_as_on_the_roof(
    picture: ElementTree.Element, answer: RoofLayoutAnswer
) -> None:
    """One scale for both directions: paper x from the left edge, paper y from the front."""
    (left, top, right, bottom) = boxes(picture, "roof")[0]
    scale = (bottom - top) / 6.2
    assert (right - left) / 2.1 == pytest.approx(scale, rel=1e-3)
    drawn = boxes(picture, "panel")
    assert len(drawn) == len(answer.plan.panels) + 1  # and one in the legend
    for panel, box in zip(answer.plan.panels, drawn, strict=False):
        assert (box[0] - left) / scale == pytest.approx(panel.y_m, abs=2e-3)
        assert (box[1] - top) / scale == pytest.approx(panel.x_m, abs=2e-3)
        assert (box[2] - box[0]) / scale == pytest.approx(panel.size_y_m, abs=2e-3)
        assert (box[3] - box[1]) / scale == pytest.approx(panel.size_x_m, abs=2e-3)


def test_everything_on_the_roof_is_drawn_and_named(
    picture: ElementTree.Element, answer: RoofLayoutAnswer
) -> None:
    words = [text.text for text in picture.iter(f"{SVG}text")]
    named = [f.name for f in answer.plan.features if f.kind != "cable-entry"]
    told = " ".join(filter(None, words))
    assert [name for name in named if name not in told] == [], "in one line or in several"
    assert {panel.name for panel in answer.plan.panels} <= set(words)
    assert "FRONT" in words
    assert {"1 m", "4 ft"} <= set(words)
    feet = sum(len(panel.feet) for panel in answer.plan.panels)
    assert len(boxes(picture, "foot")) == feet + 1
    cables = [p for p in picture.iter(f"{SVG}polyline") if p.get("data-kind") == "cable"]
    assert len(cables) == len(answer.plan.panels) + 1


def test_dimensions_are_in_millimetres_and_inches(
    picture: ElementTree.Element, answer: RoofLayoutAnswer
) -> None:
    words = {text.text for text in picture.iter(f"{SVG}text")}
    for panel in answer.plan.panels:
        assert f"{1000 * panel.x_m:.0f}" in words
        assert f"{1000 * panel.y_m:.0f}" in words
        assert f"{inches(panel.x_m)} in" in words


def test_every_row_of_feet_has_its_dimensions(
    picture: ElementTree.Element, answer: RoofLayoutAnswer
) -> None:
    """Right of the plan from the front, each beside its row; below it from the left."""
    texts = list(picture.iter(f"{SVG}text"))
    (_, top, right, bottom) = boxes(picture, "roof")[0]
    words = {t.text for t in texts if float(t.get("x", 0)) > right and not t.get("transform")}
    feet = [foot for panel in answer.plan.panels for foot in panel.feet]
    rows = {round(foot.x_m, 4) for foot in feet}
    assert len(rows) * 13.0 <= bottom - top
    assert len(rows) > 3
    for row in rows:
        assert f"{1000 * row:.0f} · {inches(row)}" in words


def test_texts_of_dimensions_do_not_overlap(picture: ElementTree.Element) -> None:
    numbers = [t for t in picture.iter(f"{SVG}text") if t.get("data-kind") == "number"]
    down = sorted(float(t.get("y", 0)) for t in numbers if t.get("text-anchor") == "end")
    along = sorted(float(t.get("x", 0)) for t in numbers if t.get("text-anchor") == "middle")
    assert len(down) > 3
    assert len(along) > 3
    assert min(b - a for a, b in pairwise(down)) >= 24.0
    assert min(b - a for a, b in pairwise(along)) >= 45.0


def test_many_rows_of_feet_at_the_front_stand_below_the_width_of_the_roof(
    request_: RoofLayoutRequest, answer: RoofLayoutAnswer
) -> None:
    """Twenty rows 2 cm apart: their dimensions are pushed rearwards only, clear of those above."""
    front = min(x for x, _ in answer.plan.outline)
    first = answer.plan.panels[0]
    rows = [msgspec.structs.replace(first.feet[0], x_m=front + 0.02 * n) for n in range(20)]
    panels = [msgspec.structs.replace(first, feet=rows)]
    plan = msgspec.structs.replace(answer.plan, panels=panels)
    picture = parsed(roof_plan(request_, msgspec.structs.replace(answer, plan=plan)))
    _, top, right, _ = boxes(picture, "roof")[0]
    beside = [
        float(t.get("y", 0))
        for t in picture.iter(f"{SVG}text")
        if " · " in (t.text or "") and not t.get("transform") and float(t.get("x", 0)) > right
    ]
    assert len(beside) >= 20
    assert min(beside) >= top


def test_many_dimensions_stand_upright_and_stay_on_the_sheet(
    request_: RoofLayoutRequest, answer: RoofLayoutAnswer
) -> None:
    """Eleven left edges 3 cm apart: as many numbers above the plan, and two for its own edges.

    Those of their feet stand below it.
    """
    moved = [
        msgspec.structs.replace(panel, y_m=0.1 + 0.03 * number)
        for number, panel in enumerate(answer.plan.panels)
    ]
    plan = msgspec.structs.replace(answer.plan, panels=moved)
    picture = parsed(roof_plan(request_, msgspec.structs.replace(answer, plan=plan)))
    texts, top = list(picture.iter(f"{SVG}text")), boxes(picture, "roof")[0][1]
    upright = sorted(
        float(t.get("x", 0))
        for t in texts
        if t.get("transform") and " · " in (t.text or "") and float(t.get("y", 0)) < top
    )
    assert len(upright) == len(moved) + 2
    assert min(b - a for a, b in pairwise(upright)) >= 13.9
    assert min(float(t.get("x", 0)) for t in texts) >= 0.0


def test_names_of_panels_stand_clear_of_their_feet(
    picture: ElementTree.Element, answer: RoofLayoutAnswer
) -> None:
    """Each is as long as it tells viewers."""
    names = {panel.name for panel in answer.plan.panels}
    labels = [
        t
        for t in picture.iter(f"{SVG}text")
        if t.get("data-kind") == "on-panel" and t.text in names
    ]
    assert len(labels) == len(names)
    for label in labels:
        size = float(label.get("font-size", 0))
        half = float(label.get("textLength", 0)) / 2
        x, y = float(label.get("x", 0)), float(label.get("y", 0))
        for left, top, right, bottom in boxes(picture, "foot"):
            beside = x + half <= left or right <= x - half
            assert beside or y <= top or bottom <= y - 0.7 * size


def test_names_cannot_break_the_picture(answer: RoofLayoutAnswer) -> None:
    evil = "<script>&\"'"
    features = [msgspec.structs.replace(f, name=evil) for f in answer.plan.features]
    plan = msgspec.structs.replace(answer.plan, features=features)
    request = msgspec.convert(EXAMPLE, RoofLayoutRequest)
    text = roof_plan(request, msgspec.structs.replace(answer, plan=plan))
    assert "<script" not in text
    assert evil in {t.text for t in parsed(text).iter(f"{SVG}text")}


def test_an_empty_roof_can_be_drawn(answer: RoofLayoutAnswer) -> None:
    plan = msgspec.structs.replace(answer.plan, panels=[], trunk_m=0.0)
    request = msgspec.convert(EXAMPLE, RoofLayoutRequest)
    picture = parsed(roof_plan(request, msgspec.structs.replace(answer, plan=plan)))
    assert boxes(picture, "panel") == []


def test_the_list_holds_every_corner_foot_and_cable(
    request_: RoofLayoutRequest, answer: RoofLayoutAnswer
) -> None:
    rows = list(csv.DictReader(io.StringIO(CsvStyle().written(marking_out(answer))[1:])))
    by_name = {(row["thing"], row["point"]): row for row in rows}
    assert len(by_name) == len(rows)
    for panel in answer.plan.panels:
        corner = by_name[panel.name, "front left corner"]
        assert int(corner["from_front_mm"]) == round(1000 * panel.x_m)
        assert int(corner["from_left_mm"]) == round(1000 * panel.y_m)
        assert int(corner["along_mm"]) == round(1000 * panel.size_x_m)
        for number, foot in enumerate(panel.feet, start=1):
            row = by_name[panel.name, f"foot {number}, middle"]
            assert int(row["from_front_mm"]) == round(1000 * foot.x_m)
            assert int(row["from_left_mm"]) == round(1000 * foot.y_m)
        bends = [row for row in rows if row["thing"] == f"cable of {panel.name}"]
        assert len(bends) == len(panel.cable.points) - 1
    assert ("cable entry", "middle") in by_name


def test_the_list_in_inches_agrees_with_millimetres_to_the_sixteenth(
    answer: RoofLayoutAnswer,
) -> None:
    for mark in [*marks(answer.plan), *cable_marks(answer.plan)]:
        for length, text in zip((mark.from_front_m, mark.from_left_m), mark.tape, strict=True):
            assert re.fullmatch(r"\d+( \d+/(2|4|8|16))?|\d+/(2|4|8|16)", text)
            whole = [eval_inches(part) for part in text.split()]
            assert sum(whole) * 0.0254 == pytest.approx(length, abs=0.0254 / 32 + 1e-9)


def eval_inches(part: str) -> float:
    top, _, below = part.partition("/")
    return int(top) / int(below or 1)


def test_a_polygon_is_measured_from_its_foremost_and_leftmost_line() -> None:
    plain = {
        "roof": {
            "outline": {"kind": "polygon", "points": [[1, 0.5], [1, 2.5], [4, 2.5], [4, 0.5]]},
            "margins": {"front_m": 0.1, "rear_m": 0.1, "side_m": 0.1},
        },
        "panel_types": [EXAMPLE["panel_types"][0] | {"panels_wanted": 1}],
    }
    request = msgspec.convert(plain, RoofLayoutRequest)
    answer = roof_layout(request)
    panel, mark = answer.plan.panels[0], marks(answer.plan)[0]
    assert mark.from_front_m == pytest.approx(panel.x_m - 1.0)
    assert mark.from_left_m == pytest.approx(panel.y_m - 0.5)


@pytest.mark.parametrize(
    ("metres", "feet", "plain"),
    [
        (0.3048, "1 ft", "12"),
        (0.0254 * 13.5, "1 ft 1 1/2 in", "13 1/2"),
        (0.0254 / 16, "1/16 in", "1/16"),
        (0.0, "0 in", "0"),
    ],
)
def test_tape_marks(metres: float, feet: str, plain: str) -> None:
    """1 ft is 0.3048 m and 1 in is 25.4 mm by definition."""
    assert (tape(metres), inches(metres)) == (feet, plain)
