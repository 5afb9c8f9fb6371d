"""Load chart and plan of a mount check: well-formed, complete, and within their frame."""

from collections.abc import Callable
from functools import cache
from typing import Any
from xml.etree import ElementTree as Xml

import pytest
from mount_builders import FLEXIBLE, bonded, fastened, glued, railed, request
from msgspec.structs import replace

from sunhitch.types.mount import MountCheckAnswer
from sunhitch_service.drawing.free_body import free_body
from sunhitch_service.drawing.load_chart import load_chart
from sunhitch_service.drawing.mount_plan import mount_plan
from sunhitch_service.drawing.used import percent, shade
from sunhitch_service.engine.mount.calculation import mount_check

SVG = "{http://www.w3.org/2000/svg}"
TURNED = request(glued(), FLEXIBLE)
BUILDS = {
    "glued": request(glued()),
    "turned": replace(TURNED, position=replace(TURNED.position, x_m=2.5, rotation_deg=90.0)),
    "fastened": request(fastened()),
    "bonded": request(bonded(), FLEXIBLE),
    "rails": request(railed()),
}


@cache
def answer_of(name: str) -> MountCheckAnswer:
    """Worked out once, by the first test that asks."""
    return mount_check(BUILDS[name])


DRAWINGS: dict[str, Callable[[Any, Any], str]] = {
    "plan": mount_plan,
    "chart": load_chart,
    "body": free_body,
}
every_drawing = pytest.mark.parametrize(
    ("name", "drawing"), [(name, drawing) for name in BUILDS for drawing in DRAWINGS]
)


def drawn(name: str, drawing: str) -> Xml.Element:
    return Xml.fromstring(DRAWINGS[drawing](BUILDS[name], answer_of(name)))  # noqa: S314 - our own


def words(picture: Xml.Element) -> list[str]:
    return [text.text or "" for text in picture.iter(f"{SVG}text")]


@every_drawing
def test_every_line_lies_within_the_frame(name: str, drawing: str) -> None:
    picture = drawn(name, drawing)
    width, height = float(picture.attrib["width"]), float(picture.attrib["height"])
    for kind in ("polyline", "polygon"):
        for line in picture.iter(f"{SVG}{kind}"):
            for point in line.attrib["points"].split():
                x, y = (float(part) for part in point.split(","))
                assert 0 <= x <= width
                assert 0 <= y <= height


@every_drawing
def test_drawings_name_nothing_outside(name: str, drawing: str) -> None:
    """Self-contained: no scripts, images or links."""
    text = DRAWINGS[drawing](BUILDS[name], answer_of(name))
    assert text.count("http") == 1
    for tag in ("script", "image", "href", "foreignObject"):
        assert tag not in text


@pytest.mark.parametrize("name", BUILDS)
def test_plan_shows_every_foot_with_its_utilisation(name: str) -> None:
    written = " ".join(words(drawn(name, "plan")))
    for foot in answer_of(name).feet:
        assert f"{foot.uplift_n:.0f} N" in written
        assert percent(foot.utilisation_fraction) in written
    if not answer_of(name).feet:
        assert "No feet" in written


def test_plan_shades_feet_by_their_utilisation() -> None:
    answer = answer_of("turned")
    picture = drawn("turned", "plan")
    over = [shape for shape in picture.iter(f"{SVG}polygon") if shape.attrib["data-kind"] == "over"]
    failing = [foot for foot in answer.feet if foot.utilisation_fraction > 1]
    assert failing
    assert len(over) == len(failing)


def test_turned_panel_lies_across() -> None:
    """Turned by 90° the panel is wider than long on paper, forward being up."""
    for name, across in (("glued", False), ("turned", True)):
        panel = next(
            shape
            for shape in drawn(name, "plan").iter(f"{SVG}polygon")
            if shape.attrib["data-kind"] == "panel"
        )
        points = [tuple(map(float, p.split(","))) for p in panel.attrib["points"].split()]
        spread = [max(p[i] for p in points) - min(p[i] for p in points) for i in (0, 1)]
        assert (spread[0] > spread[1]) == across


@pytest.mark.parametrize("name", BUILDS)
def test_chart_has_a_bar_for_every_load_case(name: str) -> None:
    answer = answer_of(name)
    cases = {load.name for load in answer.load_cases} | {"foot-lost"}
    judged = {
        case
        for case in cases
        for check in answer.checks
        if check.code.endswith(f"-{case}") and check.utilisation_fraction is not None
    }
    bars = [
        box
        for box in drawn(name, "chart").iter(f"{SVG}rect")
        if box.get("data-kind") in ("spare", "close", "over")
    ]
    assert len(bars) == len(judged)


@pytest.mark.parametrize(
    ("utilisation", "expected"),
    [(0.0, "spare"), (0.8, "spare"), (0.81, "close"), (1.0, "close"), (1.01, "over")],
)
def test_shades(utilisation: float, expected: str) -> None:
    assert shade(utilisation, 0.2) == expected


def test_percent() -> None:
    assert percent(0.583) == "58 %"
    assert percent(1e9) == "no hold"


@pytest.mark.parametrize("name", ["glued", "turned", "fastened", "rails"])
def test_arrows_of_the_free_body_are_to_scale(name: str) -> None:
    """Every vertical arrow is as long as its force, by one scale, that of the load too."""
    body, picture = answer_of(name).free_body, drawn(name, "body")
    assert body is not None
    dots = [(float(d.attrib["cx"]), float(d.attrib["cy"])) for d in picture.iter(f"{SVG}circle")]
    tips = [
        (shape.attrib["data-kind"], *map(float, shape.attrib["points"].split()[0].split(",")))
        for shape in picture.iter(f"{SVG}polygon")
        if shape.attrib["data-kind"] in ("tip", "bad")
    ]
    feet = [foot.foot for foot in answer_of(name).feet]
    pulls = [
        force for foot, force in zip(feet, body.feet_uplift_n, strict=True) if foot != body.lost
    ]
    scales = [
        (tip_y - y) / pull
        for (x, y), pull in zip(dots, pulls, strict=True)
        if abs(pull) > 0.1 * body.uplift_n
        for kind, tip_x, tip_y in tips
        if kind == "tip" and abs(tip_x - x) < 0.06 and abs(tip_y - y) > 1.0
    ]
    assert scales
    assert scales == pytest.approx([scales[0]] * len(scales), rel=0.02)
    assert sum(pulls) == pytest.approx(body.uplift_n)


@pytest.mark.parametrize("name", ["glued", "turned", "rails"])
def test_plan_bears_the_places_of_the_feet(name: str) -> None:
    """Rows and columns of feet, in millimetres from the panel's front left corner."""
    written = words(drawn(name, "plan"))
    for foot in answer_of(name).feet:
        assert f"{1000 * foot.x_m:.0f}, {1000 * foot.y_m:.0f}" in written
    assert f"{1000 * answer_of(name).feet[0].x_m:.0f}" in written
