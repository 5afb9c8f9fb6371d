"""Calls to the application within this process, one at a time, without sockets or a client."""

import asyncio
import io
from collections.abc import Iterator, MutableMapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import unquote_to_bytes

from hostile import Hostile

from sunhitch_service.http.app import create_app
from sunhitch_service.http.logs import RequestLog
from sunhitch_service.http.settings import Settings

LOOPBACK = "127.0.0.1"
_SLOW_S = 300.0


@dataclass
class Reply:
    """What came back."""

    status: int = 0
    headers: dict[str, str] = field(default_factory=dict[str, str])
    body: bytes = b""


class InProcess:
    """An application whose lifespan is under way."""

    def __init__(self, loop: asyncio.AbstractEventLoop, app: Any, log: io.StringIO) -> None:
        self._loop = loop
        self._app = app
        self._log = log

    def call(self, request: Hostile) -> Reply:
        """Answer to one request; a hang is an error."""
        waited = asyncio.wait_for(self._called(request), _SLOW_S)
        return self._loop.run_until_complete(waited)

    def logged(self) -> str:
        """What is in the log."""
        return self._log.getvalue()

    async def _called(self, request: Hostile) -> Reply:
        reply, body, over = Reply(), [request.body], asyncio.Event()

        async def receive() -> dict[str, Any]:
            if body:
                return {"type": "http.request", "body": body.pop(), "more_body": False}
            await over.wait()
            return {"type": "http.disconnect"}

        async def send(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                reply.status = message["status"]
                pairs = message["headers"]
                reply.headers = {k.decode("latin-1"): v.decode("latin-1") for k, v in pairs}
            elif message["type"] == "http.response.body":
                reply.body += message.get("body", b"")
                if not message.get("more_body"):
                    over.set()

        await self._app(_scope(request), receive, send)
        return reply


def _scope(request: Hostile) -> dict[str, Any]:
    path, _, query = request.path.encode().partition(b"?")
    headers = {"Host": LOOPBACK, "Content-Length": str(len(request.body))} | dict(request.headers)
    return {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.4"},
        "http_version": "1.1",
        "method": request.method,
        "scheme": "http",
        "path": unquote_to_bytes(path).decode("utf-8", "replace"),
        "raw_path": path,
        "query_string": query,
        "root_path": "",
        "headers": [(k.lower().encode(), v.encode()) for k, v in headers.items()],
        "client": (LOOPBACK, 50_000),
        "server": (LOOPBACK, 8000),
        "state": {},
    }


@contextmanager
def in_process(**chosen: Any) -> Iterator[InProcess]:
    """The whole service without a pool, for as long as the block lasts."""
    log = io.StringIO()
    app = create_app(Settings(pool_workers=0, **chosen), None, RequestLog("error", log))
    loop = asyncio.new_event_loop()
    started, stop = asyncio.Event(), asyncio.Event()

    async def receive() -> dict[str, str]:
        if started.is_set():
            await stop.wait()
            return {"type": "lifespan.shutdown"}
        return {"type": "lifespan.startup"}

    async def send(message: MutableMapping[str, Any]) -> None:
        assert not message["type"].endswith("failed"), message
        started.set()

    scope = {"type": "lifespan", "asgi": {"version": "3.0"}, "state": {}}
    lifespan = loop.create_task(app(scope, receive, send))
    loop.run_until_complete(started.wait())
    try:
        yield InProcess(loop, app, log)
    finally:
        stop.set()
        loop.run_until_complete(lifespan)
        loop.close()
