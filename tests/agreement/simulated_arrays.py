"""Readings of arrays with known faults, by the exact solver of cells and diodes.

`python tests/agreement/simulated_arrays.py --sound 300 --each 100` diagnoses so many and tells the
share of right first causes for every fault; `--bound` tells how often any method could be right.
"""

import argparse
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import ndtr, ndtri

from sunhitch.types.commissioning import (
    CheckedArray,
    CheckedString,
    CommissioningCheckAnswer,
    CommissioningCheckRequest,
    IrradianceReading,
    Reading,
)
from sunhitch.types.panel import ConstructionName, Panel, PanelElectrical, PanelType
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.commissioning.calculation import commissioning_check
from sunhitch_service.engine.commissioning.evidence import figures_of
from sunhitch_service.engine.commissioning.setup import settle
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel, completed, lit_panel
from sunhitch_service.engine.pv.solution import Interconnection, Solution, solve_array

PLATES = [
    PanelElectrical(
        p_mp_w=196.2,
        v_mp_v=20.1,
        i_mp_a=9.76,
        v_oc_v=24.05,
        i_sc_a=10.3,
        cells_in_series=36,
        alpha_sc_fraction_per_c=0.0005,
        beta_voc_fraction_per_c=-0.0026,
        gamma_pmp_fraction_per_c=-0.0035,
    ),
    PanelElectrical(
        p_mp_w=115.0, v_mp_v=19.2, i_mp_a=5.99, v_oc_v=22.9, i_sc_a=6.4, cells_in_series=36
    ),
]
CONSTRUCTIONS: list[ConstructionName] = ["half-cell-2-diodes", "full-cell-2-diodes"]
NAMEPLATE, DUST, METER = 0.012, 0.03, 0.03
"""Standard deviation of a panel's current, most dust, standard deviation of the light meter."""
VOLTS, AMPERES, REPEAT = 0.005, 0.02, 0.004
"""Standard deviations of voltmeter and clamp, and of one reading to the next, after a hand meter's
usual data sheet, from memory."""
CABLE_OHM = 0.02


@dataclass
class Built:
    """An array on one day: what it is, and what its readings are taken in."""

    draw: np.random.Generator
    kind: ResolvedPanel
    panel: Panel
    strings: list[list[LitPanel]]
    sun: float
    heat: float
    lead_ohm: float = 0.0
    towards_open: float = 0.0
    light_at: dict[str, float] = field(default_factory=dict)
    sign: float = 1.0
    in_series: int = 1

    def solved(self, strings: list[list[LitPanel]]) -> Solution:
        named = {f"{k}-{n}": lit for k, own in enumerate(strings) for n, lit in enumerate(own)}
        wiring = [[f"{k}-{n}" for n in range(len(own))] for k, own in enumerate(strings) if own]
        return solve_array({n: named[n] for own in wiring for n in own}, Interconnection(wiring))


def built(
    draw: np.random.Generator,
    fewest: tuple[int, int],
    sun: float,
    counts: tuple[int, int] | None = None,
) -> Built:
    """A sound array with panels of their own tolerance, under usual dust."""
    panel = Panel(electrical=PLATES[draw.integers(2)], construction=CONSTRUCTIONS[draw.integers(2)])
    kind = completed(panel, Assumptions(), "")
    heat = draw.uniform(25.0, 60.0)
    dust = 1.0 - draw.uniform(0.0, DUST)
    shape = kind.layout.paths_in_parallel, kind.layout.positions_in_series
    counts = counts or tuple(int(draw.integers(least, 4)) for least in fewest)
    strings = [
        [
            _specimen(draw, lit_panel(kind, sun, heat, np.full(shape, dust)))
            for _ in range(counts[1])
        ]
        for _ in range(counts[0])
    ]
    return Built(draw, kind, panel, strings, sun, heat, in_series=counts[1])


def _specimen(draw: np.random.Generator, lit: LitPanel) -> LitPanel:
    """A panel off its nameplate in current, and half as much in voltage."""
    amperes, volts = 1.0 + NAMEPLATE * draw.normal(), 1.0 + 0.5 * NAMEPLATE * draw.normal()
    cell = lit.junction
    cell = replace(
        cell,
        saturation_current=cell.saturation_current * amperes,
        thermal_voltage=cell.thermal_voltage * volts,
        series_resistance=cell.series_resistance * volts / amperes,
        shunt_conductance=cell.shunt_conductance * amperes / volts,
    )
    return replace(lit, junction=cell, full_current=lit.full_current * amperes)


def _one(array: Built) -> tuple[int, int]:
    k = int(array.draw.integers(len(array.strings)))
    return k, int(array.draw.integers(len(array.strings[k])))


def shorted(array: Built) -> None:
    """A bypass diode that has failed closed: its group adds nothing."""
    k, n = _one(array)
    lit = array.strings[k][n]
    array.strings[k][n] = replace(lit, groups=lit.groups[1:])


def string_off(array: Built) -> None:
    """Open where the strings are joined, or within the string."""
    array.strings[_one(array)[0]] = []


