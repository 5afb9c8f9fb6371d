"""Random requests to every calculation of the contract, legal ones and illegal ones.

    python tests/fuzz/random_requests.py --requests 10000 --seed 1 fit-out mount-check

Every request goes to the whole application in this process. Three in four are legal: a shipped
example with some values put to their limits, to nothing, to one another, to anything between, or a
request made from the committed schema alone. A legal one gets an answer, or a refusal that points
at a field; an illegal one gets a refusal that points at the place that was spoiled. Whatever else
comes back is printed with the request, and the exit code is 1.
"""

import argparse
import json
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from random import Random
from typing import Any

import hostile
import plausible
from hostile import Hostile
from in_process import InProcess, in_process
from judging import judge_answer_to_legal, judge_outcome

from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation

_PATIENCE_S = 120
_HEADERS = {"Content-Type": "application/json"}


class HangError(Exception):
    """An answer took too long."""


@contextmanager
def patience(seconds: int) -> Iterator[None]:
    """Raise in the midst of whatever keeps the processor longer."""

    def stop(_number: int, _frame: object) -> None:
        raise HangError(f"no answer within {seconds} s")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


def ask(service: InProcess, operation: Operation[Any, Any], random: Random) -> int:
    """Send one request and judge what comes back.

    Returns
    -------
    int
        Status of the response.
    """
    is_legal = random.randrange(4) > 0
    sent = (
        json.dumps(plausible.legal(operation, random.randrange)).encode()
        if is_legal
        else hostile.malformed(operation, random.randrange)
    )
    request = Hostile("POST", operation.path, sent, _HEADERS)
    try:
        with patience(_PATIENCE_S):
            reply = service.call(request)
        judge = judge_answer_to_legal if is_legal else judge_outcome
        judge(reply.status, reply.headers, sent, reply.body)
    except (AssertionError, HangError, TimeoutError) as fault:
        raise AssertionError(f"{operation.name}: {fault!r}\n{sent!r}") from fault
    return reply.status


def main() -> int:
    """The command line."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("names", nargs="*", default=[one.name for one in OPERATIONS])
    words.add_argument("--requests", type=int, default=10_000, help="for each calculation")
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--seconds", type=float, default=1e9, help="longest for each calculation")
    given = words.parse_args()
    faults = 0
    for name in given.names:
        operation = plausible.operation_named(name)
        random, counts, started = Random(f"{given.seed} {name}"), Counter[int](), time.monotonic()
        with in_process() as service:
            while counts.total() < given.requests and time.monotonic() - started < given.seconds:
                try:
                    counts[ask(service, operation, random)] += 1
                except AssertionError as fault:
                    faults += 1
                    counts[500] += 1
                    print(fault, service.logged()[-3000:], sep="\n", flush=True)
        print(name, f"seed {given.seed}:", dict(counts), flush=True)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
