"""Layouts against published packing facts, known cuttings and exhaustive search."""

from functools import cache

import numpy as np
import pytest

from outside_figures import Outside
from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import (
    EdgeMargins,
    FrontCorners,
    LayoutSearch,
    Obstacle,
    RectangularObstacle,
    Roof,
    RoofLayoutRequest,
    RoofPanelType,
    RoofPolygon,
    RoofRectangle,
    RoundObstacle,
)
from sunhitch_service.engine.roof.bounds import dual_bound
from sunhitch_service.engine.roof.layout import roof_layout

UNIT_M = 0.05
FLUSH = EdgeMargins(front_m=0.0, rear_m=0.0, side_m=0.0)


def _panel(length: float, width: float, **more: object) -> RoofPanelType:
    body = PanelBody(
        length_m=length, width_m=width, thickness_m=0.003, mass_kg=1.0, construction="flexible"
    )
    return RoofPanelType(name=f"{length:.3f}x{width:.3f}", body=body, p_mp_w=10.0, **more)


def _flush(
    roof: RoofRectangle | RoofPolygon,
    kinds: list[RoofPanelType],
    obstacles: list[Obstacle] | None = None,
) -> RoofLayoutRequest:
    """No margins, no gaps: the plain packing problem."""
    return RoofLayoutRequest(
        roof=Roof(outline=roof, margins=FLUSH, obstacles=obstacles or []),
        panel_types=kinds,
        min_gap_m=0.0,
        search=LayoutSearch(time_limit_s=20.0),
    )


# Pallet loading: identical boxes a × b on a pallet X × Y. The optima are those of the literature
# (Dowsland 1987; Letchford and Amaral 2001; Martins and Dell 2008), recalled from memory. None of
# them can be reached by straight cuts from edge to edge alone. The area bound is arithmetic.
PALLETS = [
    ((22, 16, 5, 3), 23),
    ((14, 10, 3, 2), 23),
    ((43, 26, 7, 3), 53),
]


@pytest.mark.parametrize(("pallet", "optimum"), PALLETS)
def test_pallet_loading_optima(
    pallet: tuple[int, int, int, int], optimum: int, outside: Outside
) -> None:
    x, y, a, b = pallet
    roof = RoofRectangle(length_m=x * UNIT_M, width_m=y * UNIT_M)
    answer = roof_layout(_flush(roof, [_panel(a * UNIT_M, b * UNIT_M)]))
    outside(
        answer.plan.proof.panels_placed,
        optimum,
        of=f"boxes of {a} × {b} on a pallet of {x} × {y}",
        source="pallet loading: Dowsland 1987, Letchford and Amaral 2001, Martins and Dell 2008",
        seen="recalled",
    )
    assert answer.plan.proof.proven
    assert optimum <= x * y // (a * b)


def test_the_pinwheel_beats_rows_even_around_a_vent() -> None:
    """Four panels of 0.6 × 0.4 m around a square hole of 0.2 m; rows hold two or three."""
    roof = RoofRectangle(length_m=1.0, width_m=1.0)
    vent = RectangularObstacle(
        name="vent", x_m=0.4, y_m=0.4, length_m=0.2, width_m=0.2, clearance_m=0.0
    )
    answer = roof_layout(_flush(roof, [_panel(0.6, 0.4)], [vent]))
    assert (answer.plan.proof.panels_placed, answer.plan.proof.proven) == (4, True)
    assert {(p.x_m, p.y_m) for p in answer.plan.panels} in (
        {(0.0, 0.0), (0.6, 0.0), (0.4, 0.6), (0.0, 0.4)},
        {(0.0, 0.0), (0.4, 0.0), (0.6, 0.4), (0.0, 0.6)},
    )
    rows = roof_layout(_flush(roof, [_panel(0.6, 0.4, orientation="along")]))
    assert (rows.plan.proof.panels_placed, rows.plan.proof.proven) == (2, True)
    assert rows.plan.proof.panels_at_most == 2  # four by area


