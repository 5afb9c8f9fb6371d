"""Which conductor lies where on a roof: leads of strings, links in series, branch connectors."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain, count, pairwise
from math import dist, hypot
from typing import Literal, NamedTuple

from sunhitch.types.array import Arrangement, ControllerArray
from sunhitch.types.roof import RoofPlan

from .lettering import Point
from .plan_scale import PlanScale
from .sheet import Pole, Sheet

_NEAR_M = 1e-6
_APART, _WIDEST = 4.0, 26.0
"""Between conductors side by side on paper, and most of all of them."""
_POLES: tuple[tuple[Pole, Literal["positive", "negative"], int], ...] = (
    ("plus", "positive", 0),
    ("minus", "negative", -1),
)
"""Its name in the harness, and the panel of a string where it begins."""


@dataclass(frozen=True, slots=True)
class RoofConductor:
    """One conductor on the roof.

    Parameters
    ----------
    kind : str
        `plus`, `minus`, or `link` between two panels in series.
    start, end : str
        Panels; the end of what reaches the cable entry is empty.
    course : list of tuple of float
        From plug to plug or entry [m].
    """

    kind: Literal["plus", "minus", "link"]
    start: str
    end: str
    course: list[Point]


def conductors(plan: RoofPlan, wiring: Arrangement) -> list[RoofConductor]:
    """Everything between the panels and the cable entry, along the courses of the plan."""
    runs = {panel.name: [(x, y) for x, y in panel.cable.points] for panel in plan.panels}
    return [one for array in wiring.arrays for one in _of_array(wiring, array, runs)]


def _of_array(
    wiring: Arrangement, array: ControllerArray, runs: dict[str, list[Point]]
) -> Iterator[RoofConductor]:
    for string in array.strings:
        for one, other in pairwise(string.panels):
            yield RoofConductor("link", one, other, _between(runs[one], runs[other]))
    for pole, polarity, end in _POLES:
        ends = [string.panels[end] for string in array.strings]
        meeting = _meeting(wiring, array, polarity, ends, runs)
        for name in ends:
            if name != meeting:
                yield RoofConductor(pole, name, meeting, _between(runs[name], runs[meeting]))
        yield RoofConductor(pole, meeting, "", runs[meeting])


def _meeting(
    wiring: Arrangement,
    array: ControllerArray,
    polarity: str,
    ends: list[str],
    runs: dict[str, list[Point]],
) -> str:
    """The panel at which strings join: as the harness names it, else the one with the least way."""
    told = {item.where for item in wiring.harness if item.controller == array.controller}
    named = (name for name in ends if f"from {name} to the entry, {polarity}" in told)
    return next(named, min(ends, key=lambda name: sum(dist(a, b) for a, b in pairwise(runs[name]))))


def _between(one: list[Point], other: list[Point]) -> list[Point]:
    """From the start of a course to that of another, by where they first meet."""
    for place, (start, end) in enumerate(zip(one, [*one[1:], one[-1]], strict=True)):
        meets = [spot for spot in (start, *other) if _on(spot, start, end)]
        for spot in sorted(meets, key=lambda spot: dist(spot, start)):
            for back, (low, high) in enumerate(pairwise(other)):
                if _on(spot, low, high):
                    return _tidied([*one[: place + 1], spot, *other[back::-1]])
    return _tidied([*one, *other[::-1]])


def _on(spot: Point, start: Point, end: Point) -> bool:
    """Whether a point lies on a straight piece."""
    return dist(start, spot) + dist(spot, end) <= dist(start, end) + _NEAR_M


def _tidied(course: list[Point]) -> list[Point]:
    """Without points that stand still."""
    kept = [course[0], *(b for a, b in pairwise(course) if dist(a, b) > _NEAR_M)]
    return kept if len(kept) > 1 else [course[0], course[-1]]


class Harness(NamedTuple):
    """Conductors, and the place of each among those beside it."""

    conductors: list[RoofConductor]
    lanes: list[int]

    @staticmethod
    def of(plan: RoofPlan, wiring: Arrangement) -> "Harness":
        """Of a wiring, along the courses of a plan."""
        found = conductors(plan, wiring)
        return Harness(found, _lanes(found))


class DrawnHarness(NamedTuple):
    """Conductors on paper, and the polarities to write where leads leave their panels."""

    courses: list[list[Point]]
    signs: list[tuple[Point, str]]


def draw_harness(sheet: Sheet, harness: Harness, scale: PlanScale) -> DrawnHarness:
    """Draw conductors side by side, and branch connectors where strings join."""
    found, lanes = harness
    span = max(lanes) - min(lanes)
    apart = min(_APART, _WIDEST / span) if span else _APART
    courses = [
        _shifted([scale(x, y) for x, y in one.course], lane * apart)
        for one, lane in zip(found, lanes, strict=True)
    ]
    trunks = {
        (one.kind, one.start): course[0]
        for one, course in zip(found, courses, strict=True)
        if not one.end
    }
    joined = [
        (course, trunks[one.kind, one.end])
        for one, course in zip(found, courses, strict=True)
        if one.kind != "link" and one.end
    ]
    for course, joint in joined:
        course.append(joint)
    for course in courses:
        sheet.line("veil", *course)
    for one, course in zip(found, courses, strict=True):
        sheet.line(one.kind, *course)
    for joint in dict.fromkeys(joint for _, joint in joined):
        sheet.dot(*joint, 4.0)
    signs = {"plus": "+", "minus": "−"}
    ends = zip(found, courses, strict=True)
    leads = [(course[0], signs[one.kind]) for one, course in ends if one.kind in signs]
    return DrawnHarness(courses, leads)


def _lanes(found: list[RoofConductor]) -> list[int]:
    """Places side by side: no two conductors on one stretch of the roof share theirs."""
    lanes: list[int] = []
    for one in found:
        taken = {
            lane
            for other, lane in zip(found, lanes, strict=False)
            if _share(one.course, other.course)
        }
        lanes.append(next(lane for lane in _wished(one.kind) if lane not in taken))
    return lanes


def _wished(kind: str) -> Iterator[int]:
    """Plus on one side, minus on the other, links in the middle; then whatever is free."""
    if kind == "link":
        return chain((0,), chain.from_iterable((n, -n) for n in count(1)))
    side = 1 if kind == "plus" else -1
    return chain.from_iterable((side * n, -side * (n - 1)) for n in count(1))


def _share(one: Iterable[Point], other: Iterable[Point]) -> bool:
    """Whether two courses run along each other anywhere."""
    others = list(pairwise(other))
    return any(_overlap(*piece, *beside) for piece in pairwise(one) for beside in others)


def _overlap(a: Point, b: Point, c: Point, d: Point) -> bool:
    inside = [spot for spot in (a, b) if _on(spot, c, d)] + [s for s in (c, d) if _on(s, a, b)]
    return any(dist(p, q) > 10.0 * _NEAR_M for p in inside for q in inside)


def _shifted(course: list[Point], aside: float) -> list[Point]:
    """A course moved aside, always to the same side of a stretch, whichever way it is walked."""
    normals = [_normal(a, b) for a, b in pairwise(course)]
    moved: list[Point] = []
    for spot, before, after in zip(
        course, [normals[0], *normals], [*normals, normals[-1]], strict=True
    ):
        together = 1.0 + before[0] * after[0] + before[1] * after[1]
        share = aside / together if together > 0.3 else 0.0
        moved.append(
            (spot[0] + share * (before[0] + after[0]), spot[1] + share * (before[1] + after[1]))
        )
    return moved


def _normal(start: Point, end: Point) -> Point:
    across, down = end[0] - start[0], end[1] - start[1]
    far = hypot(across, down) or 1.0
    sign = -1.0 if (across, down) < (0.0, 0.0) else 1.0
    return -sign * down / far, sign * across / far
