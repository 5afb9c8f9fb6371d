"""No words of a plan or a free body meet each other, an arrow or a foot, whatever the font.

Each text tells viewers how long it is, so that boxes are those of any font.
"""

import json
import re
from importlib import resources
from itertools import combinations, islice, pairwise, product
from xml.etree import ElementTree as Xml

import msgspec
import pytest
from random_mounts import KINDS, legal

from sunhitch import Client, examples
from sunhitch.operations import FIT_OUT
from sunhitch.types.mount import MountCheckRequest
from sunhitch.types.roof import LayoutSearch, RoofLayoutRequest
from sunhitch_service.drawing.free_body import free_body
from sunhitch_service.drawing.lettering import Box, crosses, meet
from sunhitch_service.drawing.mount_plan import mount_plan
from sunhitch_service.drawing.roof_harness import Harness
from sunhitch_service.drawing.roof_plan import drawn_plan, roof_plan
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.roof.layout import roof_layout

SVG = "{http://www.w3.org/2000/svg}"
ROOF = json.loads(
    resources.files("sunhitch.examples").joinpath("roof-layout.json").read_text("utf-8")
)


def box_of(text: Xml.Element) -> Box:
    """Room of a text as every viewer draws it: as long as told, capitals 0.72 em, tails 0.21 em."""
    x, y, length, size = (
        float(text.attrib[name]) for name in ("x", "y", "textLength", "font-size")
    )
    left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.attrib["text-anchor"]] * length
    box = left, y - 0.72 * size, left + length, y + 0.21 * size
    if "transform" not in text.attrib:
        return box
    assert re.match(r"rotate\(-90 ", text.attrib["transform"])
    return x + box[1] - y, y + x - box[2], x + box[3] - y, y + x - box[0]


def points(shape: Xml.Element) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (p.split(",") for p in shape.attrib["points"].split())]


def around(shape: Xml.Element) -> Box:
    xs, ys = zip(*points(shape), strict=True)
    return min(xs) + 0.1, min(ys) + 0.1, max(xs) - 0.1, max(ys) - 0.1


def words_are_clear(
    picture: Xml.Element,
    lines: set[str],
    areas: set[str],
    inside: frozenset[str] = frozenset(),
) -> int:
    """Every text lies in the frame and clear of all others, of lines and areas of some kinds.

    Texts of the kinds `inside` may stand in an area that holds them. Returns how many there are.
    """
    texts = list(picture.iter(f"{SVG}text"))
    boxes = [box_of(text) for text in texts]
    wide, high = float(picture.attrib["width"]), float(picture.attrib["height"])
    for text, box in zip(texts, boxes, strict=True):
        assert min(box[0], box[1]) >= 0.0, text.text
        assert box[2] <= wide, text.text
        assert box[3] <= high, text.text
    for (one, first), (other, second) in combinations(zip(texts, boxes, strict=True), 2):
        assert not meet(first, second), (one.text, other.text)
    for shape in picture.iter(f"{SVG}polyline"):
        if shape.attrib["data-kind"] in lines:
            for ends, box in product(pairwise(points(shape)), boxes):
                assert not crosses(box, *ends), shape.attrib["data-kind"]
    for shape in picture.iter(f"{SVG}polygon"):
        if shape.attrib["data-kind"] in areas:
            off_the_area(around(shape), texts, inside)
    return len(texts)


def off_the_area(area: Box, texts: list[Xml.Element], inside: frozenset[str]) -> None:
    for text in texts:
        box = box_of(text)
        held = area[0] <= box[0] and box[2] <= area[2]
        if not (held and text.attrib["data-kind"] in inside):
            assert not meet(box, area), text.text


def drawn(asked: MountCheckRequest) -> tuple[Xml.Element, Xml.Element]:
    answer = mount_check(asked)
    body, plan = free_body(asked, answer), mount_plan(asked, answer)
    return Xml.fromstring(body), Xml.fromstring(plan)  # noqa: S314 - drawn by ourselves


@pytest.mark.parametrize("kind", KINDS)
def test_words_of_mounts_meet_nothing(kind: str) -> None:
    for asked in islice(legal(31, kind), 4):
        body, plan = drawn(asked)
        assert words_are_clear(body, {"asked", "limit"}, {"tip", "bad", "missed"}) > 1
        square = asked.position.rotation_deg % 90.0 == 0.0
        areas = {"spare", "close", "over"} if square else set()
        assert words_are_clear(plan, {"rail"}, areas, frozenset({"head", "on-dark"})) > 2


@pytest.mark.parametrize("orientation", ["any", "along", "across"])
def test_words_of_roofs_meet_nothing(orientation: str) -> None:
    asked = msgspec.convert(ROOF | {"try_without_obstacles": False}, RoofLayoutRequest)
    kinds = [msgspec.structs.replace(one, orientation=orientation) for one in asked.panel_types]
    asked = msgspec.structs.replace(asked, panel_types=kinds, search=LayoutSearch(time_limit_s=1.0))
    picture = Xml.fromstring(roof_plan(asked, roof_layout(asked)))  # noqa: S314
    assert words_are_clear(picture, {"cable"}, {"foot"}) > 20


def test_words_of_a_fit_out_meet_no_conductor() -> None:
    answer = Client.embedded().fit_out(examples.load(FIT_OUT))
    for wiring in answer.configurations:
        picture = Xml.fromstring(drawn_plan(answer.plan, Harness.of(answer.plan, wiring)).svg)  # noqa: S314 - our own
        assert words_are_clear(picture, {"plus", "minus", "link"}, {"foot"}) > 20


def test_a_word_on_an_arrow_is_seen() -> None:
    """The check itself: a text moved onto an arrow, onto another text, or off the sheet fails."""
    asked = next(legal(31, "adhesive-feet"))
    for change in ("arrow", "text", "frame"):
        body, _ = drawn(asked)
        first, second, *_ = body.iter(f"{SVG}text")
        arrow = next(s for s in body.iter(f"{SVG}polyline") if s.attrib["data-kind"] == "limit")
        (x, y), (_, end) = points(arrow)[:2]
        place = {
            "arrow": (x - 9.0, (y + end) / 2),
            "text": (float(second.attrib["x"]), float(second.attrib["y"])),
            "frame": (-5.0, 30.0),
        }[change]
        first.attrib["x"], first.attrib["y"] = (f"{one:.1f}" for one in place)
        with pytest.raises(AssertionError):
            words_are_clear(body, {"asked", "limit"}, set())
