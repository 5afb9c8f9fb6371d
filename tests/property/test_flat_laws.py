"""Laws that a practitioner takes for granted, on random flat questions: warmer, longer, stronger.

Each pair of questions differs in one field alone; whatever else is asked is random.
"""

import inspect
import math
import random
from collections.abc import Iterator
from typing import Any

import pytest

from sunhitch.questions import QUESTIONS, described
from sunhitch.types.check import VERDICTS
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.quick.questions import ANSWERING

PAIRS = 30
_KNOWN = {question.name: question for question in QUESTIONS}
_OPTIONAL = 0.4
"""Share of the fields that may be left out and are given all the same."""

LAWS = (
    ("cold-voc", "lowest_ambient_c", "string_v_oc_v", -1),
    ("cold-voc", "max_input_voltage_v", "verdict", -1),
    ("hot-vmp", "hot_cell_c", "string_v_mp_v", -1),
    ("hot-vmp", "hot_cell_c", "verdict", 1),
    ("string-count", "max_input_voltage_v", "largest", 1),
    ("string-count", "hot_cell_c", "smallest", 1),
    ("cell-temperature", "irradiance_w_m2", "cell_c", 1),
    ("cell-temperature", "gap_m", "cell_c", -1),
    ("controller-current", "controller_output_a", "lost_w", -1),
    ("controller-current", "strings_in_parallel", "verdict", 1),
    ("wire-size", "length_m", "area_mm2", 1),
    ("wire-size", "ambient_c", "area_mm2", 1),
    ("wire-size", "current_carrying_conductors", "area_mm2", 1),
    ("wire-size", "terminal_temperature_c", "area_mm2", -1),
    ("wire-ampacity", "terminal_temperature_c", "ampacity_a", 1),
    ("wire-ampacity", "ambient_c", "largest_fuse_a", -1),
    ("voltage-drop", "length_m", "drop_v", 1),
    ("voltage-drop", "conductor_temperature_c", "drop_v", 1),
    ("string-fuse", "strings_in_parallel", "backfeed_a", 1),
    ("string-fuse", "max_series_fuse_a", "verdict", -1),
    ("battery-fuse", "fault_current_a", "verdict", 1),
    ("dynamic-pressure", "speed_m_s", "dynamic_pressure_pa", 1),
    ("dynamic-pressure", "altitude_m", "dynamic_pressure_pa", -1),
    ("bond-strength", "bond_c", "holding_n", -1),
    ("cure-time", "application_c", "hours_before_driving", -1),
    ("cure-time", "rested_h", "verdict", -1),
)
"""Question, field that grows, figure of the answer, and whether that may not fall or not rise."""


def _drawn(allowed: dict[str, Any], dice: random.Random) -> Any:
    """A value near the example or anywhere that the contract allows."""
    if "enum" in allowed:
        return dice.choice(allowed["enum"])
    low, high, usual = allowed["minimum"], allowed["maximum"], allowed["examples"][0]
    near = usual * math.exp(dice.uniform(-1.2, 1.2))
    value = min(max(near if dice.random() < 0.7 else dice.uniform(low, high), low), high)
    return round(value) if allowed["type"] == "integer" else value


def _pairs(name: str, field: str) -> Iterator[tuple[Any, Any]]:
    """Answers where a field is small and where it is larger, without end."""
    dice, asked = random.Random(f"{name} {field}"), _KNOWN[name].asked
    allowed, one_of = described(asked), getattr(asked, "EXACTLY_ONE", ())
    fields = inspect.signature(asked).parameters.values()
    needed = {each.name for each in fields if each.default is inspect.Parameter.empty}
    while True:
        chosen = {dice.choice(one_of)} if one_of else set[str]()
        given = {
            key: _drawn(of, dice)
            for key, of in allowed.items()
            if (key in needed | chosen or dice.random() < _OPTIONAL)
            and (key in chosen or key not in one_of)
        }
        ends = sorted(_drawn(allowed[field], dice) for _ in range(2))
        try:
            first, second = (ANSWERING[name].answer(asked(**given | {field: v})) for v in ends)
        except ContradictionError:
            continue
        yield first, second


def _worth(told: object) -> float:
    """A figure to compare; a size that no longer exists is larger than all."""
    if isinstance(told, str):
        return VERDICTS.index(told)
    return told if isinstance(told, float | int) else math.inf


@pytest.mark.parametrize(("name", "field", "figure", "way"), LAWS)
def test_what_grows_with_what(name: str, field: str, figure: str, way: int) -> None:
    pairs = _pairs(name, field)
    for _ in range(PAIRS):
        first, second = (_worth(getattr(answer, figure)) for answer in next(pairs))
        assert way * second >= way * first - 1e-9 * abs(first if math.isfinite(first) else 0.0)
