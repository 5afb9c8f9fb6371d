"""Batches: order kept, faults by line, bounded calls, progress, retries of a whole batch."""

import math
import threading
from collections.abc import Callable, Iterable, Iterator

import anyio
import httpx
import msgspec
import pandas as pd
import pytest
from service_in_memory import ANSWER, REQUEST, Script, refusal

from sunhitch import (
    AsyncClient,
    Client,
    OverloadedError,
    RequestRejectedError,
    ServiceError,
    UnexpectedAnswerError,
)
from sunhitch.codec import encode
from sunhitch.faults import fault_at
from sunhitch.operations import SHADED_IV
from sunhitch.texts import Text
from sunhitch.types.problem import Problem
from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest
from sunhitch.types.stream import answer_line, problem_line

NDJSON = {"Content-Type": "application/x-ndjson"}
Outcomes = list[ShadedIvAnswer | ServiceError]


def sunny(irradiance_w_m2: float) -> ShadedIvRequest:
    """A request that can be told from the others."""
    sun = msgspec.structs.replace(REQUEST.sun, irradiance_w_m2=irradiance_w_m2)
    return msgspec.structs.replace(REQUEST, sun=sun)


def echo(request: httpx.Request) -> httpx.Response:
    """Answers each line with the irradiance as power; 13 W/m² is a contradiction."""
    answers = b"".join(map(line, request.content.splitlines()))
    return httpx.Response(200, content=answers, headers=NDJSON)


def line(body: bytes) -> bytes:
    irradiance = msgspec.json.decode(body, type=ShadedIvRequest).sun.irradiance_w_m2
    if irradiance == 13.0:
        fault = fault_at("/sun", Text("Thirteen.", "mend", {}))
        problem = Problem(
            type="urn:sunhitch:problem:contradictory",
            title="Contradictory request",
            status=422,
            detail="One field.",
            instance="",
            errors=[fault],
            error_count=1,
        )
        return problem_line(encode(problem)) + b"\n"
    point = msgspec.structs.replace(ANSWER.maximum_power_point, power_w=irradiance)
    told = msgspec.structs.replace(ANSWER, maximum_power_point=point)
    return answer_line(encode(told)) + b"\n"


def ask_waiting(script: object, requests: Iterable[object], **how: object) -> Outcomes:
    http = httpx.Client(transport=httpx.MockTransport(script))
    with http, Client("http://service.test", http_client=http) as client:
        return list(client.batch(SHADED_IV, requests, **how))


def ask_in_loop(script: object, requests: Iterable[object], **how: object) -> Outcomes:
    async def ask() -> Outcomes:
        http = httpx.AsyncClient(transport=httpx.MockTransport(script))
        async with http, AsyncClient("http://service.test", http_client=http) as client:
            return [outcome async for outcome in client.batch(SHADED_IV, requests, **how)]

    return anyio.run(ask)


@pytest.fixture(params=[ask_waiting, ask_in_loop], ids=["Client", "AsyncClient"])
def ask(request: pytest.FixtureRequest) -> Callable[..., Outcomes]:
    return request.param


def powers(outcomes: Outcomes) -> list[float | int]:
    """Power of answers, status of problems."""
    return [
        one.status if isinstance(one, ServiceError) else one.maximum_power_point.power_w
        for one in outcomes
    ]


