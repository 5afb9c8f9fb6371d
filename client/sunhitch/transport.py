"""Carries calls over HTTP: sends, retries, and maps every fault to the error tree.

Every call is a pure computation, so sending it again is safe. The retry loop is our own: it is
short, honours Retry-After within a total time limit, and is the same for both kinds of client; a
library would be a third dependency for thirty lines.
"""

import email.utils
import logging
import os
import platform
import random
import ssl
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cache
from http import HTTPStatus
from time import monotonic, sleep

import httpx
from anyio import sleep as async_sleep

from ._version import __version__
from .documents import parts_of
from .errors import (
    ConnectionFailedError,
    ServiceError,
    SunhitchError,
    TimeLimitError,
    TryLaterError,
    UnexpectedAnswerError,
    service_error,
)
from .exchange import MULTIPART, Call, CallOptions, Draw, Exchange, RawAnswer
from .problems import read_problem
from .progress import ProgressReader
from .types.problem import Problem

KEY_VARIABLE = "SUNHITCH_API_KEY"
"""Environment variable of the API key."""

URL_VARIABLE = "SUNHITCH_URL"
"""Environment variable of the address of a service."""

_LOG = logging.getLogger("sunhitch")
_CONNECT_S = 10.0
_FIRST_PAUSE_S = 0.2
_LONGEST_BACKOFF_S = 10.0
_EXCERPT = 200
_TOOK_TOO_LONG = "urn:sunhitch:problem:timed-out"


def _now_s() -> float:
    return monotonic()


@cache
def _tls() -> ssl.SSLContext:
    """Trusted certificates, which take longer to load than all the rest of a client."""
    return httpx.create_ssl_context()


@dataclass(slots=True)
class Attempts:
    """The attempts of one call so far."""

    options: CallOptions
    started_s: float = field(default_factory=_now_s)
    made: int = 0

    @property
    def left_s(self) -> float:
        """Seconds left for the whole call."""
        return self.options.time_limit_s - (monotonic() - self.started_s)

    @property
    def timeout(self) -> httpx.Timeout:
        """Time limits of the next attempt."""
        longest_s = max(0.01, min(self.options.timeout_s, self.left_s))
        return httpx.Timeout(longest_s, connect=min(_CONNECT_S, longest_s))

    def pause_after(self, fault: SunhitchError) -> float:
        """Seconds to wait before trying again.

        Parameters
        ----------
        fault : SunhitchError
            How the last attempt ended.

        Raises
        ------
        SunhitchError
            `fault` itself, where trying again is useless or would take too long.
        """
        self.made += 1
        fault.attempts = self.made
        asked_s = fault.retry_after_s if isinstance(fault, ServiceError) else None
        pause_s = max(_backoff_s(self.made), asked_s or 0.0)
        if not _may_pass(fault) or self.made > self.options.retries or pause_s >= self.left_s:
            raise fault
        _LOG.warning("%s Asking again in %.1f s.", fault, pause_s)
        return pause_s


def _may_pass(fault: SunhitchError) -> bool:
    """Whether the same call may work a little later; one that took too long would again."""
    if isinstance(fault, TryLaterError):
        return fault.problem.type != _TOOK_TOO_LONG
    return isinstance(fault, ConnectionFailedError)


def _backoff_s(made: int) -> float:
    longest_s = min(_LONGEST_BACKOFF_S, _FIRST_PAUSE_S * 2.0 ** (made - 1))
    return longest_s * random.uniform(0.5, 1.0)  # noqa: S311  # spreads callers, hides nothing


