"""A flexible sheet between its feet: sag, sideways pull, edges, and a screening for flutter."""

import math
from typing import TypeVar

import numpy as np

from sunhitch_service.engine.arrays import Floats

from .air import ZERO_C_IN_K

FloatOrArray = TypeVar("FloatOrArray", float, Floats)
NEWTON_STEPS = 2
"""Steps that give back the digits that the closed form loses where bending carries most."""


def bending_stiffness(modulus_pa: float, thickness_m: float, poisson: float) -> float:
    """Bending stiffness of a solid plate [N·m], E·t³/12(1 − ν²)."""
    return modulus_pa * thickness_m**3 / (12 * (1 - poisson**2))


def twin_wall_stiffness(modulus_pa: float, wall_m: float, thickness_m: float) -> float:
    """Bending stiffness of two walls apart [N·m], as if bent about the middle."""
    arm = max(thickness_m - wall_m, 0.0) / 2
    return 2 * modulus_pa * wall_m * arm**2


def sag(
    pressure_pa: Floats,
    span_m: Floats,
    in_plane_n_per_m: Floats | float,
    bending_n_m: float,
    slack_m: Floats,
) -> Floats:
    """Sag [m] of a sheet strip held at both ends, carried by pull and by bending together.

    Solves ``p = 8·n·f/L² + (384/5)·D·f/L⁴`` with the pull
    ``n = Et·((8/3)·(f/L)² − slack/L)``, not below zero.

    Parameters
    ----------
    pressure_pa : ndarray
        Net pressure on each strip, not negative [Pa].
    span_m : ndarray
        Spans [m]; zero where there is none.
    in_plane_n_per_m : ndarray or float
        Stiffness of the sheet along its plane [N/m], what holds its ends included.
    bending_n_m : float
        Its stiffness in bending [N·m].
    slack_m : ndarray
        Length by which the sheet is longer than each span, or by which its feet can give [m].

    Returns
    -------
    ndarray
        Sag in the middle of each span [m].

    References
    ----------
    Parabolic membrane and simply supported strip, superposed.
    """
    span = np.maximum(span_m, 1e-9)
    stiff, cube = (384 / 5) * bending_n_m / span**4, (64 / 3) * in_plane_n_per_m / span**4
    slope = stiff - 8 * in_plane_n_per_m * slack_m / span**3
    # cube·f³ + slope·f = p where the strip is taut; Cardano's root, or the cosine of a third.
    third, half = slope / cube / 3, pressure_pa / cube / 2
    inside = half**2 + third**3
    root = np.cbrt(half + np.sqrt(np.maximum(inside, 0.0)))
    reach = np.sqrt(np.maximum(-third, 0.0))
    angle = np.arccos(np.minimum(half / np.maximum(reach, 1e-30) ** 3, 1.0)) / 3
    taut = np.where(inside >= 0, root - third / np.maximum(root, 1e-30), 2 * reach * np.cos(angle))
    for _ in range(NEWTON_STEPS):
        excess = (cube * taut**2 + slope) * taut - pressure_pa
        taut = taut - excess / np.maximum(3 * cube * taut**2 + slope, 1e-30)
    loose = pressure_pa / stiff
    depth = np.where(loose <= np.sqrt(3 * span * slack_m / 8), loose, taut)
    return np.where(span_m > 0, depth, 0.0)


def pull(
    sag_m: Floats, span_m: Floats, in_plane_n_per_m: Floats | float, slack_m: Floats
) -> Floats:
    """Sideways pull of a strip that sags on its ends [N/m]; arguments as in `sag`."""
    span = np.maximum(span_m, 1e-9)
    strain = (8 / 3) * (sag_m / span) ** 2 - slack_m / span
    return np.where(span_m > 0, in_plane_n_per_m * np.maximum(strain, 0.0), 0.0)


def edge_strain(
    pressure_pa: FloatOrArray, overhang_m: float, thickness_m: float, bending_n_m: float
) -> FloatOrArray:
    """Bending strain at the root of an overhanging edge, p·c²·t/4D."""
    return pressure_pa * overhang_m**2 * thickness_m / (4 * bending_n_m)


def span_strain(sag_m: Floats, span_m: Floats, thickness_m: float) -> Floats:
    """Bending strain in the middle of a strip that sags, M·t/2D with M = 9.6·D·f/L²."""
    span = np.maximum(span_m, 1e-9)
    return np.where(span_m > 0, 4.8 * sag_m * thickness_m / span**2, 0.0)


def edge_divergence_number(
    pressure_pa: FloatOrArray, overhang_m: float, bending_n_m: float
) -> FloatOrArray:
    """ρ·U²·c³/D of a free edge that faces air of some dynamic pressure.

    A wide flag held at its rear edge bends away for good above 1.85.

    References
    ----------
    Sader, Cossé, Kim, Fan, Gharib, Journal of Fluid Mechanics 793 (2016); critical value from
    memory.
    """
    return 2 * pressure_pa * overhang_m**3 / bending_n_m


def span_divergence_number(
    pressure_pa: FloatOrArray, span_m: float, bending_n_m: float
) -> FloatOrArray:
    """ρ·U²·L³/(π³·D) of a span with air of some dynamic pressure over one side.

    Above 1 the flow can bow it by itself.

    Suction of potential flow over a wave of length 2L, ρ·U²·k·w, against the bending stiffness
    D·k⁴·w, with k = π/L. The sheet's pull, which steadies it, is left out.
    """
    return 2 * pressure_pa * span_m**3 / (math.pi**3 * bending_n_m)


def blister_pressure(hot_c: float, bonded_c: float, outside_pa: float) -> float:
    """Pressure of air trapped at one temperature and heated to another [Pa], at fixed volume."""
    return outside_pa * max(0.0, hot_c - bonded_c) / (bonded_c + ZERO_C_IN_K)
