"""One caller sends all it may, another makes calls of tenths of a second: how long do they take?

Run with ``python tests/load/bench_fairness.py``; the goal is a 99th percentile below one second for
the modest caller, and below 10 ms for health checks. Both are told, never asserted in tests.
"""

import argparse
import asyncio
import json
import socket
import time
from collections import Counter
from collections.abc import Callable, Coroutine
from importlib.resources import files
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

    def ways(self) -> dict[str, list[Callable[[], Coroutine[Any, Any, None]]]]:
        """Each thing that it may send, and all together."""
        lines = (example("mount-check") + b"\n") * 400
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


async def run(port: int, keys: tuple[str, str], seconds: float) -> None:
    """Every way of asking for all, each for some seconds."""
    modest = {"X-API-Key": keys[0], "Content-Type": _JSON}
    print("| the other caller sends | calls | p50 ms | p99 ms | health p99 ms | its answers |")
    print("|---|---|---|---|---|---|")
    for name in Attack(port, keys[1]).ways():
        attack = Attack(port, keys[1])
        attacking = [asyncio.create_task(way()) for way in attack.ways()[name]]
        await asyncio.sleep(1.0)
        calls, health = await asyncio.gather(
            repeated(seconds, port, "/v1/mount-check", modest, example("mount-check"), "POST"),
            repeated(seconds, port, "/health/ready", {}, b"", "GET"),
        )
        for task in attacking:
            task.cancel()
        await asyncio.gather(*attacking, return_exceptions=True)
        told = dict(sorted(attack.statuses.items()))
        print(
            f"| {name} | {len(calls)} | {share(calls, 0.5):.0f} | {share(calls, 0.99):.0f} "
            f"| {share(health, 0.99):.1f} | {told} |",
            flush=True,
        )
        await asyncio.sleep(1.0)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=15.0)
    parser.add_argument("--set", nargs="*", default=[], help="settings, such as pool_niceness=0")
    chosen = parser.parse_args()
    made = [make_key(name) for name in ("modest", "greedy")]
    with socket.create_server((HOST, 0)) as probe:
        port = int(probe.getsockname()[1])
    extra = dict(one.split("=") for one in chosen.set)
    entries = ",".join(entry for _, entry in made)
    with service(port, api_keys=entries, keys_required="true", **extra):
        asyncio.run(run(port, (made[0][0], made[1][0]), chosen.seconds))


if __name__ == "__main__":
    main()
