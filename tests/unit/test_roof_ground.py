"""Where panels may lie, measured with a geometry library, and the rectangles between them."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import msgspec
import numpy as np
import pytest
import shapely

from sunhitch.types.roof import RoofLayoutRequest
from sunhitch_service.engine.arrays import Floats, Integers, Mask
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.roof.candidates import (
    _between,
    candidates_by_type,
    candidates_of,
    moved_aside,
    plates_meet,
    united,
)
from sunhitch_service.engine.roof.forbidden import Ground
from sunhitch_service.engine.roof.orientations import (
    TICK_M,
    OrientedType,
    allowed_places,
    limits,
    oriented_types,
    turns_alike,
)
from sunhitch_service.engine.roof.positions import Axis, axis_of, positions
from sunhitch_service.engine.roof.site import RoofSite, resolve_site

LIBRARY: Any = shapely
BODY = {"length_m": 0.7, "width_m": 0.4, "thickness_m": 0.003, "mass_kg": 1.0}
FEET = {"plate_length_m": 0.08, "plate_width_m": 0.05}
MARGINS = {"front_m": 0.12, "rear_m": 0.05, "side_m": 0.08}
PLAIN = {"kind": "rectangle", "length_m": 3.0, "width_m": 1.8}
CUT = PLAIN | {"front_corners": {"shape": "chamfered", "size_m": 0.5}}
ROUND = PLAIN | {"front_corners": {"shape": "rounded", "size_m": 0.6}}
NOTCHED = {
    "kind": "polygon",
    "points": [[0, 0], [0, 1.8], [3, 1.8], [3, 1.1], [2.2, 0.9], [3, 0.7], [3, 0], [1.5, 0.3]],
}
REAR_CUT = {
    "kind": "polygon",
    "points": [[0, 0], [0, 1.8], [2.5, 1.8], [3, 1.3], [3, 0]],
}
VENT = {"kind": "round", "name": "vent", "x_m": 1.6, "y_m": 0.9, "diameter_m": 0.3}
HATCH = {"kind": "rectangular", "name": "hatch", "x_m": 0.8, "y_m": 0.9}
HATCH |= {"length_m": 0.5, "width_m": 0.3, "clearance_m": 0.07}
SEAM = {"name": "seam", "feature": "seam", "points": [[1.2, 0.0], [1.2, 1.8]], "keep_off_m": 0.03}
RIB = {"name": "rib", "feature": "rib", "points": [[0.0, 1.3], [3.0, 1.3]], "keep_off_m": 0.03}
SLANT = {"name": "slant", "feature": "rib", "points": [[0.2, 0.1], [2.8, 1.5], [2.9, 0.2]]}

ROOFS: dict[str, dict[str, Any]] = {
    "plain": {"outline": PLAIN},
    "chamfered": {"outline": CUT},
    "rounded": {"outline": ROUND},
    "notched": {"outline": NOTCHED},
    "rear cut": {"outline": REAR_CUT, "obstacles": [HATCH]},
    "vent": {"outline": PLAIN, "obstacles": [VENT]},
    "hatch": {"outline": PLAIN, "obstacles": [HATCH]},
    "turned hatch": {"outline": PLAIN, "obstacles": [HATCH | {"turned_deg": 25.0}]},
    "needle": {
        "outline": PLAIN,
        "obstacles": [
            HATCH | {"turned_deg": 40.0, "length_m": 1.4, "width_m": 0.01, "clearance_m": 0.0}
        ],
    },
    "seams": {"outline": PLAIN, "no_foot_lines": [SEAM, RIB]},
    "slanted": {"outline": PLAIN, "no_foot_lines": [SLANT]},
    "strip": {
        "outline": CUT,
        "walking_strips": [
            {"name": "walk", "x_m": 0.0, "y_m": 0.2, "length_m": 3.0, "width_m": 0.3}
        ],
    },
}
KINDS: dict[str, dict[str, Any]] = {
    "sheet": {},
    "inset feet": {"feet": FEET | {"edge_inset_m": 0.1}},
    "feet beyond its ends": {"feet": FEET | {"edge_inset_m": -0.06}, "orientation": "along"},
    "one corner foot": {"feet": FEET | {"points": [{"along_length_m": 0.6, "along_width_m": 0.1}]}},
    "a foot beyond one end": {
        "feet": FEET | {"points": [{"along_length_m": -0.02, "along_width_m": 0.2}]}
    },
}


def case(roof: str, kind: str) -> tuple[RoofSite, RoofLayoutRequest]:
    body = BODY | {"construction": "flexible"}
    request = msgspec.convert(
        {
            "roof": {"margins": MARGINS, **ROOFS[roof]},
            "panel_types": [{"name": "sheet", "body": body, "p_mp_w": 50.0, **KINDS[kind]}],
        },
        RoofLayoutRequest,
    )
    return resolve_site(request.roof, None, Assumptions()), request


def corners(seed: int, number: int) -> Integers:
    random = np.random.default_rng(seed)
    return np.asarray(random.uniform(-0.2, [3.0, 1.8], (number, 2)) / TICK_M).astype(np.int64)


def boxes_of(oriented: OrientedType, at: Floats) -> Floats:
    return np.concatenate([at, at + np.array(oriented.size) * TICK_M], axis=1)


def plates_of(oriented: OrientedType, at: Floats) -> Floats:
    return np.asarray((oriented.plates[None] + np.tile(at, 2)[:, None]).reshape(-1, 4))


def room(site: RoofSite, request: RoofLayoutRequest, oriented: OrientedType, at: Floats) -> Floats:
    """How much more room there is than is needed, at the tightest spot; negative if too little."""
    boxes = boxes_of(oriented, at)
    inner = shapely.Polygon(site.outline.exterior)
    beyond = LIBRARY.box(-9, -9, 9, 9).difference(inner)
    found = np.full(len(at), np.inf)
    for lane in ([-0.12, 0, 0.05, 0], [0, -0.08, 0, 0.08]):
        grown = LIBRARY.box(*(boxes + np.array(lane)).T)
        depth = LIBRARY.intersection(grown, beyond)
        inside = LIBRARY.area(depth) == 0.0
        found = np.minimum(found, np.where(inside, LIBRARY.distance(grown, beyond), -1.0))
    for given, needed in [(o, o.clearance_m) for o in request.roof.obstacles]:
        away = 0.05 if needed is None else needed
        shape = shapely.Polygon(next(k for k in site.keep_outs if k.name == given.name).corners)
        if given.name == "vent":
            shape = shapely.Point(1.6, 0.9).buffer(0.15, quad_segs=256)
        found = np.minimum(found, _apart(shape, boxes) - away)
    for strip in request.roof.walking_strips:
        shape = shapely.box(0.0, strip.y_m, 3.0, strip.y_m + strip.width_m)
        found = np.minimum(found, _apart(shape, boxes))
    if not len(oriented.plates):
        return found
    plates = plates_of(oriented, at)
    least = np.where(
        LIBRARY.area(LIBRARY.intersection(LIBRARY.box(*plates.T), beyond)) == 0.0,
        LIBRARY.distance(LIBRARY.box(*plates.T), beyond),
        -1.0,
    )
    for keep_out in site.obstacles:
        least = np.minimum(least, _apart(shapely.Polygon(keep_out.corners), plates))
    for line in request.roof.no_foot_lines:
        away = 0.02 if line.keep_off_m is None else line.keep_off_m
        apart = LIBRARY.distance(shapely.LineString(line.points), LIBRARY.box(*plates.T))
        least = np.minimum(least, apart - away)
    return np.minimum(found, least.reshape(len(at), -1).min(axis=1))


def _apart(shape: shapely.Polygon, boxes: Floats) -> Floats:
    own = LIBRARY.box(*boxes.T)
    overlaps = LIBRARY.area(LIBRARY.intersection(own, shape)) > 0.0
    return np.where(overlaps, -1.0, LIBRARY.distance(own, shape))


def forbidden(no: Floats, at: Floats) -> Mask:
    """Whether a corner lies within one of the open rectangles."""
    within = (at[:, None] > no[None, :, :2] + 1e-6) & (at[:, None] < no[None, :, 2:] - 1e-6)
    return np.asarray(within.all(axis=2).any(axis=1), dtype=np.bool_)


CASES = [(roof, "inset feet") for roof in ROOFS] + [
    (roof, kind)
    for roof in ("plain", "hatch", "notched", "slanted")
    for kind in ("feet beyond its ends", "one corner foot")
]


@pytest.mark.parametrize(("roof", "kind"), CASES)
def test_places_are_allowed_by_the_distances_of_a_geometry_library(roof: str, kind: str) -> None:
    site, request = case(roof, kind)
    for oriented in oriented_types(request.panel_types):
        ticked = corners(1, 150)
        spare = room(site, request, oriented, np.asarray(ticked * TICK_M))
        sure = np.abs(spare) > 2e-5
        told = allowed_places(site, oriented, ticked)
        assert (told[sure] == (spare[sure] > 0.0)).all()
        assert 0 < told.sum() < len(told)


@pytest.mark.parametrize(("roof", "kind"), [*CASES, ("vent", "sheet"), ("needle", "sheet")])
def test_between_cautious_rectangles_all_is_sound_and_within_the_others_nothing(
    roof: str, kind: str
) -> None:
    site, request = case(roof, kind)
    cautious, loose = (Ground.of(site, request.panel_types, c) for c in (True, False))
    ticked = corners(2, 2000)
    at = np.asarray(ticked * TICK_M, dtype=np.float64)
    for i, oriented in enumerate(cautious.orientations):
        sound = allowed_places(site, oriented, ticked)
        free, barred = ~forbidden(cautious.forbidden[i], at), forbidden(loose.forbidden[i], at)
        span = limits(site, oriented)
        within = ((at >= [span.x1, span.y1]) & (at <= [span.x2, span.y2])).all(axis=1)
        if kind != "feet beyond its ends":  # these leave slanted edges, held against the roof
            assert not (free & within & ~sound).any()
        assert not (barred & sound).any()
        # What rectangles of slabs of 0.12 m take too much, once for every foot on a slanted line.
        lost = 0.25 if roof == "slanted" else 0.12
        assert (sound & ~free).sum() <= lost * sound.sum()
        assert free.any()
        if roof in ("plain", "hatch", "seams"):
            assert not (within & ~sound & ~barred).any()
        elif roof not in ("slanted", "needle"):
            assert (within & ~sound & ~barred).sum() <= 0.12 * within.sum()


def test_rectangles_of_a_turned_hatch_cover_its_clearance_or_lie_within_it() -> None:
    """Its outline and the space around it, as finely as a library rounds corners."""
    site, request = case("turned hatch", "sheet")
    (hatch,) = site.obstacles
    around = LIBRARY.Polygon(hatch.corners).buffer(hatch.clearance.metres, quad_segs=512)
    covered = []
    for cautious in (True, False):
        ground = Ground.of(site, request.panel_types, cautious)
        size = np.array(ground.orientations[0].size) * TICK_M
        boxes = LIBRARY.box(*(ground.forbidden[0] + [*size, 0.0, 0.0]).T)
        over_it = LIBRARY.distance(boxes, shapely.Point(*hatch.box.centre)) < 0.4
        covered.append(LIBRARY.union_all(boxes[over_it]))
    assert covered[0].buffer(1e-9).covers(around)
    assert around.buffer(1e-9).covers(covered[1])


@pytest.mark.parametrize(
    ("roof", "kind", "alike"),
    [
        ("plain", "sheet", True),
        ("hatch", "sheet", True),
        ("vent", "sheet", False),
        ("rounded", "sheet", False),
        ("turned hatch", "sheet", False),
        ("slanted", "inset feet", False),
        ("slanted", "sheet", True),
    ],
)
def test_only_straight_things_are_told_in_full(roof: str, kind: str, alike: bool) -> None:
    site, request = case(roof, kind)
    one, other = (Ground.of(site, request.panel_types, c) for c in (True, False))
    assert one.agrees_in_full(other) is alike


@pytest.mark.parametrize("kind", KINDS)
def test_limits_are_the_first_and_last_places_of_a_bare_roof(kind: str) -> None:
    site, request = case("plain", kind)
    for oriented in oriented_types(request.panel_types):
        span = np.array(limits(site, oriented))
        within = np.stack([np.ceil(span[:2] / TICK_M - 1e-3), np.floor(span[2:] / TICK_M + 1e-3)])
        places = within.astype(np.int64)
        assert allowed_places(site, oriented, places).all()
        for axis in (0, 1):
            beyond = places.copy()
            beyond[0, axis] -= 10
            beyond[1, axis] += 10
            assert not allowed_places(site, oriented, beyond).any()


@pytest.mark.parametrize(
    ("kind", "turns"),
    [
        ("sheet", [[0, 2], [1, 3]]),
        ("inset feet", [[0, 2], [1, 3]]),
        ("feet beyond its ends", [[0, 2]]),
        ("one corner foot", [[0], [1], [2], [3]]),
    ],
)
def test_turns_that_cover_the_same_roof_are_tried_once(kind: str, turns: list[list[int]]) -> None:
    _, request = case("plain", kind)
    found = oriented_types(request.panel_types)
    assert [turns_alike(oriented) for oriented in found] == turns
    assert [oriented.size for oriented in found][:2] == [(70_000, 40_000), (40_000, 70_000)][
        : len(found)
    ] or kind == "one corner foot"


def most_in_a_row(types: Sequence[tuple[int, set[int]]], end: int) -> int:
    """Most lengths that fit without overlap on a line, by trying every choice."""
    best = [0] * (end + 1)
    for here in range(end - 1, -1, -1):
        taken = [
            size + best[here + size]
            for size, places in types
            if here in places and here + size <= end
        ]
        best[here] = max([best[here + 1], *taken])
    return best[0]


@pytest.mark.parametrize("seed", range(30))
def test_positions_kept_along_an_axis_hold_as_much_as_all(seed: int) -> None:
    """Two sizes on a line of 30 with blocks that stop either; far fewer positions do as well."""
    random = np.random.default_rng(seed)
    end, sizes = 30, [int(size) for size in random.integers(3, 9, 2)]
    blocks = [(int(b), int(b + random.integers(1, 4))) for b in random.integers(0, 28, 2)]
    axes, open_places = [], []
    for size in sizes:
        low, high = int(random.integers(0, 3)), end - size
        barred = [(first - size, last) for first, last in blocks]
        free = {p for p in range(low, high + 1) if all(p <= a or p >= b for a, b in barred)}
        axes.append(
            Axis(
                size,
                size,
                low,
                high,
                frozenset(p for p in (low, *(b for _, b in barred)) if low <= p <= high),
                frozenset(p for p in (high, *(a for a, _ in barred)) if low <= p <= high),
            )
        )
        open_places.append(free)
    found = positions(axes, 20)
    assert found is not None
    kept, threshold = found
    every = most_in_a_row(list(zip(sizes, open_places, strict=True)), end)
    fewer = [set(k.tolist()) & free for k, free in zip(kept, open_places, strict=True)]
    assert most_in_a_row(list(zip(sizes, fewer, strict=True)), end) == every
    for axis, own in zip(axes, kept, strict=True):
        assert (np.diff(own) > 0).all()
        assert ((own >= axis.low) & (own <= axis.high)).all()
    assert 0 <= threshold <= end + 1


def test_a_chain_is_as_long_as_panels_are_wanted() -> None:
    """Panels of 5 pushed to 0 or against 23: one, two and three of them, then as many as fit."""
    axis = Axis(5, 5, 0, 18, frozenset([0]), frozenset([18]))
    for chain, forwards, backwards in (
        (1, [0], [18]),
        (2, [0, 5], [13, 18]),
        (3, [0, 5, 10], [8, 13, 18]),
        (9, [0, 5, 10, 15], [3, 8, 13, 18]),
    ):
        found = positions([axis], chain)
        assert found is not None
        (kept,), threshold = found
        expected = [p for p in forwards if p < threshold] + [p for p in backwards if p >= threshold]
        assert kept.tolist() == expected
        assert len(kept) <= min(len(forwards), len(backwards))


def test_a_chain_ends_at_the_margin_on_either_side() -> None:
    """Fewer stops at the rear, so all are pushed there: 23, 18, 13 and 8, since 3 is before 5."""
    axis = Axis(5, 5, 5, 23, frozenset([5, 6, 7]), frozenset([23]))
    found = positions([axis], 9)
    assert found is not None
    assert found[0][0].tolist() == [8, 13, 18, 23]


def test_where_fewest_are_left_by_pushing_all_to_one_side_all_are_pushed_there() -> None:
    """One stop at the margins and three more on the other side: one position, not two."""
    ahead = Axis(90, 90, 0, 20, frozenset([0]), frozenset([20, 8, 9, 10]))
    behind = Axis(90, 90, 0, 20, frozenset([0, 10, 11, 12]), frozenset([20]))
    for axis, only in ((ahead, 0), (behind, 20)):
        found = positions([axis], 3)
        assert found is not None
        assert found[0][0].tolist() == [only]


def test_a_type_stays_within_its_own_margins_where_another_begins_before_them() -> None:
    """All are pushed to the rear: 23, 18, 13 and 8, or 15 and 10 before the large one at 20."""
    large = Axis(90, 90, 0, 20, frozenset([0]), frozenset([20]))
    small = Axis(5, 5, 8, 23, frozenset([8, 9, 10, 11]), frozenset([23]))
    found = positions([large, small], 9)
    assert found is not None
    assert [kept.tolist() for kept in found[0]] == [[20], [8, 10, 13, 15, 18, 23]]


def test_a_type_without_a_place_has_no_positions() -> None:
    nothing = Axis(5, 5, 0, -1, frozenset(), frozenset())
    assert positions([nothing], 3) == ([pytest.approx([])], 0)


def test_plates_beyond_a_panel_ask_for_another_step() -> None:
    """Aligned neighbours stand 7 apart where plates reach 1 beyond each edge, else 5."""
    axis = Axis(5, 7, 0, 30, frozenset([0]), frozenset([30]))
    found = positions([axis], 3)
    assert found is not None
    (kept,), threshold = found
    assert set(kept.tolist()) >= {p for p in (0, 5, 7, 10, 12, 14) if p < threshold}
    assert set(kept.tolist()) <= {0, 5, 7, 10, 12, 14, 30, 25, 23, 20, 18, 16}


@pytest.mark.parametrize(
    ("kind", "meet", "clear"),
    [
        ("sheet", True, (72_000, 42_000)),
        ("inset feet", True, (72_000, 42_000)),
        ("feet beyond its ends", True, (90_000, 57_000)),
        ("feet beyond its ends", False, (72_000, 42_000)),
        ("one corner foot", True, (72_000, 42_000)),
    ],
)
def test_an_axis_knows_margins_things_and_how_far_plates_reach(
    kind: str, meet: bool, clear: tuple[int, int]
) -> None:
    """0.7 × 0.4 m and a gap of 0.02 m; plates of 0.08 × 0.05 m, 0.06 m outside of every edge.

    They reach 0.06 + 0.04 m beyond the ends and 0.06 + 0.025 m beyond the sides.
    """
    site, request = case("hatch", kind)
    oriented = oriented_types(request.panel_types)[0]
    no = np.array([[0.03, 0.43, 1.37, 1.27], [0.5, -0.2, 3.4, 0.1]])
    found = [axis_of(oriented, 2_000, limits(site, oriented), no, axis, meet) for axis in (0, 1)]
    assert tuple(axis.clear_size for axis in found) == clear
    assert tuple(axis.size for axis in found) == (72_000, 42_000)
    along, across = found
    # Margins of 0.12, 0.05 and 0.08 m on 3 × 1.8 m; plates that stick out keep to the roof.
    ends = (
        (12_000, 220_000, 8_500, 131_500) if "beyond" in kind else (12_000, 225_000, 8_000, 132_000)
    )
    assert (along.low, along.high, across.low, across.high) == ends
    assert along.stops_low == {along.low, 137_000}
    assert along.stops_high == {along.high, 50_000}
    assert across.stops_low == {across.low, 127_000, 10_000}
    assert across.stops_high == {across.high, 43_000}


def test_what_begins_or_ends_at_a_margin_stops_a_panel_there() -> None:
    """A panel just before what begins at its first place, or just behind what ends at its last."""
    site, request = case("plain", "sheet")
    oriented = oriented_types(request.panel_types)[0]
    span = limits(site, oriented)
    whole = np.array([list(span)])
    for axis in (0, 1):
        found = axis_of(oriented, 2_000, span, whole, axis, False)
        assert found.stops_low == found.stops_high == {found.low, found.high}


def test_crossings_by_half_a_tick_within_a_rectangle_are_left_out() -> None:
    """Of 12 × 9 ticks those from 4 to 8 and from 3 to 5: on the edge, or 0.4 beyond, is outside."""
    x, y = np.arange(12), np.arange(9)
    for shift in (0.0, 0.4, -0.4):
        no = (np.array([[3.0, 2.0, 9.0, 6.0]]) + shift) * TICK_M
        told = {(int(a), int(b)) for a, b in _between(x, y, no)}
        within = {(a, b) for a in range(4, 9) for b in range(3, 6)}
        assert told == {(int(a), int(b)) for a in x for b in y} - within


def test_corners_micrometres_apart_make_no_rectangle_without_a_size() -> None:
    """Two corners 2 µm apart along the roof, which is what rounding takes from both."""
    for apart in (1e-6, 2e-6, 3e-6):
        points = [[0, 0], [0, 1.8], [1.5, 1.8], [1.5 + apart, 1.7], [3, 1.7], [3, 0]]
        site, request = case("plain", "sheet")
        outline = shapely.Polygon(points)
        for cautious in (True, False):
            ground = Ground.of(replace(site, outline=outline), request.panel_types, cautious)
            for no in ground.forbidden:
                assert np.isfinite(no).all()
                assert (no[:, 2:] > no[:, :2]).all()


@pytest.mark.parametrize("kind", ["sheet", "feet beyond its ends"])
@pytest.mark.parametrize("roof", ["rounded", "notched", "vent"])
def test_sound_places_are_held_against_the_roof_and_those_of_a_bound_are_not(
    roof: str, kind: str
) -> None:
    """Rectangles say nothing of plates beyond a slanted edge, and too little of what is curved."""
    site, request = case(roof, kind)
    allowed: list[list[bool]] = []
    for cautious in (True, False):
        ground = Ground.of(site, request.panel_types, cautious)
        found = candidates_of(ground, 2, 10**6, 10**9)
        assert found is not None
        allowed.append([])
        for index, oriented in enumerate(found.orientations):
            own = found.corners[found.orientation == index]
            allowed[-1] += allowed_places(site, oriented, own).tolist()
    assert all(allowed[0])
    assert len(allowed[0]) > 3
    assert roof != "notched" or not all(allowed[1])


@pytest.mark.parametrize("kind", ["sheet", "inset feet"])
def test_places_are_given_up_where_they_are_too_many_or_take_too_much_work(kind: str) -> None:
    site, request = case("hatch", kind)
    ground = Ground.of(site, request.panel_types, cautious=True)
    found = candidates_of(ground, 3, 10**6, 10**9)
    assert found is not None
    for most_raw, work in ((3, 10**9), (10**6, len(found))):
        assert candidates_of(ground, 3, most_raw, work) is None
        fewer = candidates_of(ground, 3, most_raw, work, fewer_stops=True)
        for index, oriented in enumerate(ground.orientations if fewer else ()):
            own = fewer.corners[fewer.orientation == index]
            assert allowed_places(site, oriented, own).all()
    if kind == "inset feet":  # four distances to edge and hatch for the feet, three for the panel
        assert candidates_of(ground, 3, 10**6, 10 * len(found)) is None
        assert candidates_of(ground, 3, 10**6, 60 * len(found)) is not None
    work = 20 * len(found)
    thinned = candidates_by_type(ground, [3], work)
    assert len(thinned) <= len(found)
    assert len(candidates_by_type(ground, [3], 10**9)) == len(found)


@pytest.mark.parametrize(
    ("kinds", "meet"),
    [
        (["sheet"], False),
        (["inset feet"], False),
        (["feet beyond its ends"], True),
        (["a foot beyond one end"], True),
        (["sheet", "feet beyond its ends"], True),
    ],
)
def test_plates_meet_where_those_of_any_type_reach_far(kinds: list[str], meet: bool) -> None:
    site, _ = case("plain", "sheet")
    types = [case("plain", kind)[1].panel_types[0] for kind in kinds]
    assert plates_meet(Ground.of(site, types, cautious=True)) is meet


@pytest.mark.parametrize(
    ("kind", "steps"),
    [
        ("sheet", [(0, 0), (0, 0)]),
        ("inset feet", [(0, 0), (0, 0)]),
        ("feet beyond its ends", [(8_000, 5_000)]),
        ("a foot beyond one end", [(8_000, 0), (0, 8_000), (8_000, 0), (0, 8_000)]),
    ],
)
def test_panels_stand_aside_by_a_plate_where_plates_reach_a_neighbour(
    kind: str, steps: list[tuple[int, int]]
) -> None:
    """Plates of 0.08 × 0.05 m, on the axes on which they reach beyond the panel by half a gap."""
    site, request = case("plain", kind)
    oriented = oriented_types(request.panel_types)
    place = np.array([[100_000, 60_000]])
    found = moved_aside(site, united(oriented, [place] * len(oriented), 2_000), 10**9)
    told = [found.corners[found.orientation == index] - place for index in range(len(oriented))]
    assert [{(int(x), int(y)) for x, y in own} for own in told] == [
        {(0, 0), (x, 0), (-x, 0), (0, y), (0, -y)} for x, y in steps
    ]


def test_fewer_stops_keep_the_margins() -> None:
    axis = Axis(5, 5, 0, 18, frozenset([0, 3, 7, 9]), frozenset([18, 14, 11]))
    fewer = axis.fewer_stops(2)
    assert (fewer.stops_low, fewer.stops_high) == ({0, 7}, {18, 11})
    assert axis.fewer_stops(1) == axis


@pytest.mark.parametrize("kind", ["sheet", "inset feet"])
@pytest.mark.parametrize("roof", ["plain", "rear cut", "vent", "notched", "turned hatch", "seams"])
def test_a_panel_alone_is_tried_where_something_stops_it_both_ways(roof: str, kind: str) -> None:
    """Margins, or the end of a forbidden rectangle beside it, on the side that it is pushed to."""
    site, request = case(roof, kind)
    ground = Ground.of(site, request.panel_types, cautious=False)
    found = candidates_of(ground, 1, 10**6, 10**9)
    assert found is not None
    axes = [
        [
            axis_of(v, 2_000, limits(site, v), no, axis, False)
            for v, no in zip(ground.orientations, ground.forbidden, strict=True)
        ]
        for axis in (0, 1)
    ]
    frames = [positions(one, 1) for one in axes]
    for i, no in enumerate(ground.forbidden):
        told = {(int(x), int(y)) for x, y in found.corners[found.orientation == i]}
        rectangles = no / TICK_M
        open_ones = [
            (x, y)
            for x in frames[0][0][i]
            for y in frames[1][0][i]
            if not (
                (rectangles[:, 0] < x - 0.5)
                & (rectangles[:, 2] > x + 0.5)
                & (rectangles[:, 1] < y - 0.5)
                & (rectangles[:, 3] > y + 0.5)
            ).any()
        ]
        stopped = [
            spot
            for spot in open_ones
            if all(
                _stopped(rectangles, spot, axis, axes[axis][i], frames[axis][1]) for axis in (0, 1)
            )
        ]
        assert told == {(int(x), int(y)) for x, y in stopped}


def _stopped(rectangles: Floats, spot: tuple[int, int], axis: int, own: Axis, parting: int) -> bool:
    here, aside = spot[axis], spot[1 - axis]
    margin, side = (own.low, axis + 2) if here < parting else (own.high, axis)
    beside = (rectangles[:, 1 - axis] <= aside + 1) & (rectangles[:, 3 - axis] >= aside - 1)
    touches = np.abs(rectangles[:, side] - here) < 1.0
    return here == margin or bool((touches & beside).any())
