"""Randomly generated arrays and light that are hard to solve, by seed.

Bypass groups of unequal length and without a diode, early breakdown beside conducting diodes, dim
light from 1 W/m² on, strings of unequal panels, scattered and banded shade.
"""

import itertools
from dataclasses import dataclass
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel, lit_panel, resolve_panel
from sunhitch_service.engine.pv.solution import Interconnection
from sunhitch_service.engine.shade.compare import solver_wiring

K_OVER_Q_T = 0.025692579
"""k·T/q at 25 °C [V]."""
CONSTRUCTIONS = (
    "full-cell-2-diodes",
    "full-cell-no-diode",
    "half-cell-2-diodes",
    "diode-every-2-cells",
    "back-contact-2-diodes",
)


@dataclass(frozen=True, slots=True)
class HostileArray:
    """Panels by name, their wiring, and the sun [W/m²] with the cells' temperature [°C]."""

    request: ShadedIvRequest
    panels: dict[str, ResolvedPanel]
    wiring: Interconnection
    irradiance_w_m2: float
    cell_temperature_c: float

    @property
    def names(self) -> list[str]:
        """Panels in the order of the strings."""
        return [name for string in self.wiring.strings for name in string]

    def lit(self, light: NDArray[np.float64]) -> dict[str, LitPanel]:
        """Panels under one row of light."""
        found, start = {}, 0
        for name in self.names:
            layout = self.panels[name].layout
            shape = layout.paths_in_parallel, layout.positions_in_series
            own = light[start : start + shape[0] * shape[1]].reshape(shape)
            sun = self.irradiance_w_m2, self.cell_temperature_c
            found[name] = lit_panel(self.panels[name], *sun, own)
            start += own.size
        return found


def hostile_array(seed: int) -> HostileArray:
    """An array of one to six panels of one or two types in one to three strings."""
    rng = np.random.default_rng([20261129, seed])
    kinds = [_panel(rng) for _ in range(int(rng.integers(1, 3)))]
    strings = [
        [f"p{string}.{k}" for k in range(int(rng.integers(1, 4)))]
        for string in range(int(rng.choice([1, 1, 2, 3])))
    ]
    names = [name for string in strings for name in string]
    wiring: dict[str, Any] = {"strings": strings}
    if rng.random() < 0.4:
        wiring["blocking_diode"] = _diode(rng)
    if rng.random() < 0.3:
        wiring["string_resistance_ohm"] = float(rng.uniform(0.005, 0.2))
    band = rng.choice(3)
    w_m2 = float(
        (rng.uniform(1.0, 50.0), rng.uniform(50.0, 400.0), rng.uniform(400.0, 1100.0))[band]
    )
    body = {
        "panels": [{"name": name, "panel": kinds[int(rng.integers(len(kinds)))]} for name in names],
        "wiring": wiring,
        "sun": {"irradiance_w_m2": w_m2, "cell_temperature_c": float(rng.uniform(0.0, 70.0))},
        "detail": "curve",
        "curve_points": 500,
    }
    return solvable(body)


def array_without_diodes(seed: int) -> HostileArray:
    """The same panels, each one group without a diode, in light from 1 to 20 W/m².

    Driven backwards, many of these groups break down only beyond 709 V, where exp(u/1 V) overflows.
    """
    rng = np.random.default_rng([20261201, seed])
    body = msgspec.to_builtins(hostile_array(seed).request)
    for own in body["panels"]:
        if own["panel"]["cells"] is None:
            own["panel"]["construction"] = "full-cell-no-diode"
        else:
            last = own["panel"]["cells"]["positions_in_series"] - 1
            own["panel"]["cells"]["bypass"] = [{"first": 0, "last": last, "has_diode": False}]
            own["panel"]["cell_model"]["breakdown_voltage_v"] = float(rng.choice([-12.0, -30.0]))
    body["sun"]["irradiance_w_m2"] = float(rng.uniform(1.0, 20.0))
    return solvable(body)


def solvable(body: dict[str, Any]) -> HostileArray:
    """The array of a request."""
    request = msgspec.convert(body, ShadedIvRequest)
    panels = {panel.name: resolve_panel(panel.panel, Assumptions(), "") for panel in request.panels}
    sun = request.sun
    wired = solver_wiring(request.wiring)
    return HostileArray(request, panels, wired, sun.irradiance_w_m2, sun.cell_temperature_c)


