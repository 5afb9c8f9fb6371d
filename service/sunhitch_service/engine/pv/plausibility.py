"""Whether a nameplate and a cell model can be those of a solar panel at all."""

import math
from typing import Literal

from sunhitch.types.panel import DiodeModel, PanelElectrical
from sunhitch_service.engine.errors import Faults

from .cell import BOLTZMANN_OVER_CHARGE_V_K, STC_KELVIN
from .translate import ReferenceCell, open_circuit, standard_power

_PRODUCT_TOLERANCE = 0.05
"""How far Pmp may be from Vmp × Imp: rounding of a small plate's figures, and no more."""
_CELL_V = {"silicon": (0.45, 0.85), "other": (0.2, 4.0)}
"""Voc of one cell: silicon has 0.5 to 0.75 V, stacks of several junctions up to 3 V (common
practice, no source); beyond these limits the number of cells must be wrong."""
_MODEL_FACTOR = 2.0
"""How far a cell model's Voc may be from the nameplate's: another specimen, not another panel."""
_LARGEST_DIODE_DROP_V = 5.0
"""Silicon diodes drop 0.3 to 1.2 V at their panel's current (common practice, no source)."""
_LEAST_FILL = 0.25
"""Power over Isc × Voc of a straight line from the one to the other."""


def plate_faults(plate: PanelElectrical, pointer: str, faults: Faults) -> None:
    """Note where a nameplate contradicts itself or is no solar panel's.

    In full and even light the current falls ever faster with voltage. The tangent to such a curve
    at its maximum of power, where it falls at Imp/Vmp, lies above it and ends at twice Vmp and at
    twice Imp; so neither Voc nor Isc can be beyond.

    Parameters
    ----------
    plate : PanelElectrical
        As given.
    pointer : str
        JSON Pointer of the nameplate.
    faults : Faults
        Takes the notes.
    """
    product = plate.v_mp_v * plate.i_mp_a
    off = abs(plate.p_mp_w - product) / product
    if off > _PRODUCT_TOLERANCE:
        faults.add(
            f"{pointer}/p_mp_w",
            "power-not-product",
            product_w=product,
            off=off,
        )
    end_faults("voltage", plate.v_mp_v, plate.v_oc_v, f"{pointer}/v_mp_v", faults)
    end_faults("current", plate.i_mp_a, plate.i_sc_a, f"{pointer}/i_mp_a", faults)
    gamma, alpha = plate.gamma_pmp_fraction_per_c, plate.alpha_sc_fraction_per_c
    coefficient_faults(gamma, alpha, pointer, faults)
    cell_v = plate.v_oc_v / plate.cells_in_series
    least, most = _CELL_V[plate.cell_material]
    if not least <= cell_v <= most:
        faults.add(
            f"{pointer}/cells_in_series",
            f"voltage-per-{plate.cell_material}-cell",
            cell_v=cell_v,
            least_v=least,
            most_v=most,
        )


def coefficient_faults(
    gamma_pmp: float | None, alpha_sc: float | None, pointer: str, faults: Faults
) -> None:
    """Note where power falls with heat by less than current does, as if voltage rose.

    Parameters
    ----------
    gamma_pmp, alpha_sc : float or None
        Change of power and of current per kelvin, as given [1/K].
    pointer : str
        JSON Pointer of what holds them.
    faults : Faults
        Takes the notes.
    """
    if gamma_pmp is not None and alpha_sc is not None:
        faults.add_if(
            gamma_pmp > alpha_sc,
            f"{pointer}/gamma_pmp_fraction_per_c",
            "voltage-rises-with-heat",
            alpha_per_c=alpha_sc,
        )


def end_faults(
    which: Literal["voltage", "current"], value: float, most: float, pointer: str, faults: Faults
) -> None:
    """Note where a figure at the maximum of a panel does not fit the end of its curve.

    Parameters
    ----------
    which : str
        Vmp beside Voc, or Imp beside Isc.
    value, most : float
        At the maximum, and at the end [V] or [A].
    pointer : str
        JSON Pointer of the figure at the maximum.
    faults : Faults
        Takes the notes.
    """
    beyond_end(which, value, most, pointer, faults)
    if value < 0.5 * most:
        faults.add(pointer, f"{which}-below-half", **_most_of(which, most))


def beyond_end(
    which: Literal["voltage", "current"], value: float, most: float, pointer: str, faults: Faults
) -> None:
    """The same of a string of unequal panels: the least of them may be far below the strongest."""
    if value >= most:
        faults.add(pointer, f"{which}-beyond-end", **_most_of(which, most))


def _most_of(which: str, most: float) -> dict[str, float]:
    return {"most_v" if which == "voltage" else "most_a": most}


def largest_breakdown_factor(exponent: float) -> float:
    """Breakdown factor up to which a junction's current rises with its voltage everywhere.

    With x = Vd ÷ −Vbr the shunt and avalanche term of Bishop (1988) is x·(1 + a·(1 + x)^−m), whose
    slope is least at x = 2 ÷ (m − 1).
    """
    m = exponent
    return ((m + 1.0) / (m - 1.0)) ** (m + 1.0) if m > 1.0 else math.inf


def model_faults(cell: ReferenceCell, plate: PanelElectrical, pointer: str, faults: Faults) -> None:
    """Note where a cell model is of another panel than the nameplate, or gives no power.

    Parameters
    ----------
    cell : ReferenceCell
        The model.
    plate : PanelElectrical
        Nameplate of its panel.
    pointer : str
        JSON Pointer of the model.
    faults : Faults
        Takes the notes.
    """
    largest = largest_breakdown_factor(cell.junction.breakdown_exponent)
    faults.add_if(
        cell.junction.breakdown_factor > largest,
        f"{pointer}/breakdown_factor",
        "breakdown-factor-too-large",
        most=largest,
    )
    cell_v = open_circuit(cell.photocurrent, cell.junction)
    own_v = plate.v_oc_v / plate.cells_in_series
    if not own_v / _MODEL_FACTOR <= cell_v <= own_v * _MODEL_FACTOR:
        faults.add(
            pointer,
            "cell-model-of-other-panel",
            cell_v=cell_v,
            own_v=own_v,
        )
        return
    faults.add_if(
        standard_power(cell) < _LEAST_FILL * cell_v * cell.photocurrent,
        pointer,
        "resistances-too-lossy",
    )


def diode_faults(diode: DiodeModel, current_a: float, pointer: str, faults: Faults) -> None:
    """Note where a diode blocks the current that it is there to carry.

    Parameters
    ----------
    diode : DiodeModel
        Bypass or blocking diode.
    current_a : float
        Short-circuit current of its panel or string [A].
    pointer : str
        JSON Pointer of the diode.
    faults : Faults
        Takes the notes.
    """
    thermal_v = diode.ideality_factor * BOLTZMANN_OVER_CHARGE_V_K * STC_KELVIN
    drop_v = thermal_v * math.log1p(current_a / diode.saturation_current_a)
    drop_v += current_a * diode.series_resistance_ohm
    if drop_v > _LARGEST_DIODE_DROP_V:
        faults.add(
            pointer,
            "diode-drops-too-much",
            drop_v=drop_v,
            current_a=current_a,
            largest_diode_drop_v=_LARGEST_DIODE_DROP_V,
        )
