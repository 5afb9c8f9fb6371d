"""What a meter should read on a sound array, now and with half of a panel covered."""

from typing import Annotated

from msgspec import Meta

from sunhitch.types.base import Input
from sunhitch.types.panel import CellMaterial, ConstructionName
from sunhitch.types.quantity import choice, count, quantity

from .arrays import Alpha, Beta, Gamma
from .texts import WarnedAnswer

_Volts = Annotated[float, quantity("V", 0.0, 1e5, "Expected reading.", 43.0)]
_Amperes = Annotated[float, quantity("A", 0.0, 1e5, "Expected reading.", 11.0)]


def _low(unit: str) -> Meta:
    return quantity(unit, 0.0, 1e7, "Least that a sound array shows, 95 %.", 41.5)


def _high(unit: str) -> Meta:
    return quantity(unit, 0.0, 1e7, "Most that a sound array shows, 95 %.", 44.5)


class PanelNowQuestion(Input, kw_only=True):
    """A panel's nameplate, and the light and heat of now."""

    v_mp_v: Annotated[
        float, quantity("V", 0.1, 500.0, "Voltage at maximum power, nameplate.", 19.2)
    ]
    i_mp_a: Annotated[
        float, quantity("A", 0.01, 100.0, "Current at maximum power, nameplate.", 5.99)
    ]
    v_oc_v: Annotated[float, quantity("V", 0.1, 600.0, "Open-circuit voltage, nameplate.", 22.9)]
    i_sc_a: Annotated[
        float, quantity("A", 0.01, 120.0, "Short-circuit current of a panel, nameplate.", 6.4)
    ]
    cells_in_series: Annotated[
        int, count(1, 200, "Cells in series between the terminals (36 for 72 half cells).", 36)
    ]
    cell_material: CellMaterial = "silicon"
    irradiance_w_m2: Annotated[
        float, quantity("W/m²", 50.0, 1500.0, "Light in the panels' plane, read now.", 870.0)
    ]
    cell_c: (
        Annotated[float, quantity("°C", -60.0, 130.0, "Cells, read at a panel's back.", 48.0)]
        | None
    ) = None
    ambient_c: (
        Annotated[float, quantity("°C", -60.0, 60.0, "Air, where cells are not read.", 22.0)] | None
    ) = None
    alpha_sc_fraction_per_c: Alpha | None = None
    beta_voc_fraction_per_c: Beta | None = None
    gamma_pmp_fraction_per_c: Gamma | None = None


class MeterReadingQuestion(PanelNowQuestion, kw_only=True):
    """Readings of a sound array in the light and heat of now."""

    panels_in_series: Annotated[int, count(1, 24, "Panels in a string.", 2)] | None = None
    strings_in_parallel: Annotated[int, count(1, 24, "Strings in parallel.", 2)] | None = None
    cable_ohm: (
        Annotated[float, quantity("Ω", 0.0, 10.0, "From array to meter, both ways.", 0.03)] | None
    ) = None


class QuickMeterReading(WarnedAnswer):
    """Readings of a sound array in the light and heat of now."""

    open_circuit_v: _Volts
    open_circuit_low_v: Annotated[float, _low("V")]
    open_circuit_high_v: Annotated[float, _high("V")]
    short_circuit_a: _Amperes
    short_circuit_low_a: Annotated[float, _low("A")]
    short_circuit_high_a: Annotated[float, _high("A")]
    working_v: _Volts
    working_low_v: Annotated[float, _low("V")]
    working_high_v: Annotated[float, _high("V")]
    working_a: _Amperes
    working_low_a: Annotated[float, _low("A")]
    working_high_a: Annotated[float, _high("A")]
    power_w: Annotated[float, quantity("W", 0.0, 1e7, "Expected reading.", 365.0)]
    power_low_w: Annotated[float, _low("W")]
    power_high_w: Annotated[float, _high("W")]


class HalfCoveredQuestion(PanelNowQuestion, kw_only=True):
    """Readings of a sound panel whose half is covered, light-tight, to prove its bypass diodes."""

    construction: (
        Annotated[
            ConstructionName,
            choice("How cells and bypass diodes are arranged.", "half-cell-2-diodes"),
        ]
        | None
    ) = None


class QuickHalfCovered(WarnedAnswer):
    """Readings of a sound panel whose half is covered, light-tight, to prove its bypass diodes."""

    groups_power_w: Annotated[
        float,
        quantity("W", 0.0, 1e5, "The cover lies on half of the bypass groups, whole ones.", 50.0),
    ]
    groups_low_w: Annotated[float, _low("W")]
    groups_high_w: Annotated[float, _high("W")]
    groups_v: Annotated[float, quantity("V", 0.0, 1e4, "Voltage at that power.", 8.9)]
    groups_a: Annotated[float, quantity("A", 0.0, 1e4, "Current at that power.", 5.6)]
    groups_short_circuit_a: Annotated[
        float, quantity("A", 0.0, 1e4, "Short circuit with that cover, as a meter reads it.", 5.9)
    ]
    groups_short_circuit_low_a: Annotated[float, _low("A")]
    groups_short_circuit_high_a: Annotated[float, _high("A")]
    cells_power_w: Annotated[
        float,
        quantity("W", 0.0, 1e5, "It lies on half of the cells of every bypass group.", 50.0),
    ]
    cells_low_w: Annotated[float, _low("W")]
    cells_high_w: Annotated[float, _high("W")]
    cells_v: Annotated[float, quantity("V", 0.0, 1e4, "Voltage at that power.", 18.6)]
    cells_a: Annotated[float, quantity("A", 0.0, 1e4, "Current at that power.", 2.8)]
    uncovered_w: Annotated[float, quantity("W", 0.0, 1e5, "The same without cover.", 100.0)]
