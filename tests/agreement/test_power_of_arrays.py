"""The power of an array is the same wherever it is told.

A sample runs with the suite; as many random builds as wanted run by

    python tests/agreement/test_power_of_arrays.py --count 1000 --seed 1
"""

import argparse
import random
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import msgspec
import numpy as np
import pytest
from hostile_arrays import HostileArray, hostile_array, hostile_light
from numpy.typing import NDArray

from sunhitch.types.array import ArrayConfigurationRequest
from sunhitch.types.commissioning import CommissioningCheckRequest
from sunhitch.types.panel import Panel
from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.array.evaluate import Evaluator
from sunhitch_service.engine.array.figures import Layout, Wired
from sunhitch_service.engine.array.power import panel_curves
from sunhitch_service.engine.array.setup import settle
from sunhitch_service.engine.array.validate import instance_names
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.commissioning.calculation import commissioning_check
from sunhitch_service.engine.controller.settings import ANY_VOLTAGE
from sunhitch_service.engine.harvest.interconnection import ControllerInput
from sunhitch_service.engine.harvest.solver import CellLight, OperatingPoints, solve
from sunhitch_service.engine.pv.network import NO_DIODE, LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel, lit_panel, resolve_panel
from sunhitch_service.engine.pv.solution import Interconnection, maximum_power, solve_array
from sunhitch_service.engine.shade.calculation import shaded_iv

FAST = 1e-4
"""Of power, where curves of panels and strings stand in for the exact solver."""
CONSTRUCTIONS = (
    "full-cell-2-diodes",
    "full-cell-3-diodes",
    "full-cell-no-diode",
    "half-cell-2-diodes",
    "half-cell-3-diodes",
    "diode-every-2-cells",
)
SAMPLE = range(12)

Light = float | list[list[float]]


@dataclass(frozen=True, slots=True)
class PanelKind:
    """A nameplate, how its cells are arranged, and how many panels there are of it."""

    name: str
    panel: dict[str, Any]
    shape: tuple[int, int]
    count: int


def kinds(draw: random.Random) -> list[PanelKind]:
    """One or two types of crystalline panels."""
    return [kind(draw, f"kind{k}", 4 if k == 0 else 2) for k in range(draw.choice((1, 1, 2)))]


def kind(draw: random.Random, name: str, most: int) -> PanelKind:
    construction = draw.choice(CONSTRUCTIONS)
    cells = draw.choice((36, 36, 60))
    v_oc, i_sc = draw.uniform(0.60, 0.69) * cells, draw.uniform(2.0, 12.0)
    v_mp, i_mp = draw.uniform(0.81, 0.84) * v_oc, draw.uniform(0.90, 0.945) * i_sc
    plate = {
        "p_mp_w": v_mp * i_mp,
        "v_mp_v": v_mp,
        "i_mp_a": i_mp,
        "v_oc_v": v_oc,
        "i_sc_a": i_sc,
        "cells_in_series": cells,
    }
    paths = 2 if construction.startswith("half") else 1
    panel = {"electrical": plate, "construction": construction}
    return PanelKind(name, panel, (paths, cells), draw.randint(1, most))


def light(draw: random.Random, shape: tuple[int, int]) -> Light:
    """Even, or with bands of shade across some paths."""
    if draw.random() < 0.3:
        return round(draw.uniform(0.02, 1.0), 3)
    grid = np.ones(shape)
    for _ in range(draw.randint(1, 2)):
        first = draw.randrange(shape[1])
        path = draw.randrange(shape[0])
        end = shape[0] if draw.random() < 0.5 else path + 1
        share = draw.choice((0.0, 0.05, 0.15, 0.3, 0.5, 0.8, draw.random()))
        grid[path:end, first : first + draw.randint(1, shape[1])] = share
    return [list(map(float, row)) for row in grid]


def sun(draw: random.Random) -> dict[str, float]:
    return {
        "irradiance_w_m2": float(draw.randint(100, 1100)),
        "cell_temperature_c": float(draw.randint(-10, 70)),
    }


def exact_w(panels: list[dict[str, Any]], strings: list[list[str]], own: dict[str, float]) -> float:
    """What `shaded-iv` tells."""
    request = {"panels": panels, "wiring": {"strings": strings}, "sun": own, "detail": "summary"}
    return shaded_iv(msgspec.convert(request, ShadedIvRequest)).maximum_power_point.power_w