@dataclass(frozen=True, slots=True)
class Address:
    """Where the service is, and who asks.

    Parameters
    ----------
    base_url : str
        ``https://…``, with or without a path in front of ``/v1``.
    api_key : str or None
        Sent with every call.
    """

    base_url: str
    api_key: str | None = field(repr=False)

    def __post_init__(self) -> None:
        if not self.base_url.startswith(("http://", "https://")):
            raise ValueError(
                f"Give an address that begins with http:// or https://, here or in {URL_VARIABLE}, "
                f"not {self.base_url!r}"
            )

    @classmethod
    def of(cls, base_url: str | None, api_key: str | None) -> "Address":
        """The address and the key that are given or stand in the environment."""
        at = base_url if base_url is not None else os.environ.get(URL_VARIABLE, "")
        return cls(at, api_key or os.environ.get(KEY_VARIABLE) or None)

    def url(self, exchange: Call) -> str:
        """Where a call goes."""
        return self.base_url.rstrip("/") + exchange.path

    def headers(self, exchange: Call) -> dict[str, str]:
        """Headers of a call."""
        key = {} if self.api_key is None else {"X-Api-Key": self.api_key}
        body = {"Content-Type": exchange.media_type} if exchange.body else {}
        own = {name.title(): value for name, value in exchange.options.headers.items()}
        return {
            **own,
            **body,
            "Accept": exchange.accept,
            "User-Agent": f"sunhitch/{__version__} python/{platform.python_version()}",
            "X-Request-Id": exchange.request_id,
            **key,
        }


class HttpTransport:
    """Sends calls to a service and waits for them.

    Parameters
    ----------
    address : Address
        The service.
    http : httpx.Client or None
        Connections to use; the caller closes them.
    """

    def __init__(self, address: Address, http: httpx.Client | None) -> None:
        self._address = address
        self._owned = http is None
        self._http = http or httpx.Client(verify=_tls())

    def send(self, exchange: Call) -> RawAnswer:
        """What comes back."""
        attempts = Attempts(exchange.options)
        while True:
            try:
                return self._attempt(exchange, attempts.timeout)
            except SunhitchError as fault:
                pause_s = attempts.pause_after(fault)
            sleep(pause_s)

    def _attempt(self, exchange: Call, timeout: httpx.Timeout) -> RawAnswer:
        url, headers = self._address.url(exchange), self._address.headers(exchange)
        reader = _progress_reader(exchange)
        with (
            _told(url, exchange, timeout),
            self._http.stream(
                exchange.method, url, content=exchange.body, headers=headers, timeout=timeout
            ) as response,
        ):
            if reader is None or not _comes_in_lines(response):
                response.read()
                return _reply(exchange, response, self._document)
            for line in response.iter_lines():
                reader.read(line)
            return RawAnswer(reader.answer(), exchange.request_id, draw=self._document)

    def _document(self, exchange: Exchange, media_type: str, view: str) -> bytes:
        alone = replace(exchange, drawn_as=media_type, view=view, views=(), on_progress=None)
        return self.send(alone).body

    def close(self) -> None:
        """Let go of connections."""
        if self._owned:
            self._http.close()


class AsyncHttpTransport:
    """`HttpTransport` for event loops: asyncio and trio."""

    def __init__(self, address: Address, http: httpx.AsyncClient | None) -> None:
        self._address = address
        self._owned = http is None
        self._http = http or httpx.AsyncClient(verify=_tls())

    async def send(self, exchange: Call) -> RawAnswer:
        """What comes back."""
        attempts = Attempts(exchange.options)
        while True:
            try:
                return await self._attempt(exchange, attempts.timeout)
            except SunhitchError as fault:
                pause_s = attempts.pause_after(fault)
            await async_sleep(pause_s)

    async def _attempt(self, exchange: Call, timeout: httpx.Timeout) -> RawAnswer:
        url, headers = self._address.url(exchange), self._address.headers(exchange)
        reader = _progress_reader(exchange)
        with _told(url, exchange, timeout):
            async with self._http.stream(
                exchange.method, url, content=exchange.body, headers=headers, timeout=timeout
            ) as response:
                if reader is None or not _comes_in_lines(response):
                    await response.aread()
                    return _reply(exchange, response)
                async for line in response.aiter_lines():
                    reader.read(line)
                return RawAnswer(reader.answer(), exchange.request_id)

    async def close(self) -> None:
        """Let go of connections."""
        if self._owned:
            await self._http.aclose()


def _progress_reader(exchange: Call) -> ProgressReader | None:
    """Reader of an answer that tells its progress; None for a plain one."""
    if isinstance(exchange, Exchange) and exchange.on_progress is not None:
        return ProgressReader(exchange.on_progress, exchange.request_id)
    return None


def _comes_in_lines(response: httpx.Response) -> bool:
    media_type = response.headers.get("Content-Type", "")
    return response.status_code == HTTPStatus.OK and media_type.startswith("application/x-ndjson")


