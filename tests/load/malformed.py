"""Malformed requests over a real server: no fault of the service, and no growing memory.

    python tests/load/malformed.py --requests 100000

Bodies are changed examples, broken JSON and broken text; methods, headers, queries and paths are
wrong in turn; every fiftieth is not even HTTP, or stops in the middle. All are refused for
certain, so that only reading and refusing is at work. Prints what was answered and the memory of
the server's processes, and fails on any fault, or on memory that keeps growing.
"""

import argparse
import asyncio
import json
import random
import sys
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[1] / "fuzz"))

import hostile
from judging import judge_refusal
from plausible import light_example
from serving import Connection, memory_mb, service

from sunhitch.operations import OPERATIONS

MOST_BODY_BYTES = 200_000
MOST_GROWTH_MB = 5.0
"""From the fifth to seventh tenth to the last three, each by its median: one body of megabytes
lifts the memory once and for all, a leak lifts it again and again. Caches of three processes fill
during the first five thousand requests; then memory stays within a megabyte."""
_RAW_EVERY = 50
_CLIENTS = 4
_STAGES = 10
_PATIENCE_S = 300.0
_CUT_OFF_S = 0.05


@dataclass
class Outcome:
    """What a run saw.

    Parameters
    ----------
    statuses : Counter
        Answers by status; 0 where the server closed the connection on what was not HTTP.
    memory_mb : list of float
        After each tenth of the requests.
    faults : list of str
        What should not have been answered.
    """

    statuses: Counter[int] = field(default_factory=Counter[int])
    memory_mb: list[float] = field(default_factory=list[float])
    faults: list[str] = field(default_factory=list[str])

    @property
    def growth_mb(self) -> float:
        """From the tenths before the last three to those [MB]."""
        return median(self.memory_mb[-3:]) - median(self.memory_mb[-6:-3])


async def attack(port: int, server: int, requests: int, seed: int) -> Outcome:
    """Send malformed requests from a few connections at a time."""
    await _loaded(port)
    outcome = Outcome()
    each = requests // _STAGES // _CLIENTS
    rngs = [random.Random(f"{seed}/{client}") for client in range(_CLIENTS)]
    for _ in range(_STAGES):
        await asyncio.gather(*(_client(port, each, rng, outcome) for rng in rngs))
        outcome.memory_mb.append(memory_mb(server))
    return outcome


async def _loaded(port: int) -> None:
    """Have every worker load every library, so that memory does not grow by them later."""
    connections = [Connection(port) for _ in range(2)]
    lines = {"Content-Type": "application/x-ndjson"}
    for operation in OPERATIONS:
        body = json.dumps(light_example(operation)).encode()
        path = f"/v1/batch/{operation.name}"
        calls = [one.call("POST", path, lines, (body + b"\n") * 3) for one in connections]
        await asyncio.wait_for(asyncio.gather(*calls), _PATIENCE_S)
    for one in connections:
        await one.close()


async def _client(port: int, requests: int, rng: random.Random, outcome: Outcome) -> None:
    connection = Connection(port)
    for _ in range(requests):
        if rng.randrange(_RAW_EVERY):
            one = hostile.hostile(rng.randrange)
            await _refused(connection, one, outcome)
        else:
            await _not_http(port, rng.choice(hostile.RAW), outcome)
    await connection.close()


async def _refused(connection: Connection, one: hostile.Hostile, outcome: Outcome) -> None:
    call = connection.call(one.method, one.path, one.headers, one.body)
    reply = await asyncio.wait_for(call, _PATIENCE_S)
    outcome.statuses[reply.status] += 1
    try:
        judge_refusal(one, reply.status, reply.headers, reply.body)
    except Exception as error:  # noqa: BLE001 - every kind of disappointment is a finding
        outcome.faults.append(f"{reply.status} {one.method} {one.path[:80]}: {error!r}"[:600])


async def _not_http(port: int, text: bytes, outcome: Outcome) -> None:
    """Whatever the server says must be a refusal; it may also wait for more, until we hang up."""
    connection = Connection(port)
    try:
        reply = await asyncio.wait_for(connection.send(text), _CUT_OFF_S)
    except TimeoutError:
        await connection.close()
        return
    outcome.statuses[reply.status] += 1
    if reply.status >= 500:
        outcome.faults.append(f"{reply.status} to {text[:80]!r}")
    await connection.close()


def run(port: int, requests: int, seed: int) -> Outcome:
    """Start a service, attack it, stop it."""
    with service(port, max_body_bytes=MOST_BODY_BYTES, pool_workers=1) as server:
        return asyncio.run(attack(port, server, requests, seed))


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--requests", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--port", type=int, default=8360)
    chosen = parser.parse_args()
    outcome = run(chosen.port, chosen.requests, chosen.seed)
    print("answers by status:", dict(sorted(outcome.statuses.items())))
    print("memory [MB] after each tenth:", " ".join(f"{mb:.1f}" for mb in outcome.memory_mb))
    print(f"growth towards the end: {outcome.growth_mb:+.1f} MB")
    print("faults:", len(outcome.faults), *outcome.faults[:20], sep="\n  ")
    return int(bool(outcome.faults) or outcome.growth_mb > MOST_GROWTH_MB)


if __name__ == "__main__":
    sys.exit(main())
