"""What a shaded array costs: against a circuit simulator's process, and a million light states.

Run with ``python tests/load/bench_shaded_iv.py [states]``. It starts a service on loopback port
8310 and stops it again, and needs ngspice for the first part. Processor time counts for the engine,
which runs compiled loops as the service does, and wall time for HTTP, each against the same of the
simulator's process, each the shortest of a few runs.
"""

import itertools
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import msgspec
import numpy as np
from numpy.typing import NDArray
from serving import service

sys.path.insert(0, str(Path(__file__).parents[1] / "reference"))
from shade_netlist import netlist

from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.accelerate import load_loops
from sunhitch_service.engine.pv.many_states import LightSolver
from sunhitch_service.engine.pv.presets import resolve_panel
from sunhitch_service.engine.pv.solution import Interconnection
from sunhitch_service.engine.shade.calculation import shaded_iv

PORT = 8310
_PLAIN = {"Content-Type": "application/json", "Accept-Encoding": "identity"}
POINTS, BLOCK, COMPARED = 400, 4096, 300
WARMING_S = 2.0
"""The serving process loads what is compiled beside its first answers, its workers before them."""
WIRINGS = {"series": [["A", "B", "C"]], "parallel": [["A"], ["B"], ["C"]]}
CELL = {
    "photocurrent_a": 2.95,
    "saturation_current_a": 4e-10,
    "ideality_factor": 1.1,
    "series_resistance_ohm": 0.0079,
    "shunt_resistance_ohm": 20.0,
    "breakdown_voltage_v": -15.0,
    "breakdown_factor": 0.002,
    "breakdown_exponent": 3.5,
}
PLATE = {
    "p_mp_w": 105.0,
    "v_mp_v": 18.9,
    "i_mp_a": 5.56,
    "v_oc_v": 22.7,
    "i_sc_a": 5.89,
    "cells_in_series": 36,
}


def random_scatter() -> list[NDArray[np.float64]]:
    """Light on three panels whose cells are shaded at random, each apart."""
    rng = np.random.default_rng(3)
    light = []
    for _ in "ABC":
        shaded = rng.random((2, 36)) < 0.15
        light.append(np.where(shaded, rng.choice([0.1, 0.3, 0.6], (2, 36)), 1.0))
    return light


def branch_shadow() -> list[NDArray[np.float64]]:
    """Light under a branch: a soft-edged band over cells of two panels, the third free."""
    light = [np.ones((2, 36)) for _ in "ABC"]
    for path, (panel, first) in enumerate(zip(light[:2], (2, 7), strict=True)):
        panel[path, first : first + 8] = [0.6, *[0.2] * 6, 0.5]
    return light


LIGHTS = {"random scatter": random_scatter, "branch shadow": branch_shadow}


def array(
    strings: list[list[str]], light: Callable[[], list[NDArray[np.float64]]] = random_scatter
) -> dict[str, Any]:
    """Three panels of two times 36 half cells and two diodes, with some cells shaded."""
    groups = [{"first": k, "last": k + 17, "has_diode": True} for k in (0, 18)]
    layout = {"paths_in_parallel": 2, "positions_in_series": 36, "bypass": groups}
    diode = {"saturation_current_a": 1e-6, "ideality_factor": 1.05, "series_resistance_ohm": 0.01}
    kind = {"electrical": PLATE, "cells": layout, "cell_model": CELL, "bypass_diode": diode}
    panels = [
        {"name": name, "panel": kind, "irradiance_fraction": own.tolist()}
        for name, own in zip("ABC", light(), strict=True)
    ]
    sun = {"irradiance_w_m2": 1000.0, "cell_temperature_c": 25.0}
    wiring = {"strings": strings}
    ask = {"detail": "curve", "curve_points": POINTS}
    return {"panels": panels, "wiring": wiring, "sun": sun, **ask}


def best(runs: int, clock: Callable[[], float], job: Callable[[], object]) -> float:
    """Shortest of some runs [s]."""
    times = []
    for _ in range(runs):
        start = clock()
        job()
        times.append(clock() - start)
    return min(times)


def against_the_simulator(asked: dict[str, Any]) -> None:
    """Service and engine against the simulator's whole process, on the same circuit."""
    request = msgspec.convert(asked, ShadedIvRequest)
    opens = shaded_iv(request).open_circuit_voltage_v
    engine = best(50, time.process_time, lambda: shaded_iv(request))
    numbers = itertools.count(1)
    with service(PORT), httpx.Client(base_url=f"http://127.0.0.1:{PORT}") as client:
        while '"compiling"' in client.get("/health/ready").text:
            time.sleep(0.2)

        def call() -> None:
            # An answer that is kept would be served again: each call has a resistance of its own.
            wiring = {**asked["wiring"], "string_resistance_ohm": 1e-9 * next(numbers)}
            body = msgspec.json.encode({**asked, "wiring": wiring})
            client.post("/v1/shaded-iv", content=body, headers=_PLAIN).raise_for_status()

        warm = time.perf_counter() + WARMING_S
        while time.perf_counter() < warm:
            call()
        over_http = best(60, time.perf_counter, call)
    wall, busy = simulator_seconds(asked, 1.0002 * opens)
    print(f"  simulator {wall * 1e3:8.1f} ms, {busy * 1e3:.1f} ms of processor, {POINTS} points")
    print(f"  engine    {engine * 1e3:8.2f} ms of processor: {busy / engine:4.0f} times faster")
    print(f"  HTTP      {over_http * 1e3:8.2f} ms: {wall / over_http:4.0f} times faster")


