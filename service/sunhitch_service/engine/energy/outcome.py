"""One variant through one year of weather: light, power, battery."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch.types.system import PanelMountingHeat
from sunhitch_service.engine.sky import Array

from . import charge
from .battery import Bank, Run, loads, run, too_cold
from .charge import Charger, charger
from .heat import cell_c
from .light import STAGES as LIGHT_STAGES
from .light import StanceLight, stance_light
from .planes import Stance
from .setup import Module, Study, Variant, modules, stances
from .solver import Lit, solve
from .uniform import unshaded
from .weather import Conditions

STAGES = (*LIGHT_STAGES, "heat-and-weak-light", *charge.STAGES)
"""What is left after each step, from the light on the roof to the battery's terminals."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A variant's study.

    Parameters
    ----------
    variant : Variant
        What was studied.
    weather : Conditions
        In which year.
    stages_w : ndarray, shape (12, steps)
        Power left after each of `STAGES`, mean over the headings [W].
    light_w_m2 : ndarray, shape (steps,)
        Unshaded light in the panels' planes, mean over panels and headings [W/m²].
    load_w : ndarray, shape (steps,)
        Power asked for [W].
    run : Run
        The battery.
    beam, sky : ndarray, shape (panels,)
        Share of the beam and of the sky that reaches each panel.
    names : tuple of str
        The wired panels.
    """

    variant: Variant
    weather: Conditions
    stages_w: Array
    light_w_m2: Array
    load_w: Array
    run: Run
    beam: Array
    sky: Array
    names: tuple[str, ...]

    @property
    def available_wh(self) -> float:
        """Energy at the battery's terminals, taken or not [Wh]."""
        return float(self.stages_w[-1].sum() * self.weather.clock.step_h)

    @property
    def charged_wh(self) -> float:
        """Energy taken at the battery's terminals [Wh]."""
        return float(self.run.accepted.sum())

    @property
    def hours_without_power(self) -> float:
        """Hours of load cut off, steps in part counted in part [h]."""
        asked = self.run.served + self.run.unserved
        share = np.divide(self.run.unserved, asked, out=np.zeros_like(asked), where=asked > 0.0)
        return float(share.sum() * self.weather.clock.step_h)


