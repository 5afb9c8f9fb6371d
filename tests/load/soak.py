"""Ten minutes at saturation: memory must stay flat, health quick, and nothing may fail.

    python tests/load/soak.py

One caller asks for more than the service accepts, two others for a little: calculations of every
kind, sheets, flat questions and batches, changed each time so that no cache helps. A refusal with
503 is a right answer to the first; anything else but 200 is a fault. Memory of the server's
processes is taken every ten seconds; its trend is that of a straight line through the second half,
when all tables, libraries and arenas are in place.
"""

import argparse
import asyncio
import json
import random
import statistics
import sys
import time
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "fuzz"))

from plausible import light_example, operation_named
from serving import Connection, memory_mb, service

from sunhitch_service.http.keys import make_key

JSON = {"Content-Type": "application/json"}
LINES = {"Content-Type": "application/x-ndjson"}
MIX = ("wire-sizing",) * 6 + ("shaded-iv",) * 3 + ("mount-check", "array-configuration")
MIX += ("commissioning-check", "harvest", "quick", "quick")
"""About as often as the length of the work allows: saturated, but with many calls of each kind."""
_IN_FLIGHT = 8
_CONNECTIONS = {"greedy": 16, "modest": 1, "also-modest": 1}
"""By the name of the caller's key."""
_BATCH_LINES = 5
_QUESTION = "/v1/quick/cold-voc?v_oc_v={:.3f}&lowest_ambient_c=-18"
_SAMPLE_S = 10.0
_HEALTH_S = 0.1
_MOST_TREND_MB_PER_HOUR = 60.0
"""Ten minutes of settling arenas look like this much; a leak of 1 kB a call is several times it."""


@dataclass
class Watch:
    """What was seen.

    Parameters
    ----------
    answers : Counter
        By caller, call and status.
    health_s : list of float
        Time of each call of /health/live [s].
    memory_mb : list of tuple
        Seconds from the start and resident memory [MB].
    faults : list of str
        What should not have happened.
    """

    answers: Counter[tuple[str, str, int]] = field(default_factory=Counter[tuple[str, str, int]])
    health_s: list[float] = field(default_factory=list[float])
    memory_mb: list[tuple[float, float]] = field(default_factory=list[tuple[float, float]])
    faults: list[str] = field(default_factory=list[str])

    def trend_mb_per_hour(self) -> float:
        """Slope of the second half of the memory curve."""
        half = self.memory_mb[len(self.memory_mb) // 2 :]
        slope = statistics.linear_regression([t for t, _ in half], [mb for _, mb in half]).slope
        return slope * 3600.0


async def soak(port: int, server: int, keys: Mapping[str, str], seconds: float, seed: int) -> Watch:
    """Keep the service saturated by callers with these keys, by name."""
    watch, end = Watch(), time.monotonic() + seconds
    callers = [
        _caller(port, (who, keys[who]), random.Random(f"{seed}/{who}/{number}"), end, watch)
        for who, count in _CONNECTIONS.items()
        for number in range(count)
    ]
    await asyncio.gather(*callers, _health(port, end, watch), _memory(server, end, watch))
    return watch


async def _caller(
    port: int, caller: tuple[str, str], rng: random.Random, end: float, watch: Watch
) -> None:
    connection, (who, key) = Connection(port), caller
    while time.monotonic() < end:
        name = rng.choice(MIX)
        method, path, headers, body = _call(name, rng)
        reply = await connection.call(method, path, headers | {"X-API-Key": key}, body)
        watch.answers[who, name, reply.status] += 1
        refused = reply.status == 503 and who == "greedy"
        if (reply.status != 200 and not refused) or b'"kind":"problem"' in reply.body:
            watch.faults.append(f"{who} {path} {reply.status} {reply.body[:300]!r}")
        await asyncio.sleep(0.05 if reply.status == 503 or who != "greedy" else 0.0)
    await connection.close()


def _call(name: str, rng: random.Random) -> tuple[str, str, dict[str, str], bytes]:
    """One call in one of the ways in which a calculation may be had, or a flat question."""
    if name == "quick":
        return "GET", _QUESTION.format(rng.uniform(20.0, 25.0)), {}, b""
    bodies = [
        json.dumps(_nudged(light_example(operation_named(name)), rng)).encode()
        for _ in range(_BATCH_LINES)
    ]
    way = rng.choice(("answer", "answer", "drawn", "batch"))
    if way == "batch":
        return "POST", f"/v1/batch/{name}", LINES, b"\n".join(bodies)
    headers = JSON | ({"Accept": "text/html"} if way == "drawn" else {})
    return "POST", f"/v1/{name}", headers, bodies[0]


def _nudged(value: Any, rng: random.Random) -> Any:
    """Every length and irradiance a little different."""
    if isinstance(value, dict):
        return {
            key: inner * rng.uniform(0.98, 1.0)
            if key in ("length_m", "irradiance_w_m2", "power_w") and isinstance(inner, float)
            else _nudged(inner, rng)
            for key, inner in value.items()
        }
    return [_nudged(inner, rng) for inner in value] if isinstance(value, list) else value


async def _health(port: int, end: float, watch: Watch) -> None:
    connection = Connection(port)
    while time.monotonic() < end:
        started = time.perf_counter()
        reply = await connection.call("GET", "/health/live", {})
        watch.health_s.append(time.perf_counter() - started)
        if reply.status != 200:
            watch.faults.append(f"health {reply.status}")
        await asyncio.sleep(_HEALTH_S)
    await connection.close()


async def _memory(server: int, end: float, watch: Watch) -> None:
    began = time.monotonic()
    while time.monotonic() < end:
        watch.memory_mb.append((time.monotonic() - began, memory_mb(server)))
        await asyncio.sleep(min(_SAMPLE_S, max(0.0, end - time.monotonic())))


def report(watch: Watch) -> bool:
    """Print the figures; whether all is well."""
    for (who, name, status), count in sorted(watch.answers.items()):
        print(f"{who:12} {name:24} {status} {count:8}")
    points = statistics.quantiles(watch.health_s, n=100)
    print(f"health: {len(watch.health_s)} calls, p50 {points[49] * 1e3:.1f} ms", end=", ")
    print(f"p99 {points[98] * 1e3:.1f} ms, longest {max(watch.health_s) * 1e3:.1f} ms")
    print("memory [MB]:", " ".join(f"{mb:.0f}" for _, mb in watch.memory_mb))
    trend = watch.trend_mb_per_hour()
    print(f"largest {max(mb for _, mb in watch.memory_mb):.1f} MB, trend {trend:+.1f} MB/h")
    print("faults:", len(watch.faults), *watch.faults[:10], sep="\n  ")
    refused = any(status == 503 for _, _, status in watch.answers)
    print("saturated:", "yes" if refused else "no, nothing was refused")
    return not watch.faults and refused and trend < _MOST_TREND_MB_PER_HOUR


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seconds", type=float, default=600.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--port", type=int, default=8362)
    chosen = parser.parse_args()
    made = {name: make_key(name) for name in _CONNECTIONS}
    entries = ",".join(entry for _, entry in made.values())
    keys = {name: key for name, (key, _) in made.items()}
    with service(chosen.port, max_in_flight=_IN_FLIGHT, api_keys=entries) as server:
        watch = asyncio.run(soak(chosen.port, server, keys, chosen.seconds, chosen.seed))
    return int(not report(watch))


if __name__ == "__main__":
    sys.exit(main())