def configured(draw: random.Random) -> list[tuple[float, float]]:
    """Power of arrangements in sun and shade: as configured, and exact."""
    types = kinds(draw)
    groups = [{"name": t.name, "count": t.count, "panel": t.panel} for t in types]
    request: dict[str, Any] = {
        "panels": groups,
        "controllers": [
            {
                "name": "charger",
                "kind": "mppt",
                "max_input_voltage_v": 1000.0,
                "max_output_current_a": 300.0,
            }
        ],
        "battery": {"chemistry": "agm", "nominal_voltage_v": 12, "capacity_ah": 1000.0},
        "site": {"lowest_ambient_c": -10.0, "highest_ambient_c": 35.0},
        "sun": sun(draw),
        "most_arrangements": 6,
    }
    listed = msgspec.convert(request, ArrayConfigurationRequest).panels
    of = {n: t for group, t in zip(listed, types, strict=True) for n in instance_names(group)}
    states = [
        {n: light(draw, t.shape) for n, t in of.items() if draw.random() < 0.6} for _ in range(2)
    ]
    request["shade"] = [
        {
            "name": f"state {k}",
            "weight_fraction": 0.3,
            **sun(draw),
            "light": [{"panel": n, "irradiance_fraction": x} for n, x in lit.items()],
        }
        for k, lit in enumerate(states)
        if lit
    ]
    answer = array_configuration(msgspec.convert(request, ArrayConfigurationRequest))
    suns = [({}, request["sun"])] + [
        (lit, {key: shade[key] for key in request["sun"]})
        for lit, shade in zip(filter(None, states), request["shade"], strict=True)
    ]
    found: list[tuple[float, float]] = []
    for one in answer.arrangements[:2]:
        strings = [string.panels for string in one.arrays[0].strings]
        for told, (lit, own) in zip([one.sun, *one.shade], suns, strict=True):
            panels = [
                {"name": n, "panel": of[n].panel, "irradiance_fraction": lit.get(n, 1.0)}
                for string in strings
                for n in string
            ]
            found.append((told.panel_power_w + told.clipped_w, exact_w(panels, strings, own)))
    return found


def commissioned(draw: random.Random) -> list[tuple[float, float]]:
    """Expected power of a reading, and exact."""
    types, own = kinds(draw), sun(draw)
    strings = [
        {"name": f"string {k}", "panel_type": draw.choice(types).name, "panels_in_series": n}
        for k, n in enumerate(draw.choice(((1,), (2,), (1, 1), (2, 2), (1, 1, 1), (2, 1))))
    ]
    reading = {
        "name": "noon",
        "kind": "operating",
        "taken_at": "2027-06-21T12:00:00+00:00",
        "voltage_v": 20.0,
        "current_a": 5.0,
        "light": {"kind": "irradiance-meter", "irradiance_w_m2": own["irradiance_w_m2"]},
        "cell_temperature_c": own["cell_temperature_c"],
    }
    request = {
        "array": {
            "panel_types": [{"name": t.name, "panel": t.panel} for t in types],
            "strings": strings,
        },
        "readings": [reading],
    }
    answer = commissioning_check(msgspec.convert(request, CommissioningCheckRequest))
    panel = {t.name: t.panel for t in types}
    names = [
        [f"{k}-{n}" for n in range(string["panels_in_series"])] for k, string in enumerate(strings)
    ]
    panels = [
        {"name": name, "panel": panel[string["panel_type"]]}
        for string, own_names in zip(strings, names, strict=True)
        for name in own_names
    ]
    told = next(q.expected for q in answer.readings[0].quantities if q.quantity == "power")
    return [(told, exact_w(panels, names, own))]


@dataclass(frozen=True, slots=True)
class PlacedPanelKind:
    """As much of a placed panel as the harvest's solver asks for."""

    kind: str
    panel: ResolvedPanel


def harvested(draw: random.Random, moments: int = 8) -> list[tuple[float, float]]:
    """Largest power of three panels, each as warm as it is, at some moments, and exact."""
    working, exact = _at_moments(draw, moments, maximum_power)
    return list(zip(working.maximum_w.tolist(), [one.power for one in exact], strict=True))


def tracked(draw: random.Random, moments: int = 8) -> list[tuple[float, float]]:
    """Power where a tracker stops that walks down from open circuit, and by `shaded-iv`'s rule."""
    working, exact = _at_moments(draw, moments, solve_array)
    due = [one.power(one.tracked) for one in exact]
    return list(zip(working.tracked_w.tolist(), due, strict=True))


