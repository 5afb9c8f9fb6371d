"""Short calculations take turns, so that nothing waits for all that came in together."""

import asyncio
import os
import subprocess
import sys
import time
from itertools import pairwise
from pathlib import Path

import pytest
from loops_switch import solving
from prometheus_client import CollectorRegistry, Gauge

from sunhitch_service.engine.pv.accelerate import installed, loops
from sunhitch_service.http.compute import Compute
from sunhitch_service.http.settings import Settings

_PIECE_S = 0.004
"""Longer than one round of inline work may take."""


def _compute(**chosen: bool) -> Compute:
    gauge = Gauge("under_way", "Calculations under way.", registry=CollectorRegistry())
    return Compute(Settings(pool_workers=0, **chosen), gauge)


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

    short = [compute.inline(work, f"short {number}") for number in range(5)]
    await asyncio.gather(*short, others())
    return order


def test_between_two_short_calculations_others_have_their_turn() -> None:
    order = asyncio.run(_order_of_events(_PIECE_S))
    assert [one for one in order if one != "other"] == [f"short {number}" for number in range(5)]
    places = [place for place, one in enumerate(order) if one != "other"]
    assert all(second - first > 1 for first, second in pairwise(places))


def test_calculations_that_are_over_at_once_do_not_wait_for_each_other() -> None:
    order = asyncio.run(_order_of_events(0.0))
    assert order[:6] == [*(f"short {number}" for number in range(5)), "other"]


@pytest.mark.parametrize("wanted", [True, False])
def test_loops_are_compiled_if_wanted(wanted: bool) -> None:
    async def served() -> bool:
        async with _compute(compiled=wanted).running():
            return loops() is not None

    with solving(compiled=False):
        assert asyncio.run(served()) == (wanted and installed())


_SHOW_THREE_TIMES = """
from sunhitch_service.http.compute import Compute
from sunhitch_service.http.metrics import Metrics
from sunhitch_service.http.settings import Settings

metrics = Metrics()
compute = Compute(Settings(pool_workers=0), metrics.in_flight)

def show():
    lines = metrics.exposition().decode().splitlines()
    print(*[line for line in lines if line.startswith("sunhitch_calculations_in_flight ")])

with compute.place():
    show()
    with compute.place():
        show()
show()
"""


@pytest.mark.parametrize("several", [False, True])
def test_the_metrics_show_what_is_under_way(tmp_path: Path, several: bool) -> None:
    environment = os.environ | ({"PROMETHEUS_MULTIPROC_DIR": str(tmp_path)} if several else {})
    command = [sys.executable, "-c", _SHOW_THREE_TIMES]
    run = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    assert [line.split()[-1] for line in run.stdout.splitlines()] == ["1.0", "2.0", "0.0"]
