"""`mount-check`: whether a panel stays on a vehicle's roof."""

import math

from sunhitch.types.check import Check
from sunhitch.types.mount import (
    BondedSheet,
    FastenedFeet,
    FootLost,
    Governing,
    LoadCase,
    MountCheckAnswer,
    MountCheckRequest,
    Thermal,
    ZoneShare,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.stamp import stamp

from .advice import (
    conservative_factors,
    foot_results,
    inspection,
    not_judged,
    nut_torque,
    retention,
)
from .cases import CaseLoad, cases
from .cure import cure
from .evaluate import evaluate
from .faults import refuse_contradictions
from .figures import figure
from .improve import plan, trials
from .modes import ModeResult, finite
from .setup import Setup, adhesive_of, settle
from .speed import SpeedRange, governing_result, speed_curve, speed_limit, worst_result
from .static_checks import static_checks, static_results
from .thermal import Movement, movement


def mount_check(request: MountCheckRequest) -> MountCheckAnswer:
    """Compare every load case with every mode of failure, and say what follows.

    Parameters
    ----------
    request : MountCheckRequest
        One panel, how it is held, the roof below and the travel ahead.

    Returns
    -------
    MountCheckAnswer
        Checks, governing mode, highest speed, reserve with a foot lost, and advice.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    refuse_contradictions(request)
    notes = Assumptions()
    setup = settle(request, notes)
    moved, speed = movement(setup), setup.conditions.road_speed
    results = evaluate(setup, speed) + static_results(setup, moved)
    checks = [result.check() for result in results] + static_checks(setup)
    loads = cases(setup, speed)
    factors = conservative_factors(setup)
    deciding, verdict = governing_result(results), verdict_of(checks)
    helpful = trials(setup, deciding)
    speeds = SpeedRange(setup)
    curve = speed_curve(speeds)
    return MountCheckAnswer(
        verdict=verdict,
        checks=checks,
        assumptions=notes.listed(),
        cautions=cautions(*_caution_keys(setup)),
        engine=stamp(),
        mounting=str(request.mounting.__struct_config__.tag),
        air_density_kg_m3=setup.conditions.density,
        air_basis=basis("iso-2533", "pressure by altitude", "Density at the coldest air."),
        reserve_fraction=1 - figure("limit", "review_above"),
        zones=_zones(setup),
        load_cases=[_load_case(setup, load) for load in loads],
        feet=foot_results(setup, loads, results),
        governing=_governing(deciding),
        speed_limit=speed_limit(speeds, _not_covered(results, checks)),
        speed_curve=curve,
        foot_lost=_foot_lost(results),
        improvements=[trial.described(deciding) for trial in helpful],
        plan=plan(helpful, deciding, verdict),
        nut_torque=nut_torque(setup),
        cure=cure(setup),
        thermal=_thermal(moved),
        inspection=inspection(setup, verdict == "pass"),
        second_retention=retention(setup, _gust(loads)),
        conservative_factors=factors,
        product_of_factors=math.prod(factor.value_fraction for factor in factors),
        not_judged=not_judged(),
    )


def _gust(loads: list[CaseLoad]) -> CaseLoad:
    return next(load for load in loads if load.name == "headwind-gust")


def _governing(worst: ModeResult) -> Governing:
    return Governing(
        code=worst.check_code,
        load_case=worst.case,
        mode=worst.code,
        subject=worst.subject,
        utilisation_fraction=finite(worst.utilisation),
    )


def _foot_lost(results: list[ModeResult]) -> FootLost:
    worst = worst_result([result for result in results if result.case == "foot-lost"])
    return FootLost(
        lost=worst.lost,
        weakest=worst.subject,
        code=worst.check_code,
        utilisation_fraction=finite(worst.utilisation),
        reserve_fraction=finite(1 - worst.utilisation),
    )


def _not_covered(results: list[ModeResult], checks: list[Check]) -> list[str]:
    """Codes of checks that do not pass and that no speed can mend."""
    by_speed = {result.check_code for result in results if result.depends_on_speed}
    codes = [check.code for check in checks if check.verdict != "pass"]
    return list(dict.fromkeys(code for code in codes if code not in by_speed))


def _zones(setup: Setup) -> list[ZoneShare]:
    return [
        ZoneShare(
            wind_from=suction.wind_from,
            zone=zone,
            area_fraction=share,
            gust_coefficient=gust,
            mean_coefficient=mean,
        )
        for suction in setup.suctions.values()
        for zone, (share, gust, mean) in suction.shares.items()
    ]


def _load_case(setup: Setup, load: CaseLoad) -> LoadCase:
    pushes = load.pushes.max(axis=0)
    lift = load.q * load.lift_area
    return LoadCase(
        name=load.name,
        title=load.title,
        duration=load.duration,
        bond_c=load.bond_c,
        air_speed_m_s=load.air_speed,
        dynamic_pressure_pa=load.q,
        uplift_coefficient=load.lift_area / setup.area,
        uplift_n=lift + load.up - load.relief - load.down,
        rearward_n=float(pushes[0]),
        sideways_n=float(pushes[1]),
        depends_on_speed=load.depends_on_speed,
    )


def _thermal(moved: Movement) -> Thermal:
    return Thermal(
        distance_m=moved.distance,
        daily_movement_m=max(moved.daily),
        seasonal_movement_m=max(moved.seasonal),
        panel_hot_c=moved.panel_hot_c,
    )


def _caution_keys(setup: Setup) -> list[str]:
    keys = ["road-safety", "speed-limit", "roof-work", "judgement"]
    mounting = setup.request.mounting
    if adhesive_of(setup.request) is not None:
        keys += ["glued-mount", "adhesive-cure"]
    if isinstance(mounting, FastenedFeet):
        keys += ["drilling-roof", "roof-leak"]
    if isinstance(mounting, BondedSheet):
        keys.append("heat-under-panel")
    return keys