def _at_moments(
    draw: random.Random, moments: int, solved: Callable[[dict[str, LitPanel], Interconnection], Any]
) -> tuple[OperatingPoints, list[Any]]:
    own = kind(draw, "kind", 1)
    resolved = resolve_panel(msgspec.convert(own.panel, Panel), Assumptions(), "")
    w_m2 = np.array([draw.uniform(50.0, 1000.0) for _ in range(moments)])
    heat = np.array([draw.uniform(-5.0, 65.0) for _ in range(moments)])
    shares = np.array(
        [[np.broadcast_to(light(draw, own.shape), own.shape) for _ in w_m2] for _ in range(3)]
    )
    shares[draw.randrange(3)] = 1.0
    warm = [heat + draw.uniform(-12.0, 12.0) for _ in range(3)] if draw.random() < 0.5 else []
    strings: tuple[tuple[int, ...], ...] = draw.choice((((0, 1, 2),), ((0,), (1,), (2,))))
    lit = CellLight(
        [PlacedPanelKind("kind", resolved)] * 3,
        [own_share * w_m2[:, None, None] for own_share in shares],
        heat,
        warm,
    )
    (working,) = solve(lit, [ControllerInput(strings, NO_DIODE, 0.0, ANY_VOLTAGE, True)])
    wiring = Interconnection([[str(k) for k in string] for string in strings])
    exact = [
        solved(
            {
                str(k): lit_panel(resolved, float(w_m2[n]), float(lit.heat_of(k)[n]), shares[k, n])
                for k in range(3)
            },
            wiring,
        )
        for n in range(moments)
    ]
    return working, exact


def limited(draw: random.Random) -> list[tuple[float, float]]:
    """Power that a controller draws from three panels: as configured, and as in a harvest.

    Two ways of combining strings: curves added up for many wirings, and exact points for many
    states of light.
    """
    own, strings = kind(draw, "kind", 1), draw.choice((((0, 1, 2),), ((0,), (1,), (2,))))
    name_of = [f"kind-{k}" for k in (1, 2, 3)]
    controller = {
        "name": "charger",
        "kind": draw.choice(("mppt", "mppt", "pwm")),
        "max_input_voltage_v": 1000.0,
        "max_output_current_a": 300.0,
    }
    if draw.random() < 0.5:
        most_a = own.panel["electrical"]["i_sc_a"] * len(strings)
        controller["max_input_current_a"] = most_a * draw.uniform(0.3, 1.0)
    states = [[1.0, *(light(draw, own.shape) for _ in "ab")] for _ in "ab"]
    request: dict[str, Any] = {
        "panels": [{"name": "kind", "count": 3, "panel": own.panel}],
        "controllers": [controller],
        "battery": {
            "chemistry": "agm",
            "nominal_voltage_v": draw.choice((12, 24, 48)),
            "capacity_ah": 1000.0,
        },
        "site": {"lowest_ambient_c": -10.0, "highest_ambient_c": 35.0},
        "sun": sun(draw),
        "shade": [
            {
                "name": f"state {k}",
                "weight_fraction": 0.3,
                **sun(draw),
                "light": [
                    {"panel": name, "irradiance_fraction": share}
                    for name, share in zip(name_of, lit, strict=True)
                ],
            }
            for k, lit in enumerate(states)
        ],
    }
    design = settle(msgspec.convert(request, ArrayConfigurationRequest))
    evaluator, wired = Evaluator(design, panel_curves(design)), Wired(0, strings)
    evaluator.prepare([Layout((wired,), ())])
    suns = design.lights[:-1]
    w_m2 = np.array([own_sun.irradiance_w_m2 for own_sun in suns])[:, None, None]
    shares = [
        [np.broadcast_to(lit[k], own.shape) for lit in ([1.0] * 3, *states)] for k in range(3)
    ]
    cells = CellLight(
        [PlacedPanelKind("kind", design.kinds[0].resolved)] * 3,
        [np.array(share) * w_m2 for share in shares],
        np.array([own_sun.cell_c for own_sun in suns]),
    )
    # Whether a controller starts is no matter of power.
    window = replace(design.controllers[0].window(design.working_voltage_v), start_v=0.0)
    (working,) = solve(cells, [ControllerInput(strings, NO_DIODE, 0.0, window)])
    return list(zip(evaluator.power(wired).drawn_w[:-1], working.drawn_w, strict=True))


