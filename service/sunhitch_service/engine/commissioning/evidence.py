"""Figures of a day's readings beside those of a faultless array, and how they err together."""

from dataclasses import dataclass

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.commissioning import MeasuredQuantity, Reading
from sunhitch_service.engine.pv.cell import Array

from .model import Terminals, terminals
from .practice import figure
from .setup import CommissioningInspection, ReadingConditions

_STEP_SHARE = 0.01
_STEP_K = 1.0
_LEAST_SHARE = 1e-3
"""Of the short-circuit current: what is left of it at and beyond open circuit."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured figure and what a faultless array would show.

    Parameters
    ----------
    quantity : str
        Voltage, current or power.
    reading : Reading
        Where it was read.
    at : ReadingConditions
        Its light and heat.
    measured, expected : float
        [V], [A] or [W].
    by_light, by_heat : float
        Change of ln(expected) per relative change of irradiance [1], and per kelvin [1/K].
    by_volts : float
        The same per relative change of voltages, of meter or nameplate, where one is held [1].
    own_share : float
        Standard uncertainty of meter, nameplate and model together [1].
    """

    quantity: MeasuredQuantity
    reading: Reading
    at: ReadingConditions
    measured: float
    expected: float
    by_light: float
    by_heat: float
    by_volts: float
    own_share: float

    def parts(self) -> dict[str, float]:
        """Standard uncertainty as a share by source [1]."""
        light = float(np.hypot(self.at.irradiance_share, self.at.own_share))
        return {
            statement("irradiance"): abs(self.by_light) * light,
            statement("dust"): abs(self.by_light) * figure("dust-spread"),
            statement("cell-temperature"): abs(self.by_heat) * self.at.cell_k,
            statement("meter-and-model"): self.own_share,
        }

    def share(self) -> float:
        """Combined standard uncertainty as a share of the expected value [1].

        References
        ----------
        JCGM 100:2008, 5.1.2: root of the sum of squares of independent contributions.
        """
        return float(np.sqrt(sum(part**2 for part in self.parts().values())))


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
    return figures(inspection, reading, conditions)


def figures(
    inspection: CommissioningInspection, reading: Reading, at: ReadingConditions
) -> list[Figure]:
    """Figures of a reading, taken or thought of, in given light and heat; as `figures_of`."""
    light, heat = at.irradiance_w_m2, at.cell_c
    strings, cable = inspection.behind(reading.of), inspection.cable_ohm(reading.of)
    curve, held_v = terminals(strings, cable, light, heat), inspection.held_v(reading)
    base = predicted(reading, curve, held_v=held_v)
    brighter = predicted(
        reading, terminals(strings, cable, light * (1 + _STEP_SHARE), heat), held_v=held_v
    )
    warmer = predicted(reading, terminals(strings, cable, light, heat + _STEP_K), held_v=held_v)
    by_volts = dict.fromkeys(base, 0.0)
    if held_v is not None:
        raised = predicted(reading, curve, held_v=held_v * (1 + _STEP_SHARE))
        by_volts = {name: float(np.log(raised[name] / base[name])) / _STEP_SHARE for name in base}
    volts, amperes = reading.voltage_v, reading.current_a
    power = None if volts is None or amperes is None else volts * amperes
    measured = {"voltage": volts, "current": amperes, "power": power}
    return [
        Figure(
            quantity=name,
            reading=reading,
            at=at,
            measured=base[name] if (own := measured[name]) is None else own,
            expected=base[name],
            by_light=float(np.log(brighter[name] / base[name])) / _STEP_SHARE,
            by_heat=float(np.log(warmer[name] / base[name])) / _STEP_K,
            by_volts=by_volts[name],
            own_share=_own_share(inspection, name, by_volts[name]),
        )
        for name in base
    ]


