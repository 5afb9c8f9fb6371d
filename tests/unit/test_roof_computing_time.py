"""Looking for places takes a bounded count of work, however many things stop feet."""

from itertools import product
from typing import Any

import msgspec
import numpy as np
import pytest
import shapely

from sunhitch.types.roof import (
    FootSpot,
    LayoutSearch,
    PlacedPanel,
    Roof,
    RoofLayoutRequest,
    RoundObstacle,
)
from sunhitch_service.engine.arrays import Floats, Integers, Mask
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.roof import candidates
from sunhitch_service.engine.roof.computing_time import expected_ms, settling_ms
from sunhitch_service.engine.roof.forbidden import Ground
from sunhitch_service.engine.roof.geometry import line_distance
from sunhitch_service.engine.roof.layout import roof_layout
from sunhitch_service.engine.roof.orientations import OrientedType, allowed_places
from sunhitch_service.engine.roof.site import RoofSite, resolve_site

LENGTH_M, WIDTH_M = 12.0, 2.5


def seams(
    lines: int, points: int, feet: tuple[int, int], types: int, inset_m: float, lean_m: float = 0.5
) -> RoofLayoutRequest:
    def seam(number: int) -> dict[str, Any]:
        start = 0.2 + 0.9 * LENGTH_M * number / lines
        ends = zip(
            np.linspace(start, start + lean_m, points),
            np.linspace(0.0, WIDTH_M, points),
            strict=True,
        )
        course = [[float(x), float(y)] for x, y in ends]
        return {
            "name": f"seam {number}",
            "feature": "seam",
            "points": course,
            "keep_off_m": lean_m / 100,
        }

    def kind(number: int) -> dict[str, Any]:
        body = {
            "length_m": 0.6 + 0.083 * number,
            "width_m": 0.45 + 0.031 * number,
            "thickness_m": 0.003,
            "mass_kg": 2.0,
            "construction": "flexible",
        }
        plates = {
            "plate_length_m": 0.02,
            "plate_width_m": 0.02,
            "rows_along_length": feet[0],
            "columns_along_width": feet[1],
            "edge_inset_m": inset_m,
        }
        name, power = f"sheet {number}", 40.0 + 13.0 * number
        return {"name": name, "body": body, "p_mp_w": power, "panels_wanted": 20, "feet": plates}

    outline = {"kind": "rectangle", "length_m": LENGTH_M, "width_m": WIDTH_M}
    roof = {"outline": outline, "no_foot_lines": [seam(i) for i in range(lines)]}
    request = {"roof": roof, "panel_types": [kind(i) for i in range(types)]}
    return msgspec.convert(request, RoofLayoutRequest)


@pytest.mark.parametrize(
    ("lines", "points", "feet", "types", "inset_m"),
    [
        (3, 2, (3, 2), 2, 0.03),
        (3, 2, (3, 2), 2, -0.03),
        (10, 2, (4, 3), 2, 0.03),
        (20, 5, (8, 4), 1, 0.03),
        (100, 30, (12, 8), 1, 0.03),
    ],
)
def test_distances_to_lines_stay_within_the_work_allowed(
    monkeypatch: pytest.MonkeyPatch,
    lines: int,
    points: int,
    feet: tuple[int, int],
    types: int,
    inset_m: float,
) -> None:
    """Sound places are checked, and once more where they stand aside for plates."""
    work, taken = 1_000_000, 0

    def counted(site: RoofSite, oriented: OrientedType, corners: Integers) -> Mask:
        nonlocal taken
        taken += len(corners) * len(oriented.plates) * lines * (points - 1)
        return allowed_places(site, oriented, corners)

    monkeypatch.setattr(candidates, "allowed_places", counted)
    request = seams(lines, points, feet, types, inset_m)
    site = resolve_site(request.roof, None, Assumptions())
    ground = Ground.of(site, request.panel_types, cautious=True)
    narrow = candidates.candidates_by_type(ground, [20] * types, work)
    found = candidates.moved_aside(site, narrow, work)
    assert 0 < taken <= 2 * work
    for index, oriented in enumerate(found.orientations):
        assert allowed_places(site, oriented, found.corners[found.orientation == index]).all()
    if lines <= 10:
        assert len(found)


