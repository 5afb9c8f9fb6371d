"""What every answer tells beside its results: sources once, counts, an id of its own."""

from typing import Any

import msgspec
import pytest
from plausible import light_example
from shipped import answered

from sunhitch.codec import encode, plain_data
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch_service.engine.answering import answer_id

EACH = pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
BASES = {"basis", "air_basis"}
OWN_WORDS = {"weather-years", "synthetic-years", "stated-range"}
"""What a range of harvests rests on; no source."""


def request_of(operation: Operation[Any, Any]) -> Any:
    return msgspec.convert(light_example(operation), operation.request)


def keys(part: Any) -> set[str]:
    """Every key of a source anywhere in an answer."""
    if isinstance(part, list):
        return set().union(*map(keys, part))
    if not isinstance(part, dict):
        return set()
    own = {part[name] for name in BASES & set(part)} - OWN_WORDS
    if "neighbours" in part:
        own |= set(part["sources"])
    return own.union(*map(keys, part.values()))


@EACH
def test_an_answer_that_is_kept_is_told_again_to_the_byte(operation: Operation[Any, Any]) -> None:
    """What a type would read as another, such as 2 as 2.0, differs from the first answer."""
    _, answer = answered(operation)
    told = encode(answer)
    assert encode(msgspec.json.decode(told, type=operation.answer)) == told


@EACH
def test_each_source_is_told_once_and_each_told_one_is_referred_to(
    operation: Operation[Any, Any],
) -> None:
    _, answer = answered(operation)
    told = [source.key for source in answer.sources]
    assert len(told) == len(set(told)) > 0
    texts = [(source.reference, source.note) for source in answer.sources]
    assert len(texts) == len(set(texts))
    assert keys(plain_data(answer)) - {""} == set(told)
    assert sum(msgspec.structs.astuple(answer.counts)) == len(answer.checks)


@EACH
def test_an_id_tells_requests_apart_but_not_their_spelling(operation: Operation[Any, Any]) -> None:
    request = request_of(operation)
    spelt = msgspec.json.encode(msgspec.to_builtins(request), order="sorted")
    again = msgspec.json.format(spelt.replace(b".0,", b".00,"), indent=4)
    assert answer_id(msgspec.json.decode(again, type=operation.request)) == answer_id(request)
    others = {answer_id(request_of(one)) for one in OPERATIONS}
    assert len(others) == len(OPERATIONS)
