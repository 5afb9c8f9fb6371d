"""Panel curves in every state of light, from the cell-level solver."""

from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.shade.cell import Array
from sunhitch_service.engine.shade.curve import Curve
from sunhitch_service.engine.shade.light import fitted_grid, lit_panel
from sunhitch_service.engine.shade.network import LitPanel, build
from sunhitch_service.engine.shade.sweep import sweep

from .job import Job, Light, Member, Share

_OWN_POINTS = 600


@dataclass(frozen=True, slots=True)
class PanelCurves:
    """Current over voltage of every class of panels in every state of light.

    Parameters
    ----------
    class_of : tuple of int
        Class of every member: those of one type and in the same light share one.
    states : list of (list of Curve or None)
        Curve of every class, for every state; None where all panels are dark.
    own_maxima_w : ndarray, shape (states, classes)
        What a panel gives by itself [W].
    """

    class_of: tuple[int, ...]
    states: list[list[Curve] | None]
    own_maxima_w: Array


def panel_curves(job: Job) -> PanelCurves:
    """Draw the curves of all panels.

    Parameters
    ----------
    job : Job
        Settled request.

    Returns
    -------
    PanelCurves
        They reach from the largest current that neighbours can push back to that of bypass diodes.
    """
    classes: dict[tuple[int, tuple[Share, ...]], int] = {}
    class_of = tuple(classes.setdefault((m.kind, m.light), len(classes)) for m in job.members)
    states = [_state(job, light, class_of) for light in job.lights]
    maxima = np.array([_maxima(curves, len(classes)) for curves in states])
    return PanelCurves(class_of, states, maxima)


def _state(job: Job, light: Light, class_of: tuple[int, ...]) -> list[Curve] | None:
    """Each panel counts as a string of its own, so that every curve covers the others' current."""
    lit = {
        str(number): _lit(job, light, member)
        for number, member in zip(class_of, job.members, strict=True)
    }
    if not any(np.any(panel.light > 0.0) for panel in lit.values()):
        return None
    network = build(lit, [[str(number)] for number in class_of])
    curves = sweep(network).strings
    return [curves[network.places[str(number)].string] for number in range(len(lit))]


def _lit(job: Job, light: Light, member: Member) -> LitPanel:
    resolved = job.kinds[member.kind].resolved
    layout = resolved.layout
    share: Share = 1.0 if light.shade is None else member.light[light.shade]
    given = [list(row) for row in share] if isinstance(share, tuple) else share
    grid = fitted_grid(given, (layout.paths_in_parallel, layout.positions_in_series))
    return lit_panel(resolved, light.irradiance_w_m2, light.cell_c, grid)


def _maxima(curves: list[Curve] | None, classes: int) -> Array:
    if curves is None:
        return np.zeros(classes)
    return np.array([_own_maximum_w(curve) for curve in curves])


def _own_maximum_w(curve: Curve) -> float:
    """Largest power between short circuit and open circuit [W]."""
    i = np.linspace(0.0, float(curve.i[0]), _OWN_POINTS)
    power = i * curve.voltages(i)[0]
    best = int(np.clip(np.argmax(power), 1, _OWN_POINTS - 2))
    fine = np.linspace(float(i[best - 1]), float(i[best + 1]), _OWN_POINTS)
    return max(0.0, float(np.max(fine * curve.voltages(fine)[0])))
