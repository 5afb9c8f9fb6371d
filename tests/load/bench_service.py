"""How the service keeps its word under load: ratios in one run, on one machine.

Run with ``python tests/load/bench_service.py [short] [single] [saturated] [batch]``; all if none is
named. It starts servers on loopback ports from 8340 on and stops them again. The load generator
shares the cores with what it measures.

short
    Wire sizing and a flat question against the least that the framework needs to answer the same:
    a handler that decodes, calculates and encodes, on the same server.
single
    One wire sizing after the other, as a script asks for them with the HTTP library that the client
    uses, against the same handler.
saturated
    Health checks and refusals while more mount checks are asked for than are accepted.
batch
    A million lines through one batch, checked for order, loss and doubles.
"""

import asyncio
import json
import os
import subprocess
import sys
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import contextmanager
from importlib import resources
from multiprocessing import Pool
from pathlib import Path
from statistics import median, quantiles
from urllib.parse import urlencode

import httpx
import msgspec
import uvloop
from litestar import Litestar, get, post
from litestar.types import ASGIApp

from sunhitch.operations import WIRE_SIZING
from sunhitch.types.quick.arrays import ColdVocQuestion, QuickColdVoc
from sunhitch.types.wiring import WireSizingAnswer, WireSizingRequest
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.http.app import create_app
from sunhitch_service.http.keys import make_key
from sunhitch_service.http.settings import Settings
from sunhitch_service.quick.questions import ANSWERING

HERE = Path(__file__).resolve().parent
sys.path.append(str(HERE.parent / "contract"))

from contract_toys import toys  # noqa: E402 - from the folder above

SERVICE, PLAIN = 8340, 8341
CALLS, ROUNDS, SINGLE = 80, 61, 100
"""Many short rounds, each with every kind of call: a machine is rarely as fast for long."""
COMPARED = (
    ("wire sizing", "plain wire sizing"),
    ("compressed wire sizing", "plain wire sizing"),
    ("flat question", "plain flat question"),
)
LINES = 1_000_000
COLD = {"v_oc_v": 22.9, "lowest_ambient_c": -18.0}


def example(name: str) -> bytes:
    """A shipped request without spaces."""
    text = resources.files("sunhitch").joinpath("examples", f"{name}.json").read_bytes()
    return msgspec.json.encode(msgspec.json.decode(text))


def plain() -> Litestar:
    """The least that the framework needs to answer the same: decode, calculate, encode."""

    @post("/wire-sizing", status_code=200)
    async def sized(data: WireSizingRequest) -> WireSizingAnswer:
        return wire_sizing(data)

    @get("/cold-voc")
    async def cold(v_oc_v: float, lowest_ambient_c: float) -> QuickColdVoc:
        asked = ColdVocQuestion(v_oc_v=v_oc_v, lowest_ambient_c=lowest_ambient_c)
        answer: QuickColdVoc = ANSWERING["cold-voc"].answer(asked)
        return answer

    return Litestar([sized, cold], openapi_config=None, logging_config=None)


@contextmanager
def serving(*command: str, port: int, **environment: str) -> Iterator[None]:
    """Run a server for as long as the block lasts."""
    server = subprocess.Popen(
        [sys.executable, *command], env=os.environ | environment, stdout=subprocess.DEVNULL
    )
    try:
        asyncio.run(_answering(port))
        yield
    finally:
        server.terminate()
        server.wait()


async def _answering(port: int) -> None:
    for _ in range(600):
        try:
            _, writer = await asyncio.open_connection("127.0.0.1", port)
        except OSError:
            await asyncio.sleep(0.1)
        else:
            writer.close()
            return
    raise TimeoutError(f"nobody answers at port {port}")


@contextmanager
def service(**settings: str) -> Iterator[None]:
    """The service as `python -m sunhitch_service` runs it."""
    given = {f"SUNHITCH_HTTP_{name.upper()}": value for name, value in settings.items()}
    given |= {"SUNHITCH_HTTP_PORT": str(SERVICE), "SUNHITCH_HTTP_CACHE_MEGABYTES": "0"}
    with serving("-m", "sunhitch_service", port=SERVICE, **given):
        asyncio.run(_ready())
        yield


async def _ready() -> None:
    for _ in range(600):
        async with Connection(SERVICE) as connection:
            status, _ = await connection.call(request("GET", "/health/ready"))
        if status == 200:
            return
        await asyncio.sleep(0.1)
    raise TimeoutError("the service is not ready")


