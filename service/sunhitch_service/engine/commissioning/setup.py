"""The request with every default settled, and the light and heat of every reading."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.commissioning import (
    ClearSkySun,
    CommissioningCheckRequest,
    IrradianceReading,
    Reading,
    ReferencePanelReading,
)
from sunhitch.types.system import ControllerKind
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.practice import PRACTICE
from sunhitch_service.engine.pv.presets import ResolvedPanel, coefficient, resolve_panel
from sunhitch_service.engine.pv.temperature import cell_in_sun_c
from sunhitch_service.engine.rules.readings import is_weak
from sunhitch_service.engine.sky import clear_sky, on_plane, sun_at, unix_seconds

from .model import StringState
from .practice import figure, usual
from .validate import validate

ARRAY = "array"
_STC_C = 25.0


@dataclass(frozen=True, slots=True)
class ReadingConditions:
    """Light and heat of a reading with their standard uncertainties.

    Parameters
    ----------
    irradiance_w_m2 : float
        In the panels' plane [W/m²].
    irradiance_share : float
        Its standard uncertainty as a share [1].
    cell_c, cell_k : float
        Cell temperature [°C] and its standard uncertainty [K].
    changed : float or None
        How much the light changed while the reading was taken, as a share [1]; unknown if None.
    is_weak : bool
        Whether it is too weak to judge the reading by.
    """

    irradiance_w_m2: float
    irradiance_share: float
    cell_c: float
    cell_k: float
    changed: float | None = None
    is_weak: bool = False

    @property
    def own_share(self) -> float:
        """Standard uncertainty of a reading's light by its change and by a meter's offset [1]."""
        changed = 0.0 if self.changed is None else self.changed / np.sqrt(12.0)
        return float(np.hypot(changed, figure("light-offset") / max(self.irradiance_w_m2, 1.0)))

    @property
    def is_steady(self) -> bool:
        """Whether the light is known not to have changed."""
        return self.changed is not None and not self.is_unsteady

    @property
    def is_unsteady(self) -> bool:
        """Whether the light changed so much that a reading says little."""
        return self.changed is not None and self.changed > figure("unsteady")


@dataclass(frozen=True)
class CommissioningInspection:
    """Everything settled.

    Parameters
    ----------
    request : CommissioningCheckRequest
        As given.
    assumptions : Assumptions
        What was chosen.
    panels : dict
        Panel types by name.
    conditions : list of ReadingConditions
        One per reading.
    volt_share, ampere_share : float
        Standard uncertainty of the meters [1].
    plate_share : float
        Standard uncertainty of nameplate current and power [1].
    is_held : bool
        Whether a plain switch loads the array while it charges.
    """

    request: CommissioningCheckRequest
    assumptions: Assumptions
    panels: dict[str, ResolvedPanel]
    conditions: list[ReadingConditions]
    volt_share: float
    ampere_share: float
    plate_share: float
    is_held: bool

    @property
    def plate_volt_share(self) -> float:
        """Standard uncertainty of nameplate voltages, half that of currents or less [1]."""
        return min(figure("nameplate-voltage"), 0.5 * self.plate_share)

    @cached_property
    def strings(self) -> dict[str, StringState]:
        """Faultless strings by name."""
        return {
            s.name: StringState(self.panels[s.panel_type], s.panels_in_series)
            for s in self.request.array.strings
        }

    def behind(self, of: str, changed: Mapping[str, StringState] = {}) -> list[StringState]:
        """Strings behind a reading, all of them or the one named, some of them changed."""
        return [
            changed.get(name, string)
            for name, string in self.strings.items()
            if of in (ARRAY, name)
        ]

    def panels_behind(self, of: str) -> set[tuple[str, int]]:
        """Panels behind a reading, by string and number."""
        return {
            (name, number)
            for name, string in self.strings.items()
            if of in (ARRAY, name)
            for number in range(string.in_series)
        }

    def held_v(self, reading: Reading) -> float | None:
        """Voltage at which a plain switch holds what is read [V]; None where nothing holds it."""
        return reading.voltage_v if self.is_held and reading.kind == "operating" else None

    def cable_ohm(self, of: str) -> float:
        """Resistance between them and the meter [Ω]; none where a string is measured alone."""
        return self.request.array.cable_resistance_ohm if of == ARRAY else 0.0


def settle(request: CommissioningCheckRequest) -> CommissioningInspection:
    """Settle every default and note it.

    Parameters
    ----------
    request : CommissioningCheckRequest
        As given.

    Returns
    -------
    CommissioningInspection
        Ready to be judged.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    validate(request)
    notes = Assumptions()
    meters = request.meters
    return CommissioningInspection(
        request=request,
        assumptions=notes,
        panels={
            entry.name: resolve_panel(entry.panel, notes, f"/array/panel_types/{index}/panel")
            for index, entry in enumerate(request.array.panel_types)
        },
        conditions=[_conditions(request, index, notes) for index in range(len(request.readings))],
        volt_share=usual(notes, "/meters/voltage_fraction", meters.voltage_fraction, "volt-meter"),
        ampere_share=usual(
            notes, "/meters/current_fraction", meters.current_fraction, "ampere-meter"
        ),
        plate_share=usual(
            notes,
            "/nameplate_uncertainty_fraction",
            request.nameplate_uncertainty_fraction,
            "nameplate",
        ),
        is_held=_controller(request, notes) == "pwm",
    )


