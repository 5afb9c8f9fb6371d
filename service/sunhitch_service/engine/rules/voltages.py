"""Rules on the voltage of a string: cold against upper limits, hot against lower ones."""

import math
from typing import Literal

from sunhitch.types.basis import Basis
from sunhitch.types.check import Check
from sunhitch.types.wiring import WiringRules
from sunhitch_service.engine.tables import table

from .limits import limit
from .rule import Rule, rule

Method = Literal["coefficient", "table", "beyond-table"]
"""How a cold voltage was found; beyond the table it is only sure not to be less."""

_BASES: dict[Method, str] = {"coefficient": "", "table": "table", "beyond-table": "table"}

HOT_RUN = "hot-vmp-run"
"""Code of the rule that a hot string short of a full battery may just miss."""


def largest_series_count(v_oc_cold_v: float, limit_v: float) -> int:
    """Equal panels in series that stay within a voltage limit."""
    return math.floor(limit_v / v_oc_cold_v + 1e-9)


def input_for_v(voltage_v: float, reserve_fraction: float) -> int:
    """Input that would do for a voltage in the cold with a reserve, in steps of 5 V [V]."""
    return math.ceil(voltage_v / (1.0 - reserve_fraction) / 5.0 - 1e-9) * 5


def table_ends_c() -> float:
    """Coldest temperature that the table of factors on Voc holds [°C]."""
    return float(table("pv", "voc_correction").rows[-1]["to_c"])


def cold_voc_basis(method: Method, rules: WiringRules) -> Basis:
    """Where a string's voltage in the cold comes from, by how it was found."""
    return rule("cold-voc-controller", rules=rules, basis=_BASES[method]).basis


def cold_voc_controller(
    subject: str,
    voltage_v: float,
    input_v: float,
    panels_in_series: int,
    method: Method,
    rules: WiringRules,
    reserve_fraction: float,
) -> Check:
    """Cold open-circuit voltage of a string against the controller's largest input voltage.

    Parameters
    ----------
    subject : str
        Which string.
    voltage_v, input_v : float
        Voc in the cold and the controller's limit [V].
    panels_in_series : int
        How many share that voltage.
    method : {'coefficient', 'table', 'beyond-table'}
        How the voltage was found; beyond the table it can rule a string out, never admit it.
    rules : str
        Rule set.
    reserve_fraction : float
        Reserve wanted below the limit [1].
    """
    kept = 1.0 - reserve_fraction
    fitting = largest_series_count(voltage_v / panels_in_series, kept * input_v)
    named = "reserve" if voltage_v <= input_v else "fewer" if fitting else "input"
    beyond = method == "beyond-table"
    told = rule(
        "cold-voc-controller",
        subject,
        rules=rules,
        basis=_BASES[method],
        remedy=_beyond_the_table(voltage_v, input_v) if beyond else named,
        fitting=fitting,
        input_v=input_for_v(voltage_v, reserve_fraction),
        voltage_v=voltage_v,
        coldest_c=table_ends_c(),
    )
    return _cold(told, voltage_v, input_v, beyond, reserve_fraction)


def _beyond_the_table(voltage_v: float, limit_v: float) -> tuple[str, ...]:
    lacking = "beyond-table"
    return ("beyond-table-fewer", lacking) if voltage_v > limit_v else (lacking,)


def _cold(told: Rule, voltage_v: float, limit_v: float, beyond: bool, reserve: float) -> Check:
    judged = told.at_most(voltage_v, limit_v, 1.0 - reserve)
    if not beyond or judged.verdict == "fail":
        return judged
    return told.check("not-assessed", voltage_v, limit_v, judged.utilisation_fraction)


def cold_voc_table(subject: str, voltage_v: float, input_v: float, rules: WiringRules) -> Check:
    """Cold voltage by the table beside that by the coefficient, which governs [V]."""
    return rule("cold-voc-table", subject, rules=rules).at_most(voltage_v, input_v)


