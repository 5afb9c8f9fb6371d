"""Every check of a random fit-out asked again in each other place that tells its code.

`python tests/agreement/check_places.py --count 1000 --seed 1` asks as often as wanted.
"""

import argparse
import random
from collections import Counter
from collections.abc import Iterable
from typing import Any

import msgspec
from cable_places import CABLES, by_shaded_iv
from cable_places import by_wire_sizing as by_cables
from printed_builds import build as electrical_build

from sunhitch.types.array import (
    Arrangement,
    ArrayConfigurationRequest,
    ArrayConnectors,
    ControllerArray,
    PanelTypeCount,
)
from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutPanelType, FitOutRequest
from sunhitch.types.quick.arrays import ColdVocQuestion, ControllerCurrentQuestion, HotVmpQuestion
from sunhitch.types.roof import PlacedPanel, RoofLayoutRequest
from sunhitch.types.wiring import Circuit, PanelsBehind, WireSizingRequest
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import battery_settings
from sunhitch_service.engine.controller.settings import controller_settings
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.fitout.job import resolve
from sunhitch_service.engine.roof.layout import roof_layout
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.quick.arrays import cold_voc, controller_current, hot_vmp

ARRAY = (
    *("cold-voc-controller", "cold-voc-table", "system-voltage", "touch-voltage"),
    *("hot-vmp-run", "hot-voltage-start", "controller-input-current", "controller-short-circuit"),
    *("controller-array-power", "connector-current", "branch-connector-current"),
    *("string-reverse-current", "string-fuse-rating", "controller-output-current", "pwm-loss"),
    *("mismatch-loss", "series-current-spread", "parallel-voltage-spread"),
    *("battery-charge-rate", "target-power", "battery-cold-charging"),
    "battery-hot-charging",
)
ROOF = (
    *("panel-edge-margin", "panel-obstacle-clearance", "panel-free-strip", "panel-gap"),
    *("foot-edge", "foot-obstacle", "foot-line", "foot-plates-apart", "crown-under-frame"),
    *("cable-entry-room", "cable-route"),
)
POWERED = {"controller-output-current", "pwm-loss", "mismatch-loss", "target-power"}
"""Codes whose figures follow from solved power, told to 1e-4."""

PLACES = {
    **{code: ["fit-out", "array-configuration"] for code in ARRAY},
    **{code: ["fit-out", "roof-layout"] for code in ROOF},
    "cold-voc-controller": ["fit-out", "array-configuration", "quick/cold-voc"],
    "hot-vmp-run": ["fit-out", "array-configuration", "quick/hot-vmp"],
    "controller-short-circuit": ["fit-out", "array-configuration", "quick/controller-current"],
    "connector-current": ["fit-out", "array-configuration", "wire-sizing"],
    "string-reverse-current": ["fit-out", "array-configuration", "shaded-iv"],
    **{code: ["fit-out", "wire-sizing"] for code in CABLES},
    "voltage-drop": ["fit-out", "wire-sizing", "quick/voltage-drop", "quick/wire-size"],
    "device-protects-conductor": ["fit-out", "wire-sizing", "quick/wire-ampacity"],
    "device-carries-load": ["fit-out", "wire-sizing", "quick/battery-fuse"],
}
"""Where each code is told. Codes of mounts, and string fuses in cables and flat questions, have
tests of their own beside this one; every other code is told by one calculation alone."""