def _controller(request: CommissioningCheckRequest, notes: Assumptions) -> ControllerKind:
    """What loads the array; told among the assumptions where it counts."""
    given = request.array.controller_kind
    if all(reading.kind != "operating" for reading in request.readings):
        return given or "mppt"
    return notes.choose("/array/controller_kind", given, "mppt", statement("tracker-loads-array"))


def _conditions(
    request: CommissioningCheckRequest, index: int, notes: Assumptions
) -> ReadingConditions:
    reading = request.readings[index]
    at = f"/readings/{index}"
    irradiance, name, changed = _irradiance(request, reading, at, notes)
    given = reading.light.uncertainty_fraction
    share = usual(notes, f"{at}/light/uncertainty_fraction", given, name)
    cell_c, cell_k = _cell(request, reading, irradiance, at, notes)
    weak = is_weak(reading.kind == "open-circuit", irradiance)
    return ReadingConditions(irradiance, share, cell_c, cell_k, changed, weak)


def _irradiance(
    request: CommissioningCheckRequest, reading: Reading, at: str, notes: Assumptions
) -> tuple[float, str, float | None]:
    """Irradiance [W/m²], the name of its usual uncertainty, and by what share it changed."""
    light = reading.light
    if isinstance(light, IrradianceReading):
        before, after, name = light.irradiance_w_m2, light.after_w_m2, "irradiance-meter"
    elif isinstance(light, ReferencePanelReading):
        before, name = _by_reference(light, reading, at, notes), "reference-panel"
        after = light.after_current_a and before * light.after_current_a / light.current_a
    else:
        return clear_sky_irradiance(request, reading, light), "clear-sky", None
    if after is None:
        return before, name, None
    mean = 0.5 * (before + after)
    return mean, name, abs(after - before) / mean


def _by_reference(
    light: ReferencePanelReading, reading: Reading, at: str, notes: Assumptions
) -> float:
    given_alpha = light.alpha_sc_fraction_per_c
    alpha = coefficient("alpha_sc_fraction_per_c", given_alpha, f"{at}/light", notes)
    given = light.cell_temperature_c
    cells = reading.cell_temperature_c if given is None else given
    warmer = 0.0 if cells is None else cells - _STC_C
    return 1000.0 * light.current_a / (light.i_sc_a * (1.0 + alpha * warmer))


def clear_sky_irradiance(
    request: CommissioningCheckRequest, reading: Reading, light: ClearSkySun
) -> float:
    """Irradiance in the panels' plane under a cloudless sky [W/m²].

    Parameters
    ----------
    request : CommissioningCheckRequest
        With a site.
    reading : Reading
        When it was taken.
    light : ClearSkySun
        Haze.

    Returns
    -------
    float
        Zero at night.
    """
    site = request.site
    if site is None:
        return 0.0
    times = np.array([unix_seconds(reading.taken_at)])
    sun = sun_at(site.place, times)
    sky = clear_sky(site.place, times, sun, light.linke_turbidity)
    plane = on_plane(sky, sun, times, site.tilt_deg, site.azimuth_deg, PRACTICE.figure("albedo"))
    return float(plane.total[0])


def _cell(
    request: CommissioningCheckRequest,
    reading: Reading,
    irradiance: float,
    at: str,
    notes: Assumptions,
) -> tuple[float, float]:
    """Cell temperature [°C] and its standard uncertainty [K]."""
    if reading.cell_temperature_c is not None:
        return reading.cell_temperature_c, figure("cell-measured")
    air = usual(notes, f"{at}/air_c", reading.air_c, "air")
    cell = cell_in_sun_c(request.mounting_heat, irradiance, air, notes)
    notes.note(f"{at}/cell_temperature_c", cell, statement("estimated-in-calm-air"))
    return cell, figure("cell-unknown" if reading.air_c is None else "cell-estimated")