def _power_in_plain_rows(request: RoofLayoutRequest) -> float:
    """Rows of equal pitch, filled from the front with the type that gives most for its roof."""
    library: Any = shapely
    lines = library.union_all(
        [shapely.LineString(line.points).buffer(0.005) for line in request.roof.no_foot_lines]
    )
    kinds = sorted(request.panel_types, key=lambda k: -k.p_mp_w / k.body.length_m / k.body.width_m)
    left = {kind.name: kind.panels_wanted or 0 for kind in kinds}
    power = 0.0
    for y in np.arange(0.05, WIDTH_M - 0.6, 0.565):
        x = 0.1
        while x < LENGTH_M:
            step = 0.005
            for kind in kinds:
                length, width = kind.body.length_m, kind.body.width_m
                middles = product((0.03, length / 2, length - 0.03), (0.03, width - 0.03))
                feet = [
                    library.box(x + a - 0.01, y + b - 0.01, x + a + 0.01, y + b + 0.01)
                    for a, b in middles
                ]
                fits = x + length <= LENGTH_M - 0.05 and not library.intersects(lines, feet).any()
                if fits and left[kind.name]:
                    left[kind.name] -= 1
                    power, step = power + kind.p_mp_w, length + 0.02
                    break
            x += step
    return power


def test_crowded_roofs_hold_at_least_what_plain_rows_hold() -> None:
    request = seams(10, 2, (3, 2), 4, 0.03)
    search = LayoutSearch(time_limit_s=1.0)
    proof = roof_layout(msgspec.structs.replace(request, search=search)).plan.proof
    assert 3000.0 < _power_in_plain_rows(request) <= proof.power_w <= proof.power_at_most_w


@pytest.mark.parametrize(("rows", "plain"), [(2, True), (12, False)])
def test_rectangles_left_out_are_not_taken_for_the_whole_truth(rows: int, plain: bool) -> None:
    """Straight lines: 100 of them under 4 feet are reckoned with in full, under 24 not."""
    request = seams(100, 2, (rows, 2), 1, 0.03, lean_m=0.0)
    site = resolve_site(request.roof, None, Assumptions())
    grounds = [Ground.of(site, request.panel_types, cautious) for cautious in (True, False)]
    assert grounds[0].agrees_in_full(grounds[1]) is plain


def stops_ms(
    points: list[list[float]], feet: list[int], lines: int = 1, searches: int = 1
) -> float:
    """What lines add to the estimate of a roof."""
    seam = {"name": "s", "feature": "seam", "points": points}
    bare = {"outline": {"kind": "rectangle", "length_m": LENGTH_M, "width_m": WIDTH_M}}
    with_lines = bare | {"no_foot_lines": [seam | {"name": f"s{k}"} for k in range(lines)]}
    one, other = (
        settling_ms(msgspec.convert(roof, Roof), feet, 4, 1.0, searches)
        for roof in (with_lines, bare)
    )
    return one - other


def test_lines_take_time_by_their_pieces_and_feet_up_to_what_is_reckoned_with() -> None:
    """A straight run is one piece, 1.5 m of slanted run 13 of 0.12 m; 1000 are the most."""
    straight = stops_ms([[1.0, 0.0], [1.0, 2.0]], [4])
    assert straight > 0.0
    assert stops_ms([[0.0, 1.0], [2.0, 1.0]], [4]) == pytest.approx(straight)
    assert stops_ms([[0.0, 0.0], [0.9, 1.2]], [4]) == pytest.approx(13 * straight)
    assert stops_ms([[0.0, 0.0], [0.0, 1.0], [1.0, 1.0]], [4]) == pytest.approx(2 * straight)
    assert stops_ms([[1.0, 0.0], [1.0, 2.0]], [8, 4]) == pytest.approx(3 * straight)
    assert stops_ms([[1.0, 0.0], [1.0, 2.0]], [4], searches=3) == pytest.approx(3 * straight)
    most = [stops_ms([[1.0, 0.0], [1.0, 2.0]], [feet], 100) for feet in (9, 10, 11, 24)]
    assert most == pytest.approx([225 * straight, *[250 * straight] * 3])


