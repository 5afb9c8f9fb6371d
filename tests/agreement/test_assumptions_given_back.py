"""A value that an answer tells as assumed can be given, and then the answer is the same.

An assumption names the field of the request that would set it. Words in place of a figure (no
figure says "split" or "by zone"), and parts of what is only given as a whole (a cell model), are
told, not to be given.
"""

import copy
import json
import math
import random
import re
from collections.abc import Iterator
from typing import Any

import msgspec
import plausible
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from random_builds import build

from sunhitch import examples
from sunhitch.codec import encode
from sunhitch.operations.operation import Operation
from sunhitch.types.basis import Assumption
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine.errors import ContradictionError

CLOSE = 1e-9
"""Rounding of a figure that is worked out in another order."""
OF_THE_GIVING = {
    *("assumptions", "sources", "basis", "answer_id", "remedy", "remedies", "note"),
    *("verdict", "counts"),
}
"""What an answer says of who chose a value, and what it asks for where nobody did.

What is beyond a limit that is only customary is `review`, beyond one that is given `fail`.
"""
KNOWN_BETTER = re.compile(r"/readings/\d+/(cell_temperature_c|air_c|irradiance_w_m2)")
"""What was read is less doubtful than what is assumed; all doubts follow, the value stays."""


def with_value(body: Any, pointer: str, value: Any) -> Any:
    """A request with one more value; parts of it that are not there are made."""
    changed = copy.deepcopy(body)
    here: Any = changed
    *way, last = pointer.split("/")[1:]
    for name in way:
        if isinstance(here, list):
            here = here[int(name)]
        else:
            here[name] = here[name] if here.get(name) is not None else {}
            here = here[name]
    here[int(last) if isinstance(here, list) else last] = value
    return changed


def differences(one: Any, other: Any, at: str = "") -> Iterator[str]:
    if isinstance(one, dict) and isinstance(other, dict):
        for name in (one.keys() | other.keys()) - OF_THE_GIVING:
            yield from differences(one.get(name), other.get(name), f"{at}/{name}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for index, pair in enumerate(zip(one, other, strict=True)):
            yield from differences(*pair, f"{at}/{index}")
    elif isinstance(one, float | int) and isinstance(other, float | int):
        if not math.isclose(one, other, rel_tol=CLOSE, abs_tol=1e-12):
            yield f"{at}: {one} or {other}"
    elif one != other:
        yield f"{at}: {one} or {other}"


def hold(operation: Operation[Any, Any], body: Any) -> int:
    """Give every assumption of an answer back, alone; how many can be given."""
    calculate = calculation_of(operation).calculate
    answer = calculate(msgspec.convert(body, operation.request))
    told = json.loads(encode(answer))
    made: list[Assumption] = answer.assumptions
    can_be_given = 0
    for one, value in zip(made, told["assumptions"], strict=True):
        asked = asking(operation, body, one.field, value["value"])
        if asked is None:
            assert not is_count(operation, body, one.field, value["value"]), one.field
            continue
        can_be_given += 1
        found = list(differences(told, json.loads(encode(calculate(asked)))))
        if KNOWN_BETTER.fullmatch(one.field):
            name = one.field.rpartition("/")[2]
            found = [each for each in found if each.partition(":")[0].endswith(f"/{name}")]
        assert not found, (one.field, one.value)
    return can_be_given


def asking(operation: Operation[Any, Any], body: Any, field: str, value: Any) -> Any | None:
    """The request with a value; none where the contract has no place for it."""
    try:
        return msgspec.convert(with_value(body, field, value), operation.request)
    except (msgspec.ValidationError, IndexError, ValueError, TypeError):
        return None


def is_count(operation: Operation[Any, Any], body: Any, field: str, value: Any) -> bool:
    """Whether the contract asks for a whole number there, which is told as a broken one."""
    whole = isinstance(value, float) and value.is_integer()
    return whole and asking(operation, body, field, int(value)) is not None


QUICK = ("array-configuration", "commissioning-check", "shaded-iv", "wire-sizing")
"""Calculations whose examples are answered at once; others take seconds for each assumption."""


@pytest.mark.parametrize("name", QUICK)
def test_what_an_example_assumes_can_be_given(name: str) -> None:
    operation = plausible.operation_named(name)
    assert hold(operation, json.loads(examples.text(operation))) > 0


WALL, LAID = {"where": "insulated-wall"}, {"where": "raceway"}


@pytest.mark.parametrize(
    "runs",
    [
        [WALL],
        [WALL, LAID],
        [WALL, LAID | {"length_m": 2.0}],
        [WALL | {"length_m": 0.1}, LAID, WALL],
        [WALL, WALL],
        [WALL, LAID, WALL | {"ambient_c": 55.0}],
        [WALL, LAID | {"length_m": 2.4}],
    ],
)
def test_lengths_of_runs_in_walls_can_be_given(runs: list[dict[str, Any]]) -> None:
    """Of 2.4 m; no figure is told where the way leaves several lengths open, or none."""
    operation = plausible.operation_named("wire-sizing")
    body = json.loads(examples.text(operation)) | {"runs": runs}
    assert hold(operation, body) > 0


@settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
    database=None,
)
@given(st.data())
def test_what_any_circuit_assumes_can_be_given(data: Any) -> None:
    operation = plausible.operation_named("wire-sizing")
    body = plausible.legal(operation, lambda faces: data.draw(st.integers(0, faces - 1)))
    try:
        hold(operation, body)
    except ContradictionError as refused:
        with pytest.raises(ContradictionError):
            calculation_of(operation).calculate(msgspec.convert(body, operation.request))
        assert refused.faults


def test_the_drop_that_a_fit_out_assumes_holds_for_a_plugged_panel_too() -> None:
    operation = plausible.operation_named("fit-out")
    body, field = build(random.Random(18)), "/cables/pv_drop_fraction"
    assert body["removable"]
    first, given = (
        calculation_of(operation).calculate(msgspec.convert(asked, operation.request))
        for asked in (body, with_value(body, field, 0.03))
    )
    assert (field, 0.03) in {(one.field, one.value) for one in first.assumptions}
    assert given.wire_schedule == first.wire_schedule