@pytest.mark.parametrize("lines", [1, 3, 7, 100])
@pytest.mark.parametrize("at_once", [1, 4])
def test_outcomes_come_in_the_order_of_the_requests(ask, lines: int, at_once: int) -> None:
    script = Script(echo)
    asked = [float(n) for n in range(20, 43)]
    outcomes = ask(script, map(sunny, asked), lines=lines, at_once=at_once)
    assert powers(outcomes) == asked
    assert len(script.asked) == -(-len(asked) // lines)
    assert {request.url.path for request in script.asked} == {"/v1/batch/shaded-iv"}
    assert script.asked[0].headers["content-type"] == "application/x-ndjson"


def test_no_requests_make_no_call(ask) -> None:
    script = Script(echo)
    assert ask(script, []) == []
    assert script.asked == []


def test_a_fault_stays_in_its_line(ask) -> None:
    plain = {**msgspec.to_builtins(REQUEST), "sun": "bright"}
    outcomes = ask(Script(echo), [sunny(20.0), sunny(13.0), plain, sunny(21.0)])
    assert powers(outcomes) == [20.0, 422, 400, 21.0]
    assert isinstance(outcomes[1], RequestRejectedError)
    assert outcomes[1].errors[0].pointer == "/sun"
    assert outcomes[2].errors[0].pointer == "/sun"


def test_requests_that_cannot_be_sent_are_not(ask) -> None:
    script = Script(echo)
    assert powers(ask(script, [{}, {}])) == [400, 400]
    assert script.asked == []


@pytest.mark.parametrize(
    "slipped",
    [
        *(None, [], [1.0], "text", 3, math.nan, pd.NA, pd.NaT, REQUEST.sun, object()),
        {"sun": pd.NA},
        {"sun": object()},
        {"sun": {"irradiance_w_m2": math.inf}},
        {"sun": 2**70},
        {"sun": "\ud800"},
    ],
)
def test_whatever_slips_into_a_batch_is_one_failed_outcome(ask, slipped: object) -> None:
    outcomes = ask(Script(echo), [sunny(20.0), slipped, sunny(21.0)])
    assert powers(outcomes) == [20.0, 400, 21.0]
    assert outcomes[1].errors[0].message


def test_a_batch_is_retried_as_a_whole(ask, pauses: list[float]) -> None:
    script = Script(httpx.ReadError("reset"), refusal(503), echo)
    assert powers(ask(script, map(sunny, [20.0, 21.0]))) == [20.0, 21.0]
    assert len(script.asked) == 3


def test_a_batch_that_gets_no_answer_ends_the_work(ask, pauses: list[float]) -> None:
    with pytest.raises(OverloadedError):
        ask(Script(refusal(503)), map(sunny, [20.0, 21.0]), lines=1)


@pytest.mark.parametrize("body", [b"", line(encode(REQUEST)) * 3, b"{}\n{}\n", b"x\ny\n"])
def test_lines_that_are_missing_too_many_or_no_answers_are_told(ask, body: bytes) -> None:
    script = Script(httpx.Response(200, content=body, headers=NDJSON))
    with pytest.raises(UnexpectedAnswerError):
        ask(script, map(sunny, [20.0, 21.0]))


def test_what_a_service_says_of_a_batch_that_it_ended_is_told_of_every_line_after(ask) -> None:
    ended = Problem(
        type="urn:sunhitch:problem:batch-ended", title="Batch ended", status=422,
        detail="The batch ended after line 2.", instance="", errors=[], error_count=0,
    )  # fmt: skip

    def two_lines(request: httpx.Request) -> httpx.Response:
        read = b"".join(map(line, request.content.splitlines()[:2]))
        return httpx.Response(200, content=read + problem_line(encode(ended)), headers=NDJSON)

    outcomes = ask(Script(two_lines), map(sunny, [20.0, 21.0, 22.0, 23.0, 24.0]))
    assert powers(outcomes) == [20.0, 21.0, 422, 422, 422]
    assert "after line 2" in str(outcomes[-1])


def test_progress_adds_up_to_the_number_of_requests(ask) -> None:
    told: list[int] = []
    ask(Script(echo), map(sunny, [20.0, 13.0, 21.0, 22.0, 23.0]), lines=2, progress=told.append)
    assert told == [2, 2, 1]


def test_a_bar_is_drawn_on_wish(ask, capsys) -> None:
    ask(Script(echo), [sunny(20.0)] * 6, lines=2, progress=True)
    assert "6/6" in capsys.readouterr().err


def test_requests_are_read_no_further_than_needed() -> None:
    """An endless supply is fine as long as the caller stops asking."""
    read: list[float] = []

    def endless() -> Iterator[ShadedIvRequest]:
        while True:
            read.append(float(len(read) + 20))
            yield sunny(read[-1])

    http = httpx.Client(transport=httpx.MockTransport(echo))
    with http, Client("http://service.test", http_client=http) as client:
        outcomes = client.batch(SHADED_IV, endless(), lines=5, at_once=2)
        assert powers([next(outcomes) for _ in range(3)]) == [20.0, 21.0, 22.0]
        outcomes.close()
    assert len(read) == 10


def test_no_more_calls_are_under_way_than_allowed() -> None:
    lock, now, most = threading.Lock(), [0], [0]
    both_in = threading.Barrier(2, timeout=120.0)

    def slow(request: httpx.Request) -> httpx.Response:
        with lock:
            now[0] += 1
            most[0] = max(most[0], now[0])
        both_in.wait()
        with lock:
            now[0] -= 1
        return echo(request)

    assert len(ask_waiting(slow, map(sunny, [20.0 + n for n in range(8)]), lines=1, at_once=2)) == 8
    assert most[0] == 2


@pytest.mark.parametrize("how", [{"lines": 0}, {"at_once": 0}])
def test_limits_that_cannot_work_are_refused(ask, how: dict[str, int]) -> None:
    with pytest.raises(ValueError, match=r"at least 1|greater than 0"):
        ask(Script(echo), [REQUEST], **how)
