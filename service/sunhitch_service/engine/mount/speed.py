"""How fast a mounting may be driven."""

import math
from collections.abc import Iterable

from sunhitch.types.mount import SpeedLimit, SpeedPoint

from .cases import cases
from .evaluate import case_uses
from .figures import figure
from .setup import Setup
from .use import Use

TOLERANCE_M_S = 0.01
MOST_STEPS = 40
STEP_M_S = 5.0


def severity(use: Use) -> tuple[bool, float]:
    """Order of uses: failures before anything else, then by utilisation."""
    return use.fails, use.utilisation


def governing_use(uses: list[Use]) -> Use:
    """The use that decides: the worst failure, or the largest utilisation where nothing fails."""
    return max(uses, key=severity)


def worst_use(uses: list[Use]) -> Use:
    """The use with the largest utilisation, screenings included."""
    return max(uses, key=lambda use: use.utilisation)


def worst_by_case(
    setup: Setup, speed: float, numbers: Iterable[int] | None = None, with_screening: bool = True
) -> dict[int, Use]:
    """The speed-dependent mode that is used up most, by number of its load case.

    Parameters
    ----------
    setup : Setup
        Settled request.
    speed : float
        Road speed [m/s].
    numbers : iterable of int or None
        Cases to look at, in the order of `cases`; None looks at all.
    with_screening : bool
        Whether screenings count.
    """
    every = cases(setup, speed)
    wanted = range(len(every)) if numbers is None else numbers
    found: dict[int, Use] = {}
    for number in (number for number in wanted if every[number].depends_on_speed):
        uses = [
            use
            for use in case_uses(setup, every[number])
            if use.depends_on_speed and (with_screening or not use.mode.screening)
        ]
        if uses:
            found[number] = worst_use(uses)
    return found


def worst_at(setup: Setup, speed: float) -> Use:
    """The speed-dependent mode that is used up most at a road speed [m/s], screenings aside."""
    return worst_use(list(worst_by_case(setup, speed, with_screening=False).values()))


def highest_speed(setup: Setup, level: float, with_screening: bool = True) -> float:
    """Highest road speed at which no utilisation exceeds a level [m/s].

    Utilisation never falls with speed in any load case. So a bracket around the speed is closed by
    chords and, each third time, by halving; a case that keeps the level at the upper end is looked
    at no more; the safe end is the answer.

    Parameters
    ----------
    setup : Setup
        Settled request.
    level : float
        Utilisation not to be exceeded.
    with_screening : bool
        Whether screenings count.
    """
    live: list[int] | None = None

    def over(speed: float) -> tuple[float, list[int]]:
        by_case = worst_by_case(setup, speed, live, with_screening)
        excess = {number: use.utilisation - level for number, use in by_case.items()}
        return max(excess.values(), default=-level), [
            number for number, value in excess.items() if value > 0
        ]

    top = figure("limit", "speed_top_m_s")
    worst, live = over(top)
    if worst <= 0:
        return top
    low, high = (0.0, over(0.0)[0]), (top, worst)
    if low[1] > 0:
        return 0.0
    for turn in range(MOST_STEPS):
        if high[0] - low[0] <= TOLERANCE_M_S:
            break
        middle = _between(low, high) if turn % 3 else (low[0] + high[0]) / 2
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


def pass_speed(setup: Setup) -> float:
    """Highest road speed at which every speed-dependent mode keeps the stated reserve [m/s]."""
    return highest_speed(setup, figure("limit", "review_above"), with_screening=False)


def speed_limit(setup: Setup, not_covered: list[str]) -> SpeedLimit:
    """How fast it may be driven, and what that speed says nothing about."""
    top = figure("limit", "speed_top_m_s")
    passes = pass_speed(setup)
    return SpeedLimit(
        pass_speed_m_s=passes,
        fail_speed_m_s=highest_speed(setup, 1.0, with_screening=False),
        limited_by=worst_at(setup, min(passes + 2 * TOLERANCE_M_S, top)).code,
        beyond_range=passes >= top,
        not_covered=not_covered,
    )


def speed_curve(setup: Setup) -> list[SpeedPoint]:
    """Worst utilisation over road speed."""
    steps = round(figure("limit", "speed_top_m_s") / STEP_M_S)
    curve: list[SpeedPoint] = []
    for i in range(steps + 1):
        worst = worst_at(setup, i * STEP_M_S)
        curve.append(
            SpeedPoint(
                road_speed_m_s=i * STEP_M_S,
                utilisation_fraction=worst.utilisation,
                governed_by=worst.code,
            )
        )
    return curve
