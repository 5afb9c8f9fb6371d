"""Work on behalf of a caller: who pays, what it may cost, and what is seen of it."""

from dataclasses import dataclass
from typing import Any

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram

from sunhitch_service.calculations.calculation import ComputingTime

from .exchange import HttpExchange
from .problems import TOO_MUCH_WORK, ProblemError

_WAITS_S = (0.001, 0.01, 0.1, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0, 300.0, 600.0)


@dataclass(frozen=True, slots=True)
class WorkOrder:
    """One piece of work for a worker.

    Parameters
    ----------
    exchange : HttpExchange
        The request that it is part of.
    kind : str
        For the metrics: calculation, question, batch or study.
    limit_s : float
        Longest time in a worker [s].
    expected_s : float
        Expected cost [s of a processor]; 0 where it cannot be told.
    """

    exchange: HttpExchange
    kind: str
    limit_s: float
    expected_s: float = 0.0


class WorkMetrics:
    """What is seen of workers and queue.

    Parameters
    ----------
    registry : CollectorRegistry
        Where they are shown.
    """

    def __init__(self, registry: CollectorRegistry) -> None:
        def gauge(name: str, told: str) -> Gauge:
            return Gauge(name, told, registry=registry, multiprocess_mode="livesum")

        def counter(name: str, told: str, *labels: str) -> Counter:
            return Counter(name, told, labels, registry=registry)

        self.in_flight = gauge("sunhitch_calculations_in_flight", "Calculations under way.")
        self.queue = gauge("sunhitch_queue_length", "Pieces of work that wait for a worker.")
        self.workers = gauge("sunhitch_workers", "Workers that are up.")
        self.compiled = gauge("sunhitch_workers_compiled", "Workers that use compiled loops.")
        self.waits = Histogram(
            "sunhitch_queue_wait_seconds",
            "Wait for a worker.",
            registry=registry,
            buckets=_WAITS_S,
        )
        self.deaths = counter("sunhitch_worker_deaths", "Workers that ended by themselves.")
        self.timeouts = counter(
            "sunhitch_timeouts", "Work stopped at its time limit; short work begins again.", "kind"
        )
        self.spent = counter("sunhitch_processor_seconds", "Processor time of work.", "kind")


def require_affordable(time: ComputingTime, request: Any, limit_s: float) -> float | None:  # noqa: ANN401
    """Refuse work that would not end within the time limit, as far as that can be told.

    Returns
    -------
    float or None
        Expected time [ms].

    Raises
    ------
    ProblemError
        `TOO_MUCH_WORK`.
    """
    expected_ms = time.expected_ms(request)
    if expected_ms is not None and expected_ms > limit_s * 1000.0:
        detail = (
            f"About {expected_ms / 1000.0:.0f} s of computing, above the limit of "
            f"{limit_s:g} s. {time.advice}"
        )
        raise ProblemError(TOO_MUCH_WORK, detail)
    return expected_ms
