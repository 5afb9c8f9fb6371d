"""The service under attack: malformed requests by the thousand, and workers killed at work."""

import json
import os
import signal
import socket
import time
from pathlib import Path

import httpx
import malformed
import pytest
from plausible import example, operation_named
from serving import HOST, process_tree, service

REQUESTS = 3000
LINES = 80
KILLED_AFTER = (1, 25, 50)
"""Lines come in order: what a process was at is among those up to the next death."""
"""A line is given up after two tries in its piece and two by itself, so that no line can be lost to
so few."""


def free_port() -> int:
    with socket.create_server((HOST, 0)) as probe:
        return int(probe.getsockname()[1])


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is read from /proc")
def test_malformed_requests_are_refused_and_leave_nothing_behind() -> None:
    outcome = malformed.run(free_port(), REQUESTS, seed=7)
    assert outcome.faults == []
    assert sum(outcome.statuses.values()) > 0.95 * REQUESTS
    assert {400, 404, 405, 406, 413, 415} <= set(outcome.statuses)
    assert outcome.growth_mb < malformed.MOST_GROWTH_MB


def _line(number: int) -> bytes:
    """Some hundredths of a second of work; brighter from line to line."""
    body = example(operation_named("shaded-iv"))
    body["sun"]["irradiance_w_m2"] = 400.0 + number
    body["shade"] = []
    body["detail"] = "cells"
    names = [panel["name"] for panel in body["panels"]]
    body["compare"] = [
        {"name": f"way {way}", "wiring": {"strings": [names]}, "construction": "half-cell-2-diodes"}
        for way in range(4)
    ]
    return json.dumps(body).encode()


def _workers(server: int) -> list[int]:
    """Processes that calculate: the pool's fork server is a child, they are its children."""
    children = set(_children(server))
    return [pid for pid in process_tree(server) if pid != server and pid not in children]


def _children(parent: int) -> list[int]:
    listed = Path(f"/proc/{parent}/task/{parent}/children").read_text().split()
    return [int(pid) for pid in listed]


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="processes are found in /proc")
def test_killed_workers_lose_no_line_of_a_batch() -> None:
    port = free_port()
    body = b"\n".join(_line(number) for number in range(LINES))
    lines: list[str] = []
    with service(port, pool_workers=2) as server, httpx.Client(timeout=120.0) as http:
        url = f"http://{HOST}:{port}/v1/batch/shaded-iv"
        headers = {"Content-Type": "application/x-ndjson"}
        with http.stream("POST", url, content=body, headers=headers) as answer:
            for line in answer.iter_lines():
                lines.append(line)
                if len(lines) in KILLED_AFTER:
                    os.kill(_workers(server)[0], signal.SIGKILL)
        told = http.get(f"http://{HOST}:{port}/metrics").text
    assert f"sunhitch_worker_deaths_total {len(KILLED_AFTER)}.0" in told
    powers = [json.loads(line)["answer"]["maximum_power_point"]["power_w"] for line in lines]
    assert len(powers) == LINES
    assert powers == sorted(powers)
    assert len(set(powers)) == LINES


def test_a_service_whose_workers_die_serves_on() -> None:
    port = free_port()
    request = json.loads(_line(1))
    with service(port, pool_workers=1) as server, httpx.Client(timeout=120.0) as http:
        url = f"http://{HOST}:{port}"
        first = http.post(f"{url}/v1/shaded-iv", json=request)
        for pid in _workers(server):
            os.kill(pid, signal.SIGKILL)
        time.sleep(0.2)
        second = http.post(f"{url}/v1/shaded-iv", json=request)
        assert http.get(f"{url}/health/ready").status_code == 200
    assert first.status_code == second.status_code == 200
    assert first.content == second.content
