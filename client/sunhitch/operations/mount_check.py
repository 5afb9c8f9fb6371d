"""Whether a panel stays on the roof, for people."""

from sunhitch.report.amounts import (
    at_least,
    both,
    figure,
    passes,
    rest,
    speed_limit,
    utilisation,
)
from sunhitch.report.grouping import severity
from sunhitch.report.layout import Page
from sunhitch.types.mount import (
    Cure,
    Expectation,
    FootResult,
    LoadCase,
    MountCheckAnswer,
    MountCheckRequest,
    NutTorque,
    ProofPull,
    SpeedLimit,
)

from .operation import Operation


def present(page: Page, answer: MountCheckAnswer) -> list[str]:
    """What governs, how fast it may go, what helps, loads and feet, and the work itself."""
    look = answer.inspection
    return [
        page.heading("What it comes down to"),
        *page.bullets(_governing(answer)),
        *page.section(
            "What helps, each change by itself, best first",
            [
                f"{one.change}: {utilisation(one.utilisation_fraction)}, {one.verdict}, "
                f"{passes(one.pass_speed_m_s)}"
                for one in answer.improvements
            ],
        ),
        *page.columns(
            "The governing figure, to redo by hand",
            answer.workings[0].lines,
            {
                "Symbol": lambda line: line.symbol,
                "What": lambda line: line.name,
                "Value": lambda line: f"{figure(line.value, 5)} {line.unit}",
                "Formula": lambda line: line.formula,
            },
        ),
        *page.columns(
            "Load cases on the whole panel",
            answer.load_cases,
            {
                "Case": _case_name,
                "Lasts": lambda case: case.duration,
                "Air speed": lambda case: f"{figure(case.air_speed_m_s)} m/s",
                "Pressure": lambda case: f"{figure(case.dynamic_pressure_pa)} Pa",
                "Uplift": lambda case: both(case.uplift_n, "N"),
                "Rearward": lambda case: f"{figure(case.rearward_n)} N",
                "Sideways": lambda case: f"{figure(case.sideways_n)} N",
            },
        ),
        *_feet(page, answer.feet),
        *page.section("When bonding and tightening", _work(answer)),
        *page.section("To test the feet on the roof", _pulls(answer.proof_pulls)),
        *page.section(
            "Look again",
            [
                f"First after {figure(look.first_after_km)} km, then every "
                f"{figure(look.every_months)} months.",
                *look.what,
            ],
        ),
        *page.section("Not judged here", answer.not_judged),
    ]


def _governing(answer: MountCheckAnswer) -> list[str]:
    lost, words = answer.foot_lost, _titles(answer)
    return [
        f"Governing: {words.get(answer.governing.code, answer.governing.code)} "
        f"({answer.governing.subject}), {utilisation(answer.governing.utilisation_fraction)}. "
        f"{told_expected(answer.governing.expected)}",
        _speed(answer.speed_limit, words),
        f"With {lost.lost} lost: {lost.weakest}, {utilisation(lost.utilisation_fraction)}.",
        f"Second means of holding: {answer.second_retention.text}",
    ]


def _titles(answer: MountCheckAnswer) -> dict[str, str]:
    """Checks in words by code; of those in frost and in heat, the one of higher utilisation."""
    ordered = sorted(answer.checks, key=severity)
    return {check.code: f"{check.title[0].lower()}{check.title[1:]}" for check in ordered}


def told_expected(expected: Expectation) -> str:
    """Best estimate beside what the checks ask for, and what lies between."""
    each = ", ".join(f"{one.name.lower()} {figure(one.value_fraction)}" for one in expected.factors)
    return (
        f"Expected to hold {figure(expected.holds_times)} times the load of this case; the code's "
        f"reserves ask for {figure(expected.asked_times)}: {each}. That is no factor of safety: "
        "each of these doubts can come true, and some do on every trip."
    )


