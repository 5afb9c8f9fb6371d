"""What instruments should read in a step, with the band that is still sound."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from sunhitch.texts import statement
from sunhitch.types.array import ArrangedString, ControllerArray
from sunhitch.types.fitout import FitOutPanelType
from sunhitch.types.work import MeterQuantity, StepReading
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.commissioning.sound_array import (
    ReadingBand,
    half_lit,
    shorted_band,
    sound_array,
    sound_readings,
)
from sunhitch_service.engine.rules.readings import insulation_row, insulation_voltage_v

from .build import Build
from .circuit import string_name
from .job import Job
from .practice import WORK


class TestedPanel(NamedTuple):
    """What one type of panel reads on the bench.

    `half_a` is the short circuit with half of its bypass groups covered. It is none where no diode
    carries the current past them, so that a cover tells nothing.
    """

    voltage_v: ReadingBand
    current_a: ReadingBand
    half_a: ReadingBand | None
    falls_v_per_k: float


class PanelTest(NamedTuple):
    """Light and heat of the test, and every type of panel in it."""

    irradiance_w_m2: float
    cell_c: float
    panels: dict[str, TestedPanel]


def panel_test(job: Job, known: Assumptions) -> PanelTest:
    """What every type of panel on the roof should read before it is mounted.

    Parameters
    ----------
    job : Job
        The resolved request.
    known : Assumptions
        Takes light and heat that the caller did not give.
    """
    work = job.request.work
    light = WORK.usual(
        known, "/work/bench_irradiance_w_m2", work.bench_irradiance_w_m2, "bench_irradiance_w_m2"
    )
    cell_c = WORK.usual(known, "/work/bench_cell_c", work.bench_cell_c, "bench_cell_c")
    tested = {one.name: _tested(job, one.kind, light, cell_c) for one in job.wired_types}
    return PanelTest(light, cell_c, tested)


def _tested(job: Job, kind: FitOutPanelType, irradiance_w_m2: float, cell_c: float) -> TestedPanel:
    panel = kind.panel
    inspection = sound_array(panel, irradiance_w_m2, (cell_c, None))
    found, half = sound_readings(inspection), half_lit(inspection, "groups")
    current = found["short-circuit current"]
    bridged = half.short_circuit_current > 0.5 * current.expected
    return TestedPanel(
        voltage_v=found["open-circuit voltage"],
        current_a=current,
        half_a=shorted_band(inspection, half.short_circuit_current) if bridged else None,
        falls_v_per_k=-job.beta_voc[kind.name] * panel.electrical.v_oc_v,
    )


def step_readings(step: str, build: Build, bench: PanelTest) -> list[StepReading]:
    """Readings of one step; none where nothing is measured.

    Parameters
    ----------
    step : str
        Its code.
    build : Build
        The checked build.
    bench : PanelTest
        Readings on the bench.
    """
    found: Iterable[StepReading]
    match step:
        case "try-panels":
            found = (one for kind, panel in bench.panels.items() for one in _bare(kind, panel))
        case "half-cover":
            found = (
                _reading(kind, "half-covered-current", "A", panel.half_a)
                for kind, panel in bench.panels.items()
                if panel.half_a
            )
        case "fit-panels":
            found = _torques(build)
        case "test-strings":
            found = _voltages(build)
        case "connect-panels":
            found = (_array_voltage(build, one.controller) for one in build.arrangement.arrays)
        case "prove-by-meter":
            found = _proof(build)
        case _:
            found = ()
    return list(found)


def open_circuit_v(build: Build, string: ArrangedString) -> tuple[float, float]:
    """Open-circuit voltage of a string with hot cells and in the cold [V]."""
    low, high = 0.0, 0.0
    for name in string.panels:
        kind = build.job.type_of(name)
        v_oc_v, beta = kind.panel.electrical.v_oc_v, build.job.beta_voc[kind.name]
        low += v_oc_v * (1.0 + beta * (build.hot_cell_c - 25.0))
        high += v_oc_v * (1.0 + beta * (build.job.request.site.lowest_ambient_c - 25.0))
    return low, high


def _voltages(build: Build) -> Iterator[StepReading]:
    for array in build.arrangement.arrays:
        for number, string in enumerate(array.strings, start=1):
            low, high = open_circuit_v(build, string)
            name = string_name(array.controller, number)
            yield _within(name, "open-circuit-voltage", "V", low, high)


def _bare(kind: str, panel: TestedPanel) -> Iterator[StepReading]:
    yield _reading(kind, "open-circuit-voltage", "V", panel.voltage_v)
    yield _reading(kind, "short-circuit-current", "A", panel.current_a)


def _torques(build: Build) -> Iterator[StepReading]:
    """Torque of the nuts of each type of panel, with what a wrench may be off."""
    off, kinds = WORK.figure("torque_share"), dict[tuple[str, float], None]()
    for mount in build.mounts:
        if mount.nut_torque_n_m:
            kinds[build.job.type_of(mount.panel).name, mount.nut_torque_n_m] = None
    for kind, torque in kinds:
        band = ReadingBand(torque, torque * (1.0 - off), torque * (1.0 + off))
        yield _reading(kind, "nut-torque", "N·m", band)


def _array_voltage(build: Build, controller: str) -> StepReading:
    ranges = [
        open_circuit_v(build, string)
        for array in build.arrangement.arrays
        if array.controller == controller
        for string in array.strings
    ]
    low, high = min(low for low, _ in ranges), max(high for _, high in ranges)
    return _within(controller, "open-circuit-voltage", "V", low, high)


def _proof(build: Build) -> Iterator[StepReading]:
    """Insulation of every array, its bonds, and the power that it charges with."""
    for array in build.arrangement.arrays:
        row = insulation_of(build, array)
        least = None if row is None else float(row["least_resistance_ohm"]) / 1e6
        yield _within(array.controller, "insulation-resistance", "MΩ", least, None)
    yield _within(
        statement("frames-and-rails"), "bond-resistance", "Ω", None, WORK.figure("bond_ohm")
    )
    yield StepReading(
        subject="battery",
        quantity="charging-power",
        unit="W",
        expected=build.arrangement.sun.charging_power_w,
        low=None,
        high=None,
    )


def insulation_of(build: Build, array: ControllerArray) -> dict[str, str] | None:
    """Row of the table of insulation for an array; None beyond it."""
    highest_v = max(
        sum(build.job.type_of(name).panel.electrical.v_oc_v for name in string.panels)
        for string in array.strings
    )
    return insulation_row(insulation_voltage_v(highest_v))


def _reading(subject: str, quantity: MeterQuantity, unit: str, band: ReadingBand) -> StepReading:
    return StepReading(
        subject=subject,
        quantity=quantity,
        unit=unit,
        expected=_shown(band.expected),
        low=_shown(band.low),
        high=_shown(band.high),
    )


def _shown(value: float) -> float:
    """To five digits, more than any instrument shows."""
    return float(f"{value:.5g}")


def _within(
    subject: str, quantity: MeterQuantity, unit: str, low: float | None, high: float | None
) -> StepReading:
    return StepReading(
        subject=subject,
        quantity=quantity,
        unit=unit,
        low=None if low is None else _shown(low),
        high=None if high is None else _shown(high),
    )