def simulator_seconds(asked: dict[str, Any], top_v: float) -> tuple[float, float]:
    """Wall and processor time of the simulator's process, each the shortest of a few."""
    with tempfile.TemporaryDirectory() as folder:
        text = netlist(asked, POINTS, top_v, Path(folder) / "sweep.data", "")
        for name in "ABC":
            text = text.replace(f"{name}_g2", f"{name}_end")
        circuit = Path(folder) / "array.cir"
        circuit.write_text(text)
        command = ["ngspice", "-b", str(circuit)]

        def run() -> object:
            return subprocess.run(command, capture_output=True, check=False, timeout=120)

        return best(4, time.perf_counter, run), best(4, children_busy, run)


def children_busy() -> float:
    """Processor time of all processes that were started and have ended [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def solver(strings: list[list[str]], compiled: bool) -> LightSolver:
    """The same array for many states."""
    request = msgspec.convert(array(strings), ShadedIvRequest)
    kind = resolve_panel(request.panels[0].panel, Assumptions(), "/panel")
    return LightSolver(dict.fromkeys("ABC", kind), Interconnection(strings), compiled)


def scattered(rng: np.random.Generator, states: int, levels: int) -> NDArray[np.float64]:
    """Up to 60 % of all cells shaded at random, at some levels of light."""
    shares = np.sort(rng.uniform(0.05, 0.95, levels - 1))
    shaded = rng.random((states, 216)) < 0.6 * rng.random((states, 1))
    return np.where(shaded, rng.choice(shares, (states, 216)), 1.0)


def strips(rng: np.random.Generator, states: int) -> NDArray[np.float64]:
    """One to four shadows of up to a dozen neighbouring cells, with soft ends."""
    light = np.ones((states, 216))
    for row in light:
        for _ in range(int(rng.integers(1, 5))):
            first, size = int(rng.integers(216)), int(rng.integers(1, 12))
            row[first : first + size] *= rng.choice([0.1, 0.2, 0.5])
            row[first : first + 1] = rng.uniform(0.2, 1.0)
    return light


def many_states(strings: list[list[str]]) -> None:
    """States per second of processor time, and the largest error among some of them."""
    fast, exact = solver(strings, compiled=True), solver(strings, compiled=False)
    rng = np.random.default_rng(1)
    kinds = {
        "strips": strips(rng, 20_000),
        "scattered, 4 levels": scattered(rng, 20_000, 4),
        "scattered, 8 levels": scattered(rng, 20_000, 8),
    }
    for name, light in kinds.items():
        rate = len(light) / best(3, time.process_time, lambda x=light: fast.maxima(x, 1e3, 25.0))
        few = light[:COMPARED]
        found, wanted = fast.maxima(few, 1e3, 25.0).power, exact.maxima(few, 1e3, 25.0).power
        error = float(np.max(np.abs(found / wanted - 1.0)))
        print(f"  {name:20} {rate:9.0f} states/s, largest error {100 * error:.4f} %")


def blocks(states: int) -> Iterator[NDArray[np.float64]]:
    """Light of many states, block by block."""
    rng = np.random.default_rng(2)
    for start in range(0, states, BLOCK):
        yield scattered(rng, min(BLOCK, states - start), 4)


def memory(states: int) -> None:
    """Growth of the largest resident memory while a million states go through."""
    fast = solver(WIRINGS["series"], compiled=True)
    seen, peaks = 0, []
    for light in blocks(states):
        seen += len(fast.maxima(light, 1e3, 25.0).power)
        peaks.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
    early = peaks[len(peaks) // 20]
    print(f"  {seen} states: {early:.0f} MB after 5 %, {peaks[-1]:.0f} MB at the end")


def main() -> None:
    """Print ratios, rates and memory."""
    load_loops()
    states = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    if shutil.which("ngspice"):
        for (name, strings), (shade, light) in itertools.product(WIRINGS.items(), LIGHTS.items()):
            print(f"three panels in {name}, {shade}")
            against_the_simulator(array(strings, light))
    for name, strings in WIRINGS.items():
        print(f"many light states, {name}")
        many_states(strings)
    print("memory")
    memory(states)


if __name__ == "__main__":
    main()
