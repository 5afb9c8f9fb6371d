"""What to change when a conductor fails a rule: which sentences of the rule, and their figures."""

import math

from sunhitch.types.wiring import RuleOutcome, SizeResult
from sunhitch_service.engine.rules.template import Parameter

from .case import Case
from .clips import clip_words
from .voltage_drop import longest_m

Remedy = tuple[tuple[str, ...], dict[str, Parameter]]
"""Names of the sentences, and the figures that they tell."""


def remedy(case: Case, outcome: RuleOutcome, size: SizeResult) -> Remedy:
    """What to change when a size fails a rule.

    Parameters
    ----------
    case : Case
        Resolved request.
    outcome : RuleOutcome
        Rule with demand and capacity.
    size : SizeResult
        Size that it was applied to.

    Returns
    -------
    tuple
        Names of one or more remedies of the rule, and their parameters.
    """
    code, need, clips = outcome.code, outcome.demand, clip_words(case)
    lifted = ("clips",) if clips else ()
    if code == "voltage-drop":
        return _drop(case, outcome, size)
    if code == "ampacity-corrected" and outcome.capacity <= 0.0:
        return ("none",), {}
    split: dict[str, tuple[str, ...]] = {
        "ambient-in-table": ("boat" if case.family == "us-33-cfr-183" else "hotter", *lifted),
        "ampacity-corrected": ("more", *lifted, "split"),
        "smallest-size": ("",),
        "equivalent-area": ("",),
    }
    figures: dict[str, dict[str, Parameter]] = {
        "ambient-in-table": {"air_c": need, "table_c": outcome.capacity, "clips": clips},
        "ampacity-corrected": {"wanted_a": need, "clips": clips},
        "smallest-size": {"wanted_mm2": need},
        "equivalent-area": {"wanted_mm2": need},
        "small-conductor": {"device_a": need},
        "device-protects-conductor": {"device_a": need},
    }
    return split.get(code, ("", "split")), figures.get(code, {"wanted_a": need})


def _drop(case: Case, outcome: RuleOutcome, size: SizeResult) -> Remedy:
    current = size.drop_v / size.loop_resistance_ohm if size.loop_resistance_ohm else 0.0
    chassis_v = (case.chassis_ohm or 0.0) * current
    reach = longest_m(case.request.length_m, outcome.demand, outcome.capacity, chassis_v)
    room = outcome.capacity - chassis_v
    if reach <= 0.0 or room <= 0.0:
        return ("chassis",), {}
    return ("shorter",), {
        "size": size.size,
        "allowed_v": outcome.capacity,
        "reach_m": reach,
        "drop_fraction": outcome.demand / case.request.voltage_v,
        "conductors": math.ceil((outcome.demand - chassis_v) / room),
    }
