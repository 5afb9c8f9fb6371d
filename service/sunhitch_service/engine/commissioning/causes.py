"""Which cause explains the readings best: probabilities from misfit and prior."""

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from sunhitch.types.commissioning import Cause, CauseCode, Diagnosis, Reading, ReadingResult
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.tables import table

from .expected import Figure, covariance, figures_of, measured_of, predicted
from .faults import Suspicion, suspicions
from .model import Terminals, terminals
from .practice import figure
from .setup import CommissioningInspection

_LEAST_SHARE = 1e-3
MOST_READINGS = 6
MOST_DIAGNOSES = 10
_LEAST_REPORTED = 0.005


@dataclass(frozen=True, slots=True)
class _Case:
    """Readings of one part of the array on one day."""

    of: str
    indices: list[int]


def diagnoses(inspection: CommissioningInspection, results: list[ReadingResult]) -> list[Diagnosis]:
    """Causes for every part and day with a reading that is not normal.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    results : list of ReadingResult
        One per reading.

    Returns
    -------
    list of Diagnosis
        The latest ten, oldest first.
    """
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    for index, reading in enumerate(inspection.request.readings):
        if results[index].verdict != "not-assessed":
            groups[reading.taken_at[:10], reading.of].append(index)
    cases = [
        _Case(of, indices[-MOST_READINGS:])
        for (_, of), indices in sorted(groups.items())
        if any(_falls_short(results[i]) for i in indices)
    ]
    return [_diagnosis(inspection, case) for case in cases[-MOST_DIAGNOSES:]]


def _falls_short(result: ReadingResult) -> bool:
    """Whether a reading is below normal; no fault of the array shows more than its light allows."""
    deciding = result.quantities[-1]
    return result.verdict != "pass" and deciding.measured < deciding.expected


@dataclass(frozen=True, slots=True)
class _Evidence:
    """Figures for or against a cause, their readings, and their inverse covariance.

    The covariance is that of ln(measured ÷ expected); a reading at work counts by its voltage and
    power.
    """

    owners: list[int]
    figures: list[Figure]
    weight: Array


def _evidence(inspection: CommissioningInspection, case: _Case) -> _Evidence:
    owners: list[int] = []
    figures: list[Figure] = []
    for index in case.indices:
        at_work = inspection.request.readings[index].kind == "operating"
        for item in figures_of(inspection, index):
            if not (at_work and item.quantity == "current"):
                owners.append(index)
                figures.append(item)
    spread = covariance(inspection, owners, figures)
    for row, (index, item) in enumerate(zip(owners, figures, strict=True)):
        if inspection.request.readings[index].kind == "operating" and item.quantity == "voltage":
            spread[row, row] += figure("tracker") ** 2
    return _Evidence(owners, figures, np.asarray(np.linalg.inv(spread), dtype=np.float64))


def _diagnosis(inspection: CommissioningInspection, case: _Case) -> Diagnosis:
    evidence = _evidence(inspection, case)
    strings = inspection.strings(case.of)
    first = inspection.conditions[case.indices[0]]
    typical = terminals(strings, inspection.cable_ohm(case.of), first.irradiance_w_m2, first.cell_c)
    tried = suspicions(strings, typical)
    misfits = np.array([_misfit(inspection, case, evidence, one) for one in tried])
    return Diagnosis(
        of=case.of,
        readings=[inspection.request.readings[i].name for i in case.indices],
        explained=bool(np.min(misfits) <= figure("explained") * len(evidence.figures)),
        causes=_ranked(tried, misfits),
    )


def _misfit(
    inspection: CommissioningInspection, case: _Case, evidence: _Evidence, suspicion: Suspicion
) -> float:
    """Squared distance between readings and a cause, in standard deviations."""
    shown: dict[int, dict[str, float]] = {}
    for index in case.indices:
        reading, at = inspection.request.readings[index], inspection.conditions[index]
        found = terminals(
            suspicion.strings, inspection.cable_ohm(case.of), at.irradiance_w_m2, at.cell_c
        )
        shown[index] = _shown(reading, found, suspicion.towards_open)
    off = np.array(
        [
            _log_ratio(
                measured_of(inspection.request.readings[i])[f.quantity], shown[i][f.quantity], f
            )
            for i, f in zip(evidence.owners, evidence.figures, strict=True)
        ]
    )
    return float(off @ evidence.weight @ off)


def _shown(reading: Reading, found: Terminals, towards_open: float) -> dict[str, float]:
    if reading.kind != "operating" or towards_open == 0.0:
        return {str(name): value for name, value in predicted(reading, found).items()}
    v = found.maximum_v + towards_open * (found.open_circuit_v - found.maximum_v)
    i = float(np.interp(v, found.voltage, found.current))
    return {"voltage": v, "current": i, "power": v * i}


def _log_ratio(measured: float, shown: float, item: Figure) -> float:
    least = _LEAST_SHARE * item.expected
    return float(np.log(max(measured, least) / max(shown, least)))


def _ranked(tried: list[Suspicion], misfits: Array) -> list[Cause]:
    """Prior times mean likelihood over the severities of each cause, as shares."""
    rows = {row["code"]: row for row in table("commissioning", "causes").rows}
    best: dict[CauseCode, Suspicion] = {}
    weights: dict[CauseCode, float] = {}
    lowest = float(np.min(misfits))
    codes: list[CauseCode] = [one.code for one in tried]
    for code in dict.fromkeys(codes):
        own = [k for k, one in enumerate(tried) if one.code == code]
        best[code] = tried[min(own, key=lambda k: float(misfits[k]))]
        likelihood = float(np.mean(np.exp(-0.5 * (misfits[own] - lowest))))
        weights[code] = float(rows[code]["prior"]) * likelihood
    total = sum(weights.values())
    causes = [
        Cause(
            code=code,
            title=rows[code]["title"],
            share_fraction=weight / total,
            explains=best[code].explains,
            test=rows[code]["test"],
        )
        for code, weight in weights.items()
    ]
    causes.sort(key=lambda cause: -cause.share_fraction)
    return [c for c in causes if c.share_fraction >= _LEAST_REPORTED] or causes[:1]