def test_a_known_guillotine_cutting_is_found_again() -> None:
    """3 × 4 panels that cut the roof up without rest: area leaves no room for more."""
    roof = RoofRectangle(length_m=3.6, width_m=2.0)
    answer = roof_layout(_flush(roof, [_panel(1.2, 0.5)]))
    assert answer.plan.proof.panels_placed == 12
    assert answer.plan.area_use_fraction == pytest.approx(1.0)


def test_a_roof_cut_into_three_sizes_is_filled_again() -> None:
    """Straight cuts from edge to edge leave no rest, so placing every piece is the optimum.

    2.4 × 1.6 m: a strip of 0.6 m holds four of 0.6 × 0.6 m; the rest, 2.4 × 1.0 m, is cut at
    1.5 m into three of 0.5 × 1.0 m and, 0.9 × 1.0 m, four of 0.45 × 0.5 m.
    """
    pieces = ((0.6, 0.6, 4), (0.5, 1.0, 3), (0.45, 0.5, 4))
    kinds = [_panel(length, width, panels_wanted=n) for length, width, n in pieces]
    answer = roof_layout(_flush(RoofRectangle(length_m=2.4, width_m=1.6), kinds))
    assert (answer.plan.proof.how, len(answer.plan.panels)) == ("everything-placed", 11)
    assert answer.plan.area_use_fraction == pytest.approx(1.0)


def test_gaps_and_margins_count_once_between_and_beside() -> None:
    """Three panels of 1.2 m need 3·1.2 + 2·0.03 m; with 1 mm less only two rows of length fit."""
    for length, count in ((0.1 + 3.66 + 0.05, 3), (0.1 + 3.659 + 0.05, 2)):
        request = RoofLayoutRequest(
            roof=Roof(
                outline=RoofRectangle(length_m=length, width_m=0.6),
                margins=EdgeMargins(front_m=0.1, rear_m=0.05, side_m=0.05),
            ),
            panel_types=[_panel(1.2, 0.5, orientation="along")],
            min_gap_m=0.03,
        )
        answer = roof_layout(request)
        assert (answer.plan.proof.panels_placed, answer.plan.proof.proven) == (count, True)


def _blocked_cells(obstacles: list[tuple[int, int, int, int]], x: int, y: int) -> int:
    mask = 0
    for x1, y1, x2, y2 in obstacles:
        for i in range(max(x1, 0), min(x2, x)):
            for j in range(max(y1, 0), min(y2, y)):
                mask |= 1 << (i * y + j)
    return mask


def _exhaustive(x: int, y: int, a: int, b: int, blocked: int) -> int:
    """Most boxes a × b on a grid x × y at whole positions, by trying everything.

    Sizes, roof and obstacles are whole units, so that pushing every box forwards and left until it
    stops ends at whole positions: nothing between them can hold more.
    """
    shapes = {(a, b), (b, a)}

    def mask(i: int, j: int, w: int, h: int) -> int:
        return sum(1 << ((i + p) * y + j + q) for p in range(w) for q in range(h))

    placements: list[list[int]] = [[] for _ in range(x * y)]
    for w, h in shapes:
        for i in range(x - w + 1):
            for j in range(y - h + 1):
                placements[i * y + j].append(mask(i, j, w, h))

    @cache
    def best(cell: int, used: int) -> int:
        if cell == x * y:
            return 0
        rest = used & ~((1 << cell) - 1)
        found = best(cell + 1, rest)
        for m in placements[cell]:
            if not m & rest:
                found = max(found, 1 + best(cell + 1, rest | m))
        return found

    return best(0, blocked)


