"""`harvest`: light, shade, power and battery through the year, and what would do better."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.harvest import (
    Autonomy,
    ClearSkyWeather,
    HarvestAnswer,
    HarvestComparison,
    HarvestRequest,
    HarvestSteps,
    HourlyWeather,
    PanelSky,
    YearResult,
)
from sunhitch_service.engine.answering import common
from sunhitch_service.engine.battery.hot import in_heat
from sunhitch_service.engine.battery.simulation import BatteryModel
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.divided import Divided

from .autonomy import (
    InventedYears,
    SyntheticYears,
    TrialSkies,
    of_given_years,
    of_synthetic_years,
    trial_skies,
    without_power,
)
from .balance import balance, months, uncertainty
from .compare import comparison
from .loads import load_w
from .losses import light_wh, losses
from .outcome import HarvestOutcome, VariantPlan, VariantWork, outcome, plan_of, sums, work_of
from .rules import rules
from .setup import HarvestStudy, settle, variants
from .study_parts import STAGES, StudyPart, StudyPartResult, lit_part
from .weather import WeatherSteps

_CAUTIONS = ("judgement", "lit-panel", "battery-energy", "roof-work")


@dataclass(frozen=True, slots=True)
class PreparedHarvest:
    """A settled study, its work cut into jobs.

    Parameters
    ----------
    study : HarvestStudy
        Settled request.
    works : tuple of VariantWork
        Every variant in the main weather, the request itself in other years, and every variant
        under the skies that invented years need.
    skies : TrialSkies or None
        These skies, if any.
    """

    study: HarvestStudy
    works: tuple[VariantWork, ...]
    skies: TrialSkies | None

    @property
    def battery(self) -> BatteryModel:
        """Of the request itself."""
        return self.works[0].plans[0].battery

    @property
    def jobs(self) -> tuple[StudyPart, ...]:
        """Of all works."""
        return tuple(job for work in self.works for job in work.jobs)

    @property
    def pieces(self) -> int:
        """Jobs, and one for every battery in invented years."""
        return len(self.jobs) + len(self.works[-1].plans) * (self.skies is not None)


def prepare(request: HarvestRequest) -> PreparedHarvest:
    """Settle a study and cut it into jobs.

    Parameters
    ----------
    request : HarvestRequest
        Site, weather, roof, shade, panels, battery and loads.

    Returns
    -------
    PreparedHarvest
        With independent jobs.

    Raises
    ------
    ContradictionError
        If the request contradicts itself or asks for too much work.
    """
    study = settle(request)
    plans = tuple(plan_of(study, variant) for variant in variants(request))
    works = [_year(study, plans, study.weather)]
    works += [_year(study, plans[:1], other) for other in study.others]
    skies = trial_skies(request, study.weather)
    if skies is not None:
        works.append(work_of(study, plans, skies.lit, skies.size))
    return PreparedHarvest(study, tuple(works), skies)


def _year(
    study: HarvestStudy, plans: tuple[VariantPlan, ...], weather: WeatherSteps
) -> VariantWork:
    return work_of(study, plans, weather.lit(), weather.clock.steps)


def work(job: StudyPart | InventedYears) -> StudyPartResult | SyntheticYears:
    """What a piece comes to.

    Parameters
    ----------
    job : StudyPart or InventedYears
        Light and power of some steps, or a battery through invented years.

    Returns
    -------
    StudyPartResult or SyntheticYears
        Of it.
    """
    return job.followed() if isinstance(job, InventedYears) else lit_part(job)


def further(
    prepared: PreparedHarvest, parts: Sequence[StudyPartResult | SyntheticYears]
) -> list[InventedYears]:
    """Every variant's battery in invented years, now that its power under their skies is known.

    Parameters
    ----------
    prepared : PreparedHarvest
        The study.
    parts : sequence of StudyPartResult
        Results of its jobs, in their order.

    Returns
    -------
    list of InventedYears
        One per variant; none where no years are invented.
    """
    study, skies, request = prepared.study, prepared.skies, prepared.study.request
    if skies is None or not isinstance(request.weather, ClearSkyWeather):
        return []
    under = prepared.works[-1]
    clock, lit = study.weather.clock, _lit(parts)
    asked = load_w(request.loads, clock, request.summer_time)
    flows = sums(under, iter(lit[len(lit) - len(under.jobs) :]))
    return [
        InventedYears(
            request.weather,
            study.weather,
            plan.battery,
            asked,
            skies.by_clearness(flow.stages_w[-1], clock),
        )
        for plan, flow in zip(under.plans, flows, strict=True)
    ]


def _lit(parts: Sequence[StudyPartResult | SyntheticYears]) -> list[StudyPartResult]:
    return [part for part in parts if isinstance(part, StudyPartResult)]


def conclude(
    prepared: PreparedHarvest, parts: Sequence[StudyPartResult | SyntheticYears]
) -> HarvestAnswer:
    """Put results together and judge them.

    Parameters
    ----------
    prepared : PreparedHarvest
        The study.
    parts : sequence of StudyPartResult and SyntheticYears
        Results of both rounds, in the order of their pieces.

    Returns
    -------
    HarvestAnswer
        Energy by month and typical day, losses, battery, comparison.
    """
    study, battery, request = prepared.study, prepared.battery, prepared.study.request
    found, years = outcomes(prepared, parts)
    given = found[0]
    unpowered = _autonomy(request, battery, given, years)
    steps, balanced = losses(given), balance(given, battery)
    charged_range = uncertainty(request, given, years, study.notes)
    compared = comparison(found)
    coldest_c = float(given.weather.air_c.min())
    pwm = any(array.controller.kind == "pwm" for array in request.arrays)
    checks = [
        *rules(steps, balanced, given.invented, battery.discharge_limit_w, pwm=pwm),
        *battery.cold.lock_out(coldest_c),
        *in_heat(request.battery, float(given.weather.air_c.max()), study.notes),
    ]
    return HarvestAnswer(
        **common(request, checks, study.notes, cautions(*_CAUTIONS)),
        summary=_summary(given, compared, unpowered),
        panel_power_w=given.variant.panel_power_w,
        light_wh=light_wh(given),
        losses=steps,
        charged_wh=given.charged_wh,
        months=months(given, battery),
        battery=balanced,
        autonomy=unpowered,
        panels=[
            PanelSky(panel=name, visible_sky_fraction=float(sky), beam_fraction=float(beam))
            for name, sky, beam in zip(given.names, given.sky, given.beam, strict=True)
        ],
        comparison=compared,
        range=charged_range,
        years=_years(request, given, years),
        steps=_steps(given, battery, request.detail == "steps"),
    )


def outcomes(
    prepared: PreparedHarvest, parts: Sequence[StudyPartResult | SyntheticYears]
) -> tuple[list[HarvestOutcome], list[HarvestOutcome]]:
    """Every variant in the main weather, and the request itself in other years.

    Parameters
    ----------
    prepared : PreparedHarvest
        The study.
    parts : sequence of StudyPartResult and SyntheticYears
        Results in the order of their pieces.

    Returns
    -------
    tuple of list of HarvestOutcome
        The request itself first, then those of `compare`, in their order; and the other years.
    """
    study, lit = prepared.study, iter(_lit(parts))
    first, *rest = (sums(own, lit) for own in prepared.works[: 1 + len(study.others)])
    plans, request = prepared.works[0].plans, study.request
    years = [
        outcome(request, weather, plans[0], only)
        for weather, (only, *_) in zip(study.others, rest, strict=True)
    ]
    known: list[SyntheticYears | None] = [p for p in parts if isinstance(p, SyntheticYears)]
    found = [
        outcome(request, study.weather, *own)
        for own in zip(plans, first, known or [None] * len(plans), strict=True)
    ]
    return found, years


def _autonomy(
    request: HarvestRequest,
    battery: BatteryModel,
    given: HarvestOutcome,
    years: list[HarvestOutcome],
) -> Autonomy | None:
    """Hours without power and their range; None without loads, or if every day is alike."""
    if not request.loads:
        return None
    if isinstance(request.weather, ClearSkyWeather):
        return of_synthetic_years(given.invented, request.weather.seed) if given.invented else None
    every = [given, *years]
    hours = np.array([one.hours_without_power for one in every])
    lowest = np.array([one.flows.stored.min() / battery.capacity_wh for one in every])
    return of_given_years(hours, lowest)


HARVEST = Divided(prepare, work, further, conclude)
"""The calculation in its steps, for executors."""


def harvest(request: HarvestRequest) -> HarvestAnswer:
    """Follow light, shade, panels, controller and battery through every step of time.

    Parameters
    ----------
    request : HarvestRequest
        Site, weather, roof, shade, panels, battery and loads.

    Returns
    -------
    HarvestAnswer
        Energy by month and typical day, losses, battery, comparison.

    Raises
    ------
    ContradictionError
        If the request contradicts itself or asks for too much work.
    """
    return HARVEST.answer(request)


def _years(
    request: HarvestRequest, given: HarvestOutcome, years: list[HarvestOutcome]
) -> list[YearResult]:
    if not years:
        return []
    own = (
        request.weather.name
        if isinstance(request.weather, HourlyWeather)
        else statement("clear-sky")
    )
    names = [own, *(year.name for year in request.other_years)]
    return [
        YearResult(
            name=name,
            charged_wh=one.charged_wh,
            hours_without_power=one.hours_without_power,
        )
        for name, one in zip(names, [given, *years], strict=True)
    ]


def _steps(given: HarvestOutcome, battery: BatteryModel, wanted: bool) -> HarvestSteps:
    clock, flows = given.weather.clock, given.flows
    if not wanted:
        return HarvestSteps(
            starts_at=None, step_s=0, array_w=[], charging_w=[], load_w=[], state_fraction=[]
        )
    return HarvestSteps(
        starts_at=clock.moment(0),
        step_s=clock.step_s,
        array_w=given.stages_w[STAGES.index("mismatch")].tolist(),
        charging_w=(flows.accepted / clock.step_h).tolist(),
        load_w=given.load_w.tolist(),
        state_fraction=(flows.stored / battery.capacity_wh).tolist(),
    )


def _summary(
    given: HarvestOutcome, compared: list[HarvestComparison], unpowered: Autonomy | None
) -> list[str]:
    clock = given.weather.clock
    days = clock.steps * clock.step_h / 24.0
    worst = sorted(losses(given), key=lambda step: -step.lost_wh)[:2]
    lost: list[str] = [
        statement("loss-of", title=step.title, lost_kwh=step.lost_wh / 1000.0) for step in worst
    ]
    lines: list[str] = [
        statement(
            "reach-battery-and-loads",
            energy_kwh=given.charged_wh / 1000.0,
            days=days,
            daily_kwh=given.charged_wh / days / 1000.0,
        ),
        statement("most-is-lost", losses=lost),
    ]
    if unpowered is not None:
        lines.append(without_power(unpowered))
    if compared:
        best = compared[0]
        lines.append(
            statement(
                "best-of",
                compared=len(compared),
                name=best.name,
                more_percent=100.0 * best.against_given_fraction,
                why=best.reason,
            )
        )
        unbeaten = [line.name for line in compared if not line.beaten_by]
        if len(unbeaten) > 1:
            lines.append(statement("beaten-by-none", names=unbeaten))
    return lines
