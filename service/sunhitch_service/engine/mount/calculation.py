"""`mount-check`: whether a panel stays on a vehicle's roof."""

from functools import partial

import numpy as np
from msgspec.structs import replace

from sunhitch.report.grouping import rule_of, severity
from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.mount import (
    BondedSheet,
    Expectation,
    FastenedFeet,
    FootLost,
    Governing,
    LoadCase,
    MountCheckAnswer,
    MountCheckRequest,
    Thermal,
    Working,
    ZoneShare,
)
from sunhitch_service.engine.answering import common, counts_of
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.sources import basis

from .advice import (
    foot_results,
    inspection,
    not_judged,
    nut_torque,
    retention,
)
from .cases import LoadCases
from .cure import cure
from .evaluate import Evaluation
from .expected import expectations
from .faults import refuse_contradictions
from .figures import figure
from .improve import MOST_TOLD, plan, trials
from .modes import ModeResult, finite
from .proof_pulls import proof_pulls
from .reactions import free_body, reactions
from .remedies import larger
from .setup import Setup, adhesive_of, settle
from .speed import SpeedRange, speed_curve, speed_limit
from .static_checks import static_checks, static_results
from .thermal import Movement, movement
from .worked import working


def mount_check(request: MountCheckRequest, *, in_full: bool = True) -> MountCheckAnswer:
    """Compare every load case with every mode of failure, and say what follows.

    Parameters
    ----------
    request : MountCheckRequest
        One panel, how it is held, the roof below and the travel ahead.
    in_full : bool
        Whether it tells what a fit-out leaves out: changes where all passes, which are two fifths
        of the work, those that help least, and changes one after another.

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
    found = Evaluation(setup)
    static = static_results(setup)
    results = found.results() + static
    checks = [result.check(partial(larger, setup)) for result in results] + static_checks(setup)
    deciding = max([found.worst(), *static], key=lambda one: one.severity)
    loss = _worst_loss(found, static)
    expected = expectations(found, [deciding, loss])
    verdict = verdict_of(checks)
    helpful = trials(setup, deciding) if in_full or verdict != "pass" else []
    speeds = SpeedRange(setup)
    torque = nut_torque(setup)
    air_basis = basis("iso-2533", "pressure by altitude", statement("density-in-the-cold")).key
    return MountCheckAnswer(
        **common(
            request,
            checks,
            notes,
            cautions(*_caution_keys(setup)),
            [air_basis, *([torque.basis] if torque else [])],
        ),
        mounting=str(request.mounting.__struct_config__.tag),
        air_density_kg_m3=setup.conditions.density,
        air_basis=air_basis,
        reserve_fraction=1 - figure("limit", "review_above"),
        zones=_zones(setup),
        load_cases=_load_cases(setup, found.cases),
        feet=foot_results(found),
        governing=_governing(deciding, expected[0]),
        speed_limit=speed_limit(speeds, _not_covered(results, checks)),
        speed_curve=speed_curve(speeds),
        foot_lost=_foot_lost(loss, expected[1]),
        improvements=[one.described(deciding) for one in helpful[: None if in_full else MOST_TOLD]],
        plan=plan(helpful, deciding, verdict) if in_full else [],
        nut_torque=torque,
        cure=cure(setup),
        thermal=_thermal(movement(setup)),
        inspection=inspection(setup, verdict == "pass"),
        second_retention=retention(setup, found.cases),
        workings=_workings(found, deciding, loss, request.detail == "reactions"),
        free_body=free_body(found, deciding),
        proof_pulls=proof_pulls(setup, found.cases, found.forces),
        not_judged=not_judged(request),
        reactions=reactions(found) if request.detail == "reactions" else [],
    )


def governing_mount_check(request: MountCheckRequest) -> MountCheckAnswer:
    """The same, with governing checks alone unless more is asked for."""
    whole = mount_check(request)
    if request.detail != "governing":
        return whole
    limit = whole.speed_limit
    named = {whole.governing.code, whole.foot_lost.code, limit.limited_by, *limit.left_out}
    governing = {id(check) for check in governing_checks(whole.checks)}
    told = [one for one in whole.checks if one.code in named or id(one) in governing]
    dropped = {check.basis for check in whole.checks} - {check.basis for check in told}
    return replace(
        whole,
        checks=told,
        counts=counts_of(told),
        sources=[one for one in whole.sources if one.key not in dropped - {whole.air_basis}],
    )


def governing_checks(checks: list[Check]) -> list[Check]:
    """Of load cases that pass, the one that governs stands for all under one rule."""
    worst = {rule_of(check): check for check in sorted(checks, key=severity)}
    return [check for check in checks if check.verdict != "pass" or worst[rule_of(check)] is check]


def _governing(worst: ModeResult, expected: Expectation) -> Governing:
    return Governing(
        code=worst.check_code,
        load_case=worst.case,
        mode=worst.code,
        subject=worst.subject,
        utilisation_fraction=finite(worst.utilisation),
        expected=expected,
    )


def _workings(
    found: Evaluation, deciding: ModeResult, loss: ModeResult, every: bool
) -> list[Working]:
    """The governing figure and that after a loss on paper, or every mode in its worst case too."""
    told = [deciding, *([] if loss == deciding else [loss])]
    if every:
        worst: dict[str, ModeResult] = {}
        for one in found.results():
            known = worst.setdefault(one.code, one)
            if one.utilisation > known.utilisation:
                worst[one.code] = one
        told += worst.values()
    return [working(found, one) for one in told]


def _worst_loss(found: Evaluation, static: list[ModeResult]) -> ModeResult:
    """The loss of a support that tips the panel, else that with the highest utilisation."""
    tipping = [result for result in static if result.case == "foot-lost"]
    return tipping[0] if tipping else found.worst(lost=True)


def _foot_lost(worst: ModeResult, expected: Expectation) -> FootLost:
    return FootLost(
        lost=worst.lost,
        weakest=worst.subject,
        code=worst.check_code,
        utilisation_fraction=finite(worst.utilisation),
        reserve_fraction=finite(1 - worst.utilisation),
        expected=expected,
    )


def _not_covered(results: list[ModeResult], checks: list[Check]) -> list[str]:
    """Codes of checks that do not pass and that no speed can mend."""
    by_speed = {result.check_code for result in results if result.by_speed}
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


def _load_cases(setup: Setup, cases: LoadCases) -> list[LoadCase]:
    uplift = cases.lift + cases.up - np.maximum(cases.relief, cases.down)
    pushes = cases.pushes.max(axis=2)
    return [
        LoadCase(
            name=term.name,
            title=term.told,
            duration=term.duration,
            bond_c=term.bond_c,
            air_speed_m_s=float(cases.air_speed[0, i]),
            dynamic_pressure_pa=float(cases.q[0, i]),
            uplift_coefficient=float(cases.lift_area[0, i]) / setup.area,
            uplift_n=float(uplift[0, i]),
            rearward_n=float(pushes[0, i, 0]),
            sideways_n=float(pushes[0, i, 1]),
            depends_on_speed=term.by_speed,
        )
        for i, term in enumerate(cases.terms)
    ]


def _thermal(moved: Movement) -> Thermal:
    return Thermal(
        distance_m=moved.distance,
        daily_movement_m=max(moved.daily),
        seasonal_movement_m=max(moved.seasonal),
        panel_hot_c=moved.panel_hot_c,
    )


def _caution_keys(setup: Setup) -> list[str]:
    mounting, glued = setup.request.mounting, adhesive_of(setup.request) is not None
    where = {
        "glued-mount": glued,
        "adhesive-cure": glued,
        "tilt-brackets": setup.request.tilt is not None,
        "drilling-roof": isinstance(mounting, FastenedFeet),
        "roof-leak": isinstance(mounting, FastenedFeet),
        "heat-under-panel": isinstance(mounting, BondedSheet),
    }
    own = [key for key, holds in where.items() if holds]
    return ["road-safety", "speed-limit", "roof-work", "judgement", *own]
