"""Time of wire sizing and of full array enumerations, on one core.

Prints one line a case; nothing is asserted. Processor time, best of a few rounds:
``python tests/load/bench_wiring.py``.

Wire sizing
    The shipped example, asked again and again, and circuits that differ from call to call. Decoding
    and encoding stand beside the engine, as they are part of every call of the service.
Arrays
    Twelve panels of two types with twenty shade states: shade on two panels of each type, on
    panels at random with one number each, and with a grid of cells each; one and two controllers.
Expectations
    What the estimates say of the same requests, over what was measured.
"""

import random
import time
from collections.abc import Callable
from importlib import resources

import msgspec
from msgspec.structs import replace

from sunhitch.codec import encode
from sunhitch.types.array import (
    ArrayConfigurationRequest,
    PanelLight,
    PanelTypeCount,
    ShadeState,
)
from sunhitch.types.system import Controller
from sunhitch.types.wiring import Run, WireSizingRequest
from sunhitch_service.engine.array.computing_time import expected_ms as array_ms
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.computing_time import expected_ms as wiring_ms

STATES, CELLS, PATHS = 20, 36, 2
RANDOM = random.Random(20)


def example(name: str) -> bytes:
    """A shipped request."""
    return resources.files("sunhitch").joinpath(f"examples/{name}.json").read_bytes()


def best_ms(call: Callable[[], object], repeats: int, rounds: int) -> float:
    """Least processor time of one call [ms]."""
    found: list[float] = []
    for _ in range(rounds):
        start = time.process_time()
        for _ in range(repeats):
            call()
        found.append((time.process_time() - start) / repeats * 1000.0)
    return min(found)


def circuits(count: int) -> list[WireSizingRequest]:
    """Circuits of all kinds with other currents, lengths, air and runs."""
    places = ("free-air", "bundled", "raceway", "on-roof", "insulated-wall")
    return [
        WireSizingRequest(
            circuit=RANDOM.choice(("pv-output", "controller-to-battery", "battery-to-load")),
            rules=RANDOM.choice(("nec-2017", "nec-2020", "nec-2023", "iec")),
            voltage_v=RANDOM.choice((12.0, 24.0, 38.4)),
            length_m=RANDOM.uniform(0.5, 8.0),
            current_a=RANDOM.uniform(2.0, 40.0),
            ambient_c=RANDOM.uniform(20.0, 45.0),
            runs=[Run(where=RANDOM.choice(places)) for _ in range(RANDOM.randint(1, 3))],
        )
        for _ in range(count)
    ]


def wiring() -> None:
    """Wire sizing, engine and text."""
    body = example("wire-sizing")
    request = msgspec.json.decode(body, type=WireSizingRequest)
    answer = wire_sizing(request)
    asked = circuits(200)
    same = best_ms(lambda: wire_sizing(request), 100, 20)
    other = best_ms(lambda: [wire_sizing(one) for one in asked], 1, 10) / len(asked)
    text = encode(answer)
    decoding = best_ms(lambda: msgspec.json.decode(body, type=WireSizingRequest), 1000, 10)
    encoding = best_ms(lambda: encode(answer), 100, 20)
    print(f"wire sizing, the example again     {same:8.3f} ms, expected {wiring_ms(request):.3f}")
    print(f"wire sizing, other circuits        {other:8.3f} ms")
    print(f"decode {len(body)} B, encode {len(text)} B   {decoding:8.3f} ms, {encoding:.3f} ms")


def kinds() -> list[PanelTypeCount]:
    """Six panels each of the example's type and of one that gives a little less."""
    first = msgspec.json.decode(example("array-configuration"), type=ArrayConfigurationRequest)
    group = replace(first.panels[0], name="a", count=6, instances=[])
    plate = group.panel.electrical
    less = replace(
        plate, p_mp_w=plate.p_mp_w * 0.96, i_mp_a=plate.i_mp_a * 0.96, i_sc_a=plate.i_sc_a * 0.96
    )
    return [group, replace(group, name="b", panel=replace(group.panel, electrical=less))]


def one_number() -> float:
    """Light of a whole panel."""
    return round(RANDOM.uniform(0.1, 0.9), 2)


def a_grid() -> list[list[float]]:
    """A band of shade over the cells."""
    first = RANDOM.randint(0, CELLS - 8)
    depth = RANDOM.choice((0.15, 0.4, 0.6))
    row = [depth if first <= n < first + 8 else 1.0 for n in range(CELLS)]
    return [row] * PATHS


def shade(panels: Callable[[], list[str]], light: Callable[[], object]) -> list[ShadeState]:
    """Twenty states with shade on some panels."""
    return [
        msgspec.convert(
            {
                "name": f"state {n}",
                "weight_fraction": 0.04,
                "irradiance_w_m2": 700.0,
                "cell_temperature_c": 45.0,
                "light": [PanelLight(panel=one, irradiance_fraction=light()) for one in panels()],
            },
            ShadeState,
        )
        for n in range(STATES)
    ]


def arrays() -> None:
    """Twelve panels of two types with twenty shade states."""
    base = msgspec.json.decode(example("array-configuration"), type=ArrayConfigurationRequest)
    names = [f"{kind}-{n}" for kind in "ab" for n in range(1, 7)]
    fixed = ["a-1", "a-2", "b-1", "b-2"]
    cases = {
        "no shade": [],
        "two of each type": [
            replace(
                state,
                light=[replace(one, irradiance_fraction=0.1 + 0.04 * n) for one in state.light],
            )
            for n, state in enumerate(shade(lambda: fixed, one_number))
        ],
        "panels at random": shade(lambda: RANDOM.sample(names, 3), one_number),
        "cells at random": shade(lambda: RANDOM.sample(names, 3), a_grid),
    }
    controllers: dict[int, list[Controller]] = {
        count: [replace(base.controllers[0], name=f"controller-{n}") for n in range(count)]
        for count in (1, 2)
    }
    for label, states in cases.items():
        for count, given in controllers.items():
            request = replace(base, panels=kinds(), controllers=given, shade=states, layout=None)
            answer = array_configuration(request)
            spent = best_ms(lambda one=request: array_configuration(one), 1, 3)
            print(
                f"12 panels, {label:<17} {count} controller(s) {spent:8.1f} ms, "
                f"expected {array_ms(request):.0f}; {answer.examined} examined, {answer.passing} "
                f"pass, every panel by itself: {'yes' if answer.complete else 'no'}"
            )


if __name__ == "__main__":
    wiring()
    arrays()
