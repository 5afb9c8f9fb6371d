"""Variants of a study through a year of weather: cut into jobs, and put together again."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from sunhitch.grouping import grouped
from sunhitch.types.harvest import HarvestRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.simulation import (
    BatteryFlows,
    BatteryModel,
    battery_model,
    simulate,
)
from sunhitch_service.engine.pv.temperature import settled_heat
from sunhitch_service.engine.shadow.planes import Stance
from sunhitch_service.engine.sky import Array

from .autonomy import SyntheticYears
from .charging import charger
from .computing_time import job_states
from .loads import load_w, peak_load_w
from .setup import HarvestStudy, HarvestVariant, Module, modules
from .study_parts import STAGES, StudyPart, StudyPartResult, VariantControllers
from .weather import LitSteps, WeatherSteps


@dataclass(frozen=True, slots=True)
class HarvestOutcome:
    """A variant's study.

    Parameters
    ----------
    variant : HarvestVariant
        What was studied.
    weather : WeatherSteps
        In which year.
    stages_w : ndarray, shape (16, steps)
        Power left after each of `STAGES`, mean over the headings [W].
    light_w_m2 : ndarray, shape (steps,)
        Unshaded light in the panels' planes, mean over panels and headings [W/m²].
    load_w : ndarray, shape (steps,)
        Power asked for [W].
    peak_w : float
        Largest power of loads that may be on at once [W].
    flows : BatteryFlows
        The battery.
    invented : SyntheticYears or None
        The battery through invented years, where the weather is that of monthly means.
    beam, sky : ndarray, shape (panels,)
        Share of the beam and of the sky that reaches each panel.
    names : tuple of str
        The wired panels.
    """

    variant: HarvestVariant
    weather: WeatherSteps
    stages_w: Array
    light_w_m2: Array
    load_w: Array
    peak_w: float
    flows: BatteryFlows
    invented: SyntheticYears | None
    beam: Array
    sky: Array
    names: tuple[str, ...]

    @property
    def unserved_share(self) -> Array:
        """Of every step without power, mean over invented years [1]."""
        return self.flows.unserved_share if self.invented is None else self.invented.share

    @property
    def available_wh(self) -> float:
        """Energy at the battery's terminals, taken or not [Wh]."""
        return float(self.stages_w[-1].sum() * self.weather.clock.step_h)

    @property
    def charged_wh(self) -> float:
        """Energy taken at the battery's terminals [Wh]."""
        return float(self.flows.accepted.sum())

    @property
    def hours_without_power(self) -> float:
        """Hours of load cut off, steps in part counted in part; of a typical invented year [h]."""
        if self.invented is not None:
            return float(np.median(self.invented.hours))
        return float(self.flows.unserved_share.sum() * self.weather.clock.step_h)


@dataclass(frozen=True, slots=True)
class VariantPlan:
    """A variant with its panels and controllers."""

    variant: HarvestVariant
    panels: tuple[Module, ...]
    wiring: VariantControllers
    battery: BatteryModel

    def weight(self, stance: Stance) -> float:
        """Share of the time that it stands so."""
        return sum(weight for own, weight in self.variant.stances if own == stance)


@dataclass(frozen=True, slots=True)
class VariantWork:
    """What is to be worked out for variants under some skies.

    Parameters
    ----------
    size : int
        How many steps their results are put on.
    plans : tuple of VariantPlan
        One per variant.
    jobs : tuple of StudyPart
        Some steps of one stance in each.
    served : tuple of tuple of int
        For every job, the plans that it works for, in the order of its wirings.
    """

    size: int
    plans: tuple[VariantPlan, ...]
    jobs: tuple[StudyPart, ...]
    served: tuple[tuple[int, ...], ...]


def plan_of(study: HarvestStudy, variant: HarvestVariant) -> VariantPlan:
    """A variant with its panels, controllers and battery settled.

    Parameters
    ----------
    study : HarvestStudy
        Settled request; takes note of what was chosen.
    variant : HarvestVariant
        To be studied.
    """
    own, asked, other = Assumptions(), variant.request, variant.other
    drawn_w = sum(array.tracker.own_draw_w for array in asked.arrays)
    battery = battery_model(asked.battery, asked.battery_use, own, drawn_w)
    at = variant.at if other.battery or other.battery_use else ""
    study.notes.merge(own.listed(), at.__add__)
    panels, arrays_at = modules(study, variant), variant.pointer("arrays")
    chargers = [
        charger(array, f"{arrays_at}/{k}", panels, battery.working_v, study.aged, study.notes)
        for k, array in enumerate(asked.arrays)
    ]
    mounting = settled_heat(asked.mounting_heat, variant.pointer("mounting_heat"), study.notes)
    wiring = VariantControllers(mounting, tuple(chargers))
    return VariantPlan(variant, tuple(panels), wiring, battery)


