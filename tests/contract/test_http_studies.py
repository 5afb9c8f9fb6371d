"""A harvest over HTTP with its progress: in a pool, on a cluster, and what goes wrong."""

import asyncio
import json
import math
import warnings
from collections.abc import AsyncGenerator, Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import aclosing
from pathlib import Path
from typing import Any

import anyio
import distributed
import httpx
import msgspec
import pytest
from contract_serving import Served, problem_of, serve, until

from sunhitch import AsyncClient, Client
from sunhitch.codec import decode_strict, encode
from sunhitch.errors import (
    ConnectionFailedError,
    RequestRejectedError,
    ServiceError,
    UnexpectedAnswerError,
)
from sunhitch.operations import HARVEST, WIRE_SIZING
from sunhitch.types.fitout import FitOutRequest, PanelChoice
from sunhitch.types.harvest import HarvestAnswer, HarvestConditions, HarvestRequest
from sunhitch.types.stream import ProgressLine, answer_line, problem_line
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.harvest.calculation import harvest
from sunhitch_service.http import studies
from sunhitch_service.http.cluster import Crew
from sunhitch_service.http.compute import Compute
from sunhitch_service.http.metrics import Metrics
from sunhitch_service.http.settings import Settings, SettingsError
from sunhitch_service.http.turns import Turns

EXAMPLES = Path(__file__).parents[2] / "client/sunhitch/examples"
LINES = {"Accept": "application/x-ndjson", "Content-Type": "application/json"}


def study(days: int = 20) -> HarvestRequest:
    """The shipped example, shorter."""
    request = msgspec.json.decode((EXAMPLES / "harvest.json").read_bytes(), type=HarvestRequest)
    weather = msgspec.structs.replace(request.weather, days=days)
    return msgspec.structs.replace(request, weather=weather)


@pytest.fixture(scope="module")
def expected() -> bytes:
    return encode(harvest(study()))


def ask(served: Served, body: bytes) -> httpx.Response:
    return served.http.post("/v1/harvest", content=body, headers=LINES, timeout=300.0)


def test_lines_of_progress_come_before_the_same_answer(service: Served, expected: bytes) -> None:
    answer = ask(service, encode(study()))
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/x-ndjson"
    *told, last = answer.content.splitlines()
    total = json.loads(told[0])["total"]
    assert [json.loads(line) for line in dict.fromkeys(told)] == [
        {"kind": "progress", "done": done, "total": total} for done in range(total + 1)
    ]
    assert total > 1
    assert last == answer_line(expected)


