"""The two clients: the same calls, waiting or in an event loop, remote or in this process."""

from collections.abc import AsyncIterator, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from os import PathLike
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TypeVar

from .batches import Batch, RequestProgress, batches, groups, request_reporter
from .calls import InLoop, Waiting
from .errors import ServiceError, SunhitchError
from .exchange import AsyncTransport, Exchange, Transport, VerdictCallback, prepare, read_answer
from .operations import Operations
from .operations.operation import Operation, Plain
from .pictures import as_file, drawn_as
from .progress import ProgressCallback, piece_reporter
from .types.base import Input
from .types.check import Answer

if TYPE_CHECKING:
    from concurrent.futures import Executor

    import httpx

    from .quick import AsyncQuick, Quick

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=Answer)


class Client(Operations, Waiting):
    """Calls a sunhitch service and waits for the answers; threads may share one.

    Parameters
    ----------
    base_url : str
        Address of the service, for example ``http://127.0.0.1:8000``.
    api_key : str or None
        Sent with every call, where the service asks for one; taken from the environment variable
        SUNHITCH_API_KEY if not given.
    timeout : float
        Longest silence of the service within one attempt [s].
    retries : int
        Attempts after the first, on connection faults and on status 429, 502, 503 and 504.
    time_limit : float
        Time for all attempts of a call and the pauses between them [s].
    http_client : httpx.Client or None
        Connections of your own, with proxies or certificates; you close them.

    Raises
    ------
    ValueError
        An address without http:// or https://, or a time that is not positive.

    Examples
    --------
    >>> from sunhitch import Client
    >>> with Client("http://127.0.0.1:8000") as client:  # doctest: +SKIP
    ...     answer = client.shaded_iv(request)
    ...     print(answer.maximum_power_point.power_w)
    """

    def __init__(
        self,
        base_url: str,
        api_key: str | None = None,
        *,
        timeout: float = 60.0,
        retries: int = 4,
        time_limit: float = 180.0,
        http_client: "httpx.Client | None" = None,
    ) -> None:
        from .transport import Address, HttpTransport, RetryLimits

        self._transport: Transport = HttpTransport(
            Address.of(base_url, api_key), RetryLimits(timeout, time_limit, retries), http_client
        )

    @classmethod
    def embedded(cls, executor: "Executor | None" = None) -> Self:
        """A client that runs the engine in this process: same calls, same errors, no service.

        Parameters
        ----------
        executor : concurrent.futures.Executor or None
            Carries out the pieces of long calculations, for example in processes or on a cluster;
            you shut it down.

        Raises
        ------
        ServiceNotInstalledError
            The service extra is not installed.
        """
        from .embedded import EmbeddedTransport

        client = cls.__new__(cls)
        client._transport = EmbeddedTransport(executor)
        return client

    @cached_property
    def quick(self) -> "Quick":
        """Flat questions: ``client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0)``."""
        from .quick import Quick

        return Quick(self._transport)

    def call(
        self,
        operation: Operation[Q, A],
        request: Q | Plain,
        progress: bool | ProgressCallback = False,
    ) -> A:
        """Ask any operation.

        Parameters
        ----------
        operation : Operation
            From `sunhitch.operations`.
        request : Input, mapping or bytes
            Its request, as a contract Struct, as plain data or as JSON.
        progress : bool or callable
            True draws a bar (with tqdm); a function is called with the number of pieces done and
            that of all. Operations without `in_pieces` answer too soon for progress.

        Raises
        ------
        SunhitchError
            There is no answer; `sunhitch.errors` draws the tree.

        Examples
        --------
        >>> answer = client.call(HARVEST, request, print)  # doctest: +SKIP
        """
        exchange = prepare(operation, request)
        if progress is False or not operation.in_pieces:
            body = self._transport.send(exchange)
        else:
            with piece_reporter(progress) as report:
                body = self._transport.send(replace(exchange, on_progress=report))
        return read_answer(operation.name, operation.answer, body, exchange.request_id)

    def draw(
        self,
        operation: Operation[Q, A],
        request: Q | Plain,
        media_type: str = "image/svg+xml",
        view: str = "",
        on_verdict: VerdictCallback | None = None,
    ) -> str:
        """The answer as a picture, a work sheet or a table.

        Parameters
        ----------
        operation : Operation
            From `sunhitch.operations`.
        request : Input, mapping or bytes
            Its request, as a contract Struct, as plain data or as JSON.
        media_type : str
            ``image/svg+xml``, ``text/html`` or ``text/csv``.
        view : str
            Which of several of that type, by its name; the first where none is given.
        on_verdict : callable or None
            Called with the answer's verdict, which not every drawing tells.

        Raises
        ------
        ServiceError
            Status 406: there is no such drawing of this answer; the detail lists what there is.
        """
        exchange = replace(
            prepare(operation, request), drawn_as=media_type, view=view, on_verdict=on_verdict
        )
        return self._transport.send(exchange).decode()

    def save(
        self,
        path: str | PathLike[str],
        operation: Operation[Q, A],
        request: Q | Plain,
        view: str = "",
    ) -> None:
        """Write the answer to a file; its suffix says how: .json, .svg, .png, .html or .csv.

        Parameters
        ----------
        path : str or path
            File to write; one that exists is replaced.
        operation, request, view
            As in `draw`.

        Raises
        ------
        ValueError
            Another suffix.
        ModuleNotFoundError
            A .png was asked for and the extra `pictures`, which makes it, is not installed.
        """
        exchange = replace(prepare(operation, request), drawn_as=drawn_as(path), view=view)
        Path(path).write_bytes(as_file(path, self._transport.send(exchange)))

    def batch(
        self,
        operation: Operation[Q, A],
        requests: Iterable[Q | Plain],
        *,
        progress: bool | RequestProgress = False,
        lines: int = 100,
        at_once: int = 4,
    ) -> Iterator[A | ServiceError]:
        """Ask one operation about many requests; a fault in one does not touch the others.

        Parameters
        ----------
        operation : Operation
            From `sunhitch.operations`.
        requests : iterable of Input, mapping or bytes
            Any number, read as they are needed.
        progress : bool or callable
            True draws a bar (with tqdm); a function is called with the number newly answered.
        lines : int
            Most requests that travel in one call.
        at_once : int
            Most calls under way at a time.

        Yields
        ------
        Answer or ServiceError
            One outcome a request, in the order of the requests.

        Raises
        ------
        SunhitchError
            A call as a whole has no answer.

        Examples
        --------
        >>> for outcome in client.batch(SHADED_IV, requests):  # doctest: +SKIP
        ...     if isinstance(outcome, ServiceError):
        ...         print(outcome.errors)
        """
        from concurrent.futures import ThreadPoolExecutor

        with request_reporter(progress, requests) as report, ThreadPoolExecutor(at_once) as pool:
            for window in groups(batches(operation, requests, lines), at_once):
                for batch, body in zip(window, pool.map(self._answered, window), strict=True):
                    yield from batch.outcomes(body)
                    report(len(batch.refused))

    def _answered(self, batch: Batch[Any]) -> bytes:
        return self._transport.send(batch.exchange) if batch.exchange.body else b""

    def close(self) -> None:
        """Let go of connections."""
        self._transport.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


