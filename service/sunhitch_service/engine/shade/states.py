"""Global maxima of the same array at many further moments."""

from collections.abc import Mapping

import numpy as np
from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.panel import Panel, PanelElectrical
from sunhitch.types.shade import (
    ArrayPanel,
    LightState,
    LightStateResult,
    PowerPoint,
    ShadedIvRequest,
    Sun,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.accelerate import at_hand, installed
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.pv.losses import full_power
from sunhitch_service.engine.pv.many_states import LightSolver
from sunhitch_service.engine.pv.maxima import CERTIFIED
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel, completed
from sunhitch_service.engine.pv.solution import Interconnection
from sunhitch_service.engine.shadow.light import panel_light

from .compare import solver_wiring

_WORTH_THE_KERNEL = 200
"""From so many states on, loading the compiled kernel costs less than it spares."""


def compiled(states: int) -> bool:
    """Whether the compiled kernel takes so many states, where it is at hand."""
    return states >= _WORTH_THE_KERNEL and at_hand()


def load_kernel() -> None:
    """Load the compiled kernel where it is installed, which takes half a minute the first time.

    What was compiled is kept on disk, so that later processes load it within a second.
    """
    if not installed():
        return
    nameplate = PanelElectrical(
        p_mp_w=100.0, v_mp_v=20.0, i_mp_a=5.0, v_oc_v=24.0, i_sc_a=5.3, cells_in_series=36
    )
    panel = completed(Panel(electrical=nameplate), Assumptions(), "")
    solver = LightSolver({"any": panel}, Interconnection([["any"]]), compiled=True)
    solver.maxima(np.ones((1, solver.cells)), 1000.0, 25.0)


def state_maxima(
    request: ShadedIvRequest,
    resolved: Mapping[str, ResolvedPanel],
    lit: Mapping[str, LitPanel],
    assumptions: Assumptions,
) -> list[LightStateResult]:
    """Maxima of every state, in the request's order.

    Parameters
    ----------
    request : ShadedIvRequest
        With states, validated.
    resolved : mapping of str to ResolvedPanel
        Its panels.
    lit : mapping of str to LitPanel
        The same in the request's own light.
    assumptions : Assumptions
        Takes a note of how they were found.

    Returns
    -------
    list of LightStateResult
        Empty where no state was asked for.
    """
    if not request.states:
        return []
    fast = compiled(len(request.states))
    if fast:
        why = statement("states-together")
        assumptions.note("/states", statement("solved-together", states=len(request.states)), why)
    solver = LightSolver(resolved, solver_wiring(request.wiring), fast)
    suns = [request.sun if state.sun is None else state.sun for state in request.states]
    named = {panel.name: panel for panel in request.panels}
    panels = [named[name] for name in solver.names]
    light = np.array(
        [
            _light(request, state, sun, panels, resolved, lit)
            for state, sun in zip(request.states, suns, strict=True)
        ]
    )
    found = solver.maxima(
        light,
        [sun.irradiance_w_m2 for sun in suns],
        [sun.cell_temperature_c for sun in suns],
    )
    open_ended = int(np.sum(found.bound > found.power * (1.0 + CERTIFIED)))
    if open_ended:
        why = statement("states-at-their-limit")
        assumptions.note("/states/maximum_power_point", open_ended, why)
    unshaded = {
        (w_m2, warm): sum(_unshaded_w(panel, w_m2, warm) for panel in resolved.values())
        for w_m2, warm in {(sun.irradiance_w_m2, sun.cell_temperature_c) for sun in suns}
    }
    return [
        LightStateResult(
            name=state.name,
            maximum_power_point=PowerPoint(power_w=power, voltage_v=volts, current_a=amperes),
            of_unshaded_fraction=power / unshaded[sun.irradiance_w_m2, sun.cell_temperature_c],
        )
        for state, sun, power, volts, amperes in zip(
            request.states,
            suns,
            found.power.tolist(),
            found.voltage.tolist(),
            found.current.tolist(),
            strict=True,
        )
    ]


def _light(
    request: ShadedIvRequest,
    state: LightState,
    sun: Sun,
    panels: list[ArrayPanel],
    resolved: Mapping[str, ResolvedPanel],
    lit: Mapping[str, LitPanel],
) -> Array:
    """Share of the sun on every cell of the array, panel after panel as the solver wants them."""
    own = {light.panel: light.irradiance_fraction for light in state.light}
    shapes, given = request.shade if state.shade is None else state.shade, request.sun
    casts = state.shade is not None or (
        bool(request.shade) and sun.diffuse_fraction != given.diffuse_fraction
    )
    found: list[Array] = []
    for panel in panels:
        if not casts and panel.name not in own:
            found.append(lit[panel.name].light)
            continue
        share, layout = own.get(panel.name, panel.irradiance_fraction), resolved[panel.name].layout
        changed = replace(panel, irradiance_fraction=share)
        # What had to be chosen was noted when the request itself was lit.
        found.append(panel_light(shapes, sun.diffuse_fraction, changed, layout, Assumptions(), ""))
    return np.concatenate([each.ravel() for each in found])


def _unshaded_w(panel: ResolvedPanel, irradiance: float, temperature: float) -> float:
    """Power of a panel in full light, each cell at its best [W]."""
    current, junction = panel.at(irradiance, temperature)
    cells = panel.layout.paths_in_parallel * panel.layout.positions_in_series
    return cells * full_power(junction, current)
