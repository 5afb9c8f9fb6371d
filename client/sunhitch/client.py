"""The two clients: the same calls, waiting or in an event loop, remote or in this process."""

from collections.abc import AsyncIterator, Iterable, Iterator, Mapping, Sequence
from copy import copy
from functools import cached_property
from types import TracebackType
from typing import TYPE_CHECKING, Any, Generic, Self, TypeVar

from .batches import Batch, RequestProgress, batches, groups, request_reporter
from .calls import InLoop, Waiting
from .documents import read_documented
from .errors import ServiceError, SunhitchError
from .exchange import (
    AsyncTransport,
    AwaitedTransport,
    CallOptions,
    Exchange,
    RawAnswer,
    Transport,
    asking,
    prepare,
)
from .operations import Operations
from .operations.operation import A, Operation, Plain, Q
from .progress import ProgressCallback
from .types.check import Checks

if TYPE_CHECKING:
    from concurrent.futures import Executor

    import httpx

    from .quick import AsyncQuick, Quick

T = TypeVar("T", Transport, AsyncTransport)
H = TypeVar("H", bound="httpx.Client | httpx.AsyncClient")
_NOTHING = RawAnswer(b"", "")


class SharedCalls(Operations, Generic[T, H]):
    """What both clients have.

    Parameters
    ----------
    base_url : str or None
        Address of the service, for example ``http://127.0.0.1:8000``; taken from the environment
        variable SUNHITCH_URL if not given.
    api_key : str or None
        Sent with every call, where the service asks for one; taken from the environment variable
        SUNHITCH_API_KEY if not given.
    timeout : float
        Longest silence of the service within one attempt [s].
    retries : int
        Attempts after the first, on connection faults and on status 429, 502, 503 and 504.
    time_limit : float
        Time for all attempts of a call and the pauses between them [s].
    http_client : httpx.Client, httpx.AsyncClient or None
        Connections of your own, with proxies or certificates; you close them.

    Raises
    ------
    ValueError
        An address without http:// or https://, or a time that is not positive.
    """

    _transport: T
    _options: CallOptions

    def __init__(
        self,
        base_url: str | None = None,
        api_key: str | None = None,
        *,
        timeout: float = 60.0,
        retries: int = 4,
        time_limit: float = 180.0,
        http_client: H | None = None,
    ) -> None:
        self._options = CallOptions(timeout, time_limit, retries)
        self._transport = self._remote(base_url, api_key, http_client)

    @staticmethod
    def _remote(base_url: str | None, api_key: str | None, http_client: H | None) -> T:
        raise NotImplementedError

    @property
    def transport(self) -> T:
        """What carries the calls; `sunhitch.testing` records its answers."""
        return self._transport

    @classmethod
    def over(cls, transport: T) -> Self:
        """A client of any transport, such as those of `sunhitch.testing`.

        Parameters
        ----------
        transport : Transport or AsyncTransport
            Carries the calls.
        """
        client = cls.__new__(cls)
        client._options = CallOptions()
        client._transport = transport
        return client

    def with_options(
        self,
        *,
        timeout: float | None = None,
        retries: int | None = None,
        time_limit: float | None = None,
        headers: Mapping[str, str] | None = None,
        checked: bool | None = None,
        texts: bool | None = None,
    ) -> Self:
        """A client on the same connections that asks in another way; this one stays as it is.

        Parameters
        ----------
        timeout, retries, time_limit : float, int or None
            As of the client. The engine in this process takes the time that it needs.
        headers : mapping or None
            Sent with every call, beside those of the contract.
        checked : bool or None
            False sends plain data and JSON as they are, also fields that a newer service knows and
            this version does not. What is wrong with them, the service tells.
        texts : bool or None
            True has answers tell in `texts` the code and the parameters of their texts.

        Raises
        ------
        ValueError
            A time that is not positive.

        Examples
        --------
        >>> hurried = client.with_options(time_limit=5.0, headers={"X-Job": "7"})  # doctest: +SKIP
        """
        twin = copy(self)
        twin.__dict__.pop("quick", None)
        twin._options = self._options.changed(
            timeout_s=timeout,
            retries=retries,
            time_limit_s=time_limit,
            headers=headers,
            checked=checked,
            texts=texts,
        )
        return twin


