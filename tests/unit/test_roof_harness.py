"""The roof plan of a fit-out shows every conductor of its wiring along the plan's cables."""

from itertools import combinations, pairwise
from math import dist
from xml.etree import ElementTree

import pytest

from sunhitch import Client, examples
from sunhitch.operations import FIT_OUT
from sunhitch.types.array import Arrangement
from sunhitch.types.fitout import FitOutAnswer
from sunhitch_service.drawing.roof_harness import Harness, RoofConductor, conductors
from sunhitch_service.drawing.roof_plan import drawn_detail, drawn_plan

SVG = "{http://www.w3.org/2000/svg}"
Spot = tuple[float, float]


@pytest.fixture(scope="module")
def answer() -> FitOutAnswer:
    return Client.embedded().fit_out(examples.load(FIT_OUT))


@pytest.fixture(scope="module")
def wirings(answer: FitOutAnswer) -> list[Arrangement]:
    found = list(answer.configurations)
    assert len({len(array.strings) for one in found for array in one.arrays}) > 1
    return found


def drawn(answer: FitOutAnswer, wiring: Arrangement) -> ElementTree.Element:
    return ElementTree.fromstring(drawn_plan(answer.plan, Harness.of(answer.plan, wiring)).svg)  # noqa: S314 - our own


def on_a_piece(spot: Spot, course: list[Spot]) -> bool:
    return any(dist(a, spot) + dist(spot, b) <= dist(a, b) + 1e-6 for a, b in pairwise(course))


def ends(found: list[RoofConductor], kind: str) -> set[tuple[str, str]]:
    return {(one.start, one.end) for one in found if one.kind == kind}


def test_conductors_join_what_the_wiring_joins(
    answer: FitOutAnswer, wirings: list[Arrangement]
) -> None:
    """Panels of a string in its order, its ends of one polarity at one panel, from there on out."""
    for wiring in wirings:
        found = conductors(answer.plan, wiring)
        strings = [string.panels for array in wiring.arrays for string in array.strings]
        assert ends(found, "link") == {pair for panels in strings for pair in pairwise(panels)}
        for kind, place in (("plus", 0), ("minus", -1)):
            led = ends(found, kind)
            assert {start for start, _ in led} == {panels[place] for panels in strings}
            out = [start for start, end in led if not end]
            assert len(out) == len(wiring.arrays)
            assert {end for _, end in led if end} <= set(out)


def test_the_plan_and_the_harness_name_the_same_panel(answer: FitOutAnswer) -> None:
    best = answer.configurations[0]
    told = {item.where for item in best.harness if item.kind == "extension"}
    for kind, polarity in (("plus", "positive"), ("minus", "negative")):
        found = ends(conductors(answer.plan, best), kind)
        (meeting,) = [start for start, end in found if not end]
        assert f"from {meeting} to the entry, {polarity}" in told


def test_conductors_lie_where_cables_lie(answer: FitOutAnswer, wirings: list[Arrangement]) -> None:
    runs = {panel.name: list(panel.cable.points) for panel in answer.plan.panels}
    for one in (one for wiring in wirings for one in conductors(answer.plan, wiring)):
        assert one.course[0] == pytest.approx(runs[one.start][0])
        assert one.course[-1] == pytest.approx(runs[one.end][0] if one.end else runs[one.start][-1])
        for spot in one.course:
            assert any(on_a_piece(spot, list(run)) for run in runs.values())


def test_no_conductor_hides_another_and_joints_are_branch_connectors(
    answer: FitOutAnswer, wirings: list[Arrangement]
) -> None:
    for wiring in wirings:
        picture = drawn(answer, wiring)
        lines = [
            (line.get("data-kind"), line.get("points", ""))
            for line in picture.iter(f"{SVG}polyline")
            if line.get("data-kind") in ("plus", "minus", "link")
        ]
        found = conductors(answer.plan, wiring)
        shown = lines[: len(found)]  # the legend follows
        assert [kind for kind, _ in shown] == [one.kind for one in found]
        courses = [
            [(float(x), float(y)) for x, y in (spot.split(",") for spot in points.split())]
            for _, points in shown
        ]
        for one, other in combinations(courses, 2):
            same = set(pairwise(one)) & {*pairwise(other), *pairwise(other[::-1])}
            assert not [piece for piece in same if dist(*piece) > 2.0]
        joints = [dot for dot in picture.iter(f"{SVG}circle") if dot.get("r") == "4.0"]
        connectors = {
            (item.controller, item.polarity)
            for item in wiring.harness
            if item.kind == "branch-connector"
        }
        assert len(joints) == len(connectors)
        signs = [text.text for text in picture.iter(f"{SVG}text") if text.text in ("+", "−")]
        leads = sum(one.kind != "link" for one in found)
        assert len(signs) == leads


def test_a_detail_tells_the_places_of_its_feet(answer: FitOutAnswer) -> None:
    panel = answer.plan.panels[-1]
    harness = Harness.of(answer.plan, answer.configurations[0])
    detail = drawn_detail(answer.plan, harness, panel.name, panel)
    picture = ElementTree.fromstring(detail.svg)  # noqa: S314 - our own
    words = {text.text or "" for text in picture.iter(f"{SVG}text")}
    for foot in panel.feet:
        assert any(told.startswith(f"{1000 * foot.x_m:.0f} · ") for told in words)
        assert any(told.startswith(f"{1000 * foot.y_m:.0f} · ") for told in words)
    assert panel.name in words
    assert float(picture.get("width", 0)) <= 272.0
