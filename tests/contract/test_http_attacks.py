"""Callers who send all they may: others are served all the same, and nothing breaks.

What is asserted does not depend on how fast the machine is: who is served before whom, what is
refused, in which process work was done. `tests/load/bench_fairness.py` tells the times.
"""

import asyncio
import gc
import json
import os
import socket
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Any

import httpx
import pytest
from contract_serving import PATIENCE_S, TOY, Served, half_open, problem_of, told_in, until
from contract_toys import toys
from serving import HOST, process_tree, service

from sunhitch_service.engine.pv.accelerate import installed
from sunhitch_service.http.app import create_app
from sunhitch_service.http.settings import Settings
from sunhitch_service.workers import pool

LINES = {"Content-Type": "application/x-ndjson"}
PROXY = ["127.0.0.1"]
GREEDY, MODEST = {"X-Forwarded-For": "192.0.2.1"}, {"X-Forwarded-For": "192.0.2.2"}
EXAMPLES = Path(__file__).parents[2] / "client/sunhitch/examples"


def toy(seconds: float, **change: Any) -> dict[str, Any]:
    """A request that takes so long in `linger`."""
    return TOY | {"shapes": [{"kind": "square", "side_m": seconds**0.5}]} | change


def in_lines(*requests: Any) -> bytes:
    return b"".join(json.dumps(one).encode() + b"\n" for one in requests)


def metric(served: Served, name: str) -> float:
    lines = served.http.get("/metrics").text.splitlines()
    return sum(float(line.split()[-1]) for line in lines if line.startswith(name))


@contextmanager
def streaming(served: Served, name: str, body: bytes) -> Iterator[Iterator[str]]:
    """Lines of a greedy caller's batch, as they come."""
    path, headers = f"/v1/batch/{name}", LINES | GREEDY
    with served.http.stream("POST", path, content=body, headers=headers) as answer:
        yield answer.iter_lines()


def test_a_batch_lets_others_go_between_its_pieces(
    start: Callable[..., Served], tmp_path: Path
) -> None:
    served = start(toys(), trusted_proxies=PROXY, pool_workers=1)
    marks = [tmp_path / f"line {number}" for number in range(60)]
    body = in_lines(*[toy(0.1, name=str(mark)) for mark in marks])
    with streaming(served, "linger", body) as lines:
        next(lines)
        done = sum(mark.exists() for mark in marks)
        assert served.http.post("/v1/linger", json=toy(0.01), headers=MODEST).status_code == 200
        between = sum(mark.exists() for mark in marks) - done
        assert len(list(lines)) == len(marks) - 1
    assert between < 20


