"""Prometheus metrics, counted where every request passes."""

import asyncio
import os
import time

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    ProcessCollector,
    generate_latest,
)
from prometheus_client.multiprocess import MultiProcessCollector

from .work import WorkMetrics

CONTENT_TYPE = "text/plain; version=0.0.4"

_BUCKETS = (
    *(0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0),
    *(60.0, 120.0, 300.0, 600.0),
)


_LATENESS = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0)
_WATCHED_EVERY_S = 0.01


def several_add_up() -> bool:
    """Whether several serving processes add up, by files that each keeps up to date."""
    return "PROMETHEUS_MULTIPROC_DIR" in os.environ


class Metrics:
    """Counters of one serving process.

    With several serving processes, `PROMETHEUS_MULTIPROC_DIR` names a folder through which they
    add up.

    Attributes
    ----------
    work : WorkMetrics
        Workers and queue.
    cache_hits : Counter
        Answers that were kept from before.
    """

    def __init__(self) -> None:
        self._registry = CollectorRegistry()
        ProcessCollector(registry=self._registry)
        self._requests = Counter(
            "sunhitch_http_requests",
            "Requests answered.",
            ("method", "path", "status"),
            registry=self._registry,
        )
        self._seconds = Histogram(
            "sunhitch_http_request_seconds",
            "Time to answer a request.",
            ("path",),
            registry=self._registry,
            buckets=_BUCKETS,
        )
        self.work = WorkMetrics(self._registry)
        self.cache_hits = Counter(
            "sunhitch_cache_hits", "Answers that were kept from before.", registry=self._registry
        )
        self._lateness = Histogram(
            "sunhitch_loop_held_seconds",
            "By how much the event loop is late, looked at a hundred times a second.",
            registry=self._registry,
            buckets=_LATENESS,
        )
        self._longest = Gauge(
            "sunhitch_loop_held_longest_seconds",
            "Longest time for which the event loop was held since the start.",
            registry=self._registry,
            multiprocess_mode="livemax",
        )
        self._counters: dict[tuple[str, str, int], Counter] = {}
        self._timers: dict[str, Histogram] = {}

    def count(self, method: str, path: str, status: int, seconds: float) -> None:
        """Count one answered request."""
        self._counter((method, path, status)).inc()
        self._timer(path).observe(seconds)

    def _counter(self, labels: tuple[str, str, int]) -> Counter:
        """Looking a counter up among the labels costs more than counting."""
        found = self._counters.get(labels)
        if found is None:
            method, path, status = labels
            if method not in _METHODS:
                return self._requests.labels("other", path, str(status))
            found = self._counters[labels] = self._requests.labels(method, path, str(status))
        return found

    def _timer(self, path: str) -> Histogram:
        found = self._timers.get(path)
        if found is None:
            found = self._timers[path] = self._seconds.labels(path)
        return found

    async def watch(self) -> None:
        """Look how late the event loop is, until cancelled."""
        longest_s = 0.0
        while True:
            before_s = time.perf_counter()
            await asyncio.sleep(_WATCHED_EVERY_S)
            late_s = max(0.0, time.perf_counter() - before_s - _WATCHED_EVERY_S)
            self._lateness.observe(late_s)
            if late_s > longest_s:
                longest_s = late_s
                self._longest.set(late_s)

    def exposition(self) -> bytes:
        """All metrics in Prometheus' text format."""
        if not several_add_up():
            return generate_latest(self._registry)
        together = CollectorRegistry()
        MultiProcessCollector(together)  # type: ignore[no-untyped-call]
        return generate_latest(together)


_METHODS = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})