def harvested_of_hostile(seed: int, moments: int = 4) -> list[tuple[float, float]]:
    """Power of a hostile array in scattered light, and exact; nothing below 2 W/m²."""
    hostile = hostile_array(seed)
    panels = [hostile.panels[name] for name in hostile.names]
    shapes = [(p.layout.paths_in_parallel, p.layout.positions_in_series) for p in panels]
    sizes = [paths * positions for paths, positions in shapes]
    light = hostile_light(seed, sum(sizes), moments)
    parts = np.split(hostile.irradiance_w_m2 * light, np.cumsum(sizes)[:-1], axis=1)
    lit = CellLight(
        [PlacedPanelKind(*each) for each in zip(hostile.names, panels, strict=True)],
        [own.reshape(moments, *shape) for own, shape in zip(parts, shapes, strict=True)],
        np.full(moments, hostile.cell_temperature_c),
    )
    number = {name: k for k, name in enumerate(hostile.names)}
    strings = tuple(tuple(number[name] for name in string) for string in hostile.wiring.strings)
    wired = ControllerInput(
        strings, hostile.wiring.blocking, hostile.wiring.resistance, ANY_VOLTAGE
    )
    (working,) = solve(lit, [wired])
    brightest = light.max(axis=1)
    return [
        (
            float(working.maximum_w[n]),
            maximum_power(_relit(hostile, light[n]), hostile.wiring).power,
        )
        for n in range(moments)
        if brightest[n] * hostile.irradiance_w_m2 >= 2.0
    ]


def _relit(hostile: HostileArray, light: NDArray[np.float64]) -> dict[str, LitPanel]:
    """Panels in light that is given as shares of the brightest cell's, as a harvest gives it."""
    brightest = float(light.max())
    sun = hostile.irradiance_w_m2 * brightest
    return replace(hostile, irradiance_w_m2=sun).lit(light / brightest)


def off(pairs: list[tuple[float, float]]) -> list[float]:
    return [told / exact - 1.0 for told, exact in pairs if exact > 0.1]


@pytest.mark.parametrize("seed", SAMPLE)
def test_an_arrangement_has_the_power_of_shaded_iv(seed: int) -> None:
    assert max(map(abs, off(configured(random.Random(seed)))), default=0.0) <= FAST


@pytest.mark.parametrize("seed", SAMPLE)
def test_a_reading_is_held_against_the_power_of_shaded_iv(seed: int) -> None:
    assert max(map(abs, off(commissioned(random.Random(seed)))), default=0.0) <= FAST


@pytest.mark.parametrize("seed", SAMPLE)
def test_a_harvest_has_the_power_of_the_exact_solver_at_every_moment(seed: int) -> None:
    assert max(map(abs, off(harvested(random.Random(seed))))) <= FAST


@pytest.mark.parametrize("seed", [*SAMPLE, 96, 107, 219, 386])
def test_a_controller_draws_the_same_power_in_a_configuration_and_a_harvest(seed: int) -> None:
    """Among them three tops of nearly equal power, two within a window, and a limit of current."""
    assert max(map(abs, off(limited(random.Random(seed)))), default=0.0) <= FAST


def test_a_tracker_stops_where_it_stops_in_shaded_iv() -> None:
    """Of 1,000 moments five differ, where a shallow valley parts two tops."""
    pairs = [off(tracked(random.Random(seed))) for seed in range(12)]
    wrong = [x for own in pairs for x in own if abs(x) > 1e-3]
    assert len(wrong) <= 1


@pytest.mark.parametrize("seed", range(24))
def test_a_harvest_has_the_power_of_arrays_that_are_hard_to_solve(seed: int) -> None:
    """Unlike panels, blocking diodes, early breakdown; where the light is worth solving."""
    pairs = harvested_of_hostile(seed)
    assert max(map(abs, off(pairs)), default=0.0) <= FAST


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    found: dict[str, list[tuple[float, int]]] = defaultdict(list)
    for seed in range(asked.seed, asked.seed + asked.count):
        for ask in (configured, commissioned, harvested, limited, tracked):
            found[ask.__name__] += [(x, seed) for x in off(ask(random.Random(seed)))]
    for name, each in found.items():
        sizes = np.abs([x for x, _ in each])
        worst = each[int(sizes.argmax())]
        print(
            f"{name}: {len(each)} powers; off by {np.median(sizes):.1e} in the middle, "
            f"{np.quantile(sizes, 0.99):.1e} for 99 of 100, {worst[0]:+.1e} at most "
            f"(seed {worst[1]}); {(sizes > FAST).sum()} beyond {FAST:g}"
        )


if __name__ == "__main__":
    main()
