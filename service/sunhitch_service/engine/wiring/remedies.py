"""What to change when a conductor fails a rule, in plain words with figures."""

from sunhitch.report.amounts import percent
from sunhitch.types.wiring import RuleOutcome, SizeResult

from .case import Case
from .clips import clip_words
from .voltage_drop import longest_m


def remedy(case: Case, outcome: RuleOutcome, size: SizeResult) -> str:
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
    str
        One or two sentences; never empty.
    """
    need = outcome.demand
    split = "The table ends here: split the load over several circuits, or raise the voltage."
    texts = {
        "ambient-in-table": (
            f"The air reaches {need:.0f} °C, the table ends at {outcome.capacity:.0f} °C: use "
            f"hotter insulation, or a way out of the heat.{_clips(case)}{_other(case)}"
        ),
        "ampacity-table": f"Needs a table value of {need:.1f} A or more. {split}",
        "ampacity-corrected": _corrected(case, outcome, split),
        "terminal-temperature": (
            f"Needs terminals that allow {need:.1f} A: choose equipment with a higher temperature "
            f"rating at its terminals, or step down on a bus bar. {split}"
        ),
        "small-conductor": f"A device of {need:.1f} A is too large for this size. {split}",
        "device-protects-conductor": (
            f"A device of {need:.1f} A is too large for this run: take a smaller one that still "
            f"carries the load, or a cooler way. {split}"
        ),
        "string-backfeed": (
            f"Fit a fuse in every string, or a conductor good for {need:.1f} A. {split}"
        ),
        "voltage-drop": _drop(case, outcome, size),
        "smallest-size": f"The rules admit {need:g} mm² and larger.",
        "equivalent-area": f"Needs {need:g} mm² or more; sizes are never rounded down.",
    }
    return texts[outcome.code]


def _other(case: Case) -> str:
    if case.family == "us-33-cfr-183":
        return " The boat table knows no roofs in the sun: use the rules of NFPA 70 or IEC there."
    return ""


def _clips(case: Case) -> str:
    words = clip_words(case)
    return f" {words}." if words else ""


def _corrected(case: Case, outcome: RuleOutcome, split: str) -> str:
    if outcome.capacity <= 0.0:
        return "The tables give no ampacity here: use a cooler way or fewer conductors together."
    return (
        f"Needs {outcome.demand:.1f} A after correction: use hotter insulation, a cooler way, "
        f"fewer conductors together.{_clips(case)} {split}"
    )


def _drop(case: Case, outcome: RuleOutcome, size: SizeResult) -> str:
    current = size.drop_v / size.loop_resistance_ohm if size.loop_resistance_ohm else 0.0
    chassis_v = (case.chassis_ohm or 0.0) * current
    reach = longest_m(case.request.length_m, outcome.demand, outcome.capacity, chassis_v)
    text = (
        f"{size.size} keeps {outcome.capacity:.2f} V up to {reach:.1f} m one way. Shorten the run, "
        f"allow {percent(outcome.demand / case.request.voltage_v)} of drop, raise the voltage, or "
        f"lay {_parallel(outcome, chassis_v)} in parallel."
    )
    return text if reach > 0.0 else "The chassis alone drops more than allowed: run a return wire."


def _parallel(outcome: RuleOutcome, chassis_v: float) -> str:
    room = outcome.capacity - chassis_v
    needed = (outcome.demand - chassis_v) / room if room > 0.0 else 0.0
    return f"{int(-(-needed // 1))} conductors"
