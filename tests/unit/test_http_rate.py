"""The count of calls: a minute for each caller, and no memory of callers of long ago."""

import time
from types import SimpleNamespace
from typing import Any, cast

import pytest

from sunhitch_service.http.access import Rate
from sunhitch_service.http.exchange import neighbourhood
from sunhitch_service.http.problems import Kind, ProblemError


class Clock:
    """A clock that the test sets."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now_s = 1_000_000.0
        monkeypatch.setattr(time, "monotonic", lambda: self.now_s)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    return Clock(monkeypatch)


def spend(rate: Rate, caller: str) -> dict[str, str]:
    """One call; what its answer tells."""
    exchange = SimpleNamespace(payer=caller, headers={})
    rate.spend(cast("Any", exchange))
    return exchange.headers


def test_a_minute_begins_with_the_first_call(clock: Clock) -> None:
    rate = Rate(2)
    assert spend(rate, "shop")["RateLimit"] == '"minute";r=1;t=60'
    clock.now_s += 20.0
    assert spend(rate, "shop")["RateLimit"] == '"minute";r=0;t=40'
    with pytest.raises(ProblemError) as caught:
        spend(rate, "shop")
    assert caught.value.kind is Kind.RATE_LIMITED
    assert caught.value.headers["Retry-After"] == "40"
    assert spend(rate, "office")["RateLimit"] == '"minute";r=1;t=60'
    clock.now_s += 41.0
    assert spend(rate, "shop")["RateLimit"] == '"minute";r=1;t=60'


def test_callers_of_long_ago_are_forgotten(clock: Clock) -> None:
    rate = Rate(1000)
    for number in range(500):
        spend(rate, f"caller {number}")
    clock.now_s += 61.0
    for _ in range(250):
        spend(rate, "shop")
    assert len(rate.minutes) == 1


def test_a_subscriber_of_the_sixth_version_has_a_network() -> None:
    assert neighbourhood("2001:db8::1") == neighbourhood("2001:db8::ffff") == "2001:db8::/64"
    assert neighbourhood("2001:db8:0:1::1") != neighbourhood("2001:db8::1")
    assert neighbourhood("192.0.2.7") == "192.0.2.7"
    assert neighbourhood("/run/x.sock") == "/run/x.sock"