class AsyncClient(Operations, InLoop):
    """`Client` for event loops (asyncio, trio): every call is a coroutine.

    Parameters
    ----------
    base_url : str
        Address of the service, for example ``http://127.0.0.1:8000``.
    api_key : str or None
        Sent with every call, where the service asks for one; taken from the environment variable
        SUNHITCH_API_KEY if not given.
    timeout : float
        Longest silence of the service within one attempt [s].
    retries : int
        Attempts after the first, on connection faults and on status 429, 502, 503 and 504.
    time_limit : float
        Time for all attempts of a call and the pauses between them [s].
    http_client : httpx.AsyncClient or None
        Connections of your own, with proxies or certificates; you close them.

    Raises
    ------
    ValueError
        An address without http:// or https://, or a time that is not positive.
    """

    def __init__(
        self,
        base_url: str,
        api_key: str | None = None,
        *,
        timeout: float = 60.0,
        retries: int = 4,
        time_limit: float = 180.0,
        http_client: "httpx.AsyncClient | None" = None,
    ) -> None:
        from .transport import Address, AsyncHttpTransport, RetryLimits

        self._transport: AsyncTransport = AsyncHttpTransport(
            Address.of(base_url, api_key), RetryLimits(timeout, time_limit, retries), http_client
        )

    @classmethod
    def embedded(cls, executor: "Executor | None" = None) -> Self:
        """A client that runs the engine in a worker thread of this process.

        Parameters
        ----------
        executor : concurrent.futures.Executor or None
            As in `Client.embedded`.

        Raises
        ------
        ServiceNotInstalledError
            The service extra is not installed.
        """
        from .embedded import AsyncEmbeddedTransport

        client = cls.__new__(cls)
        client._transport = AsyncEmbeddedTransport(executor)
        return client

    @cached_property
    def quick(self) -> "AsyncQuick":
        """Flat questions, awaited; as `Client.quick`."""
        from .quick import AsyncQuick

        return AsyncQuick(self._transport)

    async def call(
        self,
        operation: Operation[Q, A],
        request: Q | Plain,
        progress: bool | ProgressCallback = False,
    ) -> A:
        """Ask any operation; as `Client.call`."""
        exchange = prepare(operation, request)
        if progress is False or not operation.in_pieces:
            body = await self._transport.send(exchange)
        else:
            with piece_reporter(progress) as report:
                body = await self._transport.send(replace(exchange, on_progress=report))
        return read_answer(operation.name, operation.answer, body, exchange.request_id)

    async def draw(
        self,
        operation: Operation[Q, A],
        request: Q | Plain,
        media_type: str = "image/svg+xml",
        view: str = "",
        on_verdict: VerdictCallback | None = None,
    ) -> str:
        """The answer as a picture, a work sheet or a table; as `Client.draw`."""
        exchange = replace(
            prepare(operation, request), drawn_as=media_type, view=view, on_verdict=on_verdict
        )
        return (await self._transport.send(exchange)).decode()

    async def save(
        self,
        path: str | PathLike[str],
        operation: Operation[Q, A],
        request: Q | Plain,
        view: str = "",
    ) -> None:
        """Write the answer to a file; as `Client.save`."""
        exchange = replace(prepare(operation, request), drawn_as=drawn_as(path), view=view)
        Path(path).write_bytes(as_file(path, await self._transport.send(exchange)))

    async def batch(
        self,
        operation: Operation[Q, A],
        requests: Iterable[Q | Plain],
        *,
        progress: bool | RequestProgress = False,
        lines: int = 100,
        at_once: int = 4,
    ) -> AsyncIterator[A | ServiceError]:
        """Ask one operation about many requests; as `Client.batch`, for ``async for``."""
        with request_reporter(progress, requests) as report:
            for window in groups(batches(operation, requests, lines), at_once):
                for batch, body in zip(window, await self._answered(window), strict=True):
                    for outcome in batch.outcomes(body):
                        yield outcome
                    report(len(batch.refused))

    async def _answered(self, window: Sequence[Batch[Any]]) -> list[bytes]:
        from anyio import create_task_group

        bodies = [b""] * len(window)
        faults: list[SunhitchError] = []

        async def ask(index: int, exchange: Exchange) -> None:
            try:
                bodies[index] = await self._transport.send(exchange)
            except SunhitchError as fault:
                faults.append(fault)

        async with create_task_group() as group:
            for index, batch in enumerate(window):
                if batch.exchange.body:
                    group.start_soon(ask, index, batch.exchange)
        if faults:
            raise faults[0]
        return bodies

    async def close(self) -> None:
        """Let go of connections."""
        await self._transport.close()

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self.close()
