"""The reading that tells most: expected information about the cause, from what is known so far."""

from collections.abc import Sequence

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.commissioning import (
    CauseCode,
    IrradianceReading,
    NextReading,
    Reading,
    ReadingKind,
)
from sunhitch_service.engine.arrays import Numbers
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.rules.table import unit_of

from .diagnosis import Day, cause_rows, shifts
from .evidence import Figure, covariance, figures
from .hypotheses import Hypothesis
from .practice import figure
from .setup import ARRAY, ReadingConditions

_KINDS: tuple[ReadingKind, ...] = ("open-circuit", "short-circuit", "operating")
_AT_REST = _KINDS[:2]
_NAME = "next"
_MOST_STRINGS = 6
_GRID, _WIDE = 400, 5.0
_LEAST_DOUBT = 0.05
"""Entropy of the causes below which nothing is left to ask [nat]."""


def next_reading(day: Day) -> NextReading | None:
    """Reading with the largest expected information about the cause.

    Parameters
    ----------
    day : Day
        Weighed.

    Returns
    -------
    NextReading or None
        None where hardly a doubt is left.

    References
    ----------
    D. V. Lindley, Ann. Math. Stat. 27 (1956): mutual information of cause and outcome.
    """
    shares = np.array([share for share in day.shares_of_all.values() if share > 0.0])
    doubt = float(-np.sum(shares * np.log(shares)))
    if doubt < _LEAST_DOUBT:
        return None
    likely = np.flatnonzero(day.weights > 1e-4 * day.weights.max())
    tried, weights = [day.tried[row] for row in likely.tolist()], day.weights[likely]
    told = [(item, *_outcomes(day, item, likely, tried)) for item in _candidates(day)]
    if not told:
        return None
    codes: list[CauseCode] = [one.code for one in tried]
    gains = [information(codes, weights, means, deviation) for _, means, deviation in told]
    best = int(np.argmax(gains))
    item, means, deviation = told[best]
    return NextReading(
        kind=item.reading.kind,
        of=item.reading.of,
        quantity=item.quantity,
        doubt_removed_fraction=min(1.0, gains[best] / doubt),
        tells=_words(item, codes, weights, means, deviation),
    )


def _candidates(day: Day) -> list[Figure]:
    """Voltages and currents that nobody has read in steady light on that day."""
    inspection = day.inspection
    done = {
        (f.reading.kind, f.reading.of) for f in day.figures if f.at.is_steady and not f.at.is_weak
    }
    names = list(inspection.strings)[:_MOST_STRINGS] if len(inspection.strings) > 1 else []
    last = day.figures[-1]
    # At work a plain switch shows what it holds, which nobody knows before.
    kinds = _AT_REST if inspection.is_held else _KINDS
    light = max(last.at.irradiance_w_m2, figure("good-light"))
    at = ReadingConditions(light, last.at.irradiance_share, last.at.cell_c, last.at.cell_k, 0.0)
    sun = IrradianceReading(irradiance_w_m2=light)
    return [
        item
        for of in (ARRAY, *names)
        for kind in kinds
        if (kind, of) not in done
        for item in figures(
            inspection,
            Reading(name=_NAME, kind=kind, of=of, taken_at=last.reading.taken_at, light=sun),
            at,
        )
        if item.quantity != "power"
    ]


def _outcomes(
    day: Day, item: Figure, likely: Numbers, tried: list[Hypothesis]
) -> tuple[Array, float]:
    """Mean of a figure [ln] under every likely hypothesis, given what was read, and deviation."""
    covariances = covariance(day.inspection, [*day.figures, item])
    gain = np.linalg.solve(covariances[:-1, :-1], covariances[:-1, -1])
    deviation = float(np.sqrt(max(covariances[-1, -1] - gain @ covariances[:-1, -1], 1e-12)))
    own = shifts(day.inspection, tried, [item])[:, 0]
    return own + (day.off - day.shifts[likely]) @ gain, deviation


def information(
    causes: Sequence[CauseCode], weights: Array, means: Array, deviation: float
) -> float:
    """Mutual information of cause and figure [nat].

    Parameters
    ----------
    causes : sequence of str
        Cause of every hypothesis.
    weights, means : ndarray, shape (hypotheses,)
        Probability of each, and where the figure lies under it.
    deviation : float
        Standard deviation of the figure under any, in the unit of `means`.
    """
    low, high = float(means.min()) - _WIDE * deviation, float(means.max()) + _WIDE * deviation
    grid = np.linspace(low, high, max(_GRID, int(3.0 * (high - low) / deviation)))
    density = np.exp(-0.5 * ((grid - means[:, None]) / deviation) ** 2)
    density *= weights[:, None] / density.sum(axis=1, keepdims=True)
    by_cause: dict[CauseCode, Array] = {}
    for code, own in zip(causes, density, strict=True):
        by_cause[code] = by_cause.get(code, 0.0) + own
    joint = np.array(list(by_cause.values())) / weights.sum()
    apart = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0)
    seen = (joint > 0.0) & (apart > 0.0)
    return float(np.sum(joint[seen] * np.log(joint[seen] / apart[seen])))


def _words(
    item: Figure, codes: list[CauseCode], weights: Array, means: Array, deviation: float
) -> str:
    """The two causes that the figure tells apart best, and where it lies for each."""
    rows = cause_rows()
    mean: dict[CauseCode, float] = {}
    share: dict[CauseCode, float] = {}
    for code in dict.fromkeys(codes):
        own = np.array([c == code for c in codes])
        share[code] = float(weights[own].sum())
        mean[code] = float(means[own] @ weights[own] / share[code])
    first = max(share, key=lambda code: share[code])
    apart = {code: abs(mean[code] - mean[first]) / deviation for code in share}
    other = max(share, key=lambda code: share[code] * min(3.0, apart[code]))
    unit = unit_of(f"measured-{item.quantity}")

    def near(code: CauseCode) -> str:
        value = item.expected * np.exp(mean[code])
        return statement("near-value", value=value, unit=unit, title=rows[code]["title"])

    return statement(
        "next-reading-tells", quantity=item.quantity, first=near(first), other=near(other)
    )
