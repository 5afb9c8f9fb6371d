"""Random requests, a few of each kind; `tests/fuzz/random_requests.py` sends more.

What is called legal here is legal by the committed schema, and what the decoder refuses is not.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import hostile
import plausible
import pytest
import random_requests
from in_process import InProcess, in_process
from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
SEEDS = (1, 2, 3)
REQUESTS = {
    "wire-sizing": 120,
    "commissioning-check": 80,
    "mount-check": 40,
    "shaded-iv": 80,
    "fit-out-change": 8,
}
FEW = 12
"""Requests with each seed where an answer takes long."""
JUDGED = 60
"""Requests that are held to the committed schema."""


@pytest.fixture(scope="module")
def running(parts_kept: None) -> Iterator[InProcess]:
    with in_process(compiled=False) as service:
        yield service


@pytest.fixture(scope="module")
def registry() -> Registry[Any]:
    document = json.loads(COMMITTED.read_text("utf-8"))
    whole = Resource(contents=document, specification=DRAFT202012)
    return Registry().with_resource("urn:openapi", whole)


def validator(operation: Operation[Any, Any], registry: Registry[Any]) -> Draft202012Validator:
    """Judges requests by the committed schema."""
    named = {"$ref": f"urn:openapi#/components/schemas/{operation.request.__name__}"}
    return Draft202012Validator(named, registry=registry)


@pytest.mark.parametrize("number", SEEDS)
@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_random_requests_are_answered_or_refused_at_a_field(
    operation: Operation[Any, Any], number: int, running: InProcess
) -> None:
    random = Random(f"{number} {operation.name} sample")
    wanted = REQUESTS.get(operation.name, FEW)
    seen: set[int] = set()
    for number_asked in range(10 * wanted):  # an illegal one comes early, as one in four is
        if number_asked >= wanted and 400 in seen:
            break
        seen.add(random_requests.ask(running, operation, random))
    assert 400 in seen
    assert {200, 400, 422} >= seen


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_what_is_sent_as_legal_is_legal_by_the_committed_schema(
    operation: Operation[Any, Any], registry: Registry[Any]
) -> None:
    random, judge = Random(operation.name), validator(operation, registry)
    for _ in range(JUDGED):
        body = plausible.legal(operation, random.randrange)
        assert not [fault.message for fault in judge.iter_errors(body)], json.dumps(body)


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_what_is_refused_as_illegal_is_illegal_by_the_committed_schema(
    operation: Operation[Any, Any], registry: Registry[Any]
) -> None:
    """But for what is no JSON in UTF-8, or names a member twice, which no schema can tell."""
    random, judge = Random(operation.name), validator(operation, registry)
    judged = 0
    for _ in range(JUDGED):
        sent = hostile.malformed(operation, random.randrange)
        try:
            body = json.loads(sent.decode("utf-8"), object_pairs_hook=_without_repeats)
        except (ValueError, RecursionError):
            continue
        judged += 1
        assert list(judge.iter_errors(body)), sent
    assert judged > JUDGED / 4


def _without_repeats(found: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(dict(found)) != len(found):
        raise ValueError("a member is named twice")
    return dict(found)
