"""`harvest`: light, shade, power and battery through the year, and what would do better."""

from sunhitch.types.harvest import (
    HarvestAnswer,
    HarvestComparison,
    HarvestRequest,
    HarvestSteps,
    HourlyWeather,
    PanelSky,
    YearResult,
)
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.stamp import stamp

from .balance import balance, uncertainty
from .battery import Bank, settled_bank
from .compare import comparison
from .losses import light_wh, losses
from .months import months
from .outcome import STAGES, Outcome, outcomes
from .rules import rules
from .setup import settle, variants

_CAUTIONS = ("judgement", "lit-panel", "battery-energy", "roof-work")


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
    study = settle(request)
    bank = settled_bank(request, study.notes)
    found = outcomes(study, bank, study.weather, variants(request))
    given = found[0]
    years = [outcomes(study, bank, year, [given.variant])[0] for year in study.others]
    steps, battery = losses(given), balance(given, bank)
    spread = uncertainty(request, given, years, study.notes)
    compared = comparison(found)
    checks = rules(steps, battery)
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
        months=months(given, bank),
        battery=battery,
        panels=[
            PanelSky(panel=name, visible_sky_fraction=float(sky), beam_fraction=float(beam))
            for name, sky, beam in zip(given.names, given.sky, given.beam, strict=True)
        ],
        comparison=compared,
        range=spread,
        years=_years(request, given, years),
        steps=_steps(given, bank, request.detail == "steps"),
    )


def _panel_power(request: HarvestRequest, given: Outcome) -> float:
    plates = {t.name: t.panel.electrical.p_mp_w for t in request.panel_types}
    return sum(plates[p.panel_type] for p in request.placements if p.name in given.names)


def _years(request: HarvestRequest, given: Outcome, years: list[Outcome]) -> list[YearResult]:
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


def _steps(given: Outcome, bank: Bank, wanted: bool) -> HarvestSteps:
    clock, run = given.weather.clock, given.run
    if not wanted:
        return HarvestSteps(
            starts_at="", step_s=0, array_w=[], charging_w=[], load_w=[], state_fraction=[]
        )
    return HarvestSteps(
        starts_at=clock.moment(0),
        step_s=clock.step_s,
        array_w=given.stages_w[STAGES.index("mismatch")].tolist(),
        charging_w=(run.accepted / clock.step_h).tolist(),
        load_w=given.load_w.tolist(),
        state_fraction=(run.stored / bank.capacity_wh).tolist(),
    )


def _summary(given: Outcome, compared: list[HarvestComparison]) -> list[str]:
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
            f"Best of {len(compared)}: {best.name}, {best.against_given_fraction:+.1%} against the "
            f"request. {best.reason}"
        )
    return lines


def _power_line(given: Outcome) -> str:
    hours = given.hours_without_power
    if hours == 0.0:
        return "All loads have power all the time."
    return f"Loads lack power for {hours:.0f} hours."
