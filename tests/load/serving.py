"""A service as its own process, its memory, and a small HTTP client, for scripts under load."""

import asyncio
import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httptools

HOST = "127.0.0.1"
_PAGE_MB = os.sysconf("SC_PAGE_SIZE") / 1e6


@contextmanager
def service(port: int, **settings: object) -> Iterator[int]:
    """Run the service as an operator would; yields its process id."""
    own = {"cache_megabytes": 0} | settings  # what is computed is measured, not what was kept
    chosen = {f"SUNHITCH_HTTP_{name.upper()}": str(value) for name, value in own.items()}
    environment = os.environ | {"SUNHITCH_HTTP_PORT": str(port), "SUNHITCH_HTTP_LOG_LEVEL": "error"}
    server = subprocess.Popen(
        [sys.executable, "-m", "sunhitch_service"], env=environment | chosen, stdout=sys.stderr
    )
    try:
        _until_ready(server, f"http://{HOST}:{port}/health/ready")
        yield server.pid
    finally:
        server.terminate()
        server.wait(60)


def _until_ready(server: "subprocess.Popen[bytes]", url: str) -> None:
    for _ in range(600):
        assert server.poll() is None, "the service did not start"
        try:
            with urllib.request.urlopen(url, timeout=5):  # noqa: S310 - http on the loopback address
                return
        except OSError:
            time.sleep(0.1)
    raise TimeoutError(url)


def process_tree(pid: int) -> list[int]:
    """A process and all its descendants."""
    children: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                parent = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
            except (FileNotFoundError, ProcessLookupError):
                continue
            children.setdefault(parent, []).append(int(entry.name))
    found = [pid]
    for one in found:
        found += children.get(one, [])
    return found


def memory_mb(pid: int) -> float:
    """Resident memory of a process and all its descendants [MB]; shared pages count in each."""
    return sum(_resident_mb(one) for one in process_tree(pid))


def _resident_mb(pid: int) -> float:
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * _PAGE_MB
    except (FileNotFoundError, ProcessLookupError):
        return 0.0


@dataclass
class Reply:
    """What came back; also what the parser calls."""

    status: int = 0
    headers: dict[str, str] = field(default_factory=dict[str, str])
    body: bytearray = field(default_factory=bytearray)
    complete: bool = False

    def on_header(self, name: bytes, value: bytes) -> None:
        self.headers[name.decode("latin-1").lower()] = value.decode("latin-1")

    def on_body(self, body: bytes) -> None:
        self.body += body

    def on_message_complete(self) -> None:
        self.complete = True


class Connection:
    """One connection at a time, opened again whenever the server has closed it."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._writer: asyncio.StreamWriter | None = None

    async def call(
        self, method: str, path: str, headers: Mapping[str, str], body: bytes = b""
    ) -> Reply:
        """Send a request, whatever is in it, and read the answer; once more if it was closed."""
        given = {"Host": HOST, "Content-Length": str(len(body))} | dict(headers)
        lines = "".join(f"{name}: {value}\r\n" for name, value in given.items())
        text = f"{method} {path} HTTP/1.1\r\n{lines}\r\n".encode() + body
        fresh = self._writer is None
        reply = await self.send(text, only_head=method == "HEAD")
        if not reply.complete and not fresh:
            reply = await self.send(text, only_head=method == "HEAD")
        return reply

    async def send(self, text: bytes, only_head: bool = False) -> Reply:
        """Send bytes as they are; the reply is incomplete where the server closes instead."""
        if self._writer is None:
            self._reader, self._writer = await asyncio.open_connection(HOST, self._port)
        reply = Reply()
        parser = httptools.HttpResponseParser(reply)
        try:
            self._writer.write(text)
            await self._read(parser, reply, only_head)
        except (ConnectionError, httptools.HttpParserError):
            reply.complete = False
        reply.status = parser.get_status_code() if reply.headers else 0
        if not reply.complete or reply.headers.get("connection") == "close":
            await self.close()
        return reply

    async def _read(
        self, parser: "httptools.HttpResponseParser", reply: Reply, only_head: bool
    ) -> None:
        received = b""
        while not reply.complete:
            piece = await self._reader.read(1 << 16)
            if not piece:
                return
            received += piece
            parser.feed_data(piece)
            if only_head and b"\r\n\r\n" in received:
                reply.complete = True

    async def close(self) -> None:
        """Close it; the next call opens another."""
        if self._writer is not None:
            self._writer.close()
            self._writer = None