def build(rng: random.Random) -> dict[str, Any]:
    """A fit-out with random panels, controllers, battery, climate, places and clearances."""
    body = electrical_build(rng)
    for kind in body["panel_types"]:
        plate = kind["panel"]["electrical"]
        scale = rng.uniform(0.6, 2.2)
        for name in ("v_mp_v", "v_oc_v", "p_mp_w"):
            plate[name] *= scale
        plate["cell_material"] = "other"
        plate["beta_voc_fraction_per_c"] = rng.choice([None, -0.0028, -0.0035])
        plate["max_system_voltage_v"] = rng.choice([None, 60.0, 100.0, 600.0])
    body["site"] = {
        "lowest_ambient_c": rng.uniform(-45.0, 5.0),
        "highest_ambient_c": rng.uniform(25.0, 48.0),
        "hot_cell_c": rng.choice([None, 60.0, 75.0]),
    }
    battery = body["battery"]
    battery["chemistry"] = rng.choice(["lithium-iron-phosphate", "agm", "gel"])
    battery["nominal_voltage_v"] = volts = rng.choice([12, 12, 24])
    battery["charge_voltage_v"] = rng.choice([None, 1.2 * volts])
    battery["max_charge_current_a"] = rng.choice([None, 15.0, 100.0])
    for controller in body["controllers"]:
        controller["max_input_current_a"] = rng.choice([None, 12.0, 30.0])
        controller["max_array_power_w"] = rng.choice([None, 200.0, 500.0])
    body["target"] = {"minimum_power_w": rng.choice([None, 200.0, 400.0])}
    body["connectors"]["branch_current_a"] = rng.choice([None, 20.0, 40.0])
    for place in body["placements"]:
        place["x_m"] = round(place["x_m"] + rng.uniform(-0.25, 0.25), 3)
        place["y_m"] = round(place["y_m"] + rng.uniform(-0.12, 0.12), 3)
    body["min_gap_m"] = rng.choice([None, 0.05, 0.4])
    return body


def same(one: Check, other: Check) -> bool:
    """Whether figures agree to 1e-9, those from solved power to 1e-4, and the verdicts.

    A fit-out that has fitted the fuses has nothing left to change about reverse currents: it passes
    without a ratio, since the fuse ends what comes back, not the panels' rating.
    """
    pairs = [(one.demand, other.demand), (one.capacity, other.capacity)]
    within = 1e-4 if one.code in POWERED else 1e-9
    verdicts = one.verdict, other.verdict
    if one.code == "string-reverse-current" and verdicts == ("pass", "review"):
        alike = one.utilisation_fraction is None
    else:
        pairs.append((one.utilisation_fraction, other.utilisation_fraction))
        alike = one.verdict == other.verdict
    return alike and all(close(a, b, within) for a, b in pairs)


def close(one: float | None, other: float | None, within: float = 1e-9) -> bool:
    """Whether two figures are the same."""
    if one is None or other is None:
        return one is other
    return abs(one - other) <= within * max(1.0, abs(other))


def matched(mine: Iterable[Check], theirs: Iterable[Check], codes: tuple[str, ...]) -> Counter[str]:
    """Compare all checks of some codes by their subjects.

    Raises
    ------
    AssertionError
        Where a check is missing in one place, or two differ.
    """
    first, second = (
        {(c.code, c.subject): c for c in checks if c.code in codes} for checks in (mine, theirs)
    )
    assert first.keys() == second.keys(), first.keys() ^ second.keys()
    for key, check in first.items():
        assert same(check, second[key]), (check, second[key])
    return Counter(code for code, _ in first)


def by_array(request: FitOutRequest, answer: FitOutAnswer) -> Counter[str]:
    """The array asked without a roof, its cables or shade."""
    places = answer.roof.placements
    groups = [
        PanelTypeCount(name=kind.name, panel=kind.panel, count=len(names), instances=names)
        for kind in request.panel_types
        if (names := [p.panel for p in places if p.panel_type == kind.name])
    ]
    alone = array_configuration(
        ArrayConfigurationRequest(
            panels=groups,
            controllers=request.controllers,
            battery=request.battery,
            site=request.site,
            mounting_heat=request.mounting_heat,
            rules=request.rules,
            sun=request.sun,
            connectors=ArrayConnectors(**msgspec.structs.asdict(request.connectors)),
            target=request.target,
            leave_out_at_most=len(places) - 1,
            most_arrangements=200,
        )
    )
    kinds = {place.panel: place.panel_type for place in places}
    best = answer.configurations[0]
    alike = [one for one in alone.arrangements if pattern(one, kinds) == pattern(best, kinds)]
    own = ("battery-cold-charging", "battery-hot-charging")
    charged = [check for check in alone.checks if check.code in own]
    return matched(answer.checks, [*alike[0].checks, *charged], ARRAY) if alike else Counter()


