"""What it costs to call: the client against bare connections, batches, and a spreadsheet.

Run with ``python tests/load/bench_callers.py [calls] [batch] [cells]``; all three if none is named.
It starts a service on loopback port 8332 and stops it again. Caller and service share the cores.

calls
    The client's call against a bare POST or GET of the same body on a kept connection, in turn.
batch
    Wire sizings through `Client.batch`, plain against decoded, and one by one.
cells
    A sheet of 200 different quick answers, opened and recalculated by LibreOffice without a window.
"""

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from statistics import median

import httpx
import msgspec
from openpyxl import Workbook
from serving import service

from sunhitch import Client, ServiceError
from sunhitch.operations import WIRE_SIZING
from sunhitch.types.wiring import WireSizingRequest

PORT = 8332
URL = f"http://127.0.0.1:{PORT}"
ROUNDS, ROWS, CELLS = 400, 4000, 200
OFFICE = Path(__file__).parents[1] / "contract" / "libreoffice_cells.py"
JSON = {"Content-Type": "application/json"}


def example() -> WireSizingRequest:
    """The shipped circuit."""
    body = resources.files("sunhitch").joinpath("examples", "wire-sizing.json").read_bytes()
    return msgspec.json.decode(body, type=WireSizingRequest)


def seconds(call: Callable[[], object]) -> float:
    """Time of one call."""
    return spent(call)[0]


def spent(call: Callable[[], object]) -> tuple[float, float]:
    """Time of one call, and of it the caller's own work, which other processes do not lengthen."""
    start, worked = time.perf_counter(), time.process_time()
    call()
    return time.perf_counter() - start, time.process_time() - worked


def calls() -> None:
    """Medians of calls in turn, and what the client adds."""
    request = example()
    body = msgspec.json.encode(request)
    cold = f"{URL}/v1/quick/cold-voc?v_oc_v=22.9&lowest_ambient_c=-18.0"
    with httpx.Client() as bare, Client(URL) as client:
        pairs: dict[str, tuple[Callable[[], object], Callable[[], object]]] = {
            "wire-sizing": (
                lambda: bare.post(f"{URL}/v1/wire-sizing", content=body, headers=JSON).content,
                lambda: client.wire_sizing(request),
            ),
            "cold-voc": (
                lambda: bare.get(cold).content,
                lambda: client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0),
            ),
        }
        for name, (plain, typed) in pairs.items():
            for one in (plain, typed):
                one()
            times = [(*spent(plain), *spent(typed)) for _ in range(ROUNDS)]
            bare_s, bare_work_s, typed_s, work_s = map(median, zip(*times, strict=True))
            print(
                f"{name}: bare {1e3 * bare_s:.2f} ms, client {1e3 * typed_s:.2f} ms a call; own "
                f"work {1e6 * bare_work_s:.0f} and {1e6 * work_s:.0f} µs, so the client adds "
                f"{1e6 * (work_s - bare_work_s):.0f} µs"
            )


def batch() -> None:
    """Rows a second through one batch, and one call after the other."""
    request = example()
    varied = [
        msgspec.structs.replace(request, length_m=2.0 + (index % 500) / 100.0)
        for index in range(ROWS)
    ]
    lines = b"\n".join(msgspec.json.encode(one) for one in varied)
    ndjson = {"Content-Type": "application/x-ndjson"}
    path = f"{URL}/v1/batch/wire-sizing"
    with httpx.Client(timeout=300.0) as bare, Client(URL) as client:
        plain_s = seconds(lambda: bare.post(path, content=lines, headers=ndjson).content)
        start = time.perf_counter()
        outcomes = list(client.batch(WIRE_SIZING, varied))
        typed_s = time.perf_counter() - start
        assert len(outcomes) == ROWS
        assert not any(isinstance(one, ServiceError) for one in outcomes)
        single_s = seconds(lambda: [client.wire_sizing(one) for one in varied[:ROUNDS]])
    print(
        f"batch of {ROWS}: bare {ROWS / plain_s:.0f} rows/s, client {ROWS / typed_s:.0f} rows/s; "
        f"call by call {ROUNDS / single_s:.0f} rows/s"
    )


def cells() -> None:
    """Time from opening a sheet to its last answer."""
    soffice = shutil.which("soffice")
    if soffice is None:
        print("cells: LibreOffice is not installed here")
        return
    with tempfile.TemporaryDirectory() as folder:
        empty, full = Path(folder) / "empty.xlsx", Path(folder) / "full.xlsx"
        _sheet(0).save(empty)
        _sheet(CELLS).save(full)
        times: list[float] = []
        for file in (empty, full):
            profile = Path(folder) / f"profile-{file.stem}"
            command = ["/usr/bin/python3", str(OFFICE), soffice, str(profile), str(file)]
            start = time.perf_counter()
            done = subprocess.run(command, capture_output=True, check=True)
            times.append(time.perf_counter() - start)
        found = [one for one in msgspec.json.decode(done.stdout).values() if one]
    numbers = [one for one in found if isinstance(one, float)]
    assert len(numbers) == CELLS, found[:5]
    assert len(set(numbers)) == CELLS, "every cell asks something else"
    print(
        f"cells: {CELLS} quick answers recalculated in {times[1] - times[0]:.1f} s beyond the "
        f"{times[0]:.1f} s that LibreOffice takes to start and stop"
    )


def _sheet(count: int) -> Workbook:
    """A column of formulas, each of which asks for another temperature."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in range(1, count + 1):
        query = f"v_oc_v=22.9&beta_voc_fraction_per_c=-0.0028&lowest_ambient_c={-row / 10.0}"
        address = f"{URL}/v1/quick/cold-voc?{query}&format=txt"
        sheet.cell(row, 1, f'=_xlfn.NUMBERVALUE(_xlfn.WEBSERVICE("{address}"),".")')
    return book


def main(chosen: list[str]) -> None:
    """Run what is named on the command line."""
    parts = {"calls": calls, "batch": batch, "cells": cells}
    with service(PORT):
        for name, part in parts.items():
            if not chosen or name in chosen:
                part()


if __name__ == "__main__":
    main(sys.argv[1:])
