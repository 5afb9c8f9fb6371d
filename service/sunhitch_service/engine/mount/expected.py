"""What is to be expected where a check decides, beside its design value.

Allowances are taken back one after the other, each by running the load case again without it, so
that the factors multiply to exactly what lies between both.
"""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.mount import ConservativeFactor, Expectation
from sunhitch_service.engine.tables import cell_text, table

from .air import density
from .cases import CaseTerms
from .evaluate import Evaluation
from .figures import DOMAIN, figure, why
from .modes import Mode, ModeResult
from .setup import Setup, adhesive_of

SAME = 1e-9
"""Change of a utilisation that is rounding."""


_TakenBack = tuple[str, str, Evaluation]
"""Name of an allowance and why it is made, and the evaluation without it and those before."""


def expectations(found: Evaluation, results: list[ModeResult]) -> list[Expectation]:
    """What to expect where each result stands.

    Parameters
    ----------
    found : Evaluation
        At the road speed asked for.
    results : list of ModeResult
        Of this evaluation, or of checks that no load case knows: these have no estimate apart.
    """
    codes = {one.code for one in results if one.place}
    steps = list(_steps(found, any(map(of_bond, codes)))) if codes else []
    return [_expected(found, steps, one) for one in results]


def of_bond(code: str) -> bool:
    """Whether a mode of failure is that of a bond, whose heat counts."""
    return code == "edge-peel" or "bond-" in code


def _steps(found: Evaluation, heat: bool) -> Iterator[_TakenBack]:
    """Allowances on the load, in the order in which they are taken back; that of heat if asked."""
    setup = found.setup
    thin = density(setup.conditions.altitude, figure("expected", "air_c"))
    setup = replace(setup, conditions=replace(setup.conditions, density=thin, hot_density=thin))
    yield (statement("cold-or-hot-air"), why("expected", "air_c"), Evaluation(setup))
    if setup.air.net_uplift_coefficient is None:
        calmer = {
            side: replace(
                one,
                gust=one.mean,
                peak=one.local_mean,
                local=one.local_mean,
                edge=one.edge_mean,
            )
            for side, one in setup.suctions.items()
        }
        setup = replace(setup, suctions=calmer)
        yield (statement("suction-peaks"), statement("mean-coefficients"), Evaluation(setup))
    if setup.feet is not None:
        likely = setup.feet.lift[1 if setup.panel.flexible else 0]
        setup = replace(setup, feet=replace(setup.feet, lift=np.stack([likely, likely])))
        yield (statement("uneven-share"), statement("panel-as-it-is"), Evaluation(setup))
    setup = replace(setup, counted_weight=setup.weight)
    reason = why("wind_default", "favourable_weight")
    yield (statement("weight-that-helps"), reason, Evaluation(setup))
    if heat:
        warm = min(setup.conditions.driving_c, figure("expected", "bond_c"))
        setup = replace(setup, conditions=replace(setup.conditions, driving_c=warm))
        yield (statement("heat-of-bond"), why("expected", "bond_c"), Evaluation(setup))


def _expected(found: Evaluation, steps: list[_TakenBack], result: ModeResult) -> Expectation:
    reserve = 1 / figure("limit", "review_above")
    last = ConservativeFactor(
        name=statement("reserve-of-pass"), value_fraction=reserve, why=why("limit", "review_above")
    )
    if result.place is None or result.demand <= 0.0 or result.utilisation == math.inf:
        return Expectation(
            demand=result.demand,
            capacity=result.capacity,
            holds_times=result.capacity / result.demand if result.demand > 0.0 else reserve,
            asked_times=reserve,
            factors=[last],
        )
    mode, case, layout, _ = result.place
    state, used = int(layout > 0), result.utilisation
    factors: list[ConservativeFactor] = []
    demand = result.demand
    for name, reason, without in steps:
        lower = float(without.used[0, mode, state, case])
        if lower <= 0.0 or abs(lower / used - 1) < SAME:
            continue
        factors.append(ConservativeFactor(name=name, value_fraction=used / lower, why=reason))
        used = lower
        demands = without.modes[mode].at(case)[0]
        demand = float((demands[1:] if state else demands[:1]).max())
    factors += _strengths(found, found.modes[mode], found.cases.terms[case], state)
    product = math.prod(factor.value_fraction for factor in factors)
    holds = product / result.utilisation
    return Expectation(
        demand=demand,
        capacity=holds * demand,
        holds_times=holds,
        asked_times=product * reserve,
        factors=[*factors, last],
    )


def _strengths(
    found: Evaluation, mode: Mode, term: CaseTerms, lost: int
) -> Iterator[ConservativeFactor]:
    """Allowances in the strength; a lost foot has used up some of them."""
    relief = 1.0 if mode.given or not lost else float(found.relief[found.cases.terms.index(term)])
    for name, value, reason in _built_in(found.setup, mode, term):
        yield ConservativeFactor(name=name, value_fraction=value / relief, why=reason)
        relief = 1.0
    if relief != 1.0:
        yield ConservativeFactor(
            name=statement("relief-after-loss"),
            value_fraction=1 / relief,
            why=why("limit", "foot_lost_relief"),
        )


def _built_in(setup: Setup, mode: Mode, term: CaseTerms) -> Iterator[tuple[str, float, str]]:
    adhesive = adhesive_of(setup.request)
    if adhesive is not None and of_bond(mode.code):
        if mode.given or term.duration != "gust":
            return
        if setup.tested is not None:
            yield (
                statement("reserve-on-tests"),
                figure("limit", "tested_factor"),
                why("limit", "tested_factor"),
            )
            return
        tested = figure("adhesive", adhesive.kind, "ultimate_over_gust")
        yield statement("below-least-tested"), tested, why("adhesive", adhesive.kind)
        surface = setup.surface_share
        midway = surface + figure("expected", "surface_midway") * (1 - surface)
        if 0.0 < surface < 1.0:
            yield statement("surface-share"), midway / surface, why("expected", "surface_midway")
        if mode.code != "edge-peel":
            wet = figure("expected", "wet_out_fraction")
            share = wet / figure("adhesive", adhesive.kind, "wet_out_fraction")
            yield statement("wetting"), share, why("expected", "wet_out_fraction")
        return
    row = table(DOMAIN, "built_in").by_first.get(mode.code)
    if row is None:
        return
    factor = figure("limit", row["limit"]) if row["limit"] else 1.0
    if mode.basis in ("iso-15977", "rivet-nut-sheet"):
        factor = figure("limit", "rivet_factor")
    mean = figure("expected", row["mean"]) if row["mean"] else 1.0
    yield statement("strength-beyond-design"), factor * mean, cell_text(row, "reason")