def pattern(one: Arrangement, kinds: dict[str, str]) -> list[tuple[str, list[list[str]]]]:
    """Types of the panels of every string, in order."""
    return [
        (array.controller, [[kinds[name] for name in string.panels] for string in array.strings])
        for array in one.arrays
    ]


def by_roof(request: FitOutRequest, answer: FitOutAnswer) -> Counter[str]:
    """The places as the fit-out lists them, on the same roof."""
    given = {place.name: place for place in request.placements}
    layout = roof_layout(
        RoofLayoutRequest(
            roof=request.roof,
            panel_types=resolve(request).roof_types,
            placements=[
                PlacedPanel(
                    name=place.panel,
                    panel_type=place.panel_type,
                    x_m=place.x_m,
                    y_m=place.y_m,
                    rotated=given[place.panel].rotated,
                    plugs_towards=given[place.panel].plugs_towards,
                )
                for place in answer.roof.placements
            ],
            min_gap_m=request.min_gap_m,
            prefer=request.layout.prefer,
        )
    )
    return matched(answer.checks, layout.checks, ROOF)


def by_flat_questions(request: FitOutRequest, answer: FitOutAnswer) -> Counter[str]:
    """Voltages of an array of equal panels in equal strings."""
    seen: Counter[str] = Counter()
    for array in answer.configurations[0].arrays:
        count = {len(string.panels) for string in array.strings}
        if len(request.panel_types) == len(count) == 1:
            subject = array.controller
            kind, (in_series,) = request.panel_types[0], count
            checks = {c.code: c for c in answer.checks if (c.subject or "").startswith(subject)}
            seen += cold_question(kind, in_series, array, request, checks["cold-voc-controller"])
            seen += hot_question(kind, in_series, array, request, answer, checks["hot-vmp-run"])
            seen += controller_question(kind, array, request, checks["controller-short-circuit"])
    return seen


def by_wire_sizing(request: FitOutRequest, answer: FitOutAnswer) -> Counter[str]:
    """Plugs of the strongest string of every array, asked of its own cable and of its output."""
    seen: Counter[str] = Counter()
    for array in answer.configurations[0].arrays:
        worst = max(array.strings, key=lambda s: s.i_sc_a)
        number = array.strings.index(worst) + 1
        alone = len(array.strings) == 1
        subject = array.controller if alone else f"{array.controller}, string {number}"
        (check,) = (
            c for c in answer.checks if (c.code, c.subject) == ("connector-current", subject)
        )
        circuits: list[Circuit] = ["pv-string", "pv-output"] if alone else ["pv-string"]
        for circuit in circuits:
            sized = wire_sizing(
                WireSizingRequest(
                    circuit=circuit,
                    rules=request.rules,
                    voltage_v=20.0,
                    length_m=2.0,
                    panels_behind=PanelsBehind(
                        i_sc_a=worst.i_sc_a, strings_in_parallel=len(array.strings)
                    ),
                    connector_rating_a=request.connectors.plug_current_a,
                )
            )
            (found,) = (c for c in sized.checks if c.code == check.code)
            assert same(found, check), (found, check)
            assert (found.remedy, found.basis) == (check.remedy, check.basis)
            seen["wire-sizing"] += 1
    return seen


