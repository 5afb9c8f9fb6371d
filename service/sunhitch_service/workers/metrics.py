"""What workers and their queue show of themselves to Prometheus."""

from functools import cache, partial

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram

_WAITED_S = (0.001, 0.01, 0.1, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0, 300.0, 600.0)


class PoolMetrics:
    """Workers, the queue for them, and what work costs; shown in `registry`."""

    def __init__(self, registry: CollectorRegistry) -> None:
        gauge = partial(Gauge, registry=registry, multiprocess_mode="livesum")
        counter = partial(Counter, registry=registry)
        self.queue = gauge("sunhitch_queue_length", "Pieces of work that wait for a worker.")
        self.workers = gauge("sunhitch_workers", "Workers that are up.")
        self.compiled = gauge("sunhitch_workers_compiled", "Workers that use compiled loops.")
        self.waits = Histogram(
            "sunhitch_queue_wait_seconds",
            "Wait for a worker.",
            buckets=_WAITED_S,
            registry=registry,
        )
        self.deaths = counter("sunhitch_worker_deaths", "Workers that ended by themselves.")
        self.timeouts = counter(
            "sunhitch_timeouts",
            "Work stopped at its time limit; short work begins again.",
            ["kind"],
        )
        spent = counter("sunhitch_processor_seconds", "Processor time of work.", ["kind"])
        self.spent = cache(spent.labels)