def work_of(
    study: HarvestStudy, plans: tuple[VariantPlan, ...], lit: LitSteps, size: int
) -> VariantWork:
    """Cut variants into jobs; those that share panels and headings share light and tables.

    Parameters
    ----------
    study : HarvestStudy
        Settled request.
    plans : tuple of VariantPlan
        The variants.
    lit : LitSteps
        Steps with light.
    size : int
        How many steps there are in all.

    Returns
    -------
    VariantWork
        Some steps of one stance in each job.
    """
    own = study.request.panel_heat
    runs = list(lit.runs(job_states(study.request), own.stored_j_per_m2_k > 0.0))
    jobs: list[StudyPart] = []
    served: list[tuple[int, ...]] = []
    for stance, members in _shared(plans):
        wirings = tuple(plans[k].wiring for k in members)
        for run in runs:
            jobs.append(StudyPart(study.site, run, stance, plans[members[0]].panels, wirings, own))
            served.append(tuple(members))
    return VariantWork(size, plans, tuple(jobs), tuple(served))


def _shared(plans: Sequence[VariantPlan]) -> Iterator[tuple[Stance, list[int]]]:
    """Stances that occur with the same panels, with the plans that need them."""
    variants = [plan.variant for plan in plans]
    panels = [
        msgspec.msgpack.encode((own.other.construction, own.wired, own.wired_types))
        for own in variants
    ]
    groups = grouped(
        ((panels[k], stance), k) for k, own in enumerate(variants) for stance, _ in own.stances
    )
    return ((stance, members) for (_, stance), members in groups.items())


class VariantSums:
    """Sums of one plan over its headings; fields as in `HarvestOutcome`."""

    def __init__(self, steps: int, panels: int) -> None:
        self.stages_w = np.zeros((len(STAGES), steps))
        self.light_w_m2 = np.zeros(steps)
        self.beam = np.zeros((2, panels))
        self.sky = np.zeros(panels)
        self.states = 0.0

    def add(self, part: StudyPartResult, stages_w: Array, weight: float) -> None:
        """Add the result of a job."""
        self.stages_w[:, part.steps] += weight * stages_w
        self.light_w_m2[part.steps] += weight * part.light_w_m2
        self.beam += weight * part.beam
        self.sky += weight * part.sky
        self.states += weight * len(part.steps)


def sums(work: VariantWork, parts: Iterator[StudyPartResult]) -> list[VariantSums]:
    """Put the results of jobs together.

    Parameters
    ----------
    work : VariantWork
        The variants.
    parts : iterator of StudyPartResult
        Results of its jobs, in their order; as many are taken as there are jobs.

    Returns
    -------
    list of VariantSums
        One per variant, in their order.
    """
    found = [VariantSums(work.size, len(plan.panels)) for plan in work.plans]
    for job, served in zip(work.jobs, work.served, strict=True):
        part = next(parts)
        for k, stages_w in zip(served, part.stages_w, strict=True):
            found[k].add(part, stages_w, work.plans[k].weight(job.stance))
    return found


def outcome(
    request: HarvestRequest,
    weather: WeatherSteps,
    plan: VariantPlan,
    flow: VariantSums,
    invented: SyntheticYears | None = None,
) -> HarvestOutcome:
    """A variant's study out of its sums.

    Parameters
    ----------
    request : HarvestRequest
        With loads.
    weather : WeatherSteps
        In which year.
    plan : VariantPlan
        The variant.
    flow : VariantSums
        Its sums.
    invented : SyntheticYears, optional
        Its battery through invented years.

    Returns
    -------
    HarvestOutcome
        With the battery through the year.
    """
    clock, battery = weather.clock, plan.battery
    asked = load_w(request.loads, clock, request.summer_time)
    limit_w = battery.charge_limit_w(weather.air_c, clock.step_h)
    whole = np.ones(len(plan.panels))
    return HarvestOutcome(
        variant=plan.variant,
        weather=weather,
        stages_w=flow.stages_w,
        light_w_m2=flow.light_w_m2,
        load_w=asked,
        peak_w=peak_load_w(request.loads, clock, request.summer_time),
        flows=simulate(battery, flow.stages_w[-1], asked, limit_w, clock.step_h),
        invented=invented,
        beam=np.divide(flow.beam[1], flow.beam[0], out=whole.copy(), where=flow.beam[0] > 0.0),
        sky=flow.sky / flow.states if flow.states else whole,
        names=tuple(panel.name for panel in plan.panels),
    )
