"""The request with every default settled, and the light and heat of every reading."""

from dataclasses import dataclass

import numpy as np

from sunhitch.types.commissioning import (
    ClearSkySun,
    CommissioningCheckRequest,
    IrradianceReading,
    Reading,
    ReferencePanelReading,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.presets import ResolvedPanel, resolve_panel
from sunhitch_service.engine.pv.temperature import cell_in_sun_c
from sunhitch_service.engine.sky import clear_sky, on_plane, sun_at, unix_seconds

from .model import StringState
from .practice import figure, why
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
    """

    irradiance_w_m2: float
    irradiance_share: float
    cell_c: float
    cell_k: float


@dataclass(frozen=True, slots=True)
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
    """

    request: CommissioningCheckRequest
    assumptions: Assumptions
    panels: dict[str, ResolvedPanel]
    conditions: list[ReadingConditions]
    volt_share: float
    ampere_share: float
    plate_share: float

    def strings(self, of: str) -> list[StringState]:
        """Faultless strings behind a reading: all of them, or the one named."""
        listed = self.request.array.strings
        return [
            StringState(self.panels[s.panel_type], s.panels_in_series)
            for s in listed
            if of in (ARRAY, s.name)
        ]

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
    panels = {
        entry.name: resolve_panel(entry.panel, notes, f"/array/panel_types/{index}/panel")
        for index, entry in enumerate(request.array.panel_types)
    }
    conditions = [_conditions(request, index, notes) for index in range(len(request.readings))]
    meters = request.meters

    def settled(field: str, given: float | None, name: str) -> float:
        return notes.choose(field, given, figure(name), why(name))

    return CommissioningInspection(
        request=request,
        assumptions=notes,
        panels=panels,
        conditions=conditions,
        volt_share=settled("/meters/voltage_fraction", meters.voltage_fraction, "volt-meter"),
        ampere_share=settled("/meters/current_fraction", meters.current_fraction, "ampere-meter"),
        plate_share=settled(
            "/nameplate_uncertainty_fraction", request.nameplate_uncertainty_fraction, "nameplate"
        ),
    )


def _conditions(
    request: CommissioningCheckRequest, index: int, notes: Assumptions
) -> ReadingConditions:
    reading = request.readings[index]
    at = f"/readings/{index}"
    irradiance, name = _irradiance(request, reading, at, notes)
    share = notes.choose(
        f"{at}/light/uncertainty_fraction",
        reading.light.uncertainty_fraction,
        figure(name),
        why(name),
    )
    cell_c, cell_k = _cell(request, reading, irradiance, at, notes)
    return ReadingConditions(irradiance, share, cell_c, cell_k)


def _irradiance(
    request: CommissioningCheckRequest, reading: Reading, at: str, notes: Assumptions
) -> tuple[float, str]:
    """Irradiance [W/m²] and the name of its usual uncertainty."""
    light = reading.light
    if isinstance(light, IrradianceReading):
        return light.irradiance_w_m2, "irradiance-meter"
    if isinstance(light, ReferencePanelReading):
        return _by_reference(light, reading, at, notes), "reference-panel"
    return clear_sky_irradiance(request, reading, light), "clear-sky"


def _by_reference(
    light: ReferencePanelReading, reading: Reading, at: str, notes: Assumptions
) -> float:
    alpha = notes.choose(
        f"{at}/light/alpha_sc_fraction_per_c",
        light.alpha_sc_fraction_per_c,
        figure("alpha"),
        why("alpha"),
    )
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
    plane = on_plane(sky, sun, times, site.tilt_deg, site.azimuth_deg, figure("albedo"))
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
    air = notes.choose(f"{at}/air_c", reading.air_c, figure("air"), why("air"))
    cell = cell_in_sun_c(request.mounting_heat, irradiance, air, notes)
    notes.note(
        f"{at}/cell_temperature_c",
        round(cell, 1),
        "Estimated from air, light and mounting in calm air; rather too warm than too cold.",
    )
    known = reading.air_c is not None
    return cell, figure("cell-estimated" if known else "cell-unknown")
