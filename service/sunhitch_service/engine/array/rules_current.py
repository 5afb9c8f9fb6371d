"""Current rules: what the controller, plugs, branches and panels themselves may carry."""

import math

from sunhitch.types.basis import Basis
from sunhitch.types.check import Check, Verdict
from sunhitch_service.engine.checks import Rule, at_most, check
from sunhitch_service.engine.sources import basis

from .citations import cite
from .figures import ArrayFigures
from .job import Job
from .practice import limit, limit_basis

_MISSING_ISC = "Give the controller's largest array short-circuit current from its data sheet."


def current_checks(job: Job, array: ArrayFigures) -> list[Check]:
    """Every current rule on one controller's array, string fuses apart.

    Parameters
    ----------
    job : Job
        Settled request.
    array : ArrayFigures
        The array.

    Returns
    -------
    list of Check
        Input current, short circuit, array power, plugs, branches.
    """
    return [
        *_input_current(array),
        _short_circuit(job, array),
        *_array_power(array),
        _plug(job, array),
        *_branch(job, array),
    ]


def maximum_current_a(i_sc_a: float) -> float:
    """Largest current of a circuit: 1.25 × Isc, for sun above 1000 W/m² [A].

    References
    ----------
    NEC 690.8(A)(1); IEC 62548.
    """
    return limit("current-factor") * i_sc_a


def _input_current(array: ArrayFigures) -> list[Check]:
    capacity = array.feed.controller.max_input_current_a
    if capacity is None:
        return []
    rule = Rule(
        "controller-input-current",
        "Operating current against the controller's input",
        "A",
        basis("given", "Controller data sheet"),
        "The controller holds the current back and wastes the rest: more panels in series, fewer "
        f"in parallel, or an input of {math.ceil(array.i_mp_a)} A.",
        array.subject(),
    )
    used = array.i_mp_a / capacity
    return [check(rule, "review" if used > 1.0 else "pass", array.i_mp_a, capacity, used)]


def _short_circuit(job: Job, array: ArrayFigures) -> Check:
    """Beyond the limit at 1000 W/m² it fails; beyond it only in stronger sun, look at it."""
    capacity = array.feed.controller.max_input_short_circuit_a
    rule = Rule(
        "controller-short-circuit",
        "Short-circuit current in strong sun against the controller's input",
        "A",
        cite(job.rules, "690.8(A)(1)", "maximum current of the array"),
        _MISSING_ISC if capacity is None else _fewer_in_parallel(array),
        array.subject(),
    )
    if capacity is None:
        return check(rule, "not-assessed")
    strong = maximum_current_a(array.i_sc_a)
    verdict: Verdict = (
        "fail" if array.i_sc_a > capacity else "review" if strong > capacity else "pass"
    )
    return check(rule, verdict, strong, capacity, strong / capacity)


def _fewer_in_parallel(array: ArrayFigures) -> str:
    wanted = math.ceil(maximum_current_a(array.i_sc_a))
    return f"Fewer strings in parallel, or a controller rated for {wanted} A of short circuit."


def _array_power(array: ArrayFigures) -> list[Check]:
    capacity = array.feed.controller.max_array_power_w
    if capacity is None:
        return []
    rule = Rule(
        "controller-array-power",
        "Nameplate power against the largest array that the controller's maker allows",
        "W",
        basis("given", "Controller data sheet"),
        f"Fewer panels on it, or a controller for {math.ceil(array.p_mp_w)} W.",
        array.subject(),
    )
    return [at_most(rule, array.p_mp_w, capacity)]


def _plug(job: Job, array: ArrayFigures) -> Check:
    worst = max(array.strings, key=lambda s: s.i_sc_a)
    rule = Rule(
        "plug-current",
        "Largest current of a string against its plugs",
        "A",
        _rating_basis(job.request.connectors.plug_current_a, "plug-current"),
        f"Use plugs rated for {math.ceil(maximum_current_a(worst.i_sc_a))} A.",
        array.subject(worst),
    )
    return at_most(rule, maximum_current_a(worst.i_sc_a), job.plug_a)


def _rating_basis(given: float | None, name: str) -> Basis:
    return limit_basis(name) if given is None else basis("given", "Rating of the connector")


def _branch(job: Job, array: ArrayFigures) -> list[Check]:
    """The joined side of the last branch connector carries the sum."""
    if len(array.strings) < 2:
        return []
    rating = min(job.branch_a, job.plug_a)
    rule = Rule(
        "branch-connector-current",
        "Sum of all strings against the joined side of the branch connectors and its plug",
        "A",
        _rating_basis(job.request.connectors.branch_current_a, "branch-current"),
        _unbranch(array, rating),
        array.subject(),
    )
    return [at_most(rule, maximum_current_a(array.i_sc_a), rating)]


def _unbranch(array: ArrayFigures, rating: float) -> str:
    each = maximum_current_a(max(s.i_sc_a for s in array.strings))
    fitting = math.floor(rating / each)
    alternative = "bring the strings in one by one to a combiner box with terminals"
    if fitting < 2:
        return f"Do not branch: {alternative}."
    return f"Branch at most {fitting} such strings, more panels in series, or {alternative}."
