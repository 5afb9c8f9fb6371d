"""A service on the loopback interface, what it logged, and ways to watch it."""

import io
import json
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from time import monotonic, sleep
from typing import Any

import httpx
import msgspec
import uvicorn
from opentelemetry.sdk.trace import TracerProvider

from sunhitch.codec import decode_strict
from sunhitch.types.problem import Problem
from sunhitch_service.calculations.calculation import AnyCalculation
from sunhitch_service.http.app import create_app
from sunhitch_service.http.logs import RequestLog
from sunhitch_service.http.serve import server_options
from sunhitch_service.http.settings import Settings

PATIENCE_S = 120.0
"""Until something counts as a hang, however busy the machine is."""
TOY = {"name": "first", "shapes": [{"kind": "square", "side_m": 2}]}


@dataclass
class Served:
    """A running service."""

    url: str
    http: httpx.Client
    log: io.StringIO

    def lines(self) -> list[dict[str, Any]]:
        """What was logged so far."""
        return [json.loads(line) for line in self.log.getvalue().splitlines()]

    def line(self, request_id: str) -> dict[str, Any]:
        """The one line of a request, which is written after its answer was sent."""
        until(lambda: any(line["request_id"] == request_id for line in self.lines()))
        (line,) = [line for line in self.lines() if line["request_id"] == request_id]
        return line


@contextmanager
def serve(
    settings: Settings,
    endpoints: tuple[AnyCalculation, ...] | None,
    traces: TracerProvider | None = None,
) -> Iterator[Served]:
    """Run a service in a thread for as long as the block lasts.

    By NumPy alone: when loops are compiled hangs on the machine, and moves the last digits.
    """
    settings, log = msgspec.structs.replace(settings, compiled=False), io.StringIO()
    app = create_app(settings, endpoints, RequestLog("info", log), traces)
    config = uvicorn.Config(app, port=0, log_config=None, **server_options(settings))
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        while not server.started and thread.is_alive():
            sleep(0.01)
        port = server.servers[0].sockets[0].getsockname()[1]
        url = f"http://127.0.0.1:{port}"
        with httpx.Client(base_url=url, timeout=PATIENCE_S, trust_env=False) as http:
            yield Served(url, http, log)
    finally:
        server.should_exit = True
        thread.join()


def half_open(
    url: str, path: str, body: bytes, media_type: str = "application/json"
) -> socket.socket:
    """Connection that sent a request and does not read the answer."""
    parts = httpx.URL(url)
    connection = socket.create_connection((parts.host, parts.port or 80))
    head = (
        f"POST {path} HTTP/1.1\r\nHost: {parts.host}\r\nContent-Type: {media_type}\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    connection.sendall(head.encode() + body)
    return connection


def until(condition: Callable[[], bool], patience_s: float = PATIENCE_S) -> None:
    end = monotonic() + patience_s
    while monotonic() < end:
        if condition():
            return
        sleep(0.02)
    raise AssertionError("it never happened")


def told_in(lines: bytes) -> list[Any]:
    """What each line of a stream holds, answer or problem."""
    found = [json.loads(line) for line in lines.splitlines()]
    return [line[line["kind"]] for line in found]


def problem_of(answer: httpx.Response, status: int, slug: str = "") -> Problem:
    """Problem document of an answer, after checking what all of them share."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.headers["cache-control"] == "no-store"
    problem = decode_strict(answer.content, Problem)
    assert problem.status == status
    if slug:
        assert problem.type == f"urn:sunhitch:problem:{slug}"
    assert problem.instance == f"urn:sunhitch:request:{answer.headers['x-request-id']}"
    assert problem.detail
    return problem