def system_voltage(
    subject: str, voltage_v: float, rating_v: float | None, method: Method, rules: WiringRules
) -> Check:
    """Cold open-circuit voltage of a string against the smallest rating of its panels.

    Parameters
    ----------
    subject : str
        Which string.
    voltage_v : float
        Voc in the cold [V].
    rating_v : float or None
        Largest system voltage of its panels; None where one of them gives none [V].
    method : {'coefficient', 'table', 'beyond-table'}
        How the voltage was found.
    rules : str
        Rule set.
    """
    if rating_v is None:
        told = rule("system-voltage", subject, rules=rules, remedy="unknown")
        return told.check("not-assessed", voltage_v)
    beyond = method == "beyond-table"
    told = rule(
        "system-voltage",
        subject,
        rules=rules,
        remedy=_beyond_the_table(voltage_v, rating_v) if beyond else "fewer",
        voltage_v=voltage_v,
        coldest_c=table_ends_c(),
    )
    return _cold(told, voltage_v, rating_v, beyond, 0.0)


def system_voltage_in_light(
    subject: str, voltage_v: float, rating_v: float | None, panels_in_series: int
) -> Check:
    """Open-circuit voltage at the temperature asked about against the panels' rating [V]."""
    fitting = largest_series_count(voltage_v / panels_in_series, rating_v or 0.0)
    remedy = "unknown" if rating_v is None else "fewer"
    return rule("system-voltage-in-light", subject, remedy=remedy, fitting=max(1, fitting)).at_most(
        voltage_v, rating_v
    )


def touch_voltage(subject: str, voltage_v: float) -> Check:
    """Cold open-circuit voltage of a string against touch-safe direct voltage [V]."""
    return rule("touch-voltage", subject).at_most(voltage_v, limit("touch-voltage"))


def hot_vmp_run(
    subject: str,
    voltage_v: float,
    panels_in_series: int,
    full_v: float,
    working_v: float,
    most_in_series: int | None = None,
) -> Check:
    """Hot Vmp should reach a full battery, and must nearly reach one that is still charging.

    Parameters
    ----------
    subject : str
        Which string.
    voltage_v : float
        Vmp with hot cells [V].
    panels_in_series : int
        How many share that voltage.
    full_v, working_v : float
        Voltage that the controller needs to run with a full battery, and with one that is still
        charging [V].
    most_in_series : int or None
        How many of them the controller bears; None where it is not known.
    """
    fewest = _fewest(full_v, voltage_v, panels_in_series)
    lengthen = _lengthen(fewest, most_in_series)
    told = rule(
        "hot-vmp-run",
        subject,
        remedy=("short", lengthen, *(("cooler",) if lengthen == "too-long" else ())),
        present_v=voltage_v,
        working_v=working_v,
        full_v=full_v,
        fewest=fewest,
    )
    enough = voltage_v >= working_v * (1.0 - limit("hot-vmp-shortfall"))
    return told.at_least(voltage_v, full_v, beyond="review" if enough else None)


def hot_voltage_start(
    subject: str,
    voc_v: float,
    vmp_v: float,
    panels_in_series: int,
    needed_v: float,
    most_in_series: int | None = None,
) -> Check:
    """A controller wakes up on open circuit; a late start on the hottest days costs little.

    Parameters
    ----------
    subject : str
        Which string.
    voc_v, vmp_v : float
        Voltages with hot cells [V].
    panels_in_series : int
        How many share them.
    needed_v : float
        Voltage at which the controller starts with a full battery [V].
    most_in_series : int or None
        How many of them the controller bears; None where it is not known.
    """
    fewest = _fewest(needed_v, vmp_v, panels_in_series)
    return rule(
        "hot-voltage-start",
        subject,
        remedy=("late", _lengthen(fewest, most_in_series)),
        present_v=voc_v,
        fewest=fewest,
    ).at_least(voc_v, needed_v)


def _lengthen(fewest: int, most_in_series: int | None) -> str:
    """What makes a string's voltage enough, by how many in series that takes; 0 where none do."""
    if not fewest:
        return "higher"
    if most_in_series is None:
        return "longer-where-borne"
    return "longer" if fewest <= most_in_series else "too-long"


def _fewest(needed_v: float, string_v: float, panels_in_series: int) -> int:
    return math.ceil(needed_v * panels_in_series / string_v - 1e-9) if string_v > 0.0 else 0
