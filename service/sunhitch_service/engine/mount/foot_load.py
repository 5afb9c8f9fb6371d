"""Load on the feet of a panel by the short way: one coefficient, a regular grid of feet."""

from dataclasses import dataclass

import numpy as np

from .air import GRAVITY, dynamic_pressure
from .figures import figure


@dataclass(frozen=True, slots=True)
class FootLoad:
    """Load on the feet.

    Parameters
    ----------
    dynamic_pressure_pa : float
        Of road speed and gust together [Pa].
    uplift_n : float
        On the whole panel, favourable weight counted by 0.6 [N].
    equal_share_n : float
        If every foot carried the same [N].
    worst_foot_n : float
        On the worst foot of a thin panel on rows of feet [N].
    """

    dynamic_pressure_pa: float
    uplift_n: float
    equal_share_n: float
    worst_foot_n: float


def row_share(rows: int) -> float:
    """Largest share of a uniform load that one of several rows carries.

    Rows stand at equal distances, the outer ones at the panel's ends, and the panel is a thin beam
    over them: 1/2 for two rows, 10/16 for three, 11/30 for four.

    References
    ----------
    Clapeyron's equation of three moments for equal spans.
    """
    spans = rows - 1
    system = 4 * np.eye(spans - 1) + np.eye(spans - 1, k=1) + np.eye(spans - 1, k=-1)
    moments = np.zeros(rows)
    moments[1:-1] = np.linalg.solve(system, np.full(spans - 1, 0.5))
    tilt = np.diff(moments)
    reactions = np.zeros(rows)
    reactions[:-1] += 0.5 - tilt
    reactions[1:] += 0.5 + tilt
    return float(reactions.max()) / spans


def foot_load(
    *,
    length_m: float,
    width_m: float,
    mass_kg: float,
    rows: int,
    columns: int,
    air_speed_m_s: float,
    uplift_coefficient: float,
    air_density_kg_m3: float,
) -> FootLoad:
    """Load on the feet of a panel in a regular grid.

    Parameters
    ----------
    length_m, width_m : float
        Panel sides [m].
    mass_kg : float
        Panel [kg].
    rows, columns : int
        Rows along the panel, at least 2, and feet in each row.
    air_speed_m_s : float
        Road speed and gust together [m/s].
    uplift_coefficient : float
        Net suction over the panel.
    air_density_kg_m3 : float
        Of the air [kg/m³], see `air.density`.

    Returns
    -------
    FootLoad
        Zero where weight outdoes suction.
    """
    pressure = dynamic_pressure(air_density_kg_m3, air_speed_m_s)
    weight = figure("wind_default", "favourable_weight") * mass_kg * GRAVITY
    uplift = max(0.0, uplift_coefficient * pressure * length_m * width_m - weight)
    return FootLoad(pressure, uplift, uplift / (rows * columns), uplift * row_share(rows) / columns)
