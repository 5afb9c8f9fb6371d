"""The count of calls: each caller has its own, refilled steadily."""

import time
from types import SimpleNamespace
from typing import Any, cast

import pytest

from sunhitch_service.http.access import Rate
from sunhitch_service.http.exchange import neighbourhood
from sunhitch_service.tasks.problems import Kind, ProblemError


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


def test_calls_come_back_one_by_one(clock: Clock) -> None:
    rate = Rate(2)
    assert spend(rate, "shop")["RateLimit"] == '"minute";r=1;t=30'
    clock.now_s += 15.0
    assert spend(rate, "shop")["RateLimit"] == '"minute";r=0;t=45'
    for _ in range(3):
        with pytest.raises(ProblemError) as caught:
            spend(rate, "shop")
        assert caught.value.kind is Kind.RATE_LIMITED
        assert caught.value.headers["Retry-After"] == "15"
    assert spend(rate, "office")["RateLimit"] == '"minute";r=1;t=30'
    clock.now_s += 15.0
    assert spend(rate, "shop")["RateLimit"] == '"minute";r=0;t=60'
    clock.now_s += 61.0
    assert spend(rate, "shop")["RateLimit"] == '"minute";r=1;t=30'


def test_a_subscriber_of_the_sixth_version_has_a_network() -> None:
    assert neighbourhood("2001:db8::1") == neighbourhood("2001:db8::ffff") == "2001:db8::/64"
    assert neighbourhood("2001:db8:0:1::1") != neighbourhood("2001:db8::1")
    assert neighbourhood("192.0.2.7") == "192.0.2.7"
    assert neighbourhood("/run/x.sock") == "/run/x.sock"