def hostile_light(seed: int, cells: int, states: int) -> NDArray[np.float64]:
    """Share of the sun on every cell: scattered levels, bands, falling light, all cells unlike."""
    rng = np.random.default_rng([20261130, seed])
    return np.array([_light(rng, cells) for _ in range(states)])


def _light(rng: np.random.Generator, cells: int) -> NDArray[np.float64]:
    style, levels = rng.random(), np.round(rng.uniform(0.02, 1.0, int(rng.integers(1, 9))), 3)
    if style < 0.4:
        return np.where(rng.random(cells) < rng.random(), rng.choice(levels, cells), 1.0)
    if style < 0.6:
        size = int(rng.integers(2, 16))
        return np.repeat(rng.choice(levels, 1 + cells // size), size)[:cells]
    if style < 0.7:
        return np.round(np.linspace(1.0, float(rng.uniform(0.02, 0.9)), cells), 3)
    if style < 0.85:
        return np.round(rng.uniform(0.1, 1.0, cells), 2)
    light = np.ones(cells)
    for _ in range(int(rng.integers(1, 5))):
        first = int(rng.integers(cells))
        light[first : first + int(rng.integers(1, 12))] *= rng.choice([0.0, 0.1, 0.4])
    return light


def _panel(rng: np.random.Generator) -> dict[str, Any]:
    if rng.random() < 0.3:
        return {"electrical": _plate(rng, 36), "construction": str(rng.choice(CONSTRUCTIONS))}
    positions = int(rng.choice([12, 24, 32, 36, 60, 72]))
    paths = int(rng.choice([1, 1, 2, 3, 4]))
    plate = _plate(rng, positions)
    current = plate["i_sc_a"] / paths
    n = float(rng.uniform(0.95, 1.3))
    cell_v = plate["v_oc_v"] / positions
    scale = paths / plate["i_sc_a"]
    model = {
        "photocurrent_a": current,
        "saturation_current_a": current / float(np.expm1(cell_v / (n * K_OVER_Q_T))),
        "ideality_factor": n,
        "series_resistance_ohm": float(rng.uniform(0.005, 0.05)) * scale,
        "shunt_resistance_ohm": float(10 ** rng.uniform(1.3, 3.0)) * scale,
        "breakdown_voltage_v": float(rng.choice([-5.0, -8.0, -12.0, -20.0, -30.0])),
        "breakdown_factor": float(10 ** rng.uniform(-3.0, -0.5)),
        "breakdown_exponent": float(rng.uniform(2.5, 5.0)),
    }
    layout = {
        "paths_in_parallel": paths,
        "positions_in_series": positions,
        "bypass": _groups(rng, positions),
    }
    return {
        "electrical": plate, "cells": layout, "cell_model": model, "bypass_diode": _diode(rng),
    }  # fmt: skip


def _plate(rng: np.random.Generator, positions: int) -> dict[str, Any]:
    v_oc, i_sc = float(rng.uniform(0.58, 0.7)) * positions, float(rng.uniform(3.0, 12.0))
    v_mp, i_mp = 0.81 * v_oc, 0.94 * i_sc
    return {
        "p_mp_w": v_mp * i_mp, "v_mp_v": v_mp, "i_mp_a": i_mp, "v_oc_v": v_oc, "i_sc_a": i_sc,
        "cells_in_series": positions,
    }  # fmt: skip


def _groups(rng: np.random.Generator, positions: int) -> list[dict[str, Any]]:
    count = int(rng.choice([1, 2, 3, 5, positions // 2]))
    inner = np.sort(rng.choice(np.arange(1, positions), count - 1, replace=False))
    edges = [0, *inner.tolist(), positions]
    bare = rng.random() < 0.2
    return [
        {"first": a, "last": b - 1, "has_diode": not (bare and rng.random() < 0.4)}
        for a, b in itertools.pairwise(edges)
    ]


def _diode(rng: np.random.Generator) -> dict[str, Any]:
    return {
        "saturation_current_a": float(10 ** rng.uniform(-7.0, -5.0)),
        "ideality_factor": float(rng.uniform(1.0, 1.3)),
        "series_resistance_ohm": float(rng.uniform(0.003, 0.03)),
    }
