"""One independent piece of a study: some days, one way to stand, every controller."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch.types.harvest import PanelHeat
from sunhitch.types.system import PanelMountingHeat
from sunhitch_service.engine.memory import keep_freed_memory
from sunhitch_service.engine.pv.temperature import ABSORBED, FULL_SUN, cell_c, lagging_cells
from sunhitch_service.engine.shadow.planes import Stance
from sunhitch_service.engine.sky import Array, Index

from . import charging
from .charging import Charger
from .light import STAGES as LIGHT_STAGES
from .light import StanceLight, stance_light
from .setup import HarvestSite, Module
from .solver import CellLight, solve
from .uniform import unshaded
from .weather import LitSteps

STAGES = (*LIGHT_STAGES, "heat-and-weak-light", *charging.STAGES)
"""What is left after each step, from the light on the roof to the battery's terminals."""


@dataclass(frozen=True, slots=True)
class VariantControllers:
    """Controllers of one variant with their panels, and how these shed heat."""

    mounting: PanelMountingHeat
    chargers: tuple[Charger, ...]


@dataclass(frozen=True, slots=True)
class StudyPart:
    """A piece of a study, complete in itself.

    Parameters
    ----------
    site : HarvestSite
        What is around the panels.
    weather : LitSteps
        Some days.
    stance : Stance
        How the vehicle stands.
    panels : tuple of Module
        Wired panels.
    wirings : tuple of VariantControllers
        Of every variant that has these panels and stands so.
    heat : PanelHeat
        Beyond a steady temperature of all.
    """

    site: HarvestSite
    weather: LitSteps
    stance: Stance
    panels: tuple[Module, ...]
    wirings: tuple[VariantControllers, ...]
    heat: PanelHeat


@dataclass(frozen=True, slots=True)
class StudyPartResult:
    """What a piece gives.

    Parameters
    ----------
    steps : ndarray of int, shape (states,)
        Numbers of its steps.
    light_w_m2 : ndarray, shape (states,)
        Unshaded light in the panels' planes, mean over panels [W/m²].
    stages_w : tuple of ndarray, shape (16, states)
        Power left after each of `STAGES`, one array for each wiring [W].
    beam : ndarray, shape (2, panels)
        Sum of the beam without and with shade [W/m²].
    sky : ndarray, shape (panels,)
        Share of the sky that each panel sees, summed over the states.
    """

    steps: Index
    light_w_m2: Array
    stages_w: tuple[Array, ...]
    beam: Array
    sky: Array


def lit_part(job: StudyPart) -> StudyPartResult:
    """Light on every cell, and what the controllers make of it.

    Parameters
    ----------
    job : StudyPart
        The piece.

    Returns
    -------
    StudyPartResult
        For every step.
    """
    keep_freed_memory()
    light = stance_light(job.site, job.weather, job.stance, job.panels)
    chargers: dict[PanelMountingHeat, dict[Charger, None]] = defaultdict(dict)
    for wiring in job.wirings:
        chargers[wiring.mounting].update(dict.fromkeys(wiring.chargers))
    found = {
        mounting: _stages(light, job, mounting, list(own)) for mounting, own in chargers.items()
    }
    return StudyPartResult(
        steps=job.weather.steps,
        light_w_m2=light.stages[0].mean(axis=1),
        stages_w=tuple(
            _summed(light, job.panels, [found[w.mounting][c] for c in w.chargers])
            for w in job.wirings
        ),
        beam=light.beam,
        sky=light.sky.sum(axis=0),
    )


def _stages(
    light: StanceLight, job: StudyPart, mounting: PanelMountingHeat, chargers: Sequence[Charger]
) -> dict[Charger, tuple[Array, Array]]:
    """For every controller, heat-and-weak-light power and what is left later, by state."""
    if len(job.weather.steps) == 0:
        return {c: (np.zeros(0), np.zeros((len(charging.STAGES), 0))) for c in chargers}
    reaching = light.stages[LIGHT_STAGES.index("surroundings")]
    heat = _heat(job, mounting, reaching.mean(axis=1))
    own = [_heat(job, mounting, each) for each in reaching.T] if job.heat.each_panel else []
    lit = CellLight(job.panels, light.cells, heat, own)
    alone = [
        unshaded(panel.panel, light.stages[-1][:, k], lit.heat_of(k))[0]
        for k, panel in enumerate(job.panels)
    ]
    working = solve(lit, [c.wired for c in chargers])
    return {
        c: (
            np.sum([alone[n] for string in c.wired.strings for n in string], axis=0),
            charging.stages(c, w),
        )
        for c, w in zip(chargers, working, strict=True)
    }


def _heat(job: StudyPart, mounting: PanelMountingHeat, light: Array) -> Array:
    """Cell temperature in every state [°C]."""
    weather, efficiency = job.weather, _efficiency(job.panels)
    steady = cell_c(mounting, efficiency, light, weather.air_c, weather.wind_m_s)
    if not job.heat.stored_j_per_m2_k:
        return steady
    bright = np.full(len(light), FULL_SUN)
    rise = cell_c(mounting, efficiency, bright, weather.air_c, weather.wind_m_s) - weather.air_c
    lag_s = job.heat.stored_j_per_m2_k * rise / (FULL_SUN * (ABSORBED - efficiency))
    return lagging_cells(steady, weather.air_c, lag_s / weather.step_s, weather.follows)


def _efficiency(panels: Sequence[Module]) -> float:
    """Efficiency at standard test conditions over the panels' whole area [1]."""
    area = sum(p.laid.kind.body.length_m * p.laid.kind.body.width_m for p in panels)
    return sum(panel.panel.electrical.p_mp_w for panel in panels) / (1000.0 * area)


def _summed(
    light: StanceLight, panels: Sequence[Module], found: list[tuple[Array, Array]]
) -> Array:
    """All controllers of a variant together, shape (16, states)."""
    plates = np.array([panel.panel.electrical.p_mp_w for panel in panels])
    by_light = np.sum(light.stages * plates, axis=-1) / 1000.0
    alone = np.sum([each for each, _ in found], axis=0)
    return np.concatenate([by_light, alone[None], np.sum([each for _, each in found], axis=0)])
