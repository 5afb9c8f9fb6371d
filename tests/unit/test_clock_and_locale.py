"""Answers depend on the request alone: not on time zone, language, hash seed or the set clock."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from hostile import JSON, Hostile
from in_process import InProcess, in_process
from plausible import example_text

DIGESTS = Path(__file__).with_name("answer_digests.py")
YEAR_S = 365.25 * 86_400.0
HERE = {"TZ": "Asia/Kathmandu", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "1"}
ELSEWHERE = {
    "TZ": "America/St_Johns",
    "PYTHONHASHSEED": "2",
    **{"LC_ALL": "", "LANG": "de_DE.UTF-8"},  # a comma for the point
    **{"LC_CTYPE": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},  # texts in ASCII
}


def _digests(**environment: str) -> dict[str, str]:
    run = subprocess.run(
        [sys.executable, str(DIGESTS)],
        env=os.environ | environment,
        stdout=subprocess.PIPE,
        check=True,
    )
    found: dict[str, str] = json.loads(run.stdout)
    return found


def test_answers_are_the_same_bytes_in_another_place_and_language() -> None:
    here = _digests(**HERE)
    assert len(here) > 10
    assert _digests(**ELSEWHERE) == here


@pytest.fixture(scope="module")
def service() -> Iterator[InProcess]:
    with in_process() as running:
        yield running


@pytest.mark.parametrize("jump_s", [-50.0 * YEAR_S, -3600.0, 3600.0, 50.0 * YEAR_S])
def test_a_clock_that_is_set_changes_nothing(
    service: InProcess, monkeypatch: pytest.MonkeyPatch, jump_s: float
) -> None:
    request = Hostile(
        "POST", "/v1/wire-sizing", example_text("wire-sizing"), {"Content-Type": JSON}
    )
    before = service.call(request)
    assert before.status == 200
    true_time = time.time
    monkeypatch.setattr(time, "time", lambda: true_time() + jump_s)
    after = service.call(request)
    assert (after.status, after.body) == (200, before.body)
    assert service.call(Hostile("GET", "/health/ready")).status == 200
    assert service.logged() == ""


@pytest.mark.parametrize("jump_s", [-YEAR_S, -60.0, 60.0, YEAR_S])
def test_the_rate_limit_does_not_lock_anyone_out_when_the_clock_is_set(
    monkeypatch: pytest.MonkeyPatch, jump_s: float
) -> None:
    """Two calls a minute: after the clock was set and a true minute went by, calls pass again."""
    request = Hostile("GET", "/v1/quick")
    true_time, true_monotonic, later_s = time.time, time.monotonic, 0.0
    monkeypatch.setattr(time, "monotonic", lambda: true_monotonic() + later_s)
    with in_process(rate_limit_per_minute=2) as service:
        assert [service.call(request).status for _ in range(3)] == [200, 200, 429]
        later_s = 61.0
        monkeypatch.setattr(time, "time", lambda: true_time() + jump_s + later_s)
        reply = service.call(request)
        assert reply.status == 200
