"""Estimates of computing time grow as fast as the work does, counted in calls of functions."""

import copy
import json
import random
import sys
from typing import Any

import plausible
import pytest
import search_estimates

from sunhitch.codec import MalformedBody, decode_strict
from sunhitch_service.engine.errors import ContradictionError

Request = dict[str, Any]
MOST = search_estimates.MOST
SAMPLES, ATTEMPTS = 4, 60
"""Larger requests of each calculation; `search_estimates` itself looks for worse by the clock."""
QUICK = ("array-configuration", "commissioning-check", "mount-check", "shaded-iv", "wire-sizing")
"""Those of which a sample takes no minutes."""


def calls_of(name: str, body: Request) -> int | None:
    """Functions called for a request; None if it is refused."""
    record = search_estimates.RECORDS[name]
    counted = 0

    def count(_frame: object, event: str, _arg: object) -> None:
        nonlocal counted
        counted += event in ("call", "c_call")

    try:
        request = decode_strict(json.dumps(body).encode(), record.operation.request)
        record.calculate(request)  # so that nothing is counted that is done once
        sys.setprofile(count)
        record.calculate(request)
    except (MalformedBody, ContradictionError):
        return None
    finally:
        sys.setprofile(None)
    return counted


def larger(name: str, dice: random.Random) -> Request:
    body = copy.deepcopy(plausible.light_example(plausible.operation_named(name)))
    for _ in range(2):
        dice.choice(search_estimates.CHANGES)(body, name, dice)
    return body


@pytest.mark.parametrize("name", QUICK)
def test_estimates_keep_up_with_the_calls_that_a_larger_request_makes(name: str) -> None:
    base = plausible.light_example(plausible.operation_named(name))
    base_calls, base_ms = calls_of(name, base), search_estimates.expected_ms(name, base)
    assert base_calls is not None
    assert base_ms is not None
    dice, found = random.Random(4), 0
    for _ in range(ATTEMPTS):
        body = larger(name, dice)
        expected = search_estimates.expected_ms(name, body)
        if found == SAMPLES or expected is None or expected > 300.0:
            continue
        calls = calls_of(name, body)
        if calls is not None:
            found += 1
            assert calls / base_calls <= MOST * max(1.0, expected / base_ms), body
    assert found


def test_many_shadows_at_one_moment_are_not_estimated() -> None:
    body = plausible.example(plausible.operation_named("shaded-iv"))
    few = search_estimates.expected_ms("shaded-iv", body)
    assert few is not None
    body["shade"] = body["shade"] * 40
    assert search_estimates.expected_ms("shaded-iv", body) is None
