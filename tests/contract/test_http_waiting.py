"""Nobody waits for callers for ever, and they hold no more than they may."""

import json
import socket
import time
from collections.abc import Callable
from contextlib import ExitStack, closing

import httpx
import pytest
from contract_serving import PATIENCE_S, TOY, Served, half_open, problem_of, until
from contract_toys import toys
from test_http_unread import exchange, head


def connected(served: Served) -> socket.socket:
    parts = httpx.URL(served.url)
    return socket.create_connection((parts.host, parts.port or 80), timeout=PATIENCE_S)


def rest(wire: socket.socket) -> bytes:
    """What comes until the other side closes."""
    got = b""
    try:
        while more := wire.recv(65_536):
            got += more
    except ConnectionResetError:
        pass
    return got


def test_a_silent_connection_is_dropped_and_logged(
    start: Callable[..., Served], caplog: pytest.LogCaptureFixture
) -> None:
    served = start(toys(), pool_workers=0, head_limit_s=0.3)
    with closing(connected(served)) as wire:
        assert rest(wire) == b""
    until(lambda: "127.0.0.1: closed a connection that says nothing" in caplog.text)


@pytest.mark.parametrize(
    ("begun", "part"),
    [
        (b"POST /v1/add-up HTTP/1.1\r\nHost: a\r\nX-Slow: ", "head"),
        (head("/v1/add-up", "Content-Length: 9000") + b"{", "body"),
        (head("/v1/add-up", "Transfer-Encoding: chunked") + b"1\r\n{\r\n", "body"),
    ],
)
def test_what_arrives_drop_by_drop_has_a_deadline(
    start: Callable[..., Served], begun: bytes, part: str
) -> None:
    served = start(toys(), pool_workers=0, head_limit_s=0.6, body_limit_s=0.6)
    with closing(connected(served)) as wire:
        wire.sendall(begun)
        wire.settimeout(0.1)
        until_s, got = time.monotonic() + PATIENCE_S, b""
        while not got and time.monotonic() < until_s:
            try:
                got = wire.recv(65_536)
            except TimeoutError:
                wire.sendall(b"x" if b"chunked" not in begun else b"1\r\nx\r\n")
    assert got.startswith(b"HTTP/1.1 408 ")
    assert b"request-timeout" in got
    assert part.encode() in got
    assert served.http.post("/v1/add-up", json=TOY).status_code == 200


def test_a_late_body_is_in_the_log(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0, body_limit_s=0.3)
    with closing(connected(served)) as wire:
        wire.sendall(head("/v1/add-up", "Content-Length: 9000") + b"{")
        assert rest(wire).startswith(b"HTTP/1.1 408 ")
    until(lambda: [line["problem"] for line in served.lines()] == ["hung-up"])


def test_a_caller_who_reads_nothing_is_dropped(
    start: Callable[..., Served], caplog: pytest.LogCaptureFixture
) -> None:
    served = start(None, pool_workers=0, body_limit_s=0.5, keep_alive_s=30)
    ask = b"GET /openapi.json HTTP/1.1\r\nHost: a\r\n\r\n"
    with closing(socket.socket()) as wire:
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        parts = httpx.URL(served.url)
        wire.connect((parts.host, parts.port))
        wire.sendall(ask * 8)
        until(lambda: "closed a connection that reads nothing" in caplog.text)


def test_bodies_of_all_callers_share_a_budget(start: Callable[..., Served]) -> None:
    limits = {"max_held_bytes": 150_000, "max_body_bytes": 100_000}
    served = start(toys(), pool_workers=0, trusted_proxies=["127.0.0.1"], **limits)
    whole = b" " * 90_000 + b"{"
    with ExitStack() as stack:
        wire = stack.enter_context(closing(connected(served)))
        wire.sendall(head("/v1/add-up", "Content-Length: 100000") + whole)
        headers = {"Content-Type": "application/json"}

        def refused() -> bool:
            answer = served.http.post("/v1/add-up", content=whole, headers=headers)
            if answer.status_code == 400:
                return False
            problem_of(answer, 503, "overloaded")
            assert answer.headers["retry-after"] == "1"
            return True

        until(refused)
        small = json.dumps(TOY).encode() + b" " * 30_000
        again = served.http.post("/v1/add-up", content=small, headers=headers)
        problem_of(again, 503, "overloaded")
        other = headers | {"X-Forwarded-For": "192.0.2.2"}
        assert served.http.post("/v1/add-up", content=small, headers=other).status_code == 200
    until(lambda: not refused())


@pytest.mark.parametrize(
    ("lines", "status"),
    [
        (["GET /health/live HTTP/1.1"], 400),
        (["GET /health/live HTTP/1.1", "Host: a", "Host: a"], 400),
        (["GET /health/live HTTP/1.1", "Host: a"], 200),
        (["GET /health/live HTTP/1.0"], 200),
        (["GET /health/live HTTP/1.0", "Host: a", "host: b"], 400),
    ],
)
def test_exactly_one_host(toy_service: Served, lines: list[str], status: int) -> None:
    """RFC 9112, 3.2."""
    got, _, body, _ = exchange(toy_service.url, "\r\n".join([*lines, "", ""]).encode())
    assert got == status
    assert status == 200 or b"Host exactly once" in body


@pytest.mark.parametrize("wide", ["X-Wide: " + "x" * 70_000, "Cookie: " + "y" * 66_000])
def test_a_large_head_in_one_packet(start: Callable[..., Served], wide: str) -> None:
    served = start(toys(), pool_workers=0)
    with closing(connected(served)) as wire:
        wire.sendall(f"GET /health/live HTTP/1.1\r\nHost: a\r\n{wide}\r\n\r\n".encode())
        assert wire.recv(65_536).startswith(b"HTTP/1.1 431 ")


def test_a_long_address(toy_service: Served) -> None:
    answer = toy_service.http.get("/health/live?" + "&".join(f"a{n}=1" for n in range(2000)))
    problem_of(answer, 414, "uri-too-long")


def test_a_long_accept(toy_service: Served) -> None:
    accept = ",".join(f"text/x{n}" for n in range(500))
    answer = toy_service.http.post("/v1/add-up", json=TOY, headers={"Accept": accept})
    problem_of(answer, 431, "head-too-large")


def test_the_half_of_a_request_holds_nothing_when_its_caller_leaves(
    start: Callable[..., Served],
) -> None:
    served = start(toys(), pool_workers=0)
    half_open(served.url, "/v1/add-up", b"{").close()
    until(lambda: len(served.lines()) == 1)
    assert served.lines()[0]["problem"] in ("malformed", "hung-up")
