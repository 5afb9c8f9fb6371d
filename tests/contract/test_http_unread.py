"""Refusals do not read what they refuse, and bytes that are no HTTP get a problem document."""

import json
import socket
from collections.abc import Callable
from contextlib import closing

import httpx
import pytest
from contract_serving import PATIENCE_S, TOY, Served, until
from contract_toys import toys


def exchange(url: str, *pieces: bytes) -> tuple[int, dict[str, str], bytes, int]:
    """Status, headers and body of the answer to raw bytes, and how many could be sent."""
    parts = httpx.URL(url)
    with closing(
        socket.create_connection((parts.host, parts.port or 80), timeout=PATIENCE_S)
    ) as wire:
        sent = 0
        try:
            for piece in pieces:
                wire.sendall(piece)
                sent += len(piece)
        except OSError:
            pass
        got = b""
        while b"\r\n\r\n" not in got and (more := wire.recv(65_536)):
            got += more
        head, _, body = got.partition(b"\r\n\r\n")
        first, *lines = head.decode().split("\r\n")
        headers = {k.lower(): v for k, _, v in (line.partition(": ") for line in lines)}
        while len(body) < int(headers["content-length"]) and (more := wire.recv(65_536)):
            body += more
        return int(first.split()[1]), headers, body, sent


def head(path: str, *lines: str) -> bytes:
    """Request line and headers of a POST."""
    fixed = [f"POST {path} HTTP/1.1", "Host: localhost", "Content-Type: application/json"]
    return "\r\n".join([*fixed, *lines, "", ""]).encode()


LONG = [b"x" * 1_000_000] * 40


@pytest.mark.parametrize(
    ("chosen", "path", "status"),
    [
        ({"keys_required": True}, "/v1/add-up", 401),
        ({"keys_required": True}, "/v1/batch/add-up", 401),
        ({"max_body_bytes": 1000}, "/v1/add-up", 413),
        ({}, "/v1/nothing", 404),
        ({}, "/health/live", 405),
        ({}, "/v1/batch/add-up", 415),
    ],
)
@pytest.mark.parametrize("framing", ["Content-Length: 40000000000", "Transfer-Encoding: chunked"])
def test_a_refused_body_is_not_read_to_its_end(
    start: Callable[..., Served], chosen: dict[str, object], path: str, status: int, framing: str
) -> None:
    served = start(toys(), pool_workers=0, **chosen)
    pieces = LONG if "Length" in framing else [b"f4240\r\n" + piece + b"\r\n" for piece in LONG]
    got, headers, body, sent = exchange(served.url, head(path, framing), *pieces)
    assert got == status
    assert headers["connection"] == "close"
    assert json.loads(body)["status"] == status
    assert sent < sum(map(len, LONG)) / 2
    until(lambda: len(served.lines()) > 0)
    (line,) = served.lines()
    assert line["received_bytes"] < 5_000_000


def test_a_small_rest_keeps_the_connection(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0, keys_required=True)
    parts = httpx.URL(served.url)
    raw = head("/v1/add-up", "Content-Length: 2") + b"{}"
    with closing(
        socket.create_connection((parts.host, parts.port or 80), timeout=PATIENCE_S)
    ) as wire:
        for _ in range(3):
            wire.sendall(raw)
            got = b""
            while b"}" not in got:
                got += wire.recv(65_536)
            assert got.startswith(b"HTTP/1.1 401")
            assert b"connection: close" not in got.lower()


def test_a_caller_who_asks_first_need_not_send_at_all(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0, keys_required=True)
    lines = ("Content-Length: 3000000", "Expect: 100-continue")
    status, headers, body, _ = exchange(served.url, head("/v1/add-up", *lines))
    assert (status, headers["connection"]) == (401, "close")
    assert json.loads(body)["type"] == "urn:sunhitch:problem:unauthorised"


@pytest.mark.parametrize(
    "raw",
    [
        b"nonsense\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"\x16\x03\x01\x02\x00",
        b"GET /\x00 HTTP/1.1\r\n",
    ],
)
def test_no_http(toy_service: Served, raw: bytes) -> None:
    status, headers, body, _ = exchange(toy_service.url, raw)
    assert (status, headers["content-type"]) == (400, "application/problem+json")
    assert headers["connection"] == "close"
    assert json.loads(body)["type"] == "urn:sunhitch:problem:not-http"
    assert toy_service.http.post("/v1/add-up", json=TOY).status_code == 200


def test_headers_have_an_end(toy_service: Served) -> None:
    endless = [b"GET / HTTP/1.1\r\n", *[b"X: " + b"x" * 10_000 + b"\r\n"] * 400]
    status, headers, body, sent = exchange(toy_service.url, *endless)
    assert (status, headers["connection"]) == (431, "close")
    assert json.loads(body)["status"] == 431
    assert sent < 4_000_000


def test_a_large_body_right_behind_its_headers_is_not_taken_for_headers(
    toy_service: Served,
) -> None:
    padded = json.dumps(TOY).encode() + b" " * 19_000
    raw = head("/v1/add-up", f"Content-Length: {len(padded)}") + padded
    status, _, body, _ = exchange(toy_service.url, raw)
    assert (status, json.loads(body)["area_m2"]) == (200, 4.0)
