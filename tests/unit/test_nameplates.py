"""A nameplate, or what is like one, is refused wherever it is told if no panel can have it."""

import json
import pkgutil
from collections.abc import Iterator
from importlib import import_module
from typing import Any

import jsonpatch
import msgspec
import pytest

import sunhitch.types
from sunhitch import examples
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch.questions import QUESTIONS, AnyQuestion
from sunhitch.types.base import Input
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.quick.parameters import slots
from sunhitch_service.quick.questions import ANSWERING
from sunhitch_service.quick.reading import read

PAIRS = {"i_mp_a": "i_sc_a", "v_mp_v": "v_oc_v"}
"""What a panel has at its maximum of power, and the end of its curve, which lies beyond."""


def places(told: Any, at: str = "") -> Iterator[tuple[str, float]]:
    """Pointers of figures at the maximum beside which the end of the curve stands, and that end."""
    if isinstance(told, list):
        for index, one in enumerate(told):
            yield from places(one, f"{at}/{index}")
    elif isinstance(told, dict):
        yield from (
            (f"{at}/{maximum}", float(told[end]))
            for maximum, end in PAIRS.items()
            if told.get(maximum) is not None and told.get(end) is not None
        )
        for name, one in told.items():
            yield from places(one, f"{at}/{name}")


def bodies() -> Iterator[tuple[Operation[Any, Any], Any]]:
    """Every example, and a fit-out with a panel plugged in beside its roof."""
    for operation in OPERATIONS:
        yield operation, json.loads(examples.text(operation))
    fit_out = next(one for one in OPERATIONS if one.name == "fit-out")
    body = json.loads(examples.text(fit_out))
    own = body["panel_types"][0]["panel"]["electrical"]
    plugged = {"name": "suitcase", "controller": "controller-1", "electrical": own, "lead_m": 6.0}
    yield fit_out, json.loads(json.dumps(body | {"removable": [plugged]}))


CASES = [
    pytest.param(operation, body, at, end, id=f"{operation.name}{at}")
    for operation, body in bodies()
    for at, end in places(body)
]


def refused(call: Any, *asked: Any) -> list[str]:
    with pytest.raises(ContradictionError) as refusal:
        call(*asked)
    return [fault.pointer for fault in refusal.value.faults]


@pytest.mark.parametrize(("operation", "body", "at", "end"), CASES)
def test_no_panel_gives_its_maximum_at_the_end_of_its_curve(
    operation: Operation[Any, Any], body: Any, at: str, end: float
) -> None:
    """At short circuit there is no voltage and at open circuit no current, and so no power."""
    wrong = jsonpatch.apply_patch(body, [{"op": "replace", "path": at, "value": end}])
    asked = msgspec.convert(wrong, operation.request)
    assert at in refused(calculation_of(operation).calculate, asked)


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: one.name)
def test_flat_questions_refuse_such_a_panel_too(question: AnyQuestion) -> None:
    given = {one.name: one.example for slot in slots(question) for one in slot.parameters[:1]}
    least = {s.parameters[0].name: s.parameters[0].example for s in slots(question) if s.required}
    for maximum, end in PAIRS.items():
        if {maximum, end} <= given.keys():
            wrong = least | {maximum: given[end], end: given[end]}
            asked = read(question, {name: [value] for name, value in wrong.items()})
            found = refused(ANSWERING[question.name].answer, asked)
            assert maximum in [pointer.rpartition("/")[2] for pointer in found]


def test_every_place_that_tells_such_a_pair_is_asked() -> None:
    """Structs of the contract that have a pair, and those that the requests above hold."""
    modules = pkgutil.walk_packages(sunhitch.types.__path__, "sunhitch.types.")
    kinds = [kind for one in modules for kind in vars(import_module(one.name)).values()]
    having = {
        kind.__name__
        for kind in kinds
        if isinstance(kind, type) and issubclass(kind, Input)
        for maximum, end in PAIRS.items()
        if {maximum, end} <= set(kind.__struct_fields__)
    }
    flat = {question.asked.__name__ for question in QUESTIONS}
    assert having - flat <= {"PanelElectrical", "PanelsBehind", "PanelNowQuestion"}
    at = {case.id for case in CASES}
    assert {"wire-sizing/panels_behind/i_mp_a", "fit-out/removable/0/electrical/v_mp_v"} <= at
