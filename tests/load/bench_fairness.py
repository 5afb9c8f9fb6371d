"""One caller sends all it may, another makes calls of tenths of a second: how long do they take?

Run with ``python tests/load/bench_fairness.py``; the goal is a 99th percentile below one second for
the modest caller, and below 10 ms for health checks. Both are told, never asserted in tests.
"""

import argparse
import asyncio
import json
import math
import multiprocessing
import re
import signal
import socket
import time
import urllib.request
from collections import Counter
from collections.abc import Callable, Coroutine
from importlib.resources import files
from multiprocessing.queues import Queue
from typing import Any

from serving import HOST, Connection, service

from sunhitch_service.http.keys import make_key

_JSON, _LINES = "application/json", "application/x-ndjson"


def example(name: str) -> bytes:
    """A shipped request on one line."""
    text = (files("sunhitch") / "examples" / f"{name}.json").read_bytes()
    return json.dumps(json.loads(text)).encode()


class Attack:
    """Callers of one key that ask again as soon as they are answered, whatever they are told."""

    def __init__(self, port: int, key: str) -> None:
        self._port = port
        self._headers = {"X-API-Key": key, "Content-Type": _JSON}
        self.statuses: Counter[tuple[str, int]] = Counter()

    async def calls(self, path: str, body: bytes, **headers: str) -> None:
        """One connection."""
        connection = Connection(self._port)
        told = self._headers | {name.replace("_", "-"): text for name, text in headers.items()}
        while True:
            reply = await connection.call("POST", path, told, body)
            self.statuses[path, reply.status] += 1
            if reply.status in (0, 503):
                await asyncio.sleep(0.05)

    async def silent(self) -> None:
        """One connection that says too little, and another when it is closed."""
        while True:
            reader, writer = await asyncio.open_connection(HOST, self._port)
            writer.write(b"POST /v1/fit-out HTTP/1.1\r\nHost: ")
            self.statuses["half a head", int((await reader.read())[9:12] or 0)] += 1
            writer.close()

    def ways(self) -> dict[str, list[Callable[[], Coroutine[Any, Any, None]]]]:
        """Each thing that it may send, and all together."""
        lines = (example("mount-check") + b"\n") * 400
        large = b'{"panels": [' + b"{}, " * 990_000 + b"{}]}"
        ways = {
            "nothing": [],
            "batches of mount checks": [
                lambda: self.calls("/v1/batch/mount-check", lines, Content_Type=_LINES)
            ]
            * 4,
            "batches of malformed lines": [
                lambda: self.calls("/v1/batch/fit-out", b"{}\n" * 200_000, Content_Type=_LINES)
            ]
            * 4,
            "studies": [lambda: self.calls("/v1/harvest", example("harvest"), Accept=_LINES)] * 32,
            "fit-outs": [lambda: self.calls("/v1/fit-out", example("fit-out"))] * 32,
            "wire sizings": [lambda: self.calls("/v1/wire-sizing", example("wire-sizing"))] * 16,
            "bodies of 4 MB": [lambda: self.calls("/v1/fit-out", large)] * 4,
            "half a head": [self.silent] * 200,
        }
        together = [way for several in ways.values() for way in several]
        return ways | {"all of it": together}


async def timed(
    connection: Connection, path: str, headers: dict[str, str], body: bytes, method: str
) -> float:
    """Time of one call that must be answered [ms]."""
    started = time.perf_counter()
    while (await connection.call(method, path, headers, body)).status != 200:
        await asyncio.sleep(0.01)
    return (time.perf_counter() - started) * 1e3


async def repeated(
    seconds: float, port: int, path: str, headers: dict[str, str], body: bytes, method: str
) -> list[float]:
    """Times of one caller's calls, one after the other [ms]."""
    connection, found = Connection(port), list[float]()
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found.append(await timed(connection, path, headers, body, method))
        await asyncio.sleep(0.02)
    return sorted(found)


