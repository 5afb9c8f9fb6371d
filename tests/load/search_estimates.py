"""Looks for requests that cost far more than the service expects, climbing from the examples.

    python tests/load/search_estimates.py --seconds 60 shaded-iv harvest foot-load

Each step makes a request larger or stranger within its schema, keeps what costs more in terms of
its estimate, and prints the worst. Above three times the estimate (and 5 ms, for which the event
loop may be held) it ends with 1 and leaves the request in a file. Requests whose cost the service
does not claim to know are left out. Cost is processor time in terms of a count done just before
and after it, so that neither the machine nor what else it does matters much.
"""

import argparse
import copy
import json
import math
import random
import signal
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from msgspec import inspect
from pebble import ProcessPool

sys.path.insert(0, str(Path(__file__).parents[1] / "fuzz"))
import plausible

from sunhitch.codec import MalformedBody, decode_strict, encode
from sunhitch.operations import OPERATIONS
from sunhitch.questions import BY_NAME
from sunhitch_service.calculations import calculations
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.quick.parameters import by_name, slots
from sunhitch_service.quick.questions import ANSWERING
from sunhitch_service.quick.reading import UnreadableError, read

RECORDS = {record.operation.name: record for record in calculations()}
MOST, LEAST_MS = 3.0, 5.0
"""Times the estimate, and the time below which nothing is said."""
_ADDITIONS, _ADDITIONS_MS = 200_000, 4.6
"""What so many additions took where the estimates were measured."""
_CONFIRMED = 4
Request = dict[str, Any]


class TooLateError(Exception):
    """A request took beyond doubt too much."""


@dataclass(frozen=True)
class Tried:
    """What a request cost."""

    spent_ms: float
    expected_ms: float

    @property
    def ratio(self) -> float:
        """Spent time in terms of what was expected; short work counts little."""
        return self.spent_ms / max(self.expected_ms, LEAST_MS / MOST)


def decoded(name: str, body: Request) -> Any:
    """The request of a calculation, or the question."""
    if name in BY_NAME:
        return read(BY_NAME[name], {key: [str(value)] for key, value in body.items()})
    return decode_strict(json.dumps(body).encode(), RECORDS[name].operation.request)


def expected_ms(name: str, body: Request) -> float | None:
    """What a request is expected to cost [ms]; None if it is refused, or cannot be told."""
    try:
        request = decoded(name, body)
    except (MalformedBody, UnreadableError):
        return None
    if name in BY_NAME:
        return ANSWERING[name].estimate_s * 1e3
    found = RECORDS[name].computing_time.expected_ms(request)
    return found if found is not None and found <= 30_000.0 else None


def slowness() -> float:
    """Time of this machine, now, in terms of the one where the estimates were measured."""
    started, spent, total, rounds = time.process_time(), 0.0, 0, 0
    while spent <= 0.0:  # the clock of a virtual machine may stand still for a while
        rounds += 1
        for number in range(_ADDITIONS):
            total += number
        spent = time.process_time() - started
    return spent * 1e3 / _ADDITIONS_MS / rounds


def spent_ms(given: tuple[str, Request, float]) -> float | None:
    """Processor time of a request, up to a longest [ms]; None if it contradicts itself.

    It is told as on the machine where the estimates were measured.
    """
    name, body, most_ms = given
    request, before = decoded(name, body), slowness()
    calculate = ANSWERING[name].answer if name in BY_NAME else RECORDS[name].calculate
    signal.signal(signal.SIGPROF, _too_late)
    started = time.process_time()
    signal.setitimer(signal.ITIMER_PROF, most_ms / 1e3 * max(1.0, before))
    try:
        encode(calculate(request))
    except ContradictionError:
        return None
    except TooLateError:
        return most_ms
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
    return (time.process_time() - started) * 1e3 / max(before, slowness())


def _too_late(_signal: int, _frame: object) -> None:
    raise TooLateError


def lists_of(body: Request, name: str) -> list[tuple[list[Any], int]]:
    """Every list in a request with the most entries that it may hold."""
    allowed = inspect.type_info(RECORDS[name].operation.request)
    found: list[tuple[list[Any], int]] = []
    for place in plausible.places(body, allowed):
        value, bare = plausible._value(body, place.path), plausible._bare(place.allowed)
        options = bare.types if isinstance(bare, inspect.UnionType) else (bare,)
        if isinstance(value, list) and value:
            found += [
                (value, option.max_length or 1000)
                for option in map(plausible._bare, options)
                if isinstance(option, inspect.ListType)
            ]
    return found


def stretch(body: Request, name: str, dice: random.Random) -> None:
    """Make one list longer: corners between corners, or more entries with names of their own."""
    lists = [one for one in lists_of(body, name) if len(one[0]) < one[1]]
    if not lists:
        return
    entries, most = dice.choice(lists)
    wanted = min(most, dice.choice([len(entries) + 1, 2 * len(entries), 8 * len(entries), most]))
    if isinstance(entries[0], list) and len(entries) >= 3 and _is_point(entries[0]):
        entries[:] = list(_rounded(entries, wanted))
        return
    while len(entries) < wanted:
        entries.append(_renamed(copy.deepcopy(dice.choice(entries)), dice))


def _is_point(value: list[Any]) -> bool:
    return len(value) == 2 and all(isinstance(one, float | int) for one in value)


def _rounded(corners: list[Any], count: int) -> Iterator[list[float]]:
    """So many corners on the ellipse inside a polygon, so that no two edges are in line."""
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    middle, half = (
        ((max(v) + min(v)) / 2.0 for v in (xs, ys)),
        [(max(v) - min(v)) / 2.0 for v in (xs, ys)],
    )
    x, y = middle
    for number in range(count):
        turn = 2.0 * math.pi * number / count
        yield [x + half[0] * math.cos(turn), y + half[1] * math.sin(turn)]