def test_a_line_that_is_no_longer_new_is_told_again(
    service: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every second as shipped; here whenever a piece is not done at once, of what nobody asked."""
    monkeypatch.setattr(studies, "_SECOND", 0.0)
    asked = study(days=5)
    *told, last = ask(service, encode(asked)).content.splitlines()
    done = [json.loads(line)["done"] for line in told]
    assert done == sorted(done)
    assert len(done) > len(set(done))
    assert last == answer_line(encode(harvest(asked)))


def test_the_pool_carries_out_the_pieces(start: Callable[..., Served], expected: bytes) -> None:
    served = start(pool_workers=2)
    assert ask(served, encode(study())).content.splitlines()[-1] == answer_line(expected)


def test_a_cluster_carries_out_the_pieces(expected: bytes) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with distributed.LocalCluster(
            n_workers=1,
            threads_per_worker=1,
            processes=False,
            dashboard_address=":0",
            protocol="tcp",
            host="127.0.0.1",
        ) as cluster:
            settings = Settings(pool_workers=0, scheduler_address=cluster.scheduler_address)
            with serve(settings, None) as served:
                *_, last = ask(served, encode(study())).content.splitlines()
                assert last == answer_line(expected)
            keys = {str(entry[0]) for entry in cluster.scheduler.transition_log}
    assert any(key.startswith("work-") for key in keys)


def test_a_scheduler_that_is_not_there_is_a_fault_of_the_settings() -> None:
    crew = Crew(Compute(Settings(), Metrics(), Turns()), Settings(scheduler_address="nowhere"))

    async def connect() -> None:
        async with crew.connected():
            pass

    with pytest.raises(SettingsError, match="SUNHITCH_HTTP_SCHEDULER_ADDRESS"):
        asyncio.run(connect())


def test_json_is_still_what_callers_get_who_do_not_mind(service: Served, expected: bytes) -> None:
    whole = service.http.post(
        "/v1/harvest", content=encode(study()), headers={"Content-Type": "application/json"}
    )
    assert whole.headers["content-type"] == "application/json"
    assert whole.content == expected


def test_what_is_wrong_before_the_first_line_is_a_problem_document(service: Served) -> None:
    problem_of(ask(service, b"{"), 400, "malformed")
    twice = study()
    wrong = msgspec.structs.replace(twice, placements=twice.placements * 2)
    problem = problem_of(ask(service, encode(wrong)), 422, "contradictory")
    assert problem.errors
    other = service.http.post(
        "/v1/harvest", content=b"{}", headers={**LINES, "Accept": "image/gif"}
    )
    assert "application/x-ndjson" in problem_of(other, 406, "not-acceptable").detail
    short = service.http.post("/v1/wire-sizing", content=b"{}", headers=LINES)
    problem_of(short, 406, "not-acceptable")


def test_both_kinds_of_client_are_told(service: Served, expected: bytes) -> None:
    told: list[tuple[int, int]] = []
    with Client(service.url) as client:
        answer = client.harvest(study(), progress=lambda done, total: told.append((done, total)))
        sized = client.call(
            WIRE_SIZING, (EXAMPLES / "wire-sizing.json").read_bytes(), lambda *_: told.clear()
        )
    assert answer == decode_strict(expected, HarvestAnswer)
    assert sized.verdict in ("pass", "review")
    assert told[0] == (0, told[-1][1])
    assert told[-1][0] == told[-1][1] > 1

    async def there() -> tuple[HarvestAnswer, list[tuple[int, int]]]:
        heard: list[tuple[int, int]] = []
        async with AsyncClient(service.url) as client:
            found = await client.harvest(study(), progress=lambda *pair: heard.append(pair))
        return found, heard

    assert asyncio.run(there()) == (answer, told)
    embedded: list[tuple[int, int]] = []
    same = Client.embedded().harvest(study(), progress=lambda *pair: embedded.append(pair))
    assert (same, embedded) == (answer, told)


def _energetic_job() -> FitOutRequest:
    """The shipped job, two candidates of two days each."""
    job = msgspec.json.decode((EXAMPLES / "fit-out.json").read_bytes(), type=FitOutRequest)
    of_study = {name: getattr(study(2), name) for name in HarvestConditions.__struct_fields__}
    return msgspec.structs.replace(
        job,
        placements=[],
        drawn=[],
        choose=PanelChoice(numbers=[1, 2]),
        harvest=HarvestConditions(**of_study),
    )


def test_a_fit_out_with_energy_tells_how_far_it_is_and_answers_the_same(service: Served) -> None:
    """In lines with its progress, whole over HTTP, and in this process; a sketch in no piece."""
    job = _energetic_job()
    expected = encode(fit_out(job))
    body = encode(job)
    answer = service.http.post("/v1/fit-out", content=body, headers=LINES, timeout=300.0)
    *told, last = answer.content.splitlines()
    total = json.loads(told[0])["total"]
    assert json.loads(told[-1]) == {"kind": "progress", "done": total, "total": total}
    assert total >= 2
    assert last == answer_line(expected)
    plain = {"Content-Type": "application/json"}
    assert service.http.post("/v1/fit-out", content=body, headers=plain).content == expected
    told_none: list[tuple[int, int]] = []
    without = msgspec.structs.replace(job, harvest=None, choose=None)
    with Client(service.url) as client:
        client.fit_out(without, progress=lambda *pair: told_none.append(pair))
    assert told_none == [(0, 0)]


def test_an_embedded_client_hands_pieces_to_its_executor(expected: bytes) -> None:
    class Counting(ThreadPoolExecutor):
        given = 0

        def submit(self, *given: Any, **named: Any) -> Future[Any]:
            self.given += 1
            return super().submit(*given, **named)

    with Counting(2) as pool:
        answer = Client.embedded(pool).harvest(study())
    assert answer == decode_strict(expected, HarvestAnswer)
    assert pool.given > 1


def test_a_bar_is_drawn_on_standard_error(
    service: Served, capsys: pytest.CaptureFixture[str]
) -> None:
    with Client(service.url) as client:
        client.harvest(study(3), progress=True)
    output = capsys.readouterr()
    assert output.out == ""
    assert "piece" in output.err


def test_a_contradiction_reaches_the_client_as_usual(service: Served) -> None:
    twice = study()
    wrong = msgspec.structs.replace(twice, placements=twice.placements * 2)
    with Client(service.url) as client, pytest.raises(RequestRejectedError) as fault:
        client.harvest(wrong, progress=print)
    assert fault.value.errors


def _scripted(body: bytes) -> Client:
    def script(_request: httpx.Request) -> httpx.Response:
        return httpx.Response(200, content=body, headers={"Content-Type": LINES["Accept"]})

    http = httpx.Client(transport=httpx.MockTransport(script))
    return Client("http://service.test", http_client=http, retries=0)


PROBLEM = {
    "type": "urn:sunhitch:problem:timed-out",
    "title": "Timed out",
    "status": 503,
    "detail": "It took too long.",
    "instance": "urn:sunhitch:request:1",
    "errors": [],
}
PROGRESS = b'{"kind":"progress","done":0,"total":2}\n'


@pytest.mark.parametrize(
    ("body", "fault"),
    [
        (PROGRESS, ConnectionFailedError),
        (PROGRESS + problem_line(json.dumps(PROBLEM).encode()) + b"\n", ServiceError),
        (PROGRESS + b"no json\n", UnexpectedAnswerError),
    ],
)
def test_what_goes_wrong_on_the_way_is_an_error_of_the_tree(
    body: bytes, fault: type[Exception]
) -> None:
    with pytest.raises(fault):
        _scripted(body).call(HARVEST, study(1), lambda _done, _total: None)


def test_a_caller_who_leaves_ends_the_work(service: Served) -> None:
    with service.http.stream(
        "POST", "/v1/harvest", content=encode(study(200)), headers=LINES
    ) as answer:
        first = next(answer.iter_lines())
        request_id = answer.headers["x-request-id"]
    assert json.loads(first)["done"] == 0
    until(lambda: any(line["request_id"] == request_id for line in service.lines()))
    line: dict[str, Any] = service.line(request_id)
    assert "exception" not in line


def test_steps_are_over_before_a_caller_who_leaves_is_forgotten() -> None:
    ended: list[bool] = []

    async def steps() -> AsyncGenerator[ProgressLine]:
        yield ProgressLine(done=0, total=1)
        try:
            await asyncio.sleep(100.0)
        finally:
            await asyncio.sleep(0.01)
            ended.append(True)

    async def leaving() -> None:
        begun = asyncio.Event()

        async def reading() -> None:
            async with (
                aclosing(steps()) as own,
                aclosing(studies._each_second(own, math.inf)) as told,
            ):
                async for _ in told:
                    begun.set()

        async with anyio.create_task_group() as group:
            group.start_soon(reading)
            await begun.wait()
            group.cancel_scope.cancel()

    asyncio.run(leaving())
    assert ended == [True]