def predicted(
    reading: Reading, at: Terminals, towards_open: float = 0.0, held_v: float | None = None
) -> dict[MeasuredQuantity, float]:
    """What a meter would show of a curve in the reading's state.

    Parameters
    ----------
    reading : Reading
        Its state counts.
    at : Terminals
        The curve.
    towards_open : float
        How far a controller has moved from where it works towards open circuit: a tracker in
        voltage, a plain switch in time [1].
    held_v : float or None
        Where a plain switch holds it [V]: its current alone is told then; at the maximum if None.
    """
    if reading.kind == "open-circuit":
        return {"voltage": at.open_circuit_v}
    if reading.kind == "short-circuit":
        return {"current": at.short_circuit_a}
    if held_v is not None:
        i = float(np.interp(held_v, at.voltage, at.current))
        return {"current": (1.0 - towards_open) * max(i, _LEAST_SHARE * at.short_circuit_a)}
    v = at.maximum_v + towards_open * (at.open_circuit_v - at.maximum_v)
    i = float(np.interp(v, at.voltage, at.current))
    return {"voltage": v, "current": i, "power": v * i}


def covariance(inspection: CommissioningInspection, listed: list[Figure]) -> Array:
    """Covariance of ln(measured ÷ expected) of figures of one day.

    Light, heat, dust, meters and nameplates err alike in all readings of a day, but for a part
    that is each reading's own, and panels in all readings that they are behind; a tracker is off
    its maximum in voltage and current against each other.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    listed : list of Figure
        Voltages and currents.

    Returns
    -------
    ndarray, shape (figures, figures)
        Symmetric, positive definite.

    References
    ----------
    JCGM 100:2008, 5.2: correlated input quantities.
    """
    own = figure("own-part")
    shared = np.sqrt(1.0 - own**2)
    volts = np.array([f.quantity == "voltage" for f in listed])
    by_light, by_heat = (np.array([getattr(f, n) for f in listed]) for n in ("by_light", "by_heat"))
    light = by_light * np.array([f.at.irradiance_share for f in listed])
    heat = by_heat * np.array([f.at.cell_k for f in listed])
    meter = np.where(volts, inspection.volt_share, inspection.ampere_share)
    plate_v, plate_a = ~volts * inspection.plate_share, volts * inspection.plate_volt_share
    alike = [light * shared, heat * shared, by_light * figure("dust-spread"), plate_v, plate_a]
    alike += [meter * shared * volts, meter * shared * ~volts]
    total = sum(np.outer(one, one) for one in alike)
    each = (own * light) ** 2 + (own * heat) ** 2 + (own * meter) ** 2
    each += np.array([_by_held_voltage(inspection, f.by_volts) ** 2 for f in listed])
    behind = [inspection.panels_behind(f.reading.of) for f in listed]
    common = np.array([[len(a & b) / (len(a) * len(b)) for b in behind] for a in behind])
    alike_panels = figure("panel-spread") ** 2 * common * (volts[:, None] == volts)
    kinds = [(f.quantity, f.reading.kind) for f in listed]
    model = np.array([[a == b for b in kinds] for a in kinds]) * figure("model") ** 2
    same = np.array([[a.reading.name == b.reading.name for b in listed] for a in listed])
    own_light = by_light * np.array([f.at.own_share for f in listed])
    tracked = np.array([f.reading.kind == "operating" for f in listed]) * figure("tracker")
    tracked *= np.where(volts, 1.0, -1.0)
    total += same * (np.outer(own_light, own_light) + np.outer(tracked, tracked))
    return np.asarray(total + model + alike_panels + np.diag(each), dtype=np.float64)


def _by_held_voltage(inspection: CommissioningInspection, by_volts: float) -> float:
    """Standard uncertainty of a current by that of the voltage at which it is held [1]."""
    return by_volts * float(np.hypot(inspection.volt_share, inspection.plate_volt_share))


def _own_share(
    inspection: CommissioningInspection, quantity: MeasuredQuantity, by_volts: float
) -> float:
    volts, amperes, plate = inspection.volt_share, inspection.ampere_share, inspection.plate_share
    shares = {
        "voltage": (volts, inspection.plate_volt_share),
        "current": (amperes, plate),
        "power": (volts, amperes, plate),
    }[quantity]
    held = _by_held_voltage(inspection, by_volts)
    return float(np.sqrt(sum(s**2 for s in (*shares, figure("model"), held))))