def panel_off(array: Built) -> None:
    k, n = _one(array)
    del array.strings[k][n]


def dirty(array: Built) -> None:
    array.strings = [
        [replace(lit, light=lit.light * 0.85) for lit in string] for string in array.strings
    ]


def contact(array: Built) -> None:
    v, i = _maximum(array, array.solved(array.strings))
    array.lead_ohm = 0.1 * v / i


def cracked(left: float) -> Callable[[Built], None]:
    def fault(array: Built) -> None:
        k, n = _one(array)
        light = array.strings[k][n].light.copy()
        light[0, int(array.draw.integers(light.shape[1]))] *= left
        array.strings[k][n] = replace(array.strings[k][n], light=light)

    return fault


def floating(array: Built) -> None:
    array.towards_open = float(array.draw.uniform(0.3, 0.9))


def swapped(array: Built) -> None:
    array.sign = -1.0


def cloud(array: Built) -> None:
    """From some reading on the light is less, by a different share before and after."""
    loss = float(array.draw.uniform(0.1, 0.4))
    names = ["array short", "array working"]
    array.light_at = dict.fromkeys(names[int(array.draw.integers(2)) :], 1.0 - loss)


def nothing(array: Built) -> None:
    """A sound array."""


FAULTS: dict[str, tuple[Callable[[Built], None], tuple[int, int], tuple[str, ...]]] = {
    "one diode shorted": (shorted, (1, 1), ("shorted-group",)),
    "one string off": (string_off, (2, 1), ("string-missing",)),
    "one panel off": (panel_off, (1, 2), ("panel-missing",)),
    "15 % dirt": (dirty, (1, 1), ("dirt",)),
    "contact, 10 % of the voltage": (contact, (1, 1), ("bad-contact",)),
    "cell cracked to 60 %": (cracked(0.6), (1, 1), ("cracked-cell",)),
    "cell cracked to 80 %": (cracked(0.8), (1, 1), ("cracked-cell",)),
    "controller at float": (floating, (1, 1), ("controller-holds-back",)),
    "leads swapped": (swapped, (1, 1), ("leads-swapped",)),
    "thin cloud": (cloud, (1, 1), ("light-changed",)),
    "low light": (nothing, (1, 1), ("too-little-light",)),
}
"""What is done to an array, strings and panels that it needs, and the causes that are right."""


def _maximum(array: Built, solution: Solution) -> tuple[float, float]:
    """Voltage and current at a meter behind cable and leads, where the controller works."""
    ohm = CABLE_OHM + array.lead_ohm
    v = np.linspace(0.0, solution.points.open_circuit_voltage, 4001)
    i = solution.curve.currents(v)[0]
    outside = v - ohm * i
    best = int(np.argmax(outside * i))
    if array.towards_open:
        wanted = outside[best] + array.towards_open * (outside[-1] - outside[best])
        best = int(np.argmin(np.abs(outside - wanted)))
    else:
        best += int(array.draw.integers(-40, 41))
    return float(outside[best]), float(i[best])


def readings(array: Built) -> list[Reading]:
    """Voc of every string and of the array, Isc and the working point, light before and after."""
    draw = array.draw
    meter = 1.0 + METER * draw.normal()
    volts, amperes = 1.0 + VOLTS * draw.normal(), 1.0 + AMPERES * draw.normal()
    warm = array.heat + 2.0 * draw.normal()
    names = [f"s{k}" for k in range(len(array.strings))]
    found: list[Reading] = []

    def read(name: str, kind: str, of: str, v: float | None, i: float | None) -> None:
        own = array.light_at.get(name, 1.0)
        before = array.light_at.get(found[-1].name, 1.0) if found else 1.0
        shown = [array.sun * s * meter * (1.0 + REPEAT * draw.normal()) for s in (before, own)]
        light = IrradianceReading(irradiance_w_m2=shown[0], after_w_m2=shown[1])
        found.append(
            Reading(
                name=name,
                kind=kind,
                of=of,
                taken_at="2027-05-18T12:40:00+02:00",
                voltage_v=v and array.sign * v * volts * (1.0 + REPEAT * draw.normal()),
                current_a=i and i * amperes * (1.0 + REPEAT * draw.normal()),
                light=light,
                cell_temperature_c=warm,
            )
        )

    for name, string in zip(names, array.strings, strict=True):
        v = array.solved([string]).points.open_circuit_voltage if string else 0.05
        read(name, "open-circuit", name, v, None)
    whole = array.solved(array.strings)
    read("array", "open-circuit", "array", whole.points.open_circuit_voltage, None)
    short = _in_light(array, "array short").points.short_circuit_current
    read("array short", "short-circuit", "array", None, short)
    v, i = _maximum(array, _in_light(array, "array working"))
    read("array working", "operating", "array", v, i)
    return found


