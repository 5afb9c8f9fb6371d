"""Random arrays, seeded, and what to compare between the engine and the circuit simulator."""

import itertools
from typing import Any

import numpy as np
from shade_netlist import K_OVER_Q, KELVIN


def random_request(seed: int) -> dict[str, Any]:
    """1 to 6 panels in 1 to 4 strings, any share of shaded cells, breakdown at -5 to -30 V."""
    rng = np.random.default_rng([20261125, seed])
    kinds = [_panel_type(rng) for _ in range(int(rng.integers(1, 3)))]
    count = int(rng.integers(1, 7))
    names = [f"P{k}" for k in range(count)]
    panels = [{"name": name, "panel": kinds[int(rng.integers(len(kinds)))]} for name in names]
    for panel in panels:
        panel["irradiance_fraction"] = _light(rng, panel["panel"]["cells"])
    wiring: dict[str, Any] = {"strings": _strings(rng, names)}
    if rng.random() < 0.25:
        wiring["blocking_diode"] = {
            "saturation_current_a": 1e-6,
            "ideality_factor": 1.05,
            "series_resistance_ohm": 0.005,
        }
    if rng.random() < 0.3:
        wiring["string_resistance_ohm"] = float(rng.uniform(0.005, 0.2))
    return {
        "panels": panels,
        "wiring": wiring,
        "sun": {"irradiance_w_m2": 1000.0, "cell_temperature_c": 25.0},
        "detail": "curve",
        "curve_points": 2000,
    }


def _strings(rng: np.random.Generator, names: list[str]) -> list[list[str]]:
    count = int(rng.integers(1, min(4, len(names)) + 1))
    cuts = sorted(rng.choice(np.arange(1, len(names)), size=count - 1, replace=False).tolist())
    edges = [0, *cuts, len(names)]
    return [names[a:b] for a, b in itertools.pairwise(edges)]


def _light(rng: np.random.Generator, cells: dict[str, Any]) -> list[list[float]]:
    size = (cells["paths_in_parallel"], cells["positions_in_series"])
    style = rng.random()
    if style < 0.15:
        return np.full(size, round(float(rng.uniform(0.0, 0.1)), 4)).tolist()
    levels = np.round(rng.uniform(0.02, 0.95, int(rng.integers(1, 5))), 4)
    share = rng.choice([0.0, 0.06, 0.3, 1.0])
    shaded = rng.random(size) < share
    return np.where(shaded, rng.choice(levels, size=size), 1.0).tolist()


def _panel_type(rng: np.random.Generator) -> dict[str, Any]:
    paths = int(rng.integers(1, 3))
    positions = int(rng.choice([12, 18, 24, 36]))
    groups = int(rng.choice([1, 2, 3, 6, positions // 2]))
    size = positions // groups
    current, n = float(rng.uniform(2.0, 7.0)) / paths, float(rng.uniform(0.95, 1.4))
    saturation = current / float(np.expm1(float(rng.uniform(0.58, 0.70)) / (n * K_OVER_Q * KELVIN)))
    cell = {
        "photocurrent_a": current,
        "saturation_current_a": saturation,
        "ideality_factor": n,
        "series_resistance_ohm": float(rng.uniform(0.001, 0.01)) * paths,
        "shunt_resistance_ohm": float(10 ** rng.uniform(0.7, 2.5)) * paths,
        "breakdown_voltage_v": -float(rng.uniform(5.0, 30.0)),
        "breakdown_factor": 0.002,
        "breakdown_exponent": 3.5,
    }
    v_oc, i_sc = 0.62 * positions, current * paths
    return {
        "electrical": {
            "p_mp_w": 0.76 * v_oc * i_sc,
            "v_mp_v": 0.8 * v_oc,
            "i_mp_a": 0.95 * i_sc,
            "v_oc_v": v_oc,
            "i_sc_a": i_sc,
            "cells_in_series": positions,
        },
        "cells": {
            "paths_in_parallel": paths,
            "positions_in_series": positions,
            "bypass": [
                {
                    "first": k * size,
                    "last": (k + 1) * size - 1,
                    "has_diode": bool(groups > 1 or rng.random() < 0.5),
                }
                for k in range(groups)
            ],
        },
        "cell_model": cell,
        "bypass_diode": {
            "saturation_current_a": 1e-6,
            "ideality_factor": 1.05,
            "series_resistance_ohm": 0.01,
        },
    }


def tops(v: np.ndarray, i: np.ndarray, least: float) -> list[tuple[float, float]]:
    """Maxima of v·i that stand out by `least`, each by a parabola through three points."""
    p = v * i
    found: list[tuple[float, float]] = []
    for k in range(1, len(p) - 1):
        if p[k] >= p[k - 1] and p[k] > p[k + 1] and _prominence(p, k) > least:
            a, b, c = np.polyfit(v[k - 1 : k + 2] - v[k], p[k - 1 : k + 2], 2)
            found.append((float(v[k] - b / (2 * a)), float(c - b * b / (4 * a))))
    return found


def _prominence(p: np.ndarray, k: int) -> float:
    """Drop to the higher of the two lowest points before power is larger again."""
    sides = []
    for part in (p[:k][::-1], p[k + 1 :]):
        larger = np.flatnonzero(part > p[k])
        reach = part[: larger[0]] if len(larger) else part
        sides.append(float(p[k] - reach.min()) if len(reach) else 0.0)
    return min(sides)
