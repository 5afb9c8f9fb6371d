"""`harvest`: light, shade, power and battery through the year, and what would do better."""

from collections.abc import Sequence
from dataclasses import dataclass

from sunhitch.types.harvest import (
    HarvestAnswer,
    HarvestComparison,
    HarvestRequest,
    HarvestSteps,
    HourlyWeather,
    PanelSky,
    YearResult,
)
from sunhitch_service.engine.battery.simulation import BatteryModel, battery_model
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.divided import Divided
from sunhitch_service.engine.stamp import stamp

from .balance import balance, months, uncertainty
from .compare import comparison
from .losses import light_wh, losses
from .outcome import HarvestOutcome, Year, outcomes, year_of
from .rules import rules
from .setup import HarvestStudy, settle, variants
from .study_parts import STAGES, StudyPart, StudyPartResult, work

_CAUTIONS = ("judgement", "lit-panel", "battery-energy", "roof-work")


@dataclass(frozen=True, slots=True)
class PreparedHarvest:
    """A settled study, its work cut into jobs.

    Parameters
    ----------
    study : HarvestStudy
        Settled request.
    battery : BatteryModel
        Settled battery.
    years : tuple of Year
        The main weather with every variant, then other years with the request itself.
    """

    study: HarvestStudy
    battery: BatteryModel
    years: tuple[Year, ...]

    @property
    def jobs(self) -> tuple[StudyPart, ...]:
        """Of all years."""
        return tuple(job for year in self.years for job in year.jobs)


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
    battery = battery_model(request.battery, request.battery_use, study.notes)
    compared = variants(request)
    years = [year_of(study, battery, study.weather, compared)]
    years += [year_of(study, battery, other, compared[:1]) for other in study.others]
    return PreparedHarvest(study, battery, tuple(years))


def conclude(prepared: PreparedHarvest, parts: Sequence[StudyPartResult]) -> HarvestAnswer:
    """Put results together and judge them.

    Parameters
    ----------
    prepared : PreparedHarvest
        The study.
    parts : sequence of StudyPartResult
        Results of its jobs, in their order.

    Returns
    -------
    HarvestAnswer
        Energy by month and typical day, losses, battery, comparison.
    """
    study, battery, request = prepared.study, prepared.battery, prepared.study.request
    rest = iter(parts)
    by_year = [
        outcomes(request, battery, year, [next(rest) for _ in year.jobs]) for year in prepared.years
    ]
    found, given = by_year[0], by_year[0][0]
    years = [only for only, *_ in by_year[1:]]
    steps, balanced = losses(given), balance(given, battery)
    spread = uncertainty(request, given, years, study.notes)
    compared = comparison(found)
    coldest_c = float(given.weather.air_c.min())
    checks = [
        *rules(steps, balanced, battery.discharge_limit_w),
        *battery.cold.lock_out(coldest_c),
    ]
    return HarvestAnswer(
        verdict=verdict_of(checks),
        checks=checks,
        assumptions=study.notes.listed(),
        cautions=cautions(*_CAUTIONS),
        engine=stamp(),
        summary=_summary(given, compared),
        panel_power_w=_panel_power(request, given),
        light_wh=light_wh(given),
        losses=steps,
        charged_wh=given.charged_wh,
        months=months(given, battery),
        battery=balanced,
        panels=[
            PanelSky(panel=name, visible_sky_fraction=float(sky), beam_fraction=float(beam))
            for name, sky, beam in zip(given.names, given.sky, given.beam, strict=True)
        ],
        comparison=compared,
        range=spread,
        years=_years(request, given, years),
        steps=_steps(given, battery, request.detail == "steps"),
    )


HARVEST = Divided(prepare, work, conclude)
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


def _panel_power(request: HarvestRequest, given: HarvestOutcome) -> float:
    plates = {t.name: t.panel.electrical.p_mp_w for t in request.panel_types}
    return sum(plates[p.panel_type] for p in request.placements if p.name in given.names)


def _years(
    request: HarvestRequest, given: HarvestOutcome, years: list[HarvestOutcome]
) -> list[YearResult]:
    if not years:
        return []
    own = request.weather.name if isinstance(request.weather, HourlyWeather) else "clear sky"
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
            starts_at="", step_s=0, array_w=[], charging_w=[], load_w=[], state_fraction=[]
        )
    return HarvestSteps(
        starts_at=clock.moment(0),
        step_s=clock.step_s,
        array_w=given.stages_w[STAGES.index("mismatch")].tolist(),
        charging_w=(flows.accepted / clock.step_h).tolist(),
        load_w=given.load_w.tolist(),
        state_fraction=(flows.stored / battery.capacity_wh).tolist(),
    )


def _summary(given: HarvestOutcome, compared: list[HarvestComparison]) -> list[str]:
    clock = given.weather.clock
    days = clock.steps * clock.step_h / 24.0
    taken = losses(given)
    worst = sorted(taken, key=lambda step: -step.lost_wh)[:2]
    lines = [
        f"{given.charged_wh / 1000:.1f} kWh reach battery and loads in {days:.0f} days, "
        f"{given.charged_wh / days / 1000:.2f} kWh a day.",
        "Most is lost to: "
        + "; ".join(f"{s.title.lower()} ({s.lost_wh / 1000:.1f} kWh)" for s in worst)
        + ".",
    ]
    if given.load_w.any():
        lines.append(_power_line(given))
    if compared:
        best = compared[0]
        lines.append(
            f"Best of {len(compared)}: {best.name}, "
            f"{100.0 * best.against_given_fraction:+.1f} % at the battery's "
            f"terminals against the request. {best.reason}"
        )
    return lines


def _power_line(given: HarvestOutcome) -> str:
    hours = given.hours_without_power
    if hours == 0.0:
        return "All loads have power all the time."
    return f"Loads lack power for {hours:.0f} hours."
