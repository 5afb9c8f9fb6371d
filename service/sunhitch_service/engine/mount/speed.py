"""How fast a mounting may be driven."""

import math
from collections.abc import Callable, Iterable

from sunhitch.types.mount import SpeedLimit, SpeedPoint

from .cases import cases
from .evaluate import case_results
from .figures import figure
from .modes import ModeResult, finite
from .setup import Setup

STEPS_PER_M_S = 100
STEP_M_S = 5.0
TOP_M_S = figure("limit", "speed_top_m_s")


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


class SpeedRange:
    """Speed-dependent modes of one mounting, by load case, at the speeds asked for so far."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.known: dict[float, dict[int, list[ModeResult]]] = {}

    def at(self, speed: float, numbers: list[int] | None = None) -> dict[int, list[ModeResult]]:
        """Results by number of their case, in the order of `cases`; None looks at all cases."""
        if speed in self.known:
            return self.known[speed]
        every = cases(self.setup, speed)
        found = {
            number: [one for one in case_results(self.setup, every[number]) if one.depends_on_speed]
            for number in (range(len(every)) if numbers is None else numbers)
            if every[number].depends_on_speed
        }
        if numbers is None:
            self.known[speed] = found
        return found

    def worst(self, speed: float) -> ModeResult:
        """The mode that limits the speed and is used up most at a road speed [m/s]."""
        found = self.at(speed).values()
        return worst_result(one for results in found for one in results if limits_pass(one))


def highest_speed(
    speeds: SpeedRange, level: float, counts: Callable[[ModeResult], bool]
) -> float | None:
    """Highest road speed at which no utilisation exceeds a level [m/s]; None where none is.

    It is counted in steps of 0.01 m/s, so that it is the same wherever it is asked. Utilisation
    never falls with speed in any load case. So a bracket out of the speeds that are known is closed
    by chords and, each third time, by halving; a case that keeps the level at the upper end is
    looked at no more.

    Parameters
    ----------
    speeds : SpeedRange
        The mounting.
    level : float
        Utilisation not to be exceeded.
    counts : callable
        Which modes count.
    """

    def over(step: int, numbers: list[int] | None = None) -> tuple[float, list[int]]:
        excess = {
            number: max((one.utilisation for one in results if counts(one)), default=0.0) - level
            for number, results in speeds.at(step / STEPS_PER_M_S, numbers).items()
        }
        return max(excess.values()), [number for number, value in excess.items() if value > 0]

    low, live, top = (0, over(0)[0]), None, round(TOP_M_S * STEPS_PER_M_S)
    if low[1] > 0:
        return None
    for mark in sorted({*(round(one * STEPS_PER_M_S) for one in speeds.known), top} - {0}):
        worst, live = over(mark)
        high = mark, worst
        if worst > 0:
            break
        low = high
    else:
        return TOP_M_S
    turn = 0
    while high[0] - low[0] > 1:
        turn += 1
        halve = turn % 3 == 0 or math.isinf(high[1])
        middle = (low[0] + high[0]) // 2 if halve else _between(low, high)
        worst, exceeding = over(middle, live)
        if worst <= 0:
            low = middle, worst
        else:
            high, live = (middle, worst), exceeding
    return low[0] / STEPS_PER_M_S


def _between(low: tuple[int, float], high: tuple[int, float]) -> int:
    """Crossing of the chord over the square of speed, rounded away from the nearer end."""
    share = low[1] / (low[1] - high[1])
    guess = math.sqrt(low[0] ** 2 + share * (high[0] ** 2 - low[0] ** 2))
    rounded = math.ceil(guess) if share < 0.5 else math.floor(guess)
    return min(max(rounded, low[0] + 1), high[0] - 1)


def pass_speed(speeds: SpeedRange) -> float | None:
    """Highest road speed at which every mode that limits it keeps the stated reserve [m/s]."""
    return highest_speed(speeds, figure("limit", "review_above"), limits_pass)


def speed_limit(speeds: SpeedRange, not_covered: list[str]) -> SpeedLimit:
    """How fast it may be driven, and what that speed says nothing about."""
    passes = pass_speed(speeds)
    return SpeedLimit(
        pass_speed_m_s=passes,
        left_out=_left_out(speeds, passes or 0.0),
        fail_speed_m_s=highest_speed(speeds, 1.0, limits_fail),
        limited_by=speeds.worst(min((passes or 0.0) + 1 / STEPS_PER_M_S, TOP_M_S)).check_code,
        beyond_range=passes == TOP_M_S,
        not_covered=not_covered,
    )


def _left_out(speeds: SpeedRange, speed: float) -> list[str]:
    """Codes of speed-dependent checks that do not limit the speed, nor pass at it."""
    level = figure("limit", "review_above")
    found = [one for results in speeds.at(speed).values() for one in results]
    screened = [one for one in found if one.utilisation > level and not limits_pass(one)]
    return list(dict.fromkeys(one.check_code for one in screened))


def speed_curve(speeds: SpeedRange) -> list[SpeedPoint]:
    """Worst utilisation over road speed."""
    curve: list[SpeedPoint] = []
    for i in range(round(TOP_M_S / STEP_M_S) + 1):
        worst = speeds.worst(i * STEP_M_S)
        curve.append(
            SpeedPoint(
                road_speed_m_s=i * STEP_M_S,
                utilisation_fraction=finite(worst.utilisation),
                governed_by=worst.check_code,
            )
        )
    return curve