@pytest.mark.parametrize("seed", range(24))
def test_small_roofs_against_exhaustive_search(seed: int, outside: Outside) -> None:
    random = np.random.default_rng(seed)
    x, y = (int(n) for n in random.integers(4, 9, 2))
    a, b = ((3, 2), (2, 1), (4, 1), (3, 1))[seed % 4]
    spots = [(int(random.integers(0, x)), int(random.integers(0, y))) for _ in range(seed % 3)]
    obstacles = [
        RectangularObstacle(
            name=f"o{i}", x_m=p * 0.1, y_m=q * 0.1, length_m=0.1, width_m=0.1, clearance_m=0.0
        )
        for i, (p, q) in enumerate(spots)
    ]
    roof = RoofRectangle(length_m=x * 0.1, width_m=y * 0.1)
    answer = roof_layout(_flush(roof, [_panel(a * 0.1, b * 0.1)], list(obstacles)))
    blocked = _blocked_cells([(p, q, p + 1, q + 1) for p, q in spots], x, y)
    outside(
        answer.plan.proof.panels_placed,
        _exhaustive(x, y, a, b, blocked),
        of=f"panels of {a} × {b} on a roof of {x} × {y}, vents at {sorted(spots)}",
        source="exhaustive search",
        kind="hand-worked",
    )
    assert answer.plan.proof.proven
    assert answer.plan.proof.power_at_most_w == pytest.approx(answer.plan.proof.power_w)


def test_an_l_shaped_roof_against_exhaustive_search() -> None:
    corners = [[0, 0], [0, 0.8], [0.9, 0.8], [0.9, 0.4], [0.5, 0.4], [0.5, 0.0]]
    answer = roof_layout(_flush(RoofPolygon(points=corners), [_panel(0.3, 0.2)]))
    blocked = _blocked_cells([(5, 0, 9, 4)], 9, 8)
    assert answer.plan.proof.panels_placed == _exhaustive(9, 8, 3, 2, blocked)
    assert answer.plan.proof.proven


def test_two_types_against_trying_every_mix(outside: Outside) -> None:
    """0.4 × 0.2 m at 30 W and 0.3 × 0.3 m at 32 W on 0.7 × 0.5 m, which is 35 cells.

    By area, 3 squares and 1 long panel (126 W) would be the most, then 2 and 2 (124 W). Three
    squares are impossible: any two of them overlap across (0.3 + 0.3 > 0.5), so all three would
    have to follow each other along (0.9 > 0.7). Two squares in opposite corners with a long panel
    in each of the other two reach 124 W.
    """
    kinds = [
        RoofPanelType(name="long", body=_panel(0.4, 0.2).body, p_mp_w=30.0),
        RoofPanelType(name="square", body=_panel(0.3, 0.3).body, p_mp_w=32.0),
    ]
    answer = roof_layout(_flush(RoofRectangle(length_m=0.7, width_m=0.5), kinds))
    outside(
        answer.plan.proof.power_w,
        124.0,
        rel=1e-6,
        of="two types on 0.7 × 0.5 m",
        source="every mix tried by hand",
        unit="W",
        kind="hand-worked",
    )
    assert answer.plan.proof.proven


def test_the_bound_holds_beside_discs_and_rounded_corners() -> None:
    """No layout beats area: what is found, the bound, and area stand in this order."""
    request = RoofLayoutRequest(
        roof=Roof(
            outline=RoofRectangle(
                length_m=3.0,
                width_m=1.9,
                front_corners=FrontCorners(shape="rounded", size_m=0.35),
            ),
            obstacles=[RoundObstacle(name="vent", x_m=1.3, y_m=0.9, diameter_m=0.3)],
        ),
        panel_types=[_panel(1.0, 0.5)],
    )
    proof = roof_layout(request).plan.proof
    assert 0.0 < proof.power_w <= proof.power_at_most_w <= proof.area_power_at_most_w


@pytest.mark.parametrize("seed", range(20))
def test_dual_bound_against_every_selection(seed: int) -> None:
    """On small random problems the certificate is never below the best of all 2^n selections."""
    from scipy.sparse import csr_array

    random = np.random.default_rng(seed)
    rows = (random.random((6, 9)) < 0.4).astype(float)
    rows[random.integers(0, 6, 9), np.arange(9)] = 1.0
    values = random.integers(1, 20, 9).astype(float)
    capacities = random.integers(1, 3, 6).astype(float)
    best = 0.0
    for code in range(2**9):
        chosen = np.array([(code >> i) & 1 for i in range(9)], dtype=float)
        if (rows @ chosen <= capacities).all():
            best = max(best, float(values @ chosen))
    bound = dual_bound(csr_array(rows), capacities, values)
    assert best <= bound + 1e-9
    assert bound <= float(values.sum()) * 2.0 + 1e-9