def share(found: list[float], part: float) -> float:
    """A quantile."""
    return found[min(len(found) - 1, int(part * len(found)))]


def attack(port: int, key: str, name: str, told: "Queue[dict[tuple[str, int], int]]") -> None:
    """One way of asking for all, in a process of its own, until it is stopped."""
    attack = Attack(port, key)

    async def attacking() -> None:
        asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, lambda: ended.set_result(0))
        ended = asyncio.get_running_loop().create_future()
        callers = [asyncio.create_task(way()) for way in attack.ways()[name]]
        await ended
        for one in callers:
            one.cancel()
        await asyncio.gather(*callers, return_exceptions=True)

    asyncio.run(attacking())
    told.put(dict(sorted(attack.statuses.items())))


def times(seconds: float, port: int, *call: Any) -> list[float]:
    """Times of one caller's calls, who has a process to itself [ms]."""
    return asyncio.run(repeated(seconds, port, *call))


def lateness(port: int, key: str) -> Counter[float]:
    """How often the event loop was looked at, and found late by no more than so many seconds."""
    asked = urllib.request.Request(f"http://{HOST}:{port}/metrics", headers={"X-API-Key": key})
    with urllib.request.urlopen(asked) as answer:  # noqa: S310 - http on the loopback address
        text = answer.read().decode()
    found = re.findall(
        r'^sunhitch_loop_held_seconds_bucket\{le="(\S+)"\} (\S+)$', text, re.MULTILINE
    )
    return Counter({float(bound): float(count) for bound, count in found})


def run(port: int, keys: tuple[str, str], seconds: float, only: str) -> None:
    """Every way of asking for all, each for some seconds; every caller has its own process."""
    modest = {"X-API-Key": keys[0], "Content-Type": _JSON}
    print(
        "| the other caller sends | calls | p50 ms | p99 ms | health p50 ms | p99 ms | longest "
        "| loop late > 5 ms, > 10 ms | its answers |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    context = multiprocessing.get_context("fork")
    for name in Attack(port, keys[1]).ways():
        if only not in name:
            continue
        told: Queue[dict[tuple[str, int], int]] = context.Queue()
        attacking = context.Process(target=attack, args=(port, keys[1], name, told))
        attacking.start()
        time.sleep(1.0)
        before = lateness(port, keys[0])
        with context.Pool(2) as pool:
            asked = (seconds, port, "/v1/mount-check", modest, example("mount-check"), "POST")
            working = pool.apply_async(times, asked)
            watching = pool.apply_async(times, (seconds, port, "/health/ready", {}, b"", "GET"))
            calls, health = working.get(), watching.get()
        late = Counter({bound: lateness(port, keys[0])[bound] - before[bound] for bound in before})
        attacking.terminate()
        answers = told.get()
        attacking.join()
        over = [f"{1.0 - late[bound] / max(1.0, late[math.inf]):.3%}" for bound in (0.005, 0.01)]
        print(
            f"| {name} | {len(calls)} | {share(calls, 0.5):.0f} | {share(calls, 0.99):.0f} "
            f"| {share(health, 0.5):.1f} | {share(health, 0.99):.1f} | {health[-1]:.1f} "
            f"| {', '.join(over)} | {answers} |",
            flush=True,
        )
        time.sleep(1.0)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=15.0)
    parser.add_argument("--set", nargs="*", default=[], help="settings, such as pool_niceness=0")
    parser.add_argument("--only", default="", help="attacks whose name holds this")
    chosen = parser.parse_args()
    made = [make_key("modest", "calls+metrics"), make_key("greedy")]
    with socket.create_server((HOST, 0)) as probe:
        port = int(probe.getsockname()[1])
    extra = dict(one.split("=") for one in chosen.set)
    entries = ",".join(entry for _, entry in made)
    with service(port, api_keys=entries, keys_required="true", cache_megabytes=0, **extra):
        run(port, (made[0][0], made[1][0]), chosen.seconds, chosen.only)


if __name__ == "__main__":
    main()
