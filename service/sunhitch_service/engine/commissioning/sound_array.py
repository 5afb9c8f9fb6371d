"""What a meter reads on a sound array in given light and heat, bare and half covered."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sunhitch.types.commissioning import (
    CheckedArray,
    CheckedString,
    CommissioningCheckRequest,
    IrradianceReading,
    MeasuredQuantity,
    Reading,
    ReadingKind,
)
from sunhitch.types.panel import Panel, PanelType
from sunhitch_service.engine.pv.presets import lit_panel
from sunhitch_service.engine.pv.solution import Interconnection, MaximumPower, maximum_power

from .evidence import figures_of
from .judge import sound_within
from .setup import CommissioningInspection, settle

_KINDS: tuple[ReadingKind, ...] = ("open-circuit", "short-circuit", "operating")
_PANEL = "panel"


@dataclass(frozen=True, slots=True)
class ReadingBand:
    """What a meter should read, and what still counts as sound.

    Parameters
    ----------
    expected, low, high : float
        In the unit of the quantity.
    """

    expected: float
    low: float
    high: float


def sound_array(
    panel: Panel,
    irradiance_w_m2: float,
    heat_c: tuple[float | None, float | None],
    strings: tuple[int, int] = (1, 1),
    cable_ohm: float = 0.0,
) -> CommissioningInspection:
    """An array of one type with one reading of each kind, whose figures are not looked at.

    Parameters
    ----------
    panel : Panel
        As given.
    irradiance_w_m2 : float
        Light on it [W/m²].
    heat_c : (float or None, float or None)
        Cells, and air where those are not known [°C].
    strings : (int, int)
        Strings in parallel, and panels in each.
    cable_ohm : float
        From array to meter, both ways [Ω].
    """
    light = IrradianceReading(irradiance_w_m2=irradiance_w_m2)
    parallel, in_series = strings
    return settle(
        CommissioningCheckRequest(
            array=CheckedArray(
                panel_types=[PanelType(name=_PANEL, panel=panel)],
                strings=[
                    CheckedString(name=f"{k}", panel_type=_PANEL, panels_in_series=in_series)
                    for k in range(parallel)
                ],
                cable_resistance_ohm=cable_ohm,
            ),
            readings=[
                Reading(
                    name=kind,
                    kind=kind,
                    taken_at="2027-06-21T12:00:00Z",
                    voltage_v=None if kind == "short-circuit" else 1.0,
                    current_a=None if kind == "open-circuit" else 1.0,
                    light=light,
                    cell_temperature_c=heat_c[0],
                    air_c=heat_c[1],
                )
                for kind in _KINDS
            ],
        )
    )


def sound_readings(inspection: CommissioningInspection) -> dict[str, ReadingBand]:
    """Expected readings of a `sound_array`, by kind and quantity: ``"open-circuit voltage"``."""
    return {
        f"{kind} {item.quantity}": _band(item.quantity, item.expected, item.share())
        for index, kind in enumerate(_KINDS)
        for item in figures_of(inspection, index)
    }


def half_lit(
    inspection: CommissioningInspection, cover: Literal["groups", "cells", "none"]
) -> MaximumPower:
    """Most power of one panel of a `sound_array` under a light-tight cover, cell by cell.

    It lies over the first half of the bypass groups, over half of the cells of every group (of
    whole paths where there are two), or over nothing.
    """
    kind, at = inspection.panels[_PANEL], inspection.conditions[0]
    layout = kind.layout
    light = np.ones((layout.paths_in_parallel, layout.positions_in_series))
    if cover == "groups":
        half = layout.bypass[: (len(layout.bypass) + 1) // 2]
        light[:, : half[-1].last + 1] = 0.0
    elif cover == "cells" and layout.paths_in_parallel > 1:
        light[: layout.paths_in_parallel // 2] = 0.0
    elif cover == "cells":
        for group in layout.bypass:
            light[:, group.first : (group.first + group.last) // 2 + 1] = 0.0
    lit = lit_panel(kind, at.irradiance_w_m2, at.cell_c, light)
    return maximum_power({_PANEL: lit}, Interconnection([[_PANEL]]))


def power_band(inspection: CommissioningInspection, power_w: float) -> ReadingBand:
    """What a meter may read of a power [W] in the light and heat of a `sound_array`."""
    return _band("power", power_w, figures_of(inspection, _KINDS.index("operating"))[-1].share())


def shorted_band(inspection: CommissioningInspection, current_a: float) -> ReadingBand:
    """What a meter may read of a short-circuit current [A] in the same."""
    shorted = figures_of(inspection, _KINDS.index("short-circuit"))
    return _band("current", current_a, shorted[-1].share())


def _band(quantity: MeasuredQuantity, expected: float, share: float) -> ReadingBand:
    """From the least that counts as normal to the most that a sound array can show."""
    uncertainty, low = sound_within(quantity, expected, share)
    return ReadingBand(expected, low, expected + uncertainty)
