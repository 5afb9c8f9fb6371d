"""What a day's readings, taken together, say: probability of every cause, and what remains."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch.types.check import Verdict
from sunhitch.types.commissioning import Cause, CauseCode, Diagnosis, Possible, Reading
from sunhitch_service.engine.pv.cell import Array, Mask
from sunhitch_service.engine.tables import table

from .evidence import Figure, covariance, figures_of, predicted
from .hypotheses import Hypothesis, hypotheses
from .model import StringState, Terminals, terminals
from .practice import figure
from .setup import ARRAY, CommissioningInspection

MOST_READINGS = 24
"""Readings of a day that are looked into, the latest."""
MOST_DIAGNOSES = 10
NO_FAULT = ("nothing-wrong", "light-changed", "too-little-light")
"""Causes that leave the array faultless."""
_LEAST_SHARE = 1e-3
_LEAST_REPORTED = 0.005
_WRONG_SIGN = 28.0
"""Misfit of a wrong sign with leads that are right, and of right ones with swapped leads."""


@dataclass(frozen=True)
class Day:
    """Readings of one day, weighed.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    indices : list of int
        Its readings.
    figures : list of Figure
        Voltages and currents of these.
    tried : list of Hypothesis
        What may be wrong.
    shifts : ndarray, shape (hypotheses, figures)
        ln(shown ÷ expected) under every hypothesis [1].
    off : ndarray, shape (figures,)
        ln(measured ÷ expected), less the usual dust [1].
    weights : ndarray, shape (hypotheses,)
        Posterior probabilities.
    misfits : ndarray, shape (hypotheses,)
        Squared distance in standard deviations.
    unseen : ndarray of bool, shape (hypotheses,)
        Whether these readings cannot tell its cause, however bad, from a faultless array.
    """

    inspection: CommissioningInspection
    indices: list[int]
    figures: list[Figure]
    tried: list[Hypothesis]
    shifts: Array
    off: Array
    weights: Array
    misfits: Array
    unseen: Mask

    @property
    def shares(self) -> dict[CauseCode, float]:
        """Probability of every cause that these readings can show, likeliest first.

        What they cannot show is no less likely than before, and counts with a faultless array.
        """
        sound = self.tried[0].code
        codes: list[CauseCode] = [
            sound if hidden else one.code
            for one, hidden in zip(self.tried, self.unseen.tolist(), strict=True)
        ]
        return _summed(codes, self.weights)

    @property
    def shares_of_all(self) -> dict[CauseCode, float]:
        """Probability of every cause, shown or not, likeliest first."""
        codes: list[CauseCode] = [one.code for one in self.tried]
        return _summed(codes, self.weights)


def _summed(codes: Sequence[CauseCode], weights: Array) -> dict[CauseCode, float]:
    found: dict[CauseCode, float] = defaultdict(float)
    for code, weight in zip(codes, weights.tolist(), strict=True):
        found[code] += weight
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def days(inspection: CommissioningInspection) -> list[Day]:
    """Readings by date, the latest ten days, each with all causes weighed.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.

    Returns
    -------
    list of Day
        Oldest first.
    """
    groups: dict[str, list[int]] = defaultdict(list)
    for index, reading in enumerate(inspection.request.readings):
        if inspection.conditions[index].irradiance_w_m2 >= figure("night"):
            groups[reading.taken_at[:10]].append(index)
    latest = sorted(groups.items())[-MOST_DIAGNOSES:]
    return [_weighed(inspection, indices[-MOST_READINGS:]) for _, indices in latest]


def _weighed(inspection: CommissioningInspection, indices: list[int]) -> Day:
    strong = [i for i in indices if not inspection.conditions[i].is_weak]
    listed = [
        f for i in strong or indices for f in figures_of(inspection, i) if f.quantity != "power"
    ]
    light, heat = np.median([(f.at.irradiance_w_m2, f.at.cell_c) for f in listed], axis=0)
    tried = hypotheses(inspection, indices, float(light), float(heat))
    shown = shifts(inspection, tried, listed)
    least = np.array([_LEAST_SHARE * f.expected for f in listed])
    measured = np.maximum([abs(f.measured) for f in listed], least)
    by_light = np.array([f.by_light for f in listed])
    off = np.log(measured / [f.expected for f in listed]) - by_light * np.log1p(-figure("dust"))
    apart = off - shown
    inverse = np.linalg.inv(covariance(inspection, listed))
    misfits = np.einsum("hf,fg,hg->h", apart, inverse, apart)
    negative = any(min(f.measured, inspection.held_v(f.reading) or 0.0) < 0.0 for f in listed)
    swapped = np.array([one.swapped for one in tried])
    misfits += _WRONG_SIGN * (swapped != negative)
    score = np.log([one.prior for one in tried]) - 0.5 * misfits
    if not strong:
        score[1:] = -np.inf
    weights = np.exp(score - score.max())
    weights /= weights.sum()
    unseen = _unseen(tried, np.einsum("hf,fg,hg->h", shown, inverse, shown))
    return Day(inspection, indices, listed, tried, shown, off, weights, misfits, unseen)


def _unseen(tried: Sequence[Hypothesis], distances: Array) -> Mask:
    """Causes that stay, at their worst, within what a sound array allows; wrong signs show."""
    worst: dict[CauseCode, float] = defaultdict(float)
    for one, distance in zip(tried, distances.tolist(), strict=True):
        worst[one.code] = max(worst[one.code], distance)
    hidden = [worst[one.code] <= figure("allowed") and not one.swapped for one in tried[1:]]
    return np.array([False, *hidden])


def shifts(
    inspection: CommissioningInspection, tried: Sequence[Hypothesis], listed: Sequence[Figure]
) -> Array:
    """What hypotheses make of figures, shape (hypotheses, figures): ln(shown ÷ expected).

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    tried : sequence of Hypothesis
        What may be wrong.
    listed : sequence of Figure
        Voltages and currents; those of one circuit are taken in the light of its middle one.
    """
    found = np.zeros((len(tried), len(listed)))
    by_circuit: dict[str, list[int]] = defaultdict(list)
    for column, item in enumerate(listed):
        by_circuit[item.reading.of].append(column)
    for of, columns in by_circuit.items():
        middle = [(listed[c].at.irradiance_w_m2, listed[c].at.cell_c) for c in columns]
        light, heat = sorted(middle)[len(middle) // 2]
        sound = _curve(inspection, of, {}, 0.0, (light, heat))
        for row, one in enumerate(tried):
            changed = one.changes(of)
            lead = one.lead_ohm if of == ARRAY or len(inspection.strings) == 1 else 0.0
            curve = sound
            if changed or lead:
                curve = _curve(inspection, of, changed, lead, (light, heat))
            for column in columns:
                item = listed[column]
                held_v = inspection.held_v(item.reading)
                shown = predicted(item.reading, curve, one.towards_open, held_v)[item.quantity]
                base = predicted(item.reading, sound, held_v=held_v)[item.quantity]
                dimmer = item.by_light * np.log(one.light_at(item.reading))
                found[row, column] = np.log(max(shown / base, _LEAST_SHARE)) + dimmer
    return found


def _curve(
    inspection: CommissioningInspection,
    of: str,
    changed: Mapping[str, StringState],
    lead_ohm: float,
    at: tuple[float, float],
) -> Terminals:
    return terminals(
        inspection.behind(of, changed), inspection.cable_ohm(of) + lead_ohm, at[0], at[1]
    )


def cause_rows() -> dict[str, dict[str, str]]:
    """Rows of the table of causes by code."""
    return table("commissioning", "causes").by_first


def verdict_on(day: Day) -> Verdict:
    """What follows for the array from a day.

    `fail` where some cause that must be mended is as good as certain; `pass` where nothing wrong
    is the likeliest of all.
    """
    shares, rows = day.shares, cause_rows()
    first = next(iter(shares))
    broken = sum(share for code, share in shares.items() if rows[code]["severity"] == "fail")
    if broken >= figure("certain"):
        return "fail"
    if first == "too-little-light":
        return "not-assessed"
    return "pass" if first == "nothing-wrong" and is_explained(day) else "review"


def causes_of(day: Day) -> list[Cause]:
    """Every cause worth naming, likeliest first."""
    order: list[int] = np.argsort(day.weights, kind="stable").tolist()
    rows, best = cause_rows(), {day.tried[row].code: day.tried[row] for row in order}
    return [
        Cause(
            code=code,
            title=rows[code]["title"],
            share_fraction=share,
            explains=best[code].explains,
            test=rows[code]["test"],
        )
        for code, share in day.shares.items()
        if share >= _LEAST_REPORTED
    ]


def is_explained(day: Day) -> bool:
    """Whether any hypothesis lies within three standard deviations a figure."""
    return bool(np.min(day.misfits) <= figure("explained") * len(day.figures))


def still_possible(day: Day) -> list[Possible]:
    """Faults that fit the readings nearly as well as the best hypothesis, with their worst."""
    rows = cause_rows()
    near = day.misfits <= np.min(day.misfits) + figure("allowed")
    worst = {
        one.code: one
        for one, allowed in zip(day.tried, near.tolist(), strict=True)
        if allowed and one.code not in NO_FAULT
    }
    return [
        Possible(code=code, title=rows[code]["title"], at_most=worst[code].explains)
        for code in day.shares_of_all
        if code in worst
    ]


def diagnosis_of(day: Day) -> Diagnosis:
    """A day in the contract's form.

    Parameters
    ----------
    day : Day
        Weighed.

    Returns
    -------
    Diagnosis
        With the next reading where a doubt is left.
    """
    from .next_reading import next_reading

    readings: list[Reading] = [day.inspection.request.readings[i] for i in day.indices]
    return Diagnosis(
        day=readings[0].taken_at[:10],
        readings=[reading.name for reading in readings],
        verdict=verdict_on(day),
        explained=is_explained(day),
        causes=causes_of(day),
        still_possible=still_possible(day),
        next_reading=next_reading(day),
    )
