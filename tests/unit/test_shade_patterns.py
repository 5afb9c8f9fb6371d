"""The worst and the kindest pattern of a shadow against every placement there is."""

from collections.abc import Iterator
from itertools import product
from typing import cast

import pytest

from sunhitch import build
from sunhitch.types.panel import CellLayout, ConstructionName, Panel, PanelElectrical
from sunhitch.types.quick.shades import QuickShadedPower, ShadedPowerQuestion
from sunhitch.types.shade import ShadedIvRequest, Sun
from sunhitch_service.engine.pv.presets import preset_layout
from sunhitch_service.engine.shade.calculation import shaded_iv
from sunhitch_service.engine.shade.patterns import ShadePattern, light_grid, patterns
from sunhitch_service.quick.shades import shaded_power

SAME = 0.01
"""What is left between placements that reach the same groups and paths, as a share of the power
without shade."""


def plate(cells: int) -> PanelElectrical:
    """A panel of 100 W and 36 cells, cut down to fewer."""
    share = cells / 36
    return PanelElectrical(
        p_mp_w=100.0 * share,
        v_mp_v=19.0 * share,
        i_mp_a=5.27,
        v_oc_v=22.6 * share,
        i_sc_a=5.62,
        cells_in_series=cells,
    )


def counts(total: int, rooms: list[int]) -> Iterator[tuple[int, ...]]:
    """Every way to put so many shaded cells into rooms of these sizes."""
    if not rooms:
        if total == 0:
            yield ()
        return
    for own in range(min(total, rooms[0]) + 1):
        for rest in counts(total - own, rooms[1:]):
            yield (own, *rest)


def every_placement(layout: CellLayout, cells: int) -> set[ShadePattern]:
    """All of them that differ: order within a path, of paths and of equal groups does not count."""
    sizes = sorted((g.last - g.first + 1 for g in layout.bypass), reverse=True)
    paths = layout.paths_in_parallel
    found: set[ShadePattern] = set()
    for flat in counts(cells, [size for size in sizes for _ in range(paths)]):
        own = [
            (-sizes[k], tuple(sorted(flat[k * paths : (k + 1) * paths], reverse=True)))
            for k in range(len(sizes))
        ]
        found.add(tuple(each for _, each in sorted(own)))
    return found


def power_w(
    construction: ConstructionName, cells: int, pattern: ShadePattern, share: float
) -> float:
    layout = preset_layout(construction, cells)
    kind = Panel(electrical=plate(cells), construction=construction)
    panels, wiring = build.array(kind, 1, 1, {"1-1": light_grid(layout, pattern, share)})
    sun = Sun(irradiance_w_m2=1000.0, cell_temperature_c=25.0)
    answer = shaded_iv(ShadedIvRequest(panels=panels, wiring=wiring, sun=sun))
    return answer.maximum_power_point.power_w


def asked(construction: ConstructionName, cells: int, shaded: int, **more) -> QuickShadedPower:
    own = plate(cells)
    return shaded_power(
        ShadedPowerQuestion(
            p_mp_w=own.p_mp_w,
            v_mp_v=own.v_mp_v,
            i_mp_a=own.i_mp_a,
            v_oc_v=own.v_oc_v,
            i_sc_a=own.i_sc_a,
            cells_in_series=cells,
            shaded_cells=shaded,
            construction=construction,
            **more,
        )
    )