def cold_question(
    kind: FitOutPanelType,
    in_series: int,
    array: ControllerArray,
    request: FitOutRequest,
    check: Check,
) -> Counter[str]:
    """The coldest morning; the flat question refuses what the table does not reach."""
    plate = kind.panel.electrical
    limits = {c.name: c.max_input_voltage_v for c in request.controllers}
    try:
        found = cold_voc(
            ColdVocQuestion(
                v_oc_v=plate.v_oc_v,
                beta_voc_fraction_per_c=plate.beta_voc_fraction_per_c,
                lowest_ambient_c=request.site.lowest_ambient_c,
                panels_in_series=in_series,
                max_input_voltage_v=limits[array.controller],
            )
        )
    except ContradictionError:
        return Counter()
    assert close(found.string_v_oc_v, check.demand), (found, check)
    assert found.verdict == check.verdict, (found, check)
    assert found.remedy == check.remedy
    return Counter({"quick/cold-voc": 1})


def hot_question(
    kind: FitOutPanelType,
    in_series: int,
    array: ControllerArray,
    request: FitOutRequest,
    answer: FitOutAnswer,
    check: Check,
) -> Counter[str]:
    """The hottest noon."""
    plate, battery = kind.panel.electrical, battery_settings(request.battery, Assumptions())
    controller = next(c for c in request.controllers if c.name == array.controller)
    found = hot_vmp(
        HotVmpQuestion(
            v_mp_v=plate.v_mp_v,
            hot_cell_c=answer.hot_cell_c,
            gamma_pmp_fraction_per_c=plate.gamma_pmp_fraction_per_c,
            alpha_sc_fraction_per_c=plate.alpha_sc_fraction_per_c,
            panels_in_series=in_series,
            charge_voltage_v=battery.charge_v,
            working_voltage_v=battery.working_v,
            run_margin_v=controller_settings(controller, "", Assumptions()).run_margin_v,
        )
    )
    assert close(found.string_v_mp_v, check.capacity), (found, check)
    assert found.verdict == check.verdict, (found, check)
    # How many in series the controller bears is not asked there.
    assert found.remedy.partition(". ")[0] == check.remedy.partition(". ")[0], (found, check)
    return Counter({"quick/hot-vmp": 1})


def controller_question(
    kind: FitOutPanelType, array: ControllerArray, request: FitOutRequest, check: Check
) -> Counter[str]:
    """Short circuit of the array at its controller; a tracker is made large enough not to clip."""
    plate = kind.panel.electrical
    controller = next(c for c in request.controllers if c.name == array.controller)
    pwm = controller.kind == "pwm"
    found = controller_current(
        ControllerCurrentQuestion(
            p_mp_w=plate.p_mp_w,
            i_sc_a=plate.i_sc_a,
            strings_in_parallel=len(array.strings),
            controller_output_a=controller.max_output_current_a if pwm else 500.0,
            controller_kind=controller.kind,
            working_voltage_v=13.3,
            max_input_short_circuit_a=controller.max_input_short_circuit_a,
            rules=request.rules,
        )
    )
    assert close(found.strong_sun_a, check.demand), (found, check)
    assert found.verdict == check.verdict, (found, check)
    assert found.remedy == check.remedy
    return Counter({"quick/controller-current": 1})


def run(count: int, seed: int) -> Counter[str]:
    """Compare on randomly generated builds; how often each code was met in two places."""
    rng = random.Random(seed)
    seen: Counter[str] = Counter()
    while seen["builds"] < count:
        body = build(rng)
        try:
            request = msgspec.convert(body, FitOutRequest)
            answer = fit_out(request)
        except (msgspec.ValidationError, ContradictionError):
            seen["refused"] += 1
            continue
        seen["builds"] += 1
        seen += by_array(request, answer)
        seen += by_roof(request, answer)
        seen += by_flat_questions(request, answer)
        seen += by_wire_sizing(request, answer)
        seen += by_cables(request, answer)
        seen += by_shaded_iv(request, answer)
    return seen


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(run(options.count, options.seed))