@contextmanager
def running(factory: str, port: int) -> Iterator[None]:
    """An application of this file on the same server software with the same loop and parser."""
    command = (
        "-m", "uvicorn", "--factory", f"bench_service:{factory}", "--port", str(port),
        "--app-dir", str(HERE), "--loop", "uvloop", "--http", "httptools", "--no-access-log",
        "--log-level", "warning",
    )  # fmt: skip
    paths = os.pathsep.join([str(HERE), str(HERE.parent / "contract"), *sys.path])
    with serving(*command, port=port, PYTHONPATH=paths):
        yield


def request(
    method: str, path: str, body: bytes = b"", kind: str = "application/json", **headers: str
) -> bytes:
    """A request as it goes over the wire."""
    if body:
        headers |= {"Content-Type": kind, "Content-Length": str(len(body))}
    lines = [f"{method} {path} HTTP/1.1", "Host: localhost"]
    lines += [f"{name}: {value}" for name, value in headers.items()]
    return "\r\n".join([*lines, "", ""]).encode() + body


class Connection:
    """A kept connection that costs the load generator as little as can be."""

    def __init__(self, port: int) -> None:
        self._port = port

    async def __aenter__(self) -> "Connection":
        self._reader, self._writer = await asyncio.open_connection(
            "127.0.0.1", self._port, limit=2**20
        )
        return self

    async def __aexit__(self, *_: object) -> None:
        self._writer.close()

    async def call(self, raw: bytes) -> tuple[int, bytes]:
        """Send a request; status and body of its answer."""
        self._writer.write(raw)
        head = (await self._reader.readuntil(b"\r\n\r\n")).lower()
        length = int(head.partition(b"content-length: ")[2].partition(b"\r\n")[0])
        return int(head[9:12]), await self._reader.readexactly(length)

    async def lines(self, raw: bytes) -> AsyncIterator[bytes]:
        """Send a batch; lines of its answer as they come."""
        self._writer.write(raw)
        await self._reader.readuntil(b"\r\n\r\n")
        rest = b""
        while size := int(await self._reader.readline(), 16):
            *whole, rest = (rest + await self._reader.readexactly(size)).split(b"\n")
            await self._reader.readexactly(2)
            for line in whole:
                yield line
        assert rest == b"", "the last line has no end"


