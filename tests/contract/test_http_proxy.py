"""The shipped nginx configuration in front of two replicas: kills, slow clients, restarts."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path

import httpx
import pytest
from contract_serving import until

from outside_programs import place_of

DEPLOY = Path(__file__).parents[2] / "service" / "deploy"
EXAMPLES = resources.files("sunhitch").joinpath("examples")
SHORT = ("/v1/wire-sizing", EXAMPLES.joinpath("wire-sizing.json").read_bytes())
LONG = ("/v1/mount-check", EXAMPLES.joinpath("mount-check.json").read_bytes())
JSON = {"Content-Type": "application/json"}

pytestmark = pytest.mark.needs_program("nginx")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Replica:
    """A serving process with a pool of one."""

    port: int
    log: Path
    process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        own = {"HOST": "127.0.0.1", "PORT": str(self.port), "POOL_WORKERS": "1"}
        environment = os.environ | {f"SUNHITCH_HTTP_{name}": own[name] for name in own}
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "sunhitch_service"],
                env=environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )

    def is_ready(self) -> bool:
        try:
            return httpx.get(f"http://127.0.0.1:{self.port}/health/ready").status_code == 200
        except httpx.TransportError:
            return False

    def kill(self) -> None:
        """End the serving process and its workers without a word."""
        if self.process is not None:
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()

    def calculations(self) -> int:
        """How many calls for a calculation it answered."""
        lines = (json.loads(line) for line in self.log.read_bytes().splitlines())
        return sum(line.get("path", "").startswith("/v1/") for line in lines)


@dataclass
class Front:
    """The proxy and what is behind it."""

    url: str
    replicas: list[Replica]
    folder: Path


@pytest.fixture
def front(tmp_path: Path) -> Iterator[Front]:
    """The shipped configuration with this test's ports and folders."""
    port = free_port()
    replicas = [Replica(free_port(), tmp_path / f"replica-{n}.log") for n in (1, 2)]
    text = (DEPLOY / "nginx.conf").read_text("utf-8")
    for shipped, own in (
        ("listen 8080;", f"listen 127.0.0.1:{port};"),
        ("127.0.0.1:8001", f"127.0.0.1:{replicas[0].port}"),
        ("127.0.0.1:8002", f"127.0.0.1:{replicas[1].port}"),
        ("/run/sunhitch-nginx.pid", str(tmp_path / "nginx.pid")),
        ("/dev/stdout", str(tmp_path / "access.log")),
    ):
        assert shipped in text
        text = text.replace(shipped, own)
    temporary = "".join(
        f"{kind}_temp_path {tmp_path / kind};\n"
        for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    config = tmp_path / "nginx.conf"
    config.write_text(text.replace("http {", f"http {{\n{temporary}"), "utf-8")
    with ExitStack() as stack:
        for replica in replicas:
            replica.start()
            stack.callback(replica.kill)
        for replica in replicas:
            until(replica.is_ready, 180.0)  # the first start compiles
        command = [place_of("nginx"), "-c", str(config), "-p", str(tmp_path), "-g", "daemon off;"]
        with (tmp_path / "error.log").open("wb") as errors:
            proxy = subprocess.Popen(command, stderr=errors)
        stack.callback(proxy.wait)
        stack.callback(proxy.terminate)
        url = f"http://127.0.0.1:{port}"
        until(lambda: answers(url))
        yield Front(url, replicas, tmp_path)


def answers(url: str) -> bool:
    try:
        return httpx.get(f"{url}/health/live").status_code == 200
    except httpx.TransportError:
        return False


@dataclass
class Load:
    """Callers that ask one call after the other, each noting what it got."""

    url: str
    statuses: list[int | str] = field(default_factory=list)
    stop: threading.Event = field(default_factory=threading.Event)

    def run(self, call: tuple[str, bytes]) -> None:
        path, body = call
        with httpx.Client(base_url=self.url, timeout=60.0) as http:
            while not self.stop.is_set():
                try:
                    status: int | str = http.post(path, content=body, headers=JSON).status_code
                except httpx.TransportError as error:
                    status = repr(error)
                self.statuses.append(status)
                self.stop.wait(0.01)

    def during(self, what: Callable[[], None], at_least: int = 150) -> None:
        """Call while something happens, and some more."""
        with ThreadPoolExecutor(4) as callers:
            running = [callers.submit(self.run, call) for call in (SHORT, SHORT, SHORT, LONG)]
            try:
                until(lambda: len(self.statuses) > at_least / 3)
                what()
                enough = len(self.statuses) + at_least
                until(lambda: len(self.statuses) > enough)
            finally:
                self.stop.set()
            for one in running:
                one.result()


def test_a_killed_replica_fails_no_call(front: Front) -> None:
    """But for the one answer that may be leaving right then, which no proxy can ask for again."""
    load = Load(front.url)
    load.during(front.replicas[0].kill)
    torn = [one for one in load.statuses if "complete message body" in str(one)]
    assert len(torn) <= 1
    assert {*load.statuses} - {*torn} == {200}
    assert all(replica.calculations() > 0 for replica in front.replicas)
    assert not front.replicas[0].is_ready()


@pytest.mark.needs_program("curl")
def test_a_rolling_restart_fails_no_call(front: Front) -> None:
    for replica in front.replicas:
        (front.folder / str(replica.port)).write_text(str(replica.process.pid), "utf-8")
    restarter = front.folder / "restart.py"
    restarter.write_text(RESTARTER, "utf-8")
    ports = [str(replica.port) for replica in front.replicas]
    environment = os.environ | {"RESTART": f"{sys.executable} {restarter}"}

    def restart() -> None:
        script = [str(DEPLOY / "rolling-restart.sh"), *ports]
        done = subprocess.run(script, env=environment, capture_output=True, text=True, check=True)
        assert [line.split()[-3] for line in done.stdout.splitlines()] == ports

    before = [replica.process.pid for replica in front.replicas]
    load = Load(front.url)
    try:
        load.during(restart)
    finally:
        after = [int((front.folder / port).read_text("utf-8")) for port in ports]
        for pid in set(after) - set(before):
            os.killpg(pid, signal.SIGKILL)
    assert set(load.statuses) == {200}
    assert set(before).isdisjoint(after)


RESTARTER = """\
import os, pathlib, signal, subprocess, sys, time
pid = pathlib.Path(__file__).parent / sys.argv[1]
old = int(pid.read_text())
os.kill(old, signal.SIGTERM)
while pathlib.Path(f"/proc/{old}/stat").exists():
    if pathlib.Path(f"/proc/{old}/stat").read_text().rsplit(")")[-1].split()[0] == "Z":
        break
    time.sleep(0.05)
own = {"SUNHITCH_HTTP_PORT": sys.argv[1], "SUNHITCH_HTTP_POOL_WORKERS": "1"}
new = subprocess.Popen(
    [sys.executable, "-m", "sunhitch_service"], env=os.environ | own, start_new_session=True,
    stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
)
pid.write_text(str(new.pid))
"""
"""Stops a replica gracefully and starts it anew, as systemd would."""


def attackers(front: Front, count: int, opening: bytes) -> list[socket.socket]:
    """Connections from many addresses that began a request."""
    parts = httpx.URL(front.url)
    found: list[socket.socket] = []
    for number in range(count):
        own = f"127.0.1.{number % 10 + 1}"
        found.append(socket.create_connection((parts.host, parts.port), 10, (own, 0)))
        found[-1].sendall(opening)
        found[-1].setblocking(False)
    return found


def drip(connections: list[socket.socket]) -> list[socket.socket]:
    """Send one more byte on each; those that are still open."""
    still_open: list[socket.socket] = []
    for one in connections:
        try:
            one.send(b"x")
            closed = one.recv(1) == b""
        except BlockingIOError:
            closed = False
        except OSError:
            closed = True
        if not closed:
            still_open.append(one)
    return still_open


def test_slow_clients_never_reach_a_replica(front: Front) -> None:
    slow_head = attackers(front, 100, b"POST /v1/wire-sizing HTTP/1.1\r\nHost: a\r\nX-Slow: ")
    head = b"POST /v1/wire-sizing HTTP/1.1\r\nHost: a\r\nContent-Type: application/json\r\n"
    slow_body = attackers(front, 100, head + b"Content-Length: 100000\r\n\r\n{")
    asked = 0
    still_open = slow_head
    until_s = time.monotonic() + 12.0
    with httpx.Client(base_url=front.url, timeout=10.0) as http:
        while time.monotonic() < until_s and still_open:
            still_open, slow_body = drip(still_open), drip(slow_body)
            for path, body in (SHORT, SHORT, LONG):
                assert http.post(path, content=body, headers=JSON).status_code == 200
                asked += 1
            time.sleep(0.3)
    assert still_open == [], "slow headers are cut off within the time for headers"
    assert len(slow_body) == 100, "slow bodies wait in the proxy"
    assert asked > 10
    assert sum(replica.calculations() for replica in front.replicas) == asked
    for one in (*slow_head, *slow_body):
        one.close()


def test_the_proxy_speaks_in_problem_documents(front: Front) -> None:
    large = httpx.post(f"{front.url}{SHORT[0]}", content=b" " * 4_300_000, headers=JSON)
    assert (large.status_code, large.json()["status"]) == (413, 413)
    wide = httpx.get(front.url, headers={"X-Wide": "x" * 20_000})
    assert wide.json()["status"] == wide.status_code == 431
    for replica in front.replicas:
        replica.kill()
    gone = httpx.post(f"{front.url}{SHORT[0]}", content=SHORT[1], headers=JSON)
    assert (gone.status_code, gone.json()["type"]) == (502, "urn:sunhitch:problem:overloaded")
    assert gone.headers["retry-after"] == "1"
    assert gone.headers["content-type"] == "application/problem+json"


def test_what_stays_inside(front: Front) -> None:
    secret = "sunhitch_in_the_query"  # noqa: S105
    httpx.get(f"{front.url}/v1/quick?api_key={secret}")
    assert httpx.get(f"{front.url}/metrics").status_code == 404
    log = front.folder / "access.log"
    until(lambda: "/metrics" in log.read_text("utf-8"))
    lines = [json.loads(line) for line in log.read_text("utf-8").splitlines()]
    assert {"client", "path", "status", "seconds", "replica", "request_id"} <= lines[0].keys()
    assert secret not in log.read_text("utf-8")
    answer = httpx.post(f"{front.url}{SHORT[0]}", content=SHORT[1], headers=JSON)
    assert re.fullmatch(r"[0-9a-f]{32}", answer.headers["x-request-id"])
    assert "nginx/" not in answer.headers["server"]