@pytest.mark.parametrize("share", [0.0, 0.15, 0.6])
@pytest.mark.parametrize(
    ("construction", "cells", "shaded"),
    [
        ("full-cell-2-diodes", 8, [1, 2, 3, 5, 8]),
        ("full-cell-3-diodes", 9, [2, 4]),
        ("full-cell-no-diode", 6, [1, 4]),
        ("half-cell-2-diodes", 8, [1, 2, 4, 6, 9, 15]),
        ("half-cell-3-diodes", 6, [3, 6]),
        ("diode-every-2-cells", 12, [3, 7]),
    ],
)
def test_no_placement_is_worse_or_kinder_than_told(construction, cells, shaded, share):
    name = cast("ConstructionName", construction)
    layout = preset_layout(name, cells)
    whole = power_w(name, cells, tuple((0,) * layout.paths_in_parallel for _ in layout.bypass), 1.0)
    for number in shaded:
        powers = [power_w(name, cells, s, share) for s in every_placement(layout, number)]
        told = asked(name, cells, number, light_fraction=share)
        assert told.power_w <= min(powers) + SAME * whole
        assert told.best_power_w >= max(powers) - SAME * whole
        assert told.power_w >= min(powers) - 1e-6 * whole
        assert told.best_power_w <= max(powers) + 1e-6 * whole


def test_a_shadow_on_one_group_or_on_both_paths_of_both_groups():
    """One and the same number of shaded cells costs a third of the power, or four fifths.

    By hand: one of two groups bypassed leaves half; the same four cells on one path of a group
    leave the other path, and three quarters; on every path of both groups the light that they get.
    """
    told = asked("half-cell-2-diodes", 36, 4, light_fraction=0.15)
    assert told.power_w == pytest.approx(0.18 * told.unshaded_w, abs=0.04 * told.unshaded_w)
    assert told.best_power_w > 0.6 * told.unshaded_w
    assert told.lost_fraction == pytest.approx(1.0 - told.power_w / told.unshaded_w)
    assert told.pattern == "2 of 2 bypass groups of a shaded panel, 4 of their 4 paths."
    assert told.best_pattern == "1 of 2 bypass groups of a shaded panel, 1 of their 4 paths."


def test_shaded_panels_on_one_string_or_on_each():
    told = asked(
        "full-cell-2-diodes", 36, 2, shaded_panels=2, panels_in_series=2, strings_in_parallel=2
    )
    assert told.power_w < told.best_power_w
    assert told.pattern.endswith("2 of 2 strings.") or told.pattern.endswith("1 of 2 strings.")


def test_a_number_of_groups_bounds_the_patterns():
    layout = preset_layout("half-cell-2-diodes", 36)
    for groups in (1, 2):
        found = patterns(layout, 4, groups)
        assert found
        assert all(sum(map(sum, s)) == 4 for s in found)
        assert {sum(any(own) for own in s) for s in found} == {groups}
    assert patterns(layout, 1, 2) == []
    assert patterns(layout, 37, 1) == []


@pytest.mark.parametrize(
    ("construction", "shaded", "share", "panels"),
    [("half-cell-3-diodes", 1, 0.4, 5), ("half-cell-2-diodes", 71, 0.4, 3)],
)
def test_no_sharing_out_of_shaded_panels_is_worse_than_told(construction, shaded, share, panels):
    """Every way to put them on three strings of three, with the pattern that reaches most."""
    told = asked(
        construction,
        36,
        shaded,
        light_fraction=share,
        shaded_panels=panels,
        panels_in_series=3,
        strings_in_parallel=3,
    )
    layout = preset_layout(construction, 36)
    grid = light_grid(layout, patterns(layout, shaded)[-1], share)
    kind = Panel(electrical=plate(36), construction=construction)
    sun = Sun(irradiance_w_m2=1000.0, cell_temperature_c=25.0)
    ways = {tuple(sorted(way)) for way in product(range(4), repeat=3) if sum(way) == panels}
    assert len(ways) == 3
    for way in ways:
        light = {f"{k}-{n}": grid for k, own in enumerate(way, 1) for n in range(1, own + 1)}
        built, wiring = build.array(kind, 3, 3, light)
        answer = shaded_iv(ShadedIvRequest(panels=built, wiring=wiring, sun=sun))
        assert told.power_w <= answer.maximum_power_point.power_w + SAME * told.unshaded_w
        assert told.tracker_w <= answer.tracker.found.power_w + SAME * told.unshaded_w
        heat_w = max(panel.hottest_cell_dissipation_w for panel in answer.panels)
        assert told.hottest_cell_w >= heat_w - 1e-6
