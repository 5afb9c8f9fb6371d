"""Movement between panel and roof by heat, and what it does to a bond."""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from sunhitch.types.mount import BondedSheet, Rails

from .conditions import sheet_c
from .feet import stiffness_centre
from .figures import figure
from .setup import Setup


@dataclass(frozen=True, slots=True)
class Movement:
    """Movement at the point furthest from the fixed one [m], towards and away from it.

    Parameters
    ----------
    distance : float
        From the fixed point [m].
    daily, seasonal : tuple of float
        Growth and shrinkage of the panel against the roof [m].
    panel_hot_c : float
        Hottest panel [°C].
    """

    distance: float
    daily: tuple[float, float]
    seasonal: tuple[float, float]
    panel_hot_c: float

    @property
    def grown(self) -> tuple[float, float]:
        """Growth by day and over the year [m]."""
        return self.daily[0], self.seasonal[0]


def expansion(expansion_per_c: float, change_k: float, length_m: float) -> float:
    """Linear expansion [m], α·ΔT·L."""
    return expansion_per_c * change_k * length_m


def movement(setup: Setup) -> Movement:
    """Movement of the panel against the roof over a hot day and over the year."""
    distance = _distance(setup)
    day, year = (tuple(states(setup, daily)) for daily in (True, False))
    return Movement(
        distance, _extremes(day, distance), _extremes(year, distance), hot_panel_c(setup)
    )


class HeatState(NamedTuple):
    """Temperatures of panel and roof and where they started [°C], and their expansions [1/K]."""

    panel_c: float
    roof_c: float
    start_c: float
    panel: float
    roof: float

    def moved(self, distance_m: float) -> float:
        """Growth of the panel against the roof [m]."""
        return expansion(self.panel, self.panel_c - self.start_c, distance_m) - expansion(
            self.roof, self.roof_c - self.start_c, distance_m
        )


def states(setup: Setup, daily: bool) -> list[HeatState]:
    """States of heat over a hot day, or over the year, with every expansion that may be."""
    conditions = setup.conditions
    hot, roofs = hot_panel_c(setup), _hot_roofs_c(setup)
    night = conditions.highest_air_c - figure("travel_default", "night_drop_k")
    start = night if daily else setup.application_c
    heats = [(hot, roof, start) for roof in roofs]
    if not daily:
        heats.append((conditions.lowest_air_c, conditions.lowest_air_c, start))
    return [
        HeatState(*heat, panel, roof)
        for heat in heats
        for panel in setup.panel.expansion
        for roof in _roof_expansion(setup)
    ]


def hot_panel_c(setup: Setup) -> float:
    """Hottest panel in still summer air [°C]."""
    mounting = setup.request.mounting
    if isinstance(mounting, BondedSheet):
        return sheet_c(setup.conditions.highest_air_c)
    if not setup.panel.flexible:
        key = "frame_rise_k"
    else:
        key = "rise_rails_k" if isinstance(mounting, Rails) else "rise_open_k"
    return setup.conditions.highest_air_c + figure("sheet_default", key)


def _hot_roofs_c(setup: Setup) -> tuple[float, float]:
    if isinstance(setup.request.mounting, BondedSheet):
        hot = hot_panel_c(setup)
        return hot - figure("sheet_default", "bonded_roof_lag_k"), hot
    air = setup.conditions.highest_air_c
    return air, air + figure("sheet_default", "roof_rise_k")


def _roof_expansion(setup: Setup) -> tuple[float, float]:
    skin = setup.request.skin
    if skin is not None and skin.expansion_per_c is not None:
        return skin.expansion_per_c, skin.expansion_per_c
    material = "unknown" if skin is None else skin.material
    return (
        figure("skin", material, "expansion_low_per_c"),
        figure("skin", material, "expansion_high_per_c"),
    )


@lru_cache(maxsize=256)
def _extremes(heats: tuple[HeatState, ...], distance_m: float) -> tuple[float, float]:
    """Largest growth and shrinkage [m]."""
    moves = [heat.moved(distance_m) for heat in heats]
    return max(0.0, *moves), max(0.0, *(-move for move in moves))


def _distance(setup: Setup) -> float:
    if setup.feet is None:
        return float(np.hypot(*setup.sides)) / 2
    arms = setup.points - stiffness_centre(setup.points, setup.feet.stiffness)
    return float(np.linalg.norm(arms, axis=1).max())


def restrained_movement(
    free_m: float, distance_m: float, in_plane_n_per_m: float, bond_n_per_m3: float
) -> float:
    """Movement at the edge of a sheet that its bond holds back all along [m].

    Parameters
    ----------
    free_m : float
        Movement if it were free [m].
    distance_m : float
        From the fixed middle to the edge [m].
    in_plane_n_per_m : float
        Stiffness of the sheet [N/m].
    bond_n_per_m3 : float
        Shear stiffness of the bond per area [N/m³], modulus over thickness.

    References
    ----------
    Volkersen's shear lag over a rigid base: δ = Δε·tanh(λL)/λ with λ² = G/(t·Et).
    """
    rate = math.sqrt(bond_n_per_m3 / in_plane_n_per_m)
    return free_m * math.tanh(rate * distance_m) / (rate * distance_m)
