"""Does the array lose power over the years: a robust slope, and whether it can be believed."""

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.commissioning import FollowUp, LossOutcome, ReadingKind, ReadingResult
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.rules.readings import yearly_loss
from sunhitch_service.engine.sky import unix_seconds

from .practice import figure
from .setup import CommissioningInspection

_YEAR_S = 365.25 * 86_400.0
_CONFIDENCE = 0.95
_LEAST_START = 1e-3


@dataclass(frozen=True, slots=True)
class Trend:
    """Robust line through dated shares of the expected value.

    Parameters
    ----------
    loss, low, high : float
        Yearly loss as a share of the value at the start, with its 95 % interval [1/a].
    scatter : float
        Median distance from the line [1].
    """

    loss: float
    low: float
    high: float
    scatter: float


def robust_trend(years: Array, shares: Array) -> Trend:
    """Theil–Sen line: the median of the slopes between all pairs of readings.

    Parameters
    ----------
    years : ndarray
        Times from the first reading [a]; at least two differ.
    shares : ndarray
        Measured ÷ expected [1].

    Returns
    -------
    Trend
        Losses are positive.

    References
    ----------
    P. K. Sen, J. Am. Stat. Assoc. 63 (1968), as in `scipy.stats.theilslopes`.
    """
    from scipy.stats import theilslopes

    slope, start, low, high = theilslopes(shares, years, alpha=_CONFIDENCE)
    scale = max(abs(float(start)), _LEAST_START)
    off = np.abs(shares - (start + slope * years))
    return Trend(
        loss=float(-slope / scale),
        low=float(-high / scale),
        high=float(-low / scale),
        scatter=float(np.median(off)),
    )


def follow_ups(
    inspection: CommissioningInspection, results: list[ReadingResult]
) -> list[tuple[FollowUp, Check]]:
    """Trend of every kind of reading that was repeated over more than a month, and its check.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    results : list of ReadingResult
        One per reading; those in too little light are left out.

    Returns
    -------
    list of (FollowUp, Check)
        Perhaps with `not-enough-evidence`.
    """
    series: dict[tuple[str, ReadingKind], list[tuple[float, float]]] = defaultdict(list)
    for reading, result in zip(inspection.request.readings, results, strict=True):
        if result.verdict != "not-assessed":
            share = result.quantities[-1].of_expected_fraction
            series[reading.of, reading.kind].append((unix_seconds(reading.taken_at), share))
    dated = {key: np.array(sorted(points)).T for key, points in series.items()}
    return [
        _follow_up(of, kind, times, shares)
        for (of, kind), (times, shares) in dated.items()
        if (times[-1] - times[0]) / _YEAR_S >= figure("short-span")
    ]


def _follow_up(of: str, kind: ReadingKind, times: Array, shares: Array) -> tuple[FollowUp, Check]:
    years = (times - times[0]) / _YEAR_S
    found, span = robust_trend(years, shares), float(years[-1])
    subject = statement("readings-of", of=of, kind=kind)
    judged = yearly_loss(subject, len(times), span, found.loss, found.low, found.high)
    outcome, why = _outcome(judged, found)
    told = FollowUp(
        of=of,
        kind=kind,
        readings=len(times),
        span_years=span,
        outcome=outcome,
        yearly_loss_fraction=found.loss,
        low_fraction=found.low,
        high_fraction=found.high,
        scatter_fraction=found.scatter,
        why=why,
    )
    return told, judged


def _outcome(judged: Check, found: Trend) -> tuple[LossOutcome, str]:
    if judged.verdict == "not-assessed":
        return "not-enough-evidence", statement("not-enough-evidence", remedy=judged.remedy)
    interval = statement("loss-interval", low_fraction=found.low, high_fraction=found.high)
    if found.low <= 0.0 <= found.high:
        return "no-loss-shown", statement("interval-holds-zero", interval=interval)
    if found.loss < 0.0:
        return "no-loss-shown", statement("readings-rise", interval=interval)
    return "loss-shown", statement("loss-is-shown", loss_fraction=found.loss, interval=interval)
