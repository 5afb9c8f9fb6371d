"""How fast a mounting may be driven."""

import math
from collections.abc import Callable, Iterable

from sunhitch.types.mount import SpeedLimit, SpeedPoint

from .cases import cases
from .evaluate import case_results
from .figures import figure
from .modes import ModeResult, finite
from .setup import Setup

TOLERANCE_M_S = 0.01
MOST_STEPS = 40
STEP_M_S = 5.0


def severity(result: ModeResult) -> tuple[bool, float]:
    """Order of results: failures before anything else, then by utilisation."""
    return result.fails, result.utilisation


def governing_result(results: list[ModeResult]) -> ModeResult:
    """The use that decides: the worst failure, or the largest utilisation where nothing fails."""
    return max(results, key=severity)


def worst_result(results: Iterable[ModeResult]) -> ModeResult:
    """The use with the largest utilisation, screenings included."""
    return max(results, key=lambda result: result.utilisation)


def limits_pass(result: ModeResult) -> bool:
    """Whether the highest speed that passes takes it into account."""
    return result.limits_speed


def limits_fail(result: ModeResult) -> bool:
    """Whether the speed from which something fails takes it into account."""
    return result.may_fail


def worst_by_case(
    setup: Setup,
    speed: float,
    counts: Callable[[ModeResult], bool],
    numbers: list[int] | None = None,
) -> dict[int, ModeResult]:
    """The speed-dependent mode that is used up most, by number of its load case.

    Parameters
    ----------
    setup : Setup
        Settled request.
    speed : float
        Road speed [m/s].
    counts : callable
        Which modes count.
    numbers : list of int or None
        Cases to look at, in the order of `cases`; None looks at all.
    """
    every = cases(setup, speed)
    found: dict[int, ModeResult] = {}
    for number in range(len(every)) if numbers is None else numbers:
        if not every[number].depends_on_speed:
            continue
        results = case_results(setup, every[number])
        counted = [result for result in results if result.depends_on_speed and counts(result)]
        if counted:
            found[number] = worst_result(counted)
    return found


def worst_at(setup: Setup, speed: float) -> ModeResult:
    """The mode that limits the speed and is used up most at a road speed [m/s]."""
    return worst_result(worst_by_case(setup, speed, limits_pass).values())


def highest_speed(setup: Setup, level: float, counts: Callable[[ModeResult], bool]) -> float | None:
    """Highest road speed at which no utilisation exceeds a level [m/s]; None where none is.

    Utilisation never falls with speed in any load case. So a bracket around the speed is closed by
    chords and, each third time, by halving; a case that keeps the level at the upper end is looked
    at no more; the safe end is the answer.

    Parameters
    ----------
    setup : Setup
        Settled request.
    level : float
        Utilisation not to be exceeded.
    counts : callable
        Which modes count.
    """
    live: list[int] | None = None

    def over(speed: float) -> tuple[float, list[int]]:
        by_case = worst_by_case(setup, speed, counts, live)
        excess = {number: result.utilisation - level for number, result in by_case.items()}
        return max(excess.values(), default=-level), [
            number for number, value in excess.items() if value > 0
        ]

    top = figure("limit", "speed_top_m_s")
    worst, live = over(top)
    if worst <= 0:
        return top
    low, high = (0.0, over(0.0)[0]), (top, worst)
    if low[1] > 0:
        return None
    for turn in range(MOST_STEPS):
        if high[0] - low[0] <= TOLERANCE_M_S:
            break
        halve = turn % 3 == 0 or math.isinf(high[1])
        middle = (low[0] + high[0]) / 2 if halve else _between(low, high)
        worst, exceeding = over(middle)
        if worst <= 0:
            low = middle, worst
        else:
            high, live = (middle, worst), exceeding
    return low[0]


def _between(low: tuple[float, float], high: tuple[float, float]) -> float:
    """Crossing of the chord over the square of speed, a little to the side of the nearer end."""
    share = low[1] / (low[1] - high[1])
    guess = math.sqrt(low[0] ** 2 + share * (high[0] ** 2 - low[0] ** 2))
    nudge = TOLERANCE_M_S / 2
    guess += nudge if share < 0.5 else -nudge
    return min(max(guess, low[0] + nudge), high[0] - nudge)


def pass_speed(setup: Setup) -> float | None:
    """Highest road speed at which every mode that limits it keeps the stated reserve [m/s]."""
    return highest_speed(setup, figure("limit", "review_above"), limits_pass)


def speed_limit(setup: Setup, not_covered: list[str]) -> SpeedLimit:
    """How fast it may be driven, and what that speed says nothing about."""
    top = figure("limit", "speed_top_m_s")
    passes = pass_speed(setup)
    above = min((passes or 0.0) + 2 * TOLERANCE_M_S, top)
    return SpeedLimit(
        pass_speed_m_s=passes,
        left_out=_left_out(setup, passes or 0.0),
        fail_speed_m_s=highest_speed(setup, 1.0, limits_fail),
        limited_by=worst_at(setup, above).check_code,
        beyond_range=passes == top,
        not_covered=not_covered,
    )


def _left_out(setup: Setup, speed: float) -> list[str]:
    """Codes of speed-dependent checks that do not limit the speed, nor pass at it."""
    found = worst_by_case(setup, speed, lambda result: not limits_pass(result)).values()
    level = figure("limit", "review_above")
    return list(dict.fromkeys(result.check_code for result in found if result.utilisation > level))


def speed_curve(setup: Setup) -> list[SpeedPoint]:
    """Worst utilisation over road speed."""
    steps = round(figure("limit", "speed_top_m_s") / STEP_M_S)
    curve: list[SpeedPoint] = []
    for i in range(steps + 1):
        worst = worst_at(setup, i * STEP_M_S)
        curve.append(
            SpeedPoint(
                road_speed_m_s=i * STEP_M_S,
                utilisation_fraction=finite(worst.utilisation),
                governed_by=worst.check_code,
            )
        )
    return curve
