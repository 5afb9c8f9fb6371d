"""The clients against a service in memory: answers, errors, retries, request ids, time limits."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import anyio
import httpx
import msgspec
import pytest
from service_in_memory import ANSWER, JSON, REQUEST, Script, good, refusal

from sunhitch import (
    AsyncClient,
    Client,
    ConnectionFailedError,
    OverloadedError,
    RateLimitedError,
    RequestRejectedError,
    ServiceError,
    SunhitchError,
    TimeLimitError,
    UnauthorisedError,
    UnexpectedAnswerError,
    __version__,
)
from sunhitch.codec import encode
from sunhitch.faults import fault_at
from sunhitch.texts import Text
from sunhitch.types.problem import Problem
from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest

Ask = Callable[..., ShadedIvAnswer]
BASE = "http://service.test/solar/"


def ask_waiting(script: Script, request: object = REQUEST, **settings: object) -> ShadedIvAnswer:
    http = httpx.Client(transport=httpx.MockTransport(script))
    with http, Client(BASE, http_client=http, **settings) as client:
        return client.shaded_iv(request)


def ask_in_loop(script: Script, request: object = REQUEST, **settings: object) -> ShadedIvAnswer:
    async def ask() -> ShadedIvAnswer:
        http = httpx.AsyncClient(transport=httpx.MockTransport(script))
        async with http, AsyncClient(BASE, http_client=http, **settings) as client:
            return await client.shaded_iv(request)

    return anyio.run(ask)


@pytest.fixture(params=[ask_waiting, ask_in_loop], ids=["Client", "AsyncClient"])
def ask(request: pytest.FixtureRequest) -> Ask:
    """Both clients must behave the same."""
    return request.param


def test_request_goes_out_and_answer_comes_back_typed(ask: Ask) -> None:
    script = Script(good)
    assert ask(script, api_key="k-1") == ANSWER
    (sent,) = script.asked
    assert (sent.method, str(sent.url)) == ("POST", "http://service.test/solar/v1/shaded-iv")
    assert sent.headers["content-type"] == "application/json"
    assert sent.headers["x-api-key"] == "k-1"
    assert __version__ in sent.headers["user-agent"]
    assert msgspec.json.decode(sent.content, type=ShadedIvRequest) == REQUEST


def test_plain_data_is_sent_like_a_struct(ask: Ask) -> None:
    script = Script(good)
    assert ask(script, msgspec.to_builtins(REQUEST)) == ANSWER
    assert msgspec.json.decode(script.asked[0].content, type=ShadedIvRequest) == REQUEST


def test_json_text_is_sent_like_a_struct(ask: Ask) -> None:
    script = Script(good)
    assert ask(script, encode(REQUEST)) == ANSWER
    assert msgspec.json.decode(script.asked[0].content, type=ShadedIvRequest) == REQUEST
    with pytest.raises(RequestRejectedError, match="JSON"):
        ask(script, b"{")


def test_plain_data_that_does_not_fit_is_refused_before_it_is_sent(ask: Ask) -> None:
    script = Script(good)
    plain = msgspec.to_builtins(REQUEST)
    plain["sun"]["irradiance_w_m2"] = "bright"
    with pytest.raises(RequestRejectedError) as caught:
        ask(script, plain)
    assert [fault.pointer for fault in caught.value.errors] == ["/sun/irradiance_w_m2"]
    assert caught.value.status == 400
    assert script.asked == []


def test_a_struct_of_another_operation_is_a_programming_error(ask: Ask) -> None:
    with pytest.raises(TypeError, match="ShadedIvRequest"):
        ask(Script(good), REQUEST.sun)


@pytest.mark.parametrize(
    ("status", "kind"),
    [
        (400, RequestRejectedError),
        (401, UnauthorisedError),
        (403, UnauthorisedError),
        (404, ServiceError),
        (413, ServiceError),
        (422, RequestRejectedError),
        (429, RateLimitedError),
        (500, ServiceError),
        (502, OverloadedError),
        (503, OverloadedError),
        (504, OverloadedError),
    ],
)
def test_every_error_status_has_its_place_in_the_tree(
    ask: Ask, pauses: list[float], status: int, kind: type[ServiceError]
) -> None:
    with pytest.raises(ServiceError) as caught:
        ask(Script(refusal(status, **{"X-Request-ID": "from-service"})))
    assert type(caught.value) is kind
    assert (caught.value.status, caught.value.title) == (status, "Some problem")
    assert caught.value.request_id == "from-service"
    assert "What to do." in str(caught.value)
    assert "from-service" in str(caught.value)


def test_faults_are_told_with_their_pointers(ask: Ask) -> None:
    problem = Problem(
        type="urn:sunhitch:problem:contradictory",
        title="Contradictory request",
        status=422,
        detail="One field contradicts the rest.",
        instance="",
        errors=[fault_at("/wiring", Text("Wire every panel.", "mend", {}))],
        error_count=1,
    )
    with pytest.raises(RequestRejectedError) as caught:
        ask(Script(httpx.Response(422, content=encode(problem))))
    assert caught.value.problem == problem
    assert "/wiring: Wire every panel." in str(caught.value)


@pytest.mark.parametrize(
    "fault",
    [
        httpx.ConnectError("refused"),
        httpx.ConnectTimeout("no route"),
        httpx.ReadError("reset"),
        httpx.RemoteProtocolError("closed in the middle"),
        refusal(429),
        refusal(502),
        refusal(503),
        refusal(504),
    ],
    ids=repr,
)
def test_faults_that_pass_are_retried_with_the_same_request_id(
    ask: Ask, pauses: list[float], fault: httpx.Response | Exception
) -> None:
    script = Script(fault, fault, good)
    assert ask(script) == ANSWER
    assert len({request.headers["x-request-id"] for request in script.asked}) == 1
    assert len(script.asked) == 3
    assert len(pauses) == 2
    assert 0.0 < pauses[0] < pauses[1]


@pytest.mark.parametrize(
    "fault", [refusal(400), refusal(401), refusal(422), refusal(500)], ids=repr
)
def test_faults_that_stay_are_not_retried(
    ask: Ask, pauses: list[float], fault: httpx.Response
) -> None:
    script = Script(fault)
    with pytest.raises(ServiceError):
        ask(script)
    assert len(script.asked) == 1
    assert pauses == []


def test_a_calculation_that_took_too_long_is_not_repeated(ask: Ask, pauses: list[float]) -> None:
    problem = Problem(
        type="urn:sunhitch:problem:timed-out",
        title="Timed out",
        status=503,
        detail="Ask for less.",
        instance="",
        errors=[],
        error_count=0,
    )
    script = Script(httpx.Response(503, content=encode(problem), headers={"Retry-After": "1"}))
    with pytest.raises(OverloadedError):
        ask(script)
    assert len(script.asked) == 1


def test_retries_end_and_the_last_fault_is_told(ask: Ask, pauses: list[float]) -> None:
    script = Script(httpx.ConnectError("refused"))
    with pytest.raises(ConnectionFailedError, match="refused") as caught:
        ask(script, retries=2)
    assert len(script.asked) == 3
    assert caught.value.request_id == script.asked[0].headers["x-request-id"]


def test_no_retries_on_wish(ask: Ask, pauses: list[float]) -> None:
    script = Script(refusal(503))
    with pytest.raises(OverloadedError):
        ask(script, retries=0)
    assert len(script.asked) == 1


def test_retry_after_in_seconds_is_honoured(ask: Ask, pauses: list[float]) -> None:
    assert ask(Script(refusal(429, **{"Retry-After": "7"}), good)) == ANSWER
    assert pauses == [7.0]


def test_retry_after_as_a_date_is_honoured(ask: Ask, pauses: list[float]) -> None:
    moment = format_datetime(datetime.now(UTC) + timedelta(seconds=30), usegmt=True)
    assert ask(Script(refusal(503, **{"Retry-After": moment}), good)) == ANSWER
    assert 25.0 < pauses[0] <= 30.0


def test_retry_after_that_makes_no_sense_is_passed_over(ask: Ask, pauses: list[float]) -> None:
    assert ask(Script(refusal(503, **{"Retry-After": "soon"}), good)) == ANSWER
    assert 0.0 < pauses[0] < 1.0


def test_retry_after_beyond_the_time_limit_is_not_waited_for(ask: Ask, pauses: list[float]) -> None:
    with pytest.raises(RateLimitedError) as caught:
        ask(Script(refusal(429, **{"Retry-After": "3600"})))
    assert caught.value.retry_after_s == 3600.0
    assert pauses == []


def test_all_attempts_share_one_time_limit(ask: Ask, pauses: list[float]) -> None:
    with pytest.raises(OverloadedError):
        ask(Script(refusal(503, **{"Retry-After": "4"})), time_limit=10.0, retries=100)
    assert pauses == [4.0, 4.0]


def test_silence_of_the_service_is_a_time_limit_and_not_retried(
    ask: Ask, pauses: list[float]
) -> None:
    script = Script(httpx.ReadTimeout("silent"))
    with pytest.raises(TimeLimitError, match="longer timeout"):
        ask(script)
    assert len(script.asked) == 1


def test_attempts_get_the_timeout_asked_for(ask: Ask) -> None:
    script = Script(good)
    ask(script, timeout=3.5)
    assert script.asked[0].extensions["timeout"]["read"] == 3.5


@pytest.mark.parametrize(
    "response",
    [
        httpx.Response(200, text="<html>hello</html>", headers={"Content-Type": "text/html"}),
        httpx.Response(200, content=b"{}", headers=JSON),
        httpx.Response(200, content=b"{", headers=JSON),
        httpx.Response(204),
        httpx.Response(302, headers={"Location": "http://elsewhere.test/"}),
    ],
    ids=["html", "other answer", "broken JSON", "nothing", "redirect"],
)
def test_answers_outside_the_contract_are_named_as_such(ask: Ask, response: httpx.Response) -> None:
    with pytest.raises(UnexpectedAnswerError):
        ask(Script(response))


def test_an_error_page_of_a_proxy_is_told_in_short(ask: Ask, pauses: list[float]) -> None:
    page = httpx.Response(502, text="<h1>Bad   Gateway</h1>\n" + "x" * 5000)
    with pytest.raises(OverloadedError) as caught:
        ask(Script(page), retries=0)
    assert "<h1>Bad Gateway</h1>" in caught.value.detail
    assert len(caught.value.detail) < 400


def test_drawings_are_asked_for_by_media_type_and_view() -> None:
    drawn = httpx.Response(
        200,
        content="<svg>Ω</svg>".encode(),
        headers={"Content-Type": "image/svg+xml; charset=utf-8"},
    )
    script = Script(good, drawn)
    http = httpx.Client(transport=httpx.MockTransport(script))
    with http, Client(BASE, http_client=http) as client:
        answer = client.shaded_iv(REQUEST)
        assert answer.svg("power & cells") == "<svg>Ω</svg>"
        with pytest.raises(UnexpectedAnswerError):
            answer.html()
    asked = script.asked[1]
    assert asked.headers["accept"] == "image/svg+xml"
    assert asked.headers["content-type"] == "application/json"
    assert (asked.url.path, dict(asked.url.params)) == (
        "/solar/v1/shaded-iv",
        {"view": "power & cells"},
    )


@pytest.mark.parametrize("address", ["service.test", "ftp://service.test", ""])
def test_addresses_that_cannot_work_are_refused_at_once(address: str) -> None:
    with pytest.raises(ValueError, match="http"):
        Client(address)


@pytest.mark.parametrize(
    "setting", [{"timeout": 0.0}, {"timeout": float("nan")}, {"time_limit": -1.0}, {"retries": -1}]
)
def test_times_that_cannot_work_are_refused_at_once(setting: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="above 0"):
        AsyncClient("http://service.test", **setting)


def test_the_key_shows_in_no_text_of_the_client_or_its_errors() -> None:
    script = Script(httpx.ConnectError("refused"))
    http = httpx.Client(transport=httpx.MockTransport(script))
    client = Client(BASE, "k-secret", http_client=http, retries=0)
    with pytest.raises(SunhitchError) as caught:
        client.shaded_iv(REQUEST)
    assert "k-secret" not in repr(client) + str(caught.value) + repr(vars(client._transport))


def test_connections_of_ones_own_stay_open() -> None:
    with httpx.Client(transport=httpx.MockTransport(good)) as http:
        with Client(BASE, http_client=http) as client:
            client.shaded_iv(REQUEST)
        assert not http.is_closed
