"""Short calculations take turns, so that nothing waits for all that came in together."""

import asyncio
import time
from itertools import pairwise

from prometheus_client import CollectorRegistry, Gauge

from sunhitch_service.http.compute import Compute
from sunhitch_service.http.settings import Settings

_PIECE_S = 0.004
"""Longer than one round of inline work may take."""


async def _order_of_events(piece_s: float) -> list[str]:
    gauge = Gauge("under_way", "Calculations under way.", registry=CollectorRegistry())
    compute = Compute(Settings(pool_workers=0), gauge)
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
