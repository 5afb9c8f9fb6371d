"""What calculations cost, how that grows, and how near the service's own estimates come.

Run with ``python tests/load/bench_growth.py``; one core, no network. The figures of
`service/deploy/sizing.md` come from here.
"""

import json
import time
from collections.abc import Iterator
from importlib import resources
from typing import Any

from sunhitch.codec import decode_strict, encode
from sunhitch_service.calculations import calculations

Document = dict[str, Any]
RECORDS = {record.operation.name: record for record in calculations()}


def example(name: str) -> Document:
    """A shipped request."""
    found: Document = json.loads(
        resources.files("sunhitch").joinpath("examples", f"{name}.json").read_bytes()
    )
    return found


def measured(name: str, given: Document) -> tuple[float, float, int]:
    """Best time of three after one to warm up [ms], estimate [ms], size of the answer [bytes]."""
    record = RECORDS[name]
    request = decode_strict(json.dumps(given).encode(), record.operation.request)
    answer = encode(record.calculate(request))
    spent: list[float] = []
    for _ in range(3):
        started = time.perf_counter()
        encode(record.calculate(request))
        spent.append(time.perf_counter() - started)
    return min(spent) * 1e3, record.computing_time.expected_ms(request), len(answer)


def shaded(panels: int, detail: str) -> Document:
    """So many panels in pairs, under one shadow each, all for themselves."""
    given = example("shaded-iv")
    one = given["panels"][0]
    names = [f"p{number}" for number in range(panels)]
    given |= {
        "detail": detail,
        "compare": [],
        "panels": [
            one | {"name": name, "position": {"x_m": 1.3 * (n // 2), "y_m": 0.7 * (n % 2)}}
            for n, name in enumerate(names)
        ],
        "wiring": {"strings": [names[n : n + 2] for n in range(0, panels, 2)]},
    }
    return given


def harvested(days: int, panels: int) -> Document:
    """So many days of so many panels in pairs, with the example's shadows."""
    given = example("harvest")
    names = [f"p{number}" for number in range(panels)]
    given["weather"]["days"] = days
    given["roof"] = {"outline": {"kind": "rectangle", "length_m": 20.0, "width_m": 2.4}}
    given |= {
        "driving": [],
        "compare": [],
        "placements": [
            given["placements"][0]
            | {"name": name, "x_m": 0.3 + 1.3 * (n // 3), "y_m": 0.1 + 0.75 * (n % 3)}
            for n, name in enumerate(names)
        ],
    }
    array = given["arrays"][0]
    array["wiring"] = {"strings": [names[n : n + 2] for n in range(0, panels, 2)]}
    return given


def cases() -> Iterator[tuple[str, str, Document]]:
    """Operation, what is varied, request."""
    for name in RECORDS:
        yield name, "the example", example(name)
    for panels in (2, 8, 24):
        for detail in ("summary", "cells"):
            yield "shaded-iv", f"{panels} panels, {detail}", shaded(panels, detail)
    for days, panels in ((7, 4), (91, 4), (365, 4), (365, 12)):
        yield "harvest", f"{days * 24} h, {panels} panels", harvested(days, panels)


if __name__ == "__main__":
    print("| calculation | what | ms | estimated ms | answer kB |\n|---|---|---|---|---|")
    for name, what, given in cases():
        spent_ms, expected_ms, size = measured(name, given)
        print(f"| {name} | {what} | {spent_ms:.1f} | {expected_ms:.1f} | {size / 1000:.0f} |")
