"""Hostile light states on command: the solver of many states against the exact one.

Run with ``python tests/agreement/run_hostile_states.py --count 1000000 --seed 0``. Every state is
solved by both; the exact maximum is also held against its own bound, and its curve against it.
Prints what went wrong, and how far apart the two were at most; ends with an error if a promise was
broken. Arrays are shared out to processes. Each state takes about three milliseconds of processor,
nearly all of it the exact solver's: a million take less than half an hour on two idle cores.
"""

import argparse
import itertools
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from hostile_arrays import HostileArray, hostile_array, hostile_light

from sunhitch_service.engine.pv.accelerate import load_loops
from sunhitch_service.engine.pv.many_states import LightSolver
from sunhitch_service.engine.pv.maxima import CERTIFIED
from sunhitch_service.engine.pv.solution import drawn, solve_array

ON_CURVE = 1e-6
ROUNDING = 1e-5
"""Of the solver of many states, which reads a table of the junction voltage."""


@dataclass(slots=True)
class Tally:
    """What has been seen: states, broken promises, states not certified, largest errors."""

    states: int = 0
    broken: int = 0
    open_ended: int = 0
    lowest: float = 0.0
    highest: float = 0.0
    on_curve: float = 0.0

    def add(self, other: "Tally") -> None:
        """Count what another has seen."""
        self.states, self.broken = self.states + other.states, self.broken + other.broken
        self.open_ended += other.open_ended
        self.lowest, self.highest = min(self.lowest, other.lowest), max(self.highest, other.highest)
        self.on_curve = max(self.on_curve, other.on_curve)


def examine(array: HostileArray, seed: int, states: int, tally: Tally) -> None:
    """Solve one array in some states both ways."""
    solver = LightSolver(array.panels, array.wiring, compiled=True)
    light = hostile_light(seed, solver.cells, states)
    found = solver.maxima(light, array.irradiance_w_m2, array.cell_temperature_c)
    for row, power, bound in zip(light, found.power, found.bound, strict=True):
        solution = solve_array(array.lit(row), array.wiring)
        points, exact = solution.points, solution.power(solution.best)
        tally.states += 1
        if exact == 0.0:
            continue
        v, i = drawn(solution, 200)
        off, over = float(power) / exact - 1.0, float((v * i).max()) / exact - 1.0
        tally.open_ended += not points.certified
        tally.lowest, tally.highest = min(tally.lowest, off), max(tally.highest, off)
        tally.on_curve = max(tally.on_curve, over)
        fits = exact <= bound * (1.0 + ROUNDING) and power <= points.power_bound * (1.0 + ROUNDING)
        if not fits or abs(off) > CERTIFIED or over > ON_CURVE:
            tally.broken += 1
            print(f"seed {seed}, state {tally.states}, both with bounds, curve above its maximum:")
            print(power, bound, exact, points.power_bound, over)


def examined(seed: int, states: int) -> Tally:
    """What one array shows."""
    load_loops()
    tally = Tally()
    examine(hostile_array(seed), seed, states, tally)
    return tally


def main() -> int:
    """Print what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1_000_000, help="states")
    parser.add_argument("--seed", type=int, default=0, help="of the first array")
    parser.add_argument("--each", type=int, default=100, help="states of an array")
    parser.add_argument("--processes", type=int, help="one per core if not given")
    asked = parser.parse_args()
    seeds = range(asked.seed, asked.seed - (-asked.count // asked.each))
    tally, began, told = Tally(), time.monotonic(), 0.0
    with ProcessPoolExecutor(asked.processes) as pool:
        found = pool.map(examined, seeds, itertools.repeat(asked.each))
        for seed, own in zip(seeds, found, strict=True):
            tally.add(own)
            if time.monotonic() - began - told > 60.0:
                told = time.monotonic() - began
                print(f"{told:6.0f} s, seeds to {seed}: {tally}", flush=True)
    print(f"{time.monotonic() - began:6.0f} s, seeds to {seeds[-1]}: {tally}")
    return int(tally.broken > 0)


if __name__ == "__main__":
    raise SystemExit(main())
