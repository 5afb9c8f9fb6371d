"""The same unequal strings asked about in every place that judges their fuses.

`python tests/agreement/string_fuses.py --count 1000 --seed 1` asks as often as wanted.
"""

import argparse
import random
from collections import Counter
from typing import Any

import msgspec

from sunhitch.types.array import (
    ArrangedString,
    Arrangement,
    ArrayConfigurationRequest,
    ControllerArray,
)
from sunhitch.types.check import VERDICTS, Check
from sunhitch.types.quick.fuses import StringFuseQuestion
from sunhitch.types.shade import ShadedIvRequest
from sunhitch.types.wiring import PanelsBehind, WireSizingRequest
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.controller.settings import backfeed_a
from sunhitch_service.engine.shade.calculation import shaded_iv
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.quick.fuses import string_fuse_for

CODE = "string-reverse-current"
RULES = ["nec-2017", "nec-2020", "nec-2023", "iec"]
DIODE = {"saturation_current_a": 1e-6, "ideality_factor": 1.1, "series_resistance_ohm": 0.005}


def plate(rng: random.Random, i_sc_a: float, unknown: bool) -> dict[str, Any]:
    """Nameplate of a panel with a short-circuit current."""
    v_mp, i_mp = 19.2, round(0.93 * i_sc_a, 3)
    return {
        "p_mp_w": v_mp * i_mp,
        "v_mp_v": v_mp,
        "i_mp_a": i_mp,
        "v_oc_v": 22.9,
        "i_sc_a": i_sc_a,
        "cells_in_series": 36,
        "beta_voc_fraction_per_c": -0.0028,
        "max_series_fuse_a": None if unknown else rng.choice([10.0, 15.0, 20.0, 25.0, 30.0]),
        "max_system_voltage_v": 600.0,
    }


def build(rng: random.Random) -> dict[str, Any]:
    """Panels of two or three current ratings, as a request for `array-configuration`."""
    kinds = [round(rng.uniform(2.0, 14.0), 2) for _ in range(rng.randint(2, 3))]
    unknown = rng.random() < 0.2
    fault_a = rng.choice([800.0, 4000.0, 9000.0])
    return {
        "panels": [
            {
                "name": f"kind-{n}",
                "count": rng.randint(1, 3),
                "panel": {
                    "electrical": plate(rng, i_sc_a, unknown and n == 0),
                    "construction": rng.choice(["half-cell-2-diodes", "full-cell-2-diodes"]),
                },
            }
            for n, i_sc_a in enumerate(kinds)
        ],
        "controllers": [
            {
                "name": "one",
                "kind": "mppt",
                "max_input_voltage_v": 100.0,
                "max_output_current_a": 60.0,
                "max_input_short_circuit_a": 200.0,
                "blocks_reverse_current": rng.random() < 0.7,
            }
        ],
        "battery": {
            "chemistry": "lithium-iron-phosphate",
            "nominal_voltage_v": 12,
            "capacity_ah": 100.0,
            "short_circuit_current_a": fault_a,
        },
        "site": {"lowest_ambient_c": -10.0, "highest_ambient_c": 36.0, "hot_cell_c": 65.0},
        "rules": rng.choice(RULES),
        "connectors": {"plug_current_a": 100.0, "branch_current_a": 200.0},
        "leave_out_at_most": 0,
        "most_arrangements": 3,
    }


def battery_backfeed_a(request: ArrayConfigurationRequest) -> float:
    """What the battery pushes back [A]."""
    return backfeed_a(request.controllers[0], request.battery, Assumptions())


def by_array(arrangement: Arrangement) -> Check | None:
    """Check of the string that is worst off."""
    return next((check for check in arrangement.checks if check.code == CODE), None)


def by_wire_sizing(
    request: ArrayConfigurationRequest, array: ControllerArray, number: int, fuse_a: float | None
) -> tuple[Check, float | None]:
    """Check and fuse of one string's own cable."""
    string = array.strings[number]
    others = sum(s.i_sc_a for n, s in enumerate(array.strings) if n != number)
    answer = wire_sizing(
        WireSizingRequest(
            circuit="pv-string",
            rules=request.rules or "nec-2023",
            voltage_v=19.2 * len(string.panels),
            length_m=2.0,
            panels_behind=PanelsBehind(
                i_sc_a=string.i_sc_a,
                strings_in_parallel=len(array.strings),
                other_strings_i_sc_a=others or None,
                max_series_fuse_a=fuse_a,
                battery_backfeed_a=battery_backfeed_a(request),
            ),
        )
    )
    found = next(check for check in answer.checks if check.code == CODE)
    return found, answer.protection.rating_a if answer.protection.needed else None


