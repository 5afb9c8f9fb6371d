"""A Dask cluster that carries out the pieces of long calculations, where one is configured."""

import asyncio
import logging
from collections.abc import AsyncGenerator, Callable
from concurrent.futures import Executor
from contextlib import asynccontextmanager
from typing import Any

from sunhitch_service.tasks.problems import Kind, ProblemError
from sunhitch_service.workers.pool import WorkOrder
from sunhitch_service.workers.process import R

from .compute import Compute
from .settings import Settings, SettingsError, variable

_CONNECT_S = 10.0
_LOG = logging.getLogger(__name__)


class Crew:
    """Who carries out the pieces of long calculations: the pool, or a cluster.

    Parameters
    ----------
    compute : Compute
        The pool.
    settings : Settings
        With the scheduler's address.

    Attributes
    ----------
    width : int
        How many pieces are worth having under way.
    """

    def __init__(self, compute: Compute, settings: Settings) -> None:
        self.compute = compute
        self.width = max(1, compute.width)
        self._address = settings.scheduler_address
        self._executor: Executor | None = None

    @asynccontextmanager
    async def connected(self) -> AsyncGenerator[None]:
        """Keep the scheduler at hand, if there is to be one; owned by the application's lifespan.

        Raises
        ------
        SettingsError
            It is not there, or what talks to it is not installed.
        """
        if not self._address:
            yield
            return
        client = await asyncio.to_thread(_client_of, self._address)
        self._executor = client.get_executor()
        self.width = max(self.width, sum(client.ncores().values()))
        try:
            yield
        finally:
            self._executor = None
            await asyncio.to_thread(client.close)

    async def run(self, work: Callable[[], R], order: WorkOrder) -> R:
        """Carry out one piece, as `Compute.in_pool`; the pool does what the cluster loses."""
        if self._executor is not None:
            try:
                async with asyncio.timeout(order.limit_s):
                    return await asyncio.wrap_future(self._executor.submit(work))
            except TimeoutError:
                limit = f"A piece did not finish within {order.limit_s:g} s."
                raise ProblemError(Kind.TIMED_OUT, limit) from None
            except Exception as error:  # noqa: BLE001 - whatever a cluster may die of
                _LOG.warning("the cluster failed, the pool takes over: %r", error)
        return await self.compute.in_pool(work, order)


def _client_of(address: str) -> Any:  # noqa: ANN401 - distributed has no annotations
    name = variable("scheduler_address")
    try:
        from distributed import Client
    except ModuleNotFoundError as missing:
        raise SettingsError(
            f"{name} needs {missing.name}; run pip install 'sunhitch[cluster]'"
        ) from missing
    try:
        return Client(address, timeout=_CONNECT_S, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as fault:
        raise SettingsError(f"{name}: no scheduler at {address}: {fault}") from fault
