"""When the log gets the lines of requests."""

import asyncio
import io
import json

from sunhitch_service.http.asgi import Message, Receive, Scope, Send, send_whole
from sunhitch_service.http.envelope import NOTED_AFTER_S, Envelope
from sunhitch_service.http.logs import RequestLog
from sunhitch_service.http.metrics import Metrics

PATHS = ["/first", "/second"]


class Counted(io.StringIO):
    """A file that counts how often it was written to."""

    times = 0

    def write(self, text: str) -> int:
        self.times += 1
        return super().write(text)

    def paths(self) -> list[str]:
        return [json.loads(line)["path"] for line in self.getvalue().splitlines()]


def enveloped(file: Counted) -> Envelope:
    return Envelope(nothing_there, frozenset(), RequestLog("info", file), Metrics())


async def nothing_there(scope: Scope, _receive: Receive, send: Send) -> None:
    if scope["type"] == "http":
        await send_whole(send, 404, {}, b"")


async def answered(envelope: Envelope) -> None:
    for path in PATHS:
        scope: Scope = {"type": "http", "method": "GET", "path": path, "headers": []}
        await envelope(scope, silent, ignore)


async def silent() -> Message:
    return {"type": "http.disconnect"}


async def ignore(_message: Message) -> None:
    pass


def test_lines_are_written_a_little_later_and_together() -> None:
    file = Counted()

    async def life() -> None:
        await answered(enveloped(file))
        assert file.times == 0
        await asyncio.sleep(2.0 * NOTED_AFTER_S)

    asyncio.run(life())
    assert file.paths() == PATHS
    assert file.times == 1


def test_the_last_lines_are_written_before_the_service_ends() -> None:
    file = Counted()

    async def life() -> None:
        envelope = enveloped(file)
        await answered(envelope)
        await envelope({"type": "lifespan"}, silent, ignore)

    asyncio.run(life())
    assert file.paths() == PATHS


def test_each_line_tells_when_its_request_was_answered() -> None:
    file = Counted()

    async def life() -> None:
        envelope = enveloped(file)
        await answered(envelope)
        await asyncio.sleep(2.0 * NOTED_AFTER_S)
        await answered(envelope)
        await envelope({"type": "lifespan"}, silent, ignore)

    asyncio.run(life())
    told = [json.loads(line)["timestamp"] for line in file.getvalue().splitlines()]
    assert told == sorted(told)
    assert len(set(told)) == 2 * len(PATHS)