def by_flat_question(
    request: ArrayConfigurationRequest, array: ControllerArray, number: int, fuse_a: float | None
) -> tuple[float, str, float | None]:
    """Current, verdict and fuse of the question for spreadsheets."""
    others = sum(s.i_sc_a for n, s in enumerate(array.strings) if n != number)
    found = string_fuse_for(
        StringFuseQuestion(
            i_sc_a=array.strings[number].i_sc_a,
            strings_in_parallel=len(array.strings),
            other_strings_i_sc_a=others or None,
            max_series_fuse_a=fuse_a,
            battery_backfeed_a=battery_backfeed_a(request),
            rules=request.rules,
        )
    )
    return found.backfeed_a, found.verdict, None if found.needed == "no" else found.fuse_a


def by_shaded_iv(
    request: ArrayConfigurationRequest, array: ControllerArray, diodes: bool
) -> list[Check]:
    """Check of every string; this calculation knows no battery."""
    names = {f"{kind.name}-{n}": kind for kind in request.panels for n in range(1, kind.count + 1)}
    body = {
        "panels": [
            {"name": name, "panel": msgspec.to_builtins(names[name].panel)}
            for string in array.strings
            for name in string.panels
        ],
        "wiring": {
            "strings": [string.panels for string in array.strings],
            "blocking_diode": DIODE if diodes else None,
        },
        "sun": {"irradiance_w_m2": 1000.0, "cell_temperature_c": 45.0},
        "rules": request.rules,
    }
    answer = shaded_iv(msgspec.convert(body, ShadedIvRequest))
    return [check for check in answer.checks if check.code == CODE]


def series_fuse_a(request: ArrayConfigurationRequest, string: ArrangedString) -> float | None:
    """Smallest of a string's panels; None where one is unknown and no known one is exceeded."""
    kinds = {kind.name: kind.panel.electrical.max_series_fuse_a for kind in request.panels}
    ratings = [kinds[panel.rsplit("-", 1)[0]] for panel in string.panels]
    known = min((rating for rating in ratings if rating), default=None)
    exceeded = known is not None and (string.reverse_current_a or 0.0) > known
    return known if exceeded or None not in ratings else None


def close(one: float | None, other: float | None) -> bool:
    """Whether two figures are the same to 1e-9."""
    if one is None or other is None:
        return one is other
    return abs(one - other) <= 1e-9 * max(1.0, abs(other))


def compare(body: dict[str, Any], diodes: bool) -> Counter[str]:
    """Ask everywhere about every arrangement of one request.

    Raises
    ------
    AssertionError
        Where two places disagree.
    """
    request = msgspec.convert(body, ArrayConfigurationRequest)
    seen: Counter[str] = Counter()
    for arrangement in array_configuration(request).arrangements:
        array = arrangement.arrays[0]
        shaded = by_shaded_iv(request, array, diodes)
        judged: list[str] = []
        for number, string in enumerate(array.strings):
            fuse_a = series_fuse_a(request, string)
            check, fitted = by_wire_sizing(request, array, number, fuse_a)
            pushed, verdict, asked = by_flat_question(request, array, number, fuse_a)
            figures = (check.demand, pushed, string.reverse_current_a)
            assert all(close(figure, string.reverse_current_a) for figure in figures), figures
            assert check.verdict == verdict, (check, verdict)
            # A known panel may leave less room than these hear of where another is unknown.
            unheard = fuse_a is None and string.fuse_a is None
            assert close(asked, string.fuse_a) or unheard, (asked, string)
            assert close(fitted, string.fuse_a) or verdict in ("fail", "not-assessed")
            if shaded and not battery_backfeed_a(request):
                assert close(shaded[number].demand, string.reverse_current_a)
                assert close(shaded[number].capacity, check.capacity)
                assert shaded[number].verdict == verdict, (shaded[number], verdict)
                seen["shaded"] += 1
            judged.append(verdict)
            seen[verdict] += 1
        worst = by_array(arrangement)
        assert (worst.verdict if worst else "pass") == max(judged, key=VERDICTS.index)
        seen["unequal"] += len({string.i_sc_a for string in array.strings}) > 1
    return seen


def run(count: int, seed: int) -> Counter[str]:
    """Compare on randomly generated builds; how often each verdict was met."""
    rng = random.Random(seed)
    seen: Counter[str] = Counter()
    for _ in range(count):
        seen += compare(build(rng), diodes=rng.random() < 0.3)
    return seen


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(run(options.count, options.seed))