class Client(SharedCalls[Transport, "httpx.Client"], Waiting):
    """Calls a sunhitch service and waits for the answers; threads may share one.

    Parameters are those of `SharedCalls`.

    Examples
    --------
    >>> from sunhitch import Client
    >>> with Client("http://127.0.0.1:8000") as client:  # doctest: +SKIP
    ...     answer = client.shaded_iv(request)
    ...     print(answer.maximum_power_point.power_w)
    """

    @staticmethod
    def _remote(
        base_url: str | None, api_key: str | None, http_client: "httpx.Client | None"
    ) -> Transport:
        from .transport import Address, HttpTransport

        return HttpTransport(Address.of(base_url, api_key), http_client)

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

        return cls.over(EmbeddedTransport(executor))

    @cached_property
    def quick(self) -> "Quick":
        """Flat questions: ``client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0)``."""
        from .quick import Quick

        return Quick(self._transport, self._options)

    def call(
        self,
        operation: Operation[Q, A],
        request: Q | Plain,
        progress: bool | ProgressCallback = False,
        views: Iterable[str] = (),
        checks: Checks = "all",
    ) -> A:
        """Ask any operation.

        Parameters
        ----------
        operation : Operation
            From `sunhitch.operations`; its `part` asks for less.
        request : Input, mapping or bytes
            Its request, as a contract Struct, as plain data or as JSON.
        progress : bool or callable
            True draws a bar (with tqdm); a function is called with the number of pieces done and
            that of all. Operations without `in_pieces` answer too soon for progress; answers with
            documents, or of which only parts are asked for, are not followed.
        views : iterable of str
            Documents that a service sends along, by name, from the one computation; see
            `sunhitch.types.documented.Documented`.
        checks : {'all', 'open', 'counts'}
            Which checks are told: ``"open"`` those that do not pass, ``"counts"`` none.

        Raises
        ------
        SunhitchError
            There is no answer; `sunhitch.errors` draws the tree.

        Examples
        --------
        >>> answer = client.call(FIT_OUT, request, views=["work-sheet"])  # doctest: +SKIP
        >>> answer.save("sheet.html")  # doctest: +SKIP
        """
        with asking(operation, request, progress, views, checks, self._options) as exchange:
            return read_documented(exchange, operation.answer, self._transport.send(exchange))

    def raw(self, operation: Operation[Q, A], request: Q | Plain) -> RawAnswer:
        """What comes back as it came: JSON in UTF-8 with fields that this version does not know.

        Parameters
        ----------
        operation, request : Operation, Input, mapping or bytes
            As of `call`; with ``with_options(checked=False)`` plain data goes out as it is, too.

        Examples
        --------
        >>> json.loads(client.raw(FIT_OUT, request).body)  # doctest: +SKIP
        """
        return self._transport.send(prepare(operation, request, self._options))

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

        cut = batches(operation, requests, lines, self._options)
        with request_reporter(progress, requests) as report, ThreadPoolExecutor(at_once) as pool:
            for window in groups(cut, at_once):
                for batch, reply in zip(window, pool.map(self._answered, window), strict=True):
                    yield from batch.outcomes(reply)
                    report(len(batch.asked))

    def _answered(self, batch: Batch[Any]) -> RawAnswer:
        return self._transport.send(batch.exchange) if batch.exchange.body else _NOTHING

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


class AsyncClient(SharedCalls[AsyncTransport, "httpx.AsyncClient"], InLoop):
    """`Client` for event loops (asyncio, trio): every call is a coroutine."""

    @staticmethod
    def _remote(
        base_url: str | None, api_key: str | None, http_client: "httpx.AsyncClient | None"
    ) -> AsyncTransport:
        from .transport import Address, AsyncHttpTransport

        return AsyncHttpTransport(Address.of(base_url, api_key), http_client)

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
        from .embedded import EmbeddedTransport

        return cls.over(AwaitedTransport(EmbeddedTransport(executor)))

    @cached_property
    def quick(self) -> "AsyncQuick":
        """Flat questions, awaited; as `Client.quick`."""
        from .quick import AsyncQuick

        return AsyncQuick(self._transport, self._options)

    async def call(
        self,
        operation: Operation[Q, A],
        request: Q | Plain,
        progress: bool | ProgressCallback = False,
        views: Iterable[str] = (),
        checks: Checks = "all",
    ) -> A:
        """Ask any operation; as `Client.call`."""
        with asking(operation, request, progress, views, checks, self._options) as exchange:
            reply = await self._transport.send(exchange)
            return read_documented(exchange, operation.answer, reply)

    async def raw(self, operation: Operation[Q, A], request: Q | Plain) -> RawAnswer:
        """What comes back as it came; as `Client.raw`."""
        return await self._transport.send(prepare(operation, request, self._options))

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
        cut = batches(operation, requests, lines, self._options)
        with request_reporter(progress, requests) as report:
            for window in groups(cut, at_once):
                for batch, reply in zip(window, await self._answered(window), strict=True):
                    for outcome in batch.outcomes(reply):
                        yield outcome
                    report(len(batch.asked))

    async def _answered(self, window: Sequence[Batch[Any]]) -> list[RawAnswer]:
        from anyio import create_task_group

        replies = [_NOTHING] * len(window)
        faults: list[SunhitchError] = []

        async def ask(index: int, exchange: Exchange) -> None:
            try:
                replies[index] = await self._transport.send(exchange)
            except SunhitchError as fault:
                faults.append(fault)

        async with create_task_group() as group:
            for index, batch in enumerate(window):
                if batch.exchange.body:
                    group.start_soon(ask, index, batch.exchange)
        if faults:
            raise faults[0]
        return replies

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
