"""Prometheus metrics, counted where every request passes and where work is handed out."""

import asyncio
import os
import time
from functools import cache, partial

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    ProcessCollector,
    generate_latest,
)
from prometheus_client.multiprocess import MultiProcessCollector

from sunhitch_service.workers.metrics import PoolMetrics

CONTENT_TYPE = "text/plain; version=0.0.4"

_ANSWERED_S = (
    *(0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0),
    *(60.0, 120.0, 300.0, 600.0),
)
_LATE_S = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0)
_WATCHED_EVERY_S = 0.01
_METHODS = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})


class Metrics:
    """What one serving process shows of itself: requests, event loop, workers and their queue.

    With several serving processes, `PROMETHEUS_MULTIPROC_DIR` names a folder through which they
    add up.
    """

    def __init__(self) -> None:
        self._registry = registry = CollectorRegistry()
        ProcessCollector(registry=registry)
        gauge = partial(Gauge, registry=registry, multiprocess_mode="livesum")
        counter = partial(Counter, registry=registry)
        histogram = partial(Histogram, registry=registry)
        requests = counter(
            "sunhitch_http_requests", "Requests answered.", ("method", "path", "status")
        )
        seconds = histogram(
            "sunhitch_http_request_seconds",
            "Time to answer a request.",
            ("path",),
            buckets=_ANSWERED_S,
        )
        # Looking a counter up among the labels costs more than counting.
        self._requests, self._seconds = cache(requests.labels), cache(seconds.labels)
        self._late = histogram(
            "sunhitch_loop_held_seconds",
            "By how much the event loop is late, looked at a hundred times a second.",
            buckets=_LATE_S,
        )
        self._longest = gauge(
            "sunhitch_loop_held_longest_seconds",
            "Longest time for which the event loop was held since the start.",
            multiprocess_mode="livemax",
        )
        self.cache_hits = counter("sunhitch_cache_hits", "Answers that were kept from before.")
        self.in_flight = gauge("sunhitch_calculations_in_flight", "Calculations under way.")
        self.pool = PoolMetrics(registry)

    def count(self, method: str, path: str, status: int, seconds: float) -> None:
        """Count one answered request."""
        self._requests(method if method in _METHODS else "other", path, status).inc()
        self._seconds(path).observe(seconds)

    async def watch(self) -> None:
        """Look how late the event loop is, until cancelled."""
        longest_s = 0.0
        while True:
            before_s = time.perf_counter()
            await asyncio.sleep(_WATCHED_EVERY_S)
            late_s = max(0.0, time.perf_counter() - before_s - _WATCHED_EVERY_S)
            self._late.observe(late_s)
            if late_s > longest_s:
                longest_s = late_s
                self._longest.set(late_s)

    def exposition(self) -> bytes:
        """All metrics in Prometheus' text format."""
        if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
            return generate_latest(self._registry)
        together = CollectorRegistry()
        MultiProcessCollector(together)  # type: ignore[no-untyped-call]
        return generate_latest(together)
