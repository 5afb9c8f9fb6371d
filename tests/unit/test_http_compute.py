"""Short calculations take turns, so that nothing waits for all that came in together."""

import asyncio
import os
import subprocess
import sys
import time
from functools import partial
from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from loops_switch import solving

from sunhitch_service.engine.pv.accelerate import installed
from sunhitch_service.http.compute import Compute
from sunhitch_service.http.exchange import HttpExchange
from sunhitch_service.http.metrics import Metrics
from sunhitch_service.http.settings import Settings
from sunhitch_service.http.turns import Turns
from sunhitch_service.tasks.problems import Kind, ProblemError
from sunhitch_service.workers import forkserver
from sunhitch_service.workers.fair import Shares
from sunhitch_service.workers.pool import Payer, WorkOrder

_PIECE_S = 0.004
"""Longer than one round of inline work may take."""


def _compute(**chosen: Any) -> Compute:
    return Compute(Settings(pool_workers=0, **chosen), Metrics(), Turns())


def _asked_by(address: str) -> HttpExchange:
    """A request from an address."""

    async def nothing(*_: object) -> Any:
        raise AssertionError

    scope: Any = {"path": "/", "client": (address, 1), "state": {}}
    return HttpExchange(scope, nothing, nothing, Shares(0))


def _order(address: str = "192.0.2.1") -> WorkOrder:
    return WorkOrder(_asked_by(address), "calculation", 30.0)


async def _order_of_events(piece_s: float) -> list[str]:
    compute = _compute()
    order: list[str] = []

    def work(name: str) -> None:
        order.append(name)
        time.sleep(piece_s)

    async def others() -> None:
        for _ in range(40):
            order.append("other")
            await asyncio.sleep(0)

    short = [compute.inline(partial(work, f"short {number}"), _order()) for number in range(5)]
    await asyncio.gather(*short, others())
    return order


def test_between_two_short_calculations_others_have_their_turn() -> None:
    order = asyncio.run(_order_of_events(_PIECE_S))
    assert [one for one in order if one != "other"] == [f"short {number}" for number in range(5)]
    places = [place for place, one in enumerate(order) if one != "other"]
    assert all(second - first > 1 for first, second in pairwise(places))


def test_calculations_that_are_over_at_once_do_not_wait_for_each_other(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("sunhitch_service.http.turns._ROUND_S", 10.0)
    order = asyncio.run(_order_of_events(0.0))
    assert order[:6] == [*(f"short {number}" for number in range(5)), "other"]


def test_requests_that_come_together_begin_a_few_at_a_time() -> None:
    begun: list[int] = []

    async def begin(turns: Turns, number: int) -> None:
        await turns.wait()
        begun.append(number)
        time.sleep(0.0001)

    async def counted() -> list[int]:
        turns, counts = Turns(), [0]
        together = [asyncio.create_task(begin(turns, number)) for number in range(50)]
        while len(begun) < len(together):
            await asyncio.sleep(0)
            counts.append(len(begun))
        await begin(turns, 50)
        return counts

    counts = asyncio.run(counted())
    assert begun == list(range(51))
    assert max(after - before for before, after in pairwise(counts)) <= 4


@pytest.mark.parametrize("wanted", [True, False])
def test_loops_are_compiled_if_wanted(wanted: bool) -> None:
    async def served() -> str:
        async with _compute(compiled=wanted).running() as compute:
            while compute.loops == "compiling":
                await asyncio.sleep(0.01)
            return compute.loops

    with solving(compiled=False):
        assert asyncio.run(served()) == ("compiled" if wanted and installed() else "none")


_SHOW_THREE_TIMES = """
from sunhitch_service.http.compute import Compute
from sunhitch_service.http.exchange import HttpExchange
from sunhitch_service.http.metrics import Metrics
from sunhitch_service.http.settings import Settings
from sunhitch_service.http.turns import Turns
from sunhitch_service.workers.fair import Shares

metrics = Metrics()
compute = Compute(Settings(pool_workers=0), metrics, Turns())
scope = {"path": "/", "client": ("192.0.2.1", 1), "state": {}}
exchange = HttpExchange(scope, None, None, Shares(0))

def show():
    lines = metrics.exposition().decode().splitlines()
    print(*[line for line in lines if line.startswith("sunhitch_calculations_in_flight ")])

compute.take_place(exchange)
show()
other = HttpExchange(scope | {"client": ("192.0.2.2", 1)}, None, None, Shares(0))
compute.take_place(other)
show()
exchange.end()
other.end()
show()
"""


@pytest.mark.parametrize("several", [False, True])
def test_the_metrics_show_what_is_under_way(tmp_path: Path, several: bool) -> None:
    environment = os.environ | ({"PROMETHEUS_MULTIPROC_DIR": str(tmp_path)} if several else {})
    command = [sys.executable, "-c", _SHOW_THREE_TIMES]
    run = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    assert [line.split()[-1] for line in run.stdout.splitlines()] == ["1.0", "2.0", "0.0"]


def test_what_workers_share_is_there() -> None:
    """A name that is none would be passed over, and each worker load it again."""
    ours = [name for name in forkserver._LOADED if name.startswith("sunhitch")]
    assert len(ours) > 1
    assert all(find_spec(name) for name in ours)


def test_nobody_takes_all_places() -> None:
    compute = _compute(max_in_flight=8)
    greedy = [_asked_by("192.0.2.1") for _ in range(8)]
    with pytest.raises(ProblemError) as refused:
        for one in greedy:
            compute.take_place(one)
    compute.require_place(_asked_by("192.0.2.2"))
    for one in greedy:
        one.end()
    assert refused.value.kind is Kind.OVERLOADED
    assert "6 of them yours" in refused.value.detail
    compute.require_place(_asked_by("192.0.2.1"))


def test_what_work_costs_is_told_and_taken_from_the_budget() -> None:
    async def until_refused() -> tuple[Payer, int]:
        compute = _compute(processor_seconds_per_minute=0.1)
        order = _order()
        for calls in range(100):
            try:
                await compute.inline(partial(time.sleep, 0.02), order)
            except ProblemError as refusal:
                assert refusal.kind is Kind.RATE_LIMITED
                assert 1 <= int(refusal.headers["Retry-After"]) <= 60
                await compute.inline(partial(time.sleep, 0.0), _order("192.0.2.2"))
                return order.account, calls
        raise AssertionError

    payer, calls = asyncio.run(until_refused())
    assert payer.cost_ms > 100.0
    assert 1 <= calls <= 6