def outcomes(
    study: Study, bank: Bank, weather: Conditions, variants: Sequence[Variant]
) -> list[Outcome]:
    """Every variant in one year of weather.

    Parameters
    ----------
    study : Study
        Settled request.
    bank : Bank
        Settled battery.
    weather : Conditions
        The year.
    variants : sequence of Variant
        To be studied; those that share panels and headings share light and tables.

    Returns
    -------
    list of Outcome
        In the same order.
    """
    plans = [_plan(study, bank, variant) for variant in variants]
    flows = [_Flow(weather.clock.steps, plan.panels) for plan in plans]
    first_deg = stances(study.request.parking)[0][0].heading_deg
    for panels, stance, members in _shared(plans):
        light = stance_light(study, weather, stance, first_deg, panels)
        for mounting, alike in _by_mounting(plans, members).items():
            chargers = [c for k in alike for c in plans[k].chargers]
            found = iter(_stages(light, panels, mounting, chargers, weather))
            for k in alike:
                own = _summed(light, panels, [next(found) for _ in plans[k].chargers])
                flows[k].add(light, own, plans[k].weight(stance))
    return [
        _outcome(study, bank, weather, plan, flow) for plan, flow in zip(plans, flows, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Plan:
    """A variant with its panels and controllers."""

    variant: Variant
    panels: list[Module]
    chargers: list[Charger]

    def weight(self, stance: Stance) -> float:
        """Share of the time that it stands so."""
        return sum(weight for own, weight in self.variant.stances if own == stance)


class _Flow:
    """Sums of one variant over its headings; fields as in `Outcome`."""

    def __init__(self, steps: int, panels: list[Module]) -> None:
        self.stages_w = np.zeros((len(STAGES), steps))
        self.light_w_m2 = np.zeros(steps)
        self.beam = np.zeros((2, len(panels)))
        self.sky = np.zeros(len(panels))

    def add(self, light: StanceLight, stages_w: Array, weight: float) -> None:
        self.stages_w[:, light.steps] += weight * stages_w
        self.light_w_m2[light.steps] += weight * light.stages[0].mean(axis=1)
        self.beam += weight * light.beam
        self.sky += weight * (light.sky.mean(axis=0) if len(light.steps) else 1.0)


def _plan(study: Study, bank: Bank, variant: Variant) -> _Plan:
    panels = modules(study, variant)
    chargers = [
        charger(array, f"{variant.arrays_at}/{k}", panels, bank.working_v, study.notes)
        for k, array in enumerate(variant.arrays)
    ]
    return _Plan(variant, panels, chargers)


def _shared(plans: list[_Plan]) -> Iterator[tuple[list[Module], Stance, list[int]]]:
    """Panels and stances that occur, with the plans that need them."""
    groups: dict[tuple[str | None, frozenset[str], Stance], list[int]] = defaultdict(list)
    for k, plan in enumerate(plans):
        for stance, _ in plan.variant.stances:
            groups[plan.variant.construction, frozenset(plan.variant.wired), stance].append(k)
    for (_, _, stance), members in groups.items():
        yield plans[members[0]].panels, stance, members


def _by_mounting(plans: list[_Plan], members: list[int]) -> dict[PanelMountingHeat, list[int]]:
    found: dict[PanelMountingHeat, list[int]] = defaultdict(list)
    for k in members:
        found[plans[k].variant.mounting].append(k)
    return found


def _stages(
    light: StanceLight,
    panels: list[Module],
    mounting: PanelMountingHeat,
    chargers: list[Charger],
    weather: Conditions,
) -> list[tuple[Array, Array]]:
    """For every controller, heat-and-weak-light power and what is left later, by state."""
    heat = cell_c(
        mounting,
        light.stages[LIGHT_STAGES.index("hidden-sky")].mean(axis=1),
        weather.air_c[light.steps],
        weather.wind_m_s[light.steps],
    )
    if len(light.steps) == 0:
        return [(np.zeros(0), np.zeros((len(charge.STAGES), 0))) for _ in chargers]
    alone = [
        unshaded(panel.panel, light.stages[-1][:, k], heat).power for k, panel in enumerate(panels)
    ]
    working = solve(Lit(panels, light.cells, heat), [c.feed for c in chargers])
    return [
        (
            np.sum([alone[n] for string in c.feed.strings for n in string], axis=0),
            charge.stages(c, w),
        )
        for c, w in zip(chargers, working, strict=True)
    ]


def _summed(light: StanceLight, panels: list[Module], found: list[tuple[Array, Array]]) -> Array:
    """All controllers of a plan together, shape (12, states)."""
    plates = np.array([panel.panel.electrical.p_mp_w for panel in panels])
    by_light = light.stages @ plates / 1000.0
    alone = np.sum([each for each, _ in found], axis=0)
    later = np.sum([each for _, each in found], axis=0)
    return np.concatenate([by_light, alone[None], later])


def _outcome(study: Study, bank: Bank, weather: Conditions, plan: _Plan, flow: _Flow) -> Outcome:
    clock = weather.clock
    asked = loads(study.request, clock)
    cold = too_cold(bank, weather.air_c)
    kept = np.divide(
        flow.beam[1], flow.beam[0], out=np.ones(len(plan.panels)), where=flow.beam[0] > 0.0
    )
    return Outcome(
        variant=plan.variant,
        weather=weather,
        stages_w=flow.stages_w,
        light_w_m2=flow.light_w_m2,
        load_w=asked,
        run=run(bank, flow.stages_w[-1], asked, cold, clock.step_h),
        beam=kept,
        sky=flow.sky,
        names=tuple(panel.name for panel in plan.panels),
    )
