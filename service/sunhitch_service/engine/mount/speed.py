"""How fast a mounting may be driven."""

import math
from typing import NamedTuple

import numpy as np

from sunhitch.types.mount import SpeedLimit, SpeedPoint
from sunhitch_service.engine.arrays import Floats, Mask, Numbers

from .evaluate import Evaluation
from .figures import figure
from .modes import check_code, finite, may_fail
from .setup import Setup

STEPS_PER_M_S = 100
STEP_M_S = 5.0
TOP_M_S = figure("limit", "speed_top_m_s")
LEFT_OUT_OF_SPEED = "span-divergence"
"""A screening that limits no speed: what steadies the sheet, its own pull, is not counted."""
_AROUND = np.array([-12, -1, 0, 1, 12])
"""Steps tried around where a chord expects the crossing."""
_MOST_AT_ONCE = 3000
"""Speeds times feet in all layouts beyond which the cache is too small."""


class SpeedRange:
    """Checks of one mounting that depend on road speed; none falls when it rises.

    Parameters
    ----------
    setup : Setup
        Settled request.

    Attributes
    ----------
    codes : list of str
        Codes of the k checks, in frost and in heat alike.
    limiting, failing : ndarray of bool, shape (k,)
        Which count for the highest speed that passes, and for the highest that does not fail.
    steps : ndarray of int, shape (s,)
        Road speeds of the curve [0.01 m/s].
    used : ndarray, shape (s, k)
        Utilisations at these.
    """

    def __init__(self, setup: Setup) -> None:
        self._setup = setup
        self.steps = np.arange(
            0, round(TOP_M_S * STEPS_PER_M_S) + 1, round(STEP_M_S * STEPS_PER_M_S)
        )
        start, used = self._evaluate(self.steps)
        terms = start.cases.terms
        self._counted = np.all(used >= 0.0, axis=0) & np.array([one.by_speed for one in terms])
        self.used = used[:, self._counted]
        self.codes: list[str] = []
        modes: list[str] = []
        for i, lost, case in np.argwhere(self._counted).tolist():
            modes.append(start.modes[i].code)
            self.codes.append(check_code(modes[-1], "foot-lost" if lost else terms[case].name))
        self.limiting = np.array([mode != LEFT_OUT_OF_SPEED for mode in modes])
        self.failing = np.array([may_fail(mode) for mode in modes])

    def _evaluate(self, steps: Numbers) -> tuple[Evaluation, Floats]:
        feet = self._setup.feet
        most = max(1, _MOST_AT_ONCE // (1 if feet is None else feet.width.size))
        parts = [steps[i : i + most] / STEPS_PER_M_S for i in range(0, len(steps), most)]
        found = [Evaluation(self._setup, part, parked=False) for part in parts]
        return found[0], np.concatenate([one.used for one in found])

    def at(self, steps: Numbers) -> Floats:
        """Utilisations (s, k) at road speeds in steps of 0.01 m/s."""
        return self._evaluate(steps)[1][:, self._counted]

    def highest(self, level: float, counts: Mask) -> "Crossing":
        """Highest road speed at which no utilisation that counts exceeds a level.

        It is counted in steps of 0.01 m/s, so that it is the same wherever it is asked.
        """
        steps, used = self.steps, self.used
        while True:
            excess = used[:, counts].max(axis=1) - level
            if excess[0] > 0.0:
                return Crossing(None, used[0], used[0])
            if excess[-1] <= 0.0:
                return Crossing(TOP_M_S, used[-1], used[-1])
            i = int((excess > 0.0).argmax())
            if steps[i] - steps[i - 1] == 1:
                return Crossing(float(steps[i - 1]) / STEPS_PER_M_S, used[i - 1], used[i])
            inner = _candidates(steps[i - 1 : i + 1], excess[i - 1 : i + 1])
            steps = np.concatenate([steps[i - 1 : i], inner, steps[i : i + 1]])
            used = np.concatenate([used[i - 1 : i], self.at(inner), used[i : i + 1]])


class Crossing(NamedTuple):
    """Highest road speed below a level [m/s], if any, and utilisations (k,) there and above."""

    speed: float | None
    here: Floats
    above: Floats


def _candidates(steps: Numbers, excess: Floats) -> Numbers:
    """Steps between two: a coarse fan, and some where a chord over the square of speed crosses."""
    (low, high), (below, above) = steps, excess
    share = below / (below - above) if math.isfinite(above) else 0.5
    guess = math.sqrt(low**2 + share * (high**2 - low**2))
    third = (high - low) / 3
    every = np.concatenate([np.array([low + third, high - third]), guess + _AROUND])
    return np.unique(np.clip(every.round().astype(np.intp), low + 1, high - 1))


def pass_speed(speeds: SpeedRange) -> Crossing:
    """Highest road speed at which every check that limits it keeps the stated reserve."""
    return speeds.highest(figure("limit", "review_above"), speeds.limiting)


def speed_limit(speeds: SpeedRange, not_covered: list[str]) -> SpeedLimit:
    """How fast it may be driven, and what that speed says nothing about."""
    passes, level = pass_speed(speeds), figure("limit", "review_above")
    limits = int(np.where(speeds.limiting, passes.above, -1.0).argmax())
    screened = np.flatnonzero((passes.here > level) & ~speeds.limiting)
    return SpeedLimit(
        pass_speed_m_s=passes.speed,
        left_out=list(dict.fromkeys(speeds.codes[i] for i in screened)),
        fail_speed_m_s=speeds.highest(1.0, speeds.failing).speed,
        limited_by=speeds.codes[limits],
        beyond_range=passes.speed == TOP_M_S,
        not_covered=not_covered,
    )


def speed_curve(speeds: SpeedRange) -> list[SpeedPoint]:
    """Worst utilisation over road speed."""
    used = np.where(speeds.limiting, speeds.used, -1.0)
    return [
        SpeedPoint(
            road_speed_m_s=float(step) / STEPS_PER_M_S,
            utilisation_fraction=finite(float(row.max())),
            governed_by=speeds.codes[int(row.argmax())],
        )
        for step, row in zip(speeds.steps, used, strict=True)
    ]