def test_a_search_takes_its_limit_and_given_places_a_bound() -> None:
    roof = msgspec.convert({"outline": {"kind": "rectangle", "length_m": 4, "width_m": 2}}, Roof)
    longer = settling_ms(roof, [0], 4, 3.0) - settling_ms(roof, [0], 4, 2.0)
    assert longer == pytest.approx(1000.0)
    panel = settling_ms(roof, [0], 5) - settling_ms(roof, [0], 4)
    assert panel > 0.0
    assert settling_ms(roof, [0], 9) - settling_ms(roof, [0], 4) == pytest.approx(5 * panel)
    one, two, three = (settling_ms(roof, [0] * types, 4) for types in (1, 2, 3))
    assert three - two == pytest.approx((two - one) * 5 / 3)  # squares: 9 − 4 to 4 − 1


def test_the_estimate_counts_panels_feet_and_roofs_that_are_searched() -> None:
    request = seams(4, 2, (3, 2), 2, 0.03, lean_m=0.0)
    roof, limit_s = request.roof, request.search.time_limit_s
    assert expected_ms(request) == settling_ms(roof, [6, 6], 40, limit_s, 1)
    vent = RoundObstacle(name="vent", x_m=1.0, y_m=1.0, diameter_m=0.2)
    with_vents = msgspec.structs.replace(
        roof, obstacles=[vent, msgspec.structs.replace(vent, name="other")]
    )
    tried = msgspec.structs.replace(request, roof=with_vents, try_without_obstacles=True)
    assert expected_ms(tried) == settling_ms(with_vents, [6, 6], 40, limit_s, 3)
    tried = msgspec.structs.replace(tried, try_without_obstacles=False)
    assert expected_ms(tried) == settling_ms(with_vents, [6, 6], 40, limit_s, 1)
    place = PlacedPanel(name="p", panel_type="sheet 0", x_m=0.5, y_m=0.5)
    held = msgspec.structs.replace(request, placements=[place])
    assert expected_ms(held) == settling_ms(roof, [6, 6], 1)
    spot = msgspec.structs.replace(
        request.panel_types[0].feet, points=[FootSpot(along_length_m=0.1, along_width_m=0.1)]
    )
    bare, spotted = (
        msgspec.structs.replace(request.panel_types[0], feet=feet, panels_wanted=None)
        for feet in (None, spot)
    )
    uncounted = msgspec.structs.replace(request, panel_types=[bare, spotted])
    more = expected_ms(uncounted) - settling_ms(roof, [0, 1], 0, limit_s)
    assert more == pytest.approx(24 * (settling_ms(roof, [0], 1) - settling_ms(roof, [0], 0)))


@pytest.mark.parametrize("seed", range(5))
def test_distance_to_a_slanted_line_is_that_of_the_geometry_library(seed: int) -> None:
    rng = np.random.default_rng(seed)
    course = shapely.LineString(rng.uniform(0.0, 3.0, (int(rng.integers(2, 6)), 2)))
    corner = rng.uniform(0.0, 3.0, (500, 2))
    boxes: Floats = np.concatenate([corner, corner + rng.uniform(0.01, 0.5, (500, 2))], axis=1)
    library: Any = shapely
    expected: Floats = library.distance(course, library.box(*boxes.T))
    assert line_distance(course, boxes) == pytest.approx(expected, abs=1e-12)
    assert 0 < np.count_nonzero(expected == 0.0) < 500
