"""Screws in wood: withdrawal and lateral strength, each the smaller of what codes say."""

import math

from sunhitch.types.mount import LoadDuration, Timber
from sunhitch_service.engine.arrays import Floats

from .figures import ROUNDING_M, figure

PSI_IN_MPA = 6.894757e-3
OVEN_DRY = 0.94
"""Specific gravity of oven-dry wood per density at 12 % moisture [1 per 1000 kg/m³]."""
EN_LEAST_MM, NDS_MOST_MM = 6.0, 9.5
"""Diameters from which EN 1995, 8.7.2(4), and up to which tables of NDS know withdrawal."""


def withdrawal_en(diameter_mm: float, thread_mm: float, density_kg_m3: float) -> float:
    """Characteristic withdrawal of one screw across the grain [N].

    References
    ----------
    EN 1995-1-1:2004 with A1:2008, 8.7.2, equations 8.38 to 8.40 (read in notes on the code).
    """
    per_area: float = 0.52 * diameter_mm**-0.5 * thread_mm**-0.1 * density_kg_m3**0.8
    return per_area * diameter_mm * thread_mm * min(diameter_mm / 8, 1.0)


def withdrawal_nds(diameter_mm: float, thread_mm: float, gravity: float) -> float:
    """Reference withdrawal of one wood screw from side grain [N].

    References
    ----------
    NDS, 12.2.2, 2850·G²·D in pounds per inch of thread and inches (read in a handbook).
    """
    return 2850 * PSI_IN_MPA * gravity * gravity * diameter_mm * thread_mm


def effective(number: Floats) -> Floats:
    """Share that each of several screws bears, EN 1995-1-1, 8.7.2(8): n^0.9 of n."""
    return number**-0.1


def least_depth_m(diameter_mm: float) -> float:
    """Thread in the wood below which EN 1995 counts no withdrawal, 8.7.2(3) [m]."""
    return figure("limit", "wood_depth") * diameter_mm / 1000


def is_deep(diameter_mm: float, wood: Timber) -> bool:
    """Whether the thread reaches so deep into the wood that it counts."""
    return wood.thread_m >= least_depth_m(diameter_mm) - ROUNDING_M


def withdrawal(diameter_mm: float, wood: Timber, duration: LoadDuration) -> float:
    """Design withdrawal of one screw that is deep enough [N]."""
    thread_mm, key = 1000 * wood.thread_m, duration_key(duration)
    known: list[float] = []
    if diameter_mm >= EN_LEAST_MM:
        characteristic = withdrawal_en(diameter_mm, thread_mm, wood.density_kg_m3)
        known.append(
            characteristic * figure("timber", key, "k_mod") / figure("limit", "wood_factor")
        )
    if diameter_mm <= NDS_MOST_MM:
        gravity = OVEN_DRY * wood.density_kg_m3 / 1000
        reference = withdrawal_nds(diameter_mm, thread_mm, gravity)
        known.append(reference * figure("timber", key, "c_d"))
    return min(known)


def core_mm(diameter_mm: float) -> float:
    """Diameter at the root of a wood screw's thread [mm], the least that EN 1995 allows."""
    return figure("limit", "wood_core") * diameter_mm


def lateral_en(
    diameter_mm: float, thread_mm: float, density_kg_m3: float, ultimate_pa: float
) -> float:
    """Characteristic lateral strength of a screw through a thin plate, not predrilled [N].

    Without what its pull adds.

    References
    ----------
    EN 1995-1-1:2004, 8.2.3, equation 8.9; embedment 8.15, yield 8.30, diameter 8.7.1(3): 1.1 of
    the core (from memory).
    """
    across = 1.1 * core_mm(diameter_mm)
    embedment: float = 0.082 * density_kg_m3 * across**-0.3
    yields: float = 0.3 * ultimate_pa / 1e6 * across**2.6
    return min(
        0.4 * embedment * thread_mm * across, 1.15 * math.sqrt(2 * yields * embedment * across)
    )


def lateral(diameter_mm: float, wood: Timber, ultimate_pa: float, duration: LoadDuration) -> float:
    """Design lateral strength of one screw [N]."""
    borne = lateral_en(diameter_mm, 1000 * wood.thread_m, wood.density_kg_m3, ultimate_pa)
    return (
        borne * figure("timber", duration_key(duration), "k_mod") / figure("limit", "wood_factor")
    )


def duration_key(duration: LoadDuration) -> str:
    """Row of the table of durations."""
    return "permanent" if duration == "movement" else duration