def _in_light(array: Built, name: str) -> Solution:
    """The array in the light of a reading: half of what a cloud takes had gone before."""
    own = array.light_at.get(name, 1.0)
    first = next(iter(array.light_at), "") == name
    share = 1.0 - (1.0 - own) * (float(array.draw.uniform(0.2, 1.0)) if first else 1.0)
    return array.solved(
        [[replace(p, full_current=p.full_current * share) for p in s] for s in array.strings]
    )


def reported(array: Built) -> CommissioningCheckRequest:
    """An array's readings as they are sent in."""
    return CommissioningCheckRequest(
        array=CheckedArray(
            panel_types=[PanelType(name="p", panel=array.panel)],
            strings=[
                CheckedString(name=f"s{k}", panel_type="p", panels_in_series=array.in_series)
                for k in range(len(array.strings))
            ],
            cable_resistance_ohm=CABLE_OHM,
        ),
        readings=readings(array),
        nameplate_uncertainty_fraction=NAMEPLATE,
    )


def simulated(seed: int, fault: str) -> tuple[Built, CommissioningCheckAnswer]:
    """An array with a fault, or a sound one, and its diagnosis."""
    draw = np.random.default_rng([seed, 0 if not fault else 1 + list(FAULTS).index(fault)])
    light = (60.0, 180.0) if fault == "low light" else (700.0, 1050.0)
    array = built(draw, FAULTS[fault][1] if fault else (1, 1), draw.uniform(*light))
    if fault:
        FAULTS[fault][0](array)
    return array, commissioning_check(reported(array))


def _seen(array: Built) -> np.ndarray:
    """What the readings of a day hold: ln(measured ÷ expected) of every voltage and current."""
    inspection = settle(reported(array))
    taken = range(len(inspection.request.readings))
    figures = [f for k in taken for f in figures_of(inspection, k) if f.quantity != "power"]
    return np.log([abs(f.measured) / f.expected for f in figures])


def bound(fault: str, seeds: range, sound: int = 100, false_alarms: float = 0.05) -> float:
    """Share of arrays with a fault that the best test of all could tell from sound ones.

    The likelihood ratio of Neyman and Pearson, told beforehand which cell, diode or string it
    would be, with the true scatter of sound arrays of that shape, and all false alarms allowed for
    this one fault: no diagnosis that also weighs other causes can do better.
    """
    scatter: dict[tuple[int, int], np.ndarray] = {}
    found = []
    for seed in seeds:
        pair = []
        for damage in (FAULTS[fault][0], nothing):
            draw = np.random.default_rng([seed, 1 + list(FAULTS).index(fault)])
            array = built(draw, FAULTS[fault][1], draw.uniform(700.0, 1050.0))
            damage(array)
            array.draw = np.random.default_rng([seed, 5])
            pair.append(array)
        shape = len(pair[1].strings), pair[1].in_series
        if shape not in scatter:
            alike = []
            for number in range(sound):
                draw = np.random.default_rng([number, *shape])
                one = built(draw, (1, 1), draw.uniform(700.0, 1050.0), shape)
                alike.append(_seen(one))
            scatter[shape] = np.cov(np.array(alike).T)
        shift = _seen(pair[0]) - _seen(pair[1])
        distance = np.sqrt(shift @ np.linalg.solve(scatter[shape], shift))
        found.append(ndtr(distance - ndtri(1.0 - false_alarms)))
    return float(np.mean(found))


@dataclass
class Tally:
    """Diagnoses of arrays with one fault.

    Parameters
    ----------
    right : int
        How often a right cause came first.
    kept : int
        How often a right cause came first or was told as still possible.
    causes, verdicts : Counter
        First causes, and verdicts of the whole answer.
    """

    right: int
    kept: int
    causes: Counter[str]
    verdicts: Counter[str]


def tally(fault: str, seeds: range) -> Tally:
    """Diagnose arrays with a fault, or sound ones."""
    right = {*(FAULTS[fault][2] if fault else ("nothing-wrong",))}
    found = Tally(0, 0, Counter(), Counter())
    for seed in seeds:
        answer = simulated(seed, fault)[1]
        (day,) = answer.diagnoses
        first, allowed = day.causes[0].code, {one.code for one in day.still_possible}
        found.right += first in right
        found.kept += bool(right & {first, *allowed})
        found.causes[first] += 1
        found.verdicts[answer.verdict] += 1
    return found


def main() -> None:
    """Tell the shares."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sound", type=int, default=300)
    parser.add_argument("--each", type=int, default=100)
    parser.add_argument("--bound", action="store_true")
    given = parser.parse_args()
    if given.bound:
        for fault in FAULTS:
            if fault.startswith("cell"):
                print(f"{fault}: at most {bound(fault, range(given.each)):.3f}", flush=True)
        return
    for fault in ("", *FAULTS):
        count = given.each if fault else given.sound
        found = tally(fault, range(count))
        first = ", ".join(f"{code} {n}" for code, n in found.causes.most_common(4))
        print(f"{fault or 'sound'}: {found.right} of {count} right ({first})")
        print(f"    right or told as possible {found.kept}; {dict(found.verdicts)}")


if __name__ == "__main__":
    main()