async def rate(port: int, raw: bytes, connections: int) -> float:
    """Calls answered in a second."""

    async def caller() -> None:
        async with Connection(port) as connection:
            for _ in range(CALLS // connections):
                status, body = await connection.call(raw)
                assert status == 200, body

    started = time.perf_counter()
    await asyncio.gather(*(caller() for _ in range(connections)))
    return CALLS / (time.perf_counter() - started)


def short() -> None:
    """Short calls against the plain handler: medians, and where nothing else disturbed them.

    Request id, log line, metrics, cross-origin rules, a key and a rate limit are on.
    """
    key, entry = make_key("bench")
    told = {"X-API-Key": key, "X-Request-Id": "bench"}
    body, query = example("wire-sizing"), urlencode(COLD)
    path, flat = WIRE_SIZING.path, f"/v1/quick/cold-voc?{query}"
    calls = {
        "wire sizing": (SERVICE, request("POST", path, body, **told)),
        "compressed wire sizing": (
            SERVICE,
            request("POST", path, body, **told, **{"Accept-Encoding": "gzip"}),
        ),
        "plain wire sizing": (PLAIN, request("POST", "/wire-sizing", body)),
        "flat question": (SERVICE, request("GET", flat, **told)),
        "plain flat question": (PLAIN, request("GET", f"/cold-voc?{query}")),
    }
    chosen = {
        "api_keys": entry,
        "keys_required": "true",
        "rate_limit_per_minute": "10000000",
        "cors_origins": "https://shop.example",
    }
    with service(**chosen), running("plain", PLAIN):
        for connections in (1, 8):
            rounds = [
                {name: uvloop.run(rate(*what, connections)) for name, what in calls.items()}
                for _ in range(ROUNDS)
            ]
            print(f"{connections} connections")
            for name in calls:
                print(f"  {name}: {median(one[name] for one in rounds):.0f}/s")
            for one, other in COMPARED:
                middle = median(each[one] / each[other] for each in rounds)
                best, known = (quantiles(each[k] for each in rounds)[2] for k in (one, other))
                print(
                    f"  {one}: {middle:.0%} of the rate of the {other}; "
                    f"{best / known:.0%} in the quickest quarter of the rounds of each"
                )


def single() -> None:
    """One call after the other through httpx, against the plain handler."""
    body, kind = example("wire-sizing"), {"Content-Type": "application/json"}
    asked = {"wire sizing": (SERVICE, WIRE_SIZING.path), "plain": (PLAIN, "/wire-sizing")}
    print("one call after the other")
    with service(), running("plain", PLAIN), httpx.Client(trust_env=False) as client:

        def spent_us(port: int, path: str) -> float:
            started = time.perf_counter()
            for _ in range(SINGLE):
                url = f"http://127.0.0.1:{port}{path}"
                client.post(url, content=body, headers=kind).raise_for_status()
            return (time.perf_counter() - started) / SINGLE * 1e6

        rounds = [{name: spent_us(*what) for name, what in asked.items()} for _ in range(ROUNDS)]
    for name in asked:
        print(f"  {name}: {median(one[name] for one in rounds):.0f} us")
    low, middle, high = quantiles([one["wire sizing"] / one["plain"] for one in rounds])
    print(f"  {middle:.2f} ({low:.2f} to {high:.2f}) times as much")


async def repeated(
    raw: bytes, port: int, until_s: float, pause_s: float
) -> list[tuple[int, float]]:
    """Status and time [ms] of one call after the other."""
    seen: list[tuple[int, float]] = []
    async with Connection(port) as connection:
        while time.perf_counter() < until_s:
            started = time.perf_counter()
            status, _ = await connection.call(raw)
            seen.append((status, (time.perf_counter() - started) * 1e3))
            await asyncio.sleep(pause_s)
    return seen


def watch(seconds: float) -> list[tuple[int, float]]:
    """Health checks from a process of their own, where no other call stands in their way."""
    health = request("GET", "/health/live")
    return uvloop.run(repeated(health, SERVICE, time.perf_counter() + seconds, 0.01))


async def _saturate(name: str, callers_at_once: int, pause_s: float) -> None:
    seconds = 15.0
    watching = Pool(1)
    watched = watching.apply_async(watch, [seconds])
    until_s = time.perf_counter() + seconds
    work = request("POST", f"/v1/{name}", example(name))
    callers = [repeated(work, SERVICE, until_s, pause_s) for _ in range(callers_at_once)]
    calls = await asyncio.gather(*callers)
    checks = watched.get()
    watching.terminate()
    answers = [one for call in calls for one in call]
    refusals = [spent for status, spent in answers if status == 503]
    done = sum(status == 200 for status, _ in answers)
    assert done + len(refusals) == len(answers), "neither answered nor refused"
    print(f"{callers_at_once} callers, {name}: {done / seconds:.1f}/s answered")
    told("  health", [spent for status, spent in checks if status == 200])
    if refusals:
        told("  refusals", refusals)


def told(what: str, spent: list[float]) -> None:
    """Print a distribution [ms]."""
    cuts = quantiles(spent, n=1000)
    print(
        f"{what}: {len(spent)} calls, median {median(spent):.2f} ms, p99 {cuts[989]:.2f} ms, "
        f"longest {max(spent):.2f} ms"
    )


def saturated() -> None:
    """Health and refusals while compute has more to do than it can."""
    with service(max_in_flight="16", log_level="warning"):
        uvloop.run(_saturate("mount-check", 24, 0.02))
    with service(log_level="warning"):
        uvloop.run(_saturate("wire-sizing", 64, 0.0))


def counting() -> ASGIApp:
    """The service with the calculations of its tests, of which one costs next to nothing."""
    return create_app(Settings(max_batch_bytes=200_000_000, log_level="warning"), toys())


async def _batch() -> None:
    shape = '"shapes": [{"kind": "square", "side_m": 1}]'
    body = "".join(f'{{"name": "{number}", {shape}}}\n' for number in range(LINES)).encode()
    raw = request("POST", "/v1/batch/add-up", body, "application/x-ndjson")
    started = time.perf_counter()
    expected = 0
    async with Connection(SERVICE) as connection:
        async for line in connection.lines(raw):
            note = json.loads(line)["answer"]["note"]
            assert note == str(expected), f"line {expected}: {line[:200]!r}"
            expected += 1
    assert expected == LINES, f"{expected} lines came back"
    spent = time.perf_counter() - started
    print(f"batch: {LINES} lines, none lost, doubled or out of order, {LINES / spent:.0f}/s")


def batch() -> None:
    """A million lines, each with a name of its own that comes back in its answer."""
    with running("counting", SERVICE):
        uvloop.run(_batch())


PARTS: dict[str, Callable[[], None]] = {
    "short": short,
    "single": single,
    "saturated": saturated,
    "batch": batch,
}

if __name__ == "__main__":
    for part in sys.argv[1:] or PARTS:
        PARTS[part]()
