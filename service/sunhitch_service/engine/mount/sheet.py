"""A flexible sheet between its feet: sag, sideways pull, edges, and a screening for flutter."""

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
NEWTON_STEPS = 12
"""Carried pressure is convex in the sag, so steps from above converge without overshoot."""


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
    stiff = (384 / 5) * bending_n_m / span**4
    depth: Floats = np.minimum(
        pressure_pa / stiff,
        np.cbrt(3 * pressure_pa * span**4 / (64 * in_plane_n_per_m))
        + np.sqrt(3 * span * slack_m / 8),
    )
    for _ in range(NEWTON_STEPS):
        strain = (8 / 3) * (depth / span) ** 2 - slack_m / span
        drawn = 8 * in_plane_n_per_m * np.maximum(strain, 0.0) / span**2
        gain = np.where(strain > 0, (128 / 3) * in_plane_n_per_m * depth**2 / span**4, 0.0)
        step = ((drawn + stiff) * depth - pressure_pa) / (drawn + stiff + gain)
        depth = depth - step
        if np.all(np.abs(step) <= 1e-12 * depth + 1e-15):
            break
    return np.where(span_m > 0, np.maximum(depth, 0.0), 0.0)


def pull(
    pressure_pa: Floats,
    span_m: Floats,
    in_plane_n_per_m: Floats | float,
    bending_n_m: float,
    slack_m: Floats,
) -> Floats:
    """Sideways pull of a strip on its ends [N/m]; arguments as in `sag`."""
    depth = sag(pressure_pa, span_m, in_plane_n_per_m, bending_n_m, slack_m)
    span = np.maximum(span_m, 1e-9)
    strain = (8 / 3) * (depth / span) ** 2 - slack_m / span
    drawn: Floats = np.where(span_m > 0, in_plane_n_per_m * np.maximum(strain, 0.0), 0.0)
    return drawn


def edge_strain(
    pressure_pa: float, overhang_m: float, thickness_m: float, bending_n_m: float
) -> float:
    """Bending strain at the root of an overhanging edge, p·c²·t/4D."""
    return pressure_pa * overhang_m**2 * thickness_m / (4 * bending_n_m)


def span_strain(sag_m: Floats, span_m: Floats, thickness_m: float) -> Floats:
    """Bending strain in the middle of a strip that sags, M·t/2D with M = 9.6·D·f/L²."""
    span = np.maximum(span_m, 1e-9)
    strain: Floats = np.where(span_m > 0, 4.8 * sag_m * thickness_m / span**2, 0.0)
    return strain


def edge_divergence_number(
    density_kg_m3: float, speed_m_s: float, overhang_m: float, bending_n_m: float
) -> float:
    """ρ·U²·c³/D of a free edge that faces the wind.

    A wide flag held at its rear edge bends away for good above 1.85.

    References
    ----------
    Sader, Cossé, Kim, Fan, Gharib, Journal of Fluid Mechanics 793 (2016); critical value from
    memory.
    """
    return density_kg_m3 * speed_m_s**2 * overhang_m**3 / bending_n_m


def span_divergence_number(
    density_kg_m3: float, speed_m_s: float, span_m: float, bending_n_m: float
) -> float:
    """ρ·U²·L³/(π³·D) of a span with air over one side; above 1 the flow can bow it by itself.

    Suction of potential flow over a wave of length 2L, ρ·U²·k·w, against the bending stiffness
    D·k⁴·w, with k = π/L. The sheet's pull, which steadies it, is left out.
    """
    return density_kg_m3 * speed_m_s**2 * span_m**3 / (math.pi**3 * bending_n_m)


def blister_pressure(hot_c: float, bonded_c: float, outside_pa: float) -> float:
    """Pressure of air trapped at one temperature and heated to another [Pa], at fixed volume."""
    return outside_pa * max(0.0, hot_c - bonded_c) / (bonded_c + 273.15)