def _renamed(entry: Any, dice: random.Random) -> Any:
    """A copy that can stand beside its original: another name, another place."""
    if isinstance(entry, dict):
        if "name" in entry:
            entry["name"] = f"n{dice.randrange(10**9)}"
        for key, value in entry.items():
            if key in ("x_m", "y_m") and isinstance(value, float | int):
                entry[key] = value + dice.uniform(-0.3, 0.3)
            elif isinstance(value, dict | list):
                _renamed(value, dice)
    elif isinstance(entry, list) and entry and isinstance(entry[0], list):
        shift = [dice.uniform(-1.0, 1.0), dice.uniform(-1.0, 1.0)]
        for point in entry:
            if isinstance(point, list) and _is_point(point):
                point[:] = [value + by for value, by in zip(point, shift, strict=False)]
    return entry


def enlarge(body: Request, name: str, dice: random.Random) -> None:
    """Put one number at or near the end of its limits."""
    allowed = inspect.type_info(RECORDS[name].operation.request)
    numbers = [
        (place, limits)
        for place in plausible.places(body, allowed)
        if (limits := plausible._limits(place.allowed)) and plausible._is_number(body, place.path)
    ]
    place, limits = dice.choice(numbers)
    now = plausible._value(body, place.path)
    chosen = dice.choice([limits.le, limits.ge, now * 2, now * 10, now / 2])
    if chosen is not None:
        low = limits.ge if limits.ge is not None else chosen
        high = limits.le if limits.le is not None else chosen
        chosen = min(max(chosen, low), high)
        whole = isinstance(limits, inspect.IntType)
        plausible.parent_of(body, place.path)[place.path[-1]] = round(chosen) if whole else chosen


def change(body: Request, name: str, dice: random.Random) -> None:
    """Anything else that the schema allows."""
    allowed = list(plausible.places(body, inspect.type_info(RECORDS[name].operation.request)))
    plausible.vary(body, dice.choice(allowed), dice.randrange)


def ask_differently(body: Request, name: str, dice: random.Random) -> None:
    """Put one parameter of a question anywhere within its limits, often at an end."""
    known = by_name(BY_NAME[name])
    parameter = known[dice.choice(list(known))]
    schema = parameter.schema
    slot = next(one for one in slots(BY_NAME[name]) if parameter.name in one.names)
    for other in slot.names:
        body.pop(other, None)
    low, high = schema.get("minimum"), schema.get("maximum")
    if low is None or high is None:
        body[parameter.name] = dice.choice(schema.get("enum", [*schema["examples"]]))
        return
    value = dice.choice([low, high, dice.uniform(low, high), low + (high - low) * 0.01])
    body[parameter.name] = round(value) if schema["type"] == "integer" else value


CHANGES: tuple[Callable[[Request, str, random.Random], None], ...] = (
    stretch, stretch, stretch, enlarge, enlarge, change,
)  # fmt: skip


def starts(name: str) -> Iterator[Request]:
    """Where to begin."""
    if name in BY_NAME:
        needed = [slot.parameters[0] for slot in slots(BY_NAME[name]) if slot.required]
        yield {one.name: one.example for one in needed}
        return
    operation = plausible.operation_named(name)
    yield plausible.example(operation)
    yield plausible.light_example(operation)


def tried(pool: ProcessPool, name: str, body: Request) -> Tried | None:
    """Cost of a request in a process of its own, stopped when it is beyond doubt too much."""
    expected = expected_ms(name, body)
    if expected is None:
        return None
    most_ms = 2.0 * MOST * max(expected, LEAST_MS) + 500.0
    given = ((name, body, most_ms),)
    spent = pool.schedule(spent_ms, args=given).result()
    for _ in range(_CONFIRMED):  # it may have been the first of its kind, or disturbed
        if spent is not None and Tried(spent, expected).ratio > MOST:
            spent = min(spent, pool.schedule(spent_ms, args=given).result())
    return None if spent is None else Tried(spent, expected)


def climb(name: str, seconds: float, seed: int) -> tuple[Tried, Request]:
    """The worst ratio found, and its request."""
    dice = random.Random(seed)
    changes = (ask_differently,) if name in BY_NAME else CHANGES
    population = [(Tried(0.0, 1.0), body) for body in starts(name)]
    warm = population[-1][1]
    end = time.monotonic() + seconds
    with ProcessPool(
        max_workers=1, initializer=spent_ms, initargs=[(name, warm, 60_000.0)]
    ) as pool:
        while time.monotonic() < end:
            _, parent = dice.choice(population[:8])
            body = copy.deepcopy(parent)
            for _ in range(dice.choice([1, 1, 2, 4])):
                dice.choice(changes)(body, name, dice)
            outcome = tried(pool, name, body)
            if outcome is not None:
                population.append((outcome, body))
                population.sort(key=lambda one: -one[0].ratio)
                del population[24:]
        pool.stop()
    return population[0]


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    every = [*(one.name for one in OPERATIONS), *BY_NAME]
    parser.add_argument("names", nargs="*", default=every)
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    bad = False
    for name in chosen.names:
        worst, body = climb(name, chosen.seconds, chosen.seed)
        print(f"{name}: {worst.ratio:.2f} times the estimate: {worst}", flush=True)
        if worst.ratio > MOST:
            bad = True
            target = Path(f"/tmp/estimate-{name}.json")  # noqa: S108
            target.write_text(json.dumps(body), "utf-8")
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