_HOW_IT_ENDED: tuple[tuple[type[Exception], type[SunhitchError], str], ...] = (
    (
        httpx.ConnectTimeout,
        ConnectionFailedError,
        "Connecting to {url} took longer than {connecting}; is the address right and the service "
        "running?",
    ),
    (
        httpx.PoolTimeout,
        TimeLimitError,
        "No connection to {url} was free within {waiting}; make fewer calls at a time.",
    ),
    (
        httpx.TimeoutException,
        TimeLimitError,
        "{url} did not answer within {waiting}; give the client a longer timeout, or ask for less "
        "detail.",
    ),
    (
        httpx.ConnectError,
        ConnectionFailedError,
        "No connection to {url} ({why}); is the address right and the service running?",
    ),
    (
        httpx.TransportError,
        ConnectionFailedError,
        "The connection to {url} broke off before the answer came ({why}).",
    ),
    (Exception, UnexpectedAnswerError, "{url}: {why}"),
)
"""What the first that fits of httpx's errors means to the caller."""


@contextmanager
def _told(url: str, exchange: Call, timeout: httpx.Timeout) -> Generator[None]:
    """Log an attempt, and turn httpx's errors into ours."""
    started_s = monotonic()
    outcome = "failed"
    try:
        yield
        outcome = "answered"
    except (httpx.RequestError, httpx.InvalidURL) as fault:
        kind, told = next(
            (ours, told) for theirs, ours, told in _HOW_IT_ENDED if isinstance(fault, theirs)
        )
        message = told.format(
            url=url,
            why=str(fault) or type(fault).__name__,
            connecting=_duration(timeout.connect),
            waiting=_duration(timeout.read),
        )
        raise kind(message, exchange.request_id) from fault
    finally:
        took_ms = 1000.0 * (monotonic() - started_s)
        said = "%s %s %s after %.1f ms [request %s]"
        _LOG.debug(said, exchange.method, url, outcome, took_ms, exchange.request_id)


def _duration(seconds: float | None) -> str:
    limit_s = seconds or 0.0
    return f"{limit_s:.3g} s" if limit_s >= 1.0 else f"{limit_s * 1000.0:.3g} ms"


def _reply(exchange: Call, response: httpx.Response, draw: Draw | None = None) -> RawAnswer:
    """What a good answer brings; every other one raises."""
    request_id = response.headers.get("X-Request-ID", exchange.request_id)
    if response.is_error:
        raise service_error(_problem(response), request_id, _retry_after_s(response))
    content_type = response.headers.get("Content-Type", "")
    media_type = content_type.partition(";")[0].strip()
    if response.status_code != HTTPStatus.OK or media_type != exchange.accept:
        raise UnexpectedAnswerError(
            f"{response.url} answered {response.status_code} with {media_type or 'no type'}, "
            f"which no sunhitch service does: {_excerpt(response)}",
            request_id,
        )
    if media_type == MULTIPART:
        answer, documents = parts_of(content_type, response.content)
        return RawAnswer(answer, request_id, documents=documents, draw=draw)
    return RawAnswer(response.content, request_id, media_type, draw=draw)


def _problem(response: httpx.Response) -> Problem:
    """Problem document of an error answer; drawn up here where a proxy sent something else."""
    status, title = response.status_code, response.reason_phrase or "Error"
    try:
        return read_problem(response.content, "", status, title)
    except UnexpectedAnswerError:
        return Problem(
            type="about:blank",
            title=title,
            status=status,
            detail=f"Something in front of the service answered: {_excerpt(response)}",
            instance="",
            errors=[],
            error_count=0,
        )


def _excerpt(response: httpx.Response) -> str:
    text = " ".join(response.text.split())
    return text if len(text) <= _EXCERPT else text[:_EXCERPT] + "…"


def _retry_after_s(response: httpx.Response) -> float | None:
    """Seconds of the Retry-After header, given in seconds or as a date (RFC 9110, 10.2.3)."""
    given = response.headers.get("Retry-After", "").strip()
    if given.isdecimal():
        return float(given)
    try:
        moment = email.utils.parsedate_to_datetime(given)
    except ValueError:
        return None
    return max(0.0, (moment.astimezone(UTC) - datetime.now(UTC)).total_seconds())
