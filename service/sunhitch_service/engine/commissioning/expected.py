"""Expected figures of a faultless array, and how sure they are."""

from dataclasses import dataclass

import numpy as np

from sunhitch.types.commissioning import MeasuredQuantity, Reading
from sunhitch_service.engine.pv.cell import Array

from .model import Terminals, terminals
from .practice import figure
from .setup import CommissioningInspection, ReadingConditions

_STEP_SHARE = 0.01
_STEP_K = 1.0


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured figure and what a faultless array would show.

    Parameters
    ----------
    quantity : str
        Voltage, current or power.
    measured, expected : float
        [V], [A] or [W].
    by_light, by_heat : float
        Change of ln(expected) per relative change of irradiance [1], and per kelvin [1/K].
    own_share : float
        Standard uncertainty of meter, nameplate and model together [1].
    """

    quantity: MeasuredQuantity
    measured: float
    expected: float
    by_light: float
    by_heat: float
    own_share: float

    def parts(self, conditions: ReadingConditions) -> dict[str, float]:
        """Standard uncertainty as a share by source [1]."""
        return {
            "irradiance": abs(self.by_light) * conditions.irradiance_share,
            "cell temperature": abs(self.by_heat) * conditions.cell_k,
            "meter, nameplate and model": self.own_share,
        }

    def share(self, conditions: ReadingConditions) -> float:
        """Combined standard uncertainty as a share of the expected value [1].

        References
        ----------
        JCGM 100:2008, 5.1.2: root of the sum of squares of independent contributions.
        """
        return float(np.sqrt(sum(part**2 for part in self.parts(conditions).values())))


def figures_of(inspection: CommissioningInspection, index: int) -> list[Figure]:
    """Figures of one reading beside those of a faultless array.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    index : int
        Which reading.

    Returns
    -------
    list of Figure
        The quantity that decides comes last.
    """
    reading, conditions = inspection.request.readings[index], inspection.conditions[index]
    light, heat = conditions.irradiance_w_m2, conditions.cell_c
    strings, cable = inspection.strings(reading.of), inspection.cable_ohm(reading.of)
    base = predicted(reading, terminals(strings, cable, light, heat))
    brighter = predicted(reading, terminals(strings, cable, light * (1 + _STEP_SHARE), heat))
    warmer = predicted(reading, terminals(strings, cable, light, heat + _STEP_K))
    measured = measured_of(reading)
    return [
        Figure(
            quantity=name,
            measured=measured[name],
            expected=base[name],
            by_light=_slope(brighter[name], base[name], _STEP_SHARE),
            by_heat=_slope(warmer[name], base[name], _STEP_K),
            own_share=_own_share(inspection, name),
        )
        for name in base
    ]


def measured_of(reading: Reading) -> dict[MeasuredQuantity, float]:
    """What was read, by quantity; power where both voltage and current were."""
    found: dict[MeasuredQuantity, float] = {}
    if reading.voltage_v is not None:
        found["voltage"] = reading.voltage_v
    if reading.current_a is not None:
        found["current"] = reading.current_a
    if reading.voltage_v is not None and reading.current_a is not None:
        found["power"] = reading.voltage_v * reading.current_a
    return found


def predicted(reading: Reading, at: Terminals) -> dict[MeasuredQuantity, float]:
    """What a meter would show of a curve in the reading's state."""
    if reading.kind == "open-circuit":
        return {"voltage": at.open_circuit_v}
    if reading.kind == "short-circuit":
        return {"current": at.short_circuit_a}
    return {"voltage": at.maximum_v, "current": at.maximum_a, "power": at.maximum_w}


def covariance(
    inspection: CommissioningInspection, indices: list[int], figures: list[Figure]
) -> Array:
    """Covariance of ln(measured ÷ expected): light and heat err together, meters apart.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    indices : list of int
        The reading that each figure belongs to.
    figures : list of Figure
        Figures.

    Returns
    -------
    ndarray, shape (figures, figures)
        Symmetric, positive definite.

    References
    ----------
    JCGM 100:2008, 5.2: correlated input quantities.
    """
    given = [inspection.conditions[i] for i in indices]
    pairs = list(zip(figures, given, strict=True))
    light = np.array([f.by_light * at.irradiance_share for f, at in pairs])
    heat = np.array([f.by_heat * at.cell_k for f, at in pairs])
    own = np.array([f.own_share for f in figures])
    return np.outer(light, light) + np.outer(heat, heat) + np.diag(own**2)


def _slope(changed: float, base: float, step: float) -> float:
    return float(np.log(changed / base) / step) if min(changed, base) > 0.0 else 0.0


def _own_share(inspection: CommissioningInspection, quantity: MeasuredQuantity) -> float:
    volts, amperes, plate = inspection.volt_share, inspection.ampere_share, inspection.plate_share
    shares = {
        "voltage": (volts, figure("nameplate-voltage")),
        "current": (amperes, plate),
        "power": (volts, amperes, plate),
    }[quantity]
    return float(np.sqrt(sum(s**2 for s in (*shares, figure("model")))))
