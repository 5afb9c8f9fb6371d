"""Panel voltages in the cold and in the heat."""

import math
from functools import cache

from sunhitch_service.engine.tables import table

STC_C = 25.0


def cold_voc_v(v_oc_v: float, beta_fraction_per_c: float, cell_c: float) -> float:
    """Open-circuit voltage by the panel's own coefficient.

    Parameters
    ----------
    v_oc_v : float
        Nameplate Voc at 25 °C [V].
    beta_fraction_per_c : float
        Change of Voc per kelvin [1/K], negative.
    cell_c : float
        Cell temperature [°C], at dawn that of the air.

    Returns
    -------
    float
        Voc [V].

    References
    ----------
    NEC 690.7(A)(1); IEC 62548.
    """
    return v_oc_v * (1.0 + beta_fraction_per_c * (cell_c - STC_C))


def voc_table_factor(lowest_ambient_c: float) -> float | None:
    """Correction of Voc for crystalline silicon by the lowest ambient.

    Temperatures between two bands take the colder one; at 25 °C and above Voc itself holds.

    Parameters
    ----------
    lowest_ambient_c : float
        Lowest expected ambient temperature [°C].

    Returns
    -------
    float or None
        Factor on Voc; None below the table's last band.

    References
    ----------
    NEC Table 690.7(A).
    """
    if lowest_ambient_c >= STC_C:
        return 1.0
    degree = math.floor(lowest_ambient_c)
    return next((factor for to_c, factor in _voc_bands() if degree >= to_c), None)


def coldest_factor() -> float:
    """Factor of the last band of the table, for what must only not be too small."""
    return _voc_bands()[-1][1]


@cache
def _voc_bands() -> tuple[tuple[float, float], ...]:
    """Coldest temperature of each band [°C], from the warmest on, and its factor."""
    rows = table("pv", "voc_correction").rows
    return tuple((float(row["to_c"]), float(row["factor"])) for row in rows)


def vmp_coefficient(gamma_pmp: float, alpha_sc: float) -> float:
    """Change of Vmp per kelvin: that of power less that of current [1/K].

    Vmp falls faster than Voc, so the coefficient of Voc would flatter it.

    Parameters
    ----------
    gamma_pmp, alpha_sc : float
        Change of power and of current per kelvin [1/K].

    Returns
    -------
    float
        Change of Vmp [1/K].
    """
    return gamma_pmp - alpha_sc


def hot_vmp_v(v_mp_v: float, coefficient_per_c: float, cell_c: float) -> float:
    """Voltage at maximum power at a cell temperature [V].

    Parameters
    ----------
    v_mp_v : float
        Nameplate Vmp at 25 °C [V].
    coefficient_per_c : float
        Change of Vmp per kelvin [1/K], see `vmp_coefficient`.
    cell_c : float
        Cell temperature [°C].

    Returns
    -------
    float
        Vmp [V].
    """
    return v_mp_v * (1.0 + coefficient_per_c * (cell_c - STC_C))