def test_long_work_leaves_a_worker_to_short_work(
    start: Callable[..., Served], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of two pieces that take too long for short work one has to wait for the other."""
    monkeypatch.setattr(pool, "_SHORT_LIMIT_S", 0.2)
    served = start(toys(), pool_workers=1, trusted_proxies=PROXY, time_limit_s=300.0)
    over, quick = tmp_path / "over", toy(0.01, name=str(tmp_path))
    with ThreadPoolExecutor(2) as callers:
        long = [
            callers.submit(
                served.http.post, "/v1/toil", json=toy(1.0, name=str(over)), headers=GREEDY
            )
            for _ in range(2)
        ]
        try:
            until(lambda: metric(served, 'sunhitch_timeouts_total{kind="short"}') == 1.0)
            assert served.http.post("/v1/toil", json=quick, headers=MODEST).status_code == 200
            assert not any(one.done() for one in long)
        finally:
            over.touch()
        assert [one.result().status_code for one in long] == [200, 200]


def test_one_caller_leaves_a_worker_to_others(start: Callable[..., Served]) -> None:
    served = start(toys(), trusted_proxies=PROXY, pool_workers=1)
    body = json.dumps(toy(25.0)).encode()
    with ExitStack() as held:
        for number in range(1, 5):
            held.enter_context(half_open(served.url, "/v1/linger", body))
            until(lambda number=number: metric(served, "sunhitch_calculations_in_flight") == number)
        assert served.http.post("/v1/linger", json=toy(0.01), headers=MODEST).status_code == 200
        assert metric(served, "sunhitch_calculations_in_flight") == number


def nicenesses() -> Counter[int]:
    """How many processes of this one stand how far back."""
    found: Counter[int] = Counter()
    for one in process_tree(os.getpid()):
        with suppress(ProcessLookupError):
            found[os.getpriority(os.PRIO_PROCESS, one)] += 1
    return found


@pytest.mark.skipif(sys.platform == "win32", reason="processes have no niceness there")
def test_who_has_nothing_under_way_goes_ahead_until_it_takes_long(
    start: Callable[..., Served], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pool, "_SHORT_LIMIT_S", 0.2)
    chosen = {"time_limit_s": 300.0, "cache_megabytes": 0}
    served = start(toys(), pool_workers=1, trusted_proxies=PROXY, **chosen)
    own, over = os.getpriority(os.PRIO_PROCESS, 0), tmp_path / "over"
    usual, before = own + Settings().pool_niceness, nicenesses()

    def worker(request_id: str) -> int:
        """Niceness of the worker that a modest caller got."""
        headers, quick = MODEST | {"X-Request-Id": request_id}, toy(0.01, name=str(tmp_path))
        assert served.http.post("/v1/toil", json=quick, headers=headers).status_code == 200
        return os.getpriority(os.PRIO_PROCESS, int(served.line(request_id)["worker"]))

    assert worker("nobody-else") == usual
    with ExitStack() as held, ThreadPoolExecutor(1) as callers:
        for number in (1, 2):
            body = json.dumps(toy(100.0)).encode()
            held.enter_context(half_open(served.url, "/v1/linger", body))
            until(lambda number=number: metric(served, "sunhitch_calculations_in_flight") == number)
        assert own <= worker("beside-others") < usual
        long = callers.submit(
            served.http.post, "/v1/toil", json=toy(1.0, name=str(over)), headers=MODEST
        )
        try:
            until(lambda: nicenesses()[usual] == before[usual] + 1)
            until(lambda: nicenesses().total() == before.total() + 1)
        finally:
            over.touch()
        assert long.result().status_code == 200
        assert metric(served, 'sunhitch_timeouts_total{kind="short"}') == 0.0
        until(lambda: nicenesses() == before)


def test_requests_leave_no_garbage_whose_collection_would_hold_the_loop() -> None:
    app = create_app(Settings(pool_workers=0, log_level="error"), toys())

    async def nothing_more() -> Any:
        return {"type": "http.request", "body": b"{}", "more_body": False}

    async def ignored(_message: Any) -> None: ...

    async def collected(path: str) -> int:
        for _ in range(30):
            scope: Any = {"type": "http", "method": "POST", "path": path, "raw_path": path.encode()}
            scope |= {"query_string": b"", "headers": [(b"host", b"x")], "http_version": "1.1"}
            await app(scope | {"client": ("192.0.2.1", 1)}, nothing_more, ignored)
        return gc.collect()

    paths = ["/v1/add-up", "/v1/nothing", "/health/live"]
    for path in paths:
        asyncio.run(collected(path))
    gc.collect()
    gc.freeze()
    gc.disable()
    try:
        found = {path: asyncio.run(collected(path)) for path in paths}
    finally:
        gc.enable()
    assert max(found.values()) < 30, found


def test_nobody_takes_all_places(start: Callable[..., Served]) -> None:
    served = start(
        toys(), trusted_proxies=PROXY, pool_workers=1, max_in_flight=9, time_limit_s=10.0
    )
    body = json.dumps(toy(5.0)).encode()
    with ExitStack() as held:
        for number in range(1, 7):
            held.enter_context(half_open(served.url, "/v1/linger", body))
            until(lambda number=number: metric(served, "sunhitch_calculations_in_flight") == number)
        refused = served.http.post("/v1/linger", json=toy(0.0))
        assert "6 of them yours" in problem_of(refused, 503, "overloaded").detail
        assert served.http.post("/v1/add-up", json=TOY).status_code == 200
        other = served.http.post("/v1/linger", json=toy(0.01), headers=MODEST)
        assert other.status_code == 200
    until(lambda: metric(served, "sunhitch_calculations_in_flight") == 0.0)


def test_a_batch_of_rubbish_ends_and_says_where(start: Callable[..., Served]) -> None:
    served = start(toys(), trusted_proxies=PROXY, pool_workers=1, max_batch_malformed=100)
    body = in_lines(TOY) + b"{}\n" * 5000
    answer = served.http.post("/v1/batch/add-up", content=body, headers=LINES)
    first, *rest, last = told_in(answer.content)
    assert first["area_m2"] == 4.0
    assert {line["type"] for line in rest} == {"urn:sunhitch:problem:malformed"}
    assert 100 <= len(rest) < 100 + 3 * 512
    assert last["type"] == "urn:sunhitch:problem:batch-ended"
    assert last["detail"].endswith(f"Lines {len(rest) + 2} to 5001 were not read.")
    assert f"after line {len(rest) + 1}: " in last["detail"]


def test_a_batch_whose_last_line_is_the_last_straw_is_whole(start: Callable[..., Served]) -> None:
    served = start(toys(), trusted_proxies=PROXY, pool_workers=0, max_batch_malformed=3)
    answer = served.http.post("/v1/batch/add-up", content=b"{}\n" * 3, headers=LINES)
    assert [line["status"] for line in told_in(answer.content)] == [400] * 3


def test_a_batch_has_a_budget(start: Callable[..., Served]) -> None:
    served = start(None, trusted_proxies=PROXY, pool_workers=1, max_batch_processor_seconds=1.0)
    line = json.loads((EXAMPLES / "mount-check.json").read_bytes())
    answer = served.http.post(
        "/v1/batch/mount-check", content=in_lines(*[line] * 200), headers=LINES
    )
    *answers, last = told_in(answer.content)
    assert last["type"] == "urn:sunhitch:problem:batch-ended"
    assert "s of a processor" in last["detail"]
    assert 1 <= len(answers) < 200
    assert all("checks" in one for one in answers)


def test_a_budget_is_a_callers_own(start: Callable[..., Served]) -> None:
    chosen = {"processor_seconds_per_minute": 0.02, "cache_megabytes": 0}
    served = start(None, trusted_proxies=PROXY, pool_workers=1, **chosen)
    body = json.loads((EXAMPLES / "mount-check.json").read_bytes())

    def ask(headers: dict[str, str]) -> httpx.Response:
        return served.http.post("/v1/mount-check", json=body, headers=headers)

    spent = [ask(GREEDY) for _ in range(4)]
    assert spent[0].status_code == 200
    assert spent[0].headers["server-timing"].startswith("cpu;dur=")
    problem_of(spent[-1], 429, "rate-limited")
    assert int(spent[-1].headers["retry-after"]) >= 1
    assert ask(MODEST).status_code == 200


def test_a_worker_that_wants_too_much_memory_refuses(start: Callable[..., Served]) -> None:
    served = start(toys(), trusted_proxies=PROXY, pool_workers=1, worker_memory_megabytes=600)
    problem = problem_of(served.http.post("/v1/hoard", json=toy(9.0)), 422, "too-much-work")
    assert "600 MB" in problem.detail
    body = in_lines(toy(9.0), toy(1.0), toy(9.0))
    answer = served.http.post("/v1/batch/hoard", content=body, headers=LINES)
    lines = told_in(answer.content)
    assert [line.get("status") for line in lines] == [422, None, 422]
    assert served.http.post("/v1/hoard", json=toy(1.0)).status_code == 200
    assert served.http.get("/health/ready").status_code == 200


def test_work_that_kills_its_worker_is_a_problem_of_its_own(start: Callable[..., Served]) -> None:
    served = start(toys(), trusted_proxies=PROXY, pool_workers=2)
    deadly = toy(1.0, size="large", height_m=1.0)
    problem_of(served.http.post("/v1/die-always", json=deadly), 503, "worker-died")
    assert metric(served, "sunhitch_worker_deaths_total") == 2.0
    body = in_lines(TOY, deadly, TOY, TOY)
    answer = served.http.post("/v1/batch/die-always", content=body, headers=LINES)
    lines = told_in(answer.content)
    assert [line.get("status") for line in lines] == [None, 503, None, None]
    until(lambda: metric(served, "sunhitch_workers ") == 4.0)


def test_large_bodies_and_drawings_are_work_for_other_processes(
    start: Callable[..., Served],
) -> None:
    served = start(toys(), trusted_proxies=PROXY, pool_workers=1)
    large = TOY | {"name": "x" * 80, "shapes": [{"kind": "square", "side_m": 2}]}
    padded = json.dumps(large).encode() + b" " * 50_000
    for request_id, body, accept, here in (
        ("small", json.dumps(TOY).encode(), "application/json", True),
        ("large", padded, "application/json", False),
        ("drawn", json.dumps(TOY).encode(), "image/svg+xml", False),
    ):
        headers = {"X-Request-Id": request_id, "Accept": accept, "Content-Type": "application/json"}
        answer = served.http.post("/v1/add-up", content=body, headers=headers)
        assert answer.status_code == 200
        line = served.line(request_id)
        assert (line.get("worker") in (None, os.getpid())) is here, line
        assert line["cost_ms"] >= 0.0


@pytest.mark.skipif(not installed(), reason="the compiler is an extra")
def test_numpy_serves_while_loops_are_compiled(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    with socket.create_server((HOST, 0)) as probe:
        port = int(probe.getsockname()[1])
    with httpx.Client(timeout=PATIENCE_S) as http, service(port, pool_workers=1):
        url = f"http://{HOST}:{port}"
        assert http.get(f"{url}/health/ready").json()["loops"] == "compiling"
        body = json.loads((EXAMPLES / "shaded-iv.json").read_bytes())
        shade = [{"name": f"moment {number}"} for number in range(250)]
        body["states"] = [body["states"][0] | one for one in shade]
        answer = http.post(f"{url}/v1/shaded-iv", json=body)
        assert answer.status_code == 200, answer.text
        assert len(answer.json()["states"]) == 250
        assert http.get(f"{url}/health/ready").json()["loops"] == "compiling"
        lines = http.get(f"{url}/metrics").text.splitlines()
    assert "sunhitch_workers 3.0" in lines
    assert "sunhitch_workers_compiled 0.0" in lines