def _speed(limit: SpeedLimit, words: dict[str, str]) -> str:
    first = words.get(limit.limited_by, limit.limited_by)
    fails = limit.fail_speed_m_s
    if limit.beyond_range:
        fast = "Every check that depends on speed passes up to the top of the range."
    elif fails is None:
        fast = f"No road speed is slow enough ({first})."
    else:
        told = passes(limit.pass_speed_m_s)
        fast = f"{told[0].upper()}{told[1:]}, fails above {speed_limit(fails)} ({first})."
    if limit.left_out:
        fast += f" Left out for review: {'; '.join(words[code] for code in limit.left_out)}."
    if not limit.not_covered:
        return fast
    others = "; ".join(words.get(code, code) for code in limit.not_covered)
    return f"{fast} No speed is right for: {others}."


def _case_name(case: LoadCase) -> str:
    """Short name; cases that come in frost and in heat say which."""
    name = case.name.replace("-", " ")
    climates = (one for one in ("in frost", "in heat") if case.title.endswith(one))
    return ", ".join([name, *climates])


def _feet(page: Page, feet: list[FootResult]) -> list[str]:
    return page.columns(
        "Feet",
        feet,
        {
            "Foot": lambda foot: foot.foot,
            "x, y [m]": lambda foot: f"{figure(foot.x_m)}, {figure(foot.y_m)}",
            "Pull": lambda foot: both(foot.uplift_n, "N"),
            "Shear": lambda foot: both(foot.shear_n, "N"),
            "Pull, a foot lost": lambda foot: (
                "tips" if foot.lost_uplift_n is None else both(foot.lost_uplift_n, "N")
            ),
            "Utilisation": lambda foot: utilisation(foot.utilisation_fraction),
        },
    )


def _work(answer: MountCheckAnswer) -> list[str]:
    cure, torque = answer.cure, answer.nut_torque
    return [
        *([_cure(cure)] if cure else []),
        *([_torque(torque)] if torque else []),
        f"Heat moves panel and roof {figure(answer.thermal.daily_movement_m * 1000.0)} mm in a "
        f"day, {figure(answer.thermal.seasonal_movement_m * 1000.0)} mm over the year, "
        f"{both(answer.thermal.distance_m, 'm')} from the fixed point.",
    ]


def _pulls(pulls: list[ProofPull]) -> list[str]:
    """The hardest pull of all, since feet are pulled alike."""
    if not pulls:
        return []
    most = max(pulls, key=lambda one: one.load_n)
    load = both(float(at_least(most.load_n)), "N")
    return [
        f"Pull at {len(pulls)} feet, or at as many made for it beside, with up to "
        f"{load} ({most.foot}), {figure(most.angle_deg)}° from straight up, "
        f"{figure(most.height_m * 1000.0)} mm above the roof, for {figure(most.seconds)} s at "
        f"{both(most.bond_c, '°C')}. Enter the readings as mounting.pull_tests: they replace the "
        "assumed strengths by what 95 of 100 feet bear, 95 % sure.",
    ]


def _cure(cure: Cure) -> str:
    return (
        f"Rest {rest(cure)} before driving; bond at "
        f"{both(cure.application_c, '°C')}, never below {both(cure.least_application_c, '°C')}. "
        f"{cure.note}"
    )


def _torque(torque: NutTorque) -> str:
    return (
        f"Tighten {torque.thread} to {both(torque.torque_n_m, 'N·m')} with a "
        f"{figure(torque.nut_across_flats_mm)} mm wrench; {torque.limited_by} would come first."
    )


MOUNT_CHECK = Operation(
    "mount-check",
    MountCheckRequest,
    MountCheckAnswer,
    "Whether a panel stays on the roof",
    "Every load case of travel and parking against every mode of failure of adhesive feet, "
    "fastened feet, bonded sheets or rails: what governs, how fast it may be driven, what is left "
    "with one foot lost, and what would help, each change computed.",
    present,
)
