"""Modes of failure of clamps, rails and supports of a panel on a roof rack."""

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.mount import Rails

from .figures import figure
from .foot_modes import LoadedFeet
from .modes import ModeResult
from .rails import RailBeam, section

Floats = NDArray[np.float64]


def _adverse(shares: Floats, loads: Floats) -> Floats:
    """Largest effect of either sign of loads (m, c), of which only those that add up count.

    `shares` (k, c) hold the effect of each load, which is not negative.
    """
    up = loads @ np.maximum(shares, 0.0).T
    down = loads @ np.maximum(-shares, 0.0).T
    worst: Floats = np.maximum(up, down).max(axis=1)
    return worst


def rail_results(at: LoadedFeet, mounting: Rails) -> list[ModeResult]:
    """Clamps, rails and supports in one load case."""
    loads = np.maximum(at.forces.uplift, at.forces.pressed)
    found = _clamp_results(at, mounting)
    for rail in at.setup.rails:
        found += _rail_results(at, mounting, rail, loads[:, rail.clamps])
        if mounting.support_rating_n is not None:
            up = np.maximum(rail.beam.reaction, 0.0)
            pull = at.forces.uplift[:, rail.clamps] @ up.T
            found.append(
                _rail_result(at, "rail-support", rail, pull.max(axis=1), mounting.support_rating_n)
            )
    return found


def _clamp_results(at: LoadedFeet, mounting: Rails) -> list[ModeResult]:
    given = mounting.friction_fraction
    friction = figure("limit", "clamp_friction") if given is None else given
    left = np.maximum(mounting.clamp_preload_n - at.forces.uplift, 0.0)
    slip = friction * left / figure("limit", "clamp_factor")
    found = [at.result("clamp-slip", at.forces.shear, slip)]
    if mounting.clamp_rating_n is not None:
        found.append(at.result("clamp-uplift", at.forces.uplift, mounting.clamp_rating_n))
    return found


def _rail_results(
    at: LoadedFeet, mounting: Rails, rail: RailBeam, loads: Floats
) -> list[ModeResult]:
    _, modulus = section(mounting.section)
    yields = figure("alloy", mounting.alloy, "yield_pa") / figure("limit", "rail_factor")
    sag = min(rail.span / figure("limit", "rail_span_over_sag"), mounting.standoff_m / 2)
    bent = _adverse(rail.beam.moment, loads) / modulus
    return [
        _rail_result(at, "rail-bending", rail, bent, yields),
        _rail_result(at, "rail-deflection", rail, _adverse(rail.beam.deflection, loads), sag),
    ]


def _rail_result(
    at: LoadedFeet, code: str, rail: RailBeam, demand: Floats, capacity: float
) -> ModeResult:
    i = int(demand.argmax())
    return ModeResult(
        code,
        "foot-lost" if at.lost else at.case.name,
        f"{at.case.title}, one clamp lost" if at.lost else at.case.title,
        f"rail {rail.number}",
        float(demand[i]),
        capacity * at.relief,
        at.case.depends_on_speed,
        f"clamp {i + 1}" if at.lost else "",
    )
