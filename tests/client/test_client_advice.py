"""Every error says what to do, in words for the one who reads it."""

import pickle
import re
import ssl

import httpx
import pytest
from service_in_memory import REQUEST, Script, good, refusal

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
)

PAGE = {"Content-Type": "text/html"}


def asked(script: Script, **more: object) -> None:
    http = httpx.Client(transport=httpx.MockTransport(script))
    Client("http://service.test", http_client=http, **{"retries": 0, **more}).shaded_iv(REQUEST)


@pytest.mark.parametrize(
    ("outcome", "kind", "advice"),
    [
        (httpx.ConnectError("refused"), ConnectionFailedError, "is the address right and the"),
        (httpx.ReadTimeout("silence"), TimeLimitError, "give the client a longer timeout"),
        (refusal(400), RequestRejectedError, "What to do."),
        (refusal(401), UnauthorisedError, "set SUNHITCH_API_KEY"),
        (refusal(403), UnauthorisedError, "may not make this call"),
        (refusal(404), ServiceError, "not older than this client"),
        (refusal(413), ServiceError, "fewer requests in one batch"),
        (refusal(422), RequestRejectedError, "What to do."),
        (refusal(429), RateLimitedError, "ask less often"),
        (refusal(503), OverloadedError, "fewer calls at a time"),
        (httpx.Response(502, content=b"Bad gateway", headers=PAGE), OverloadedError, "in front of"),
        (httpx.Response(200, content=b"<p>", headers=PAGE), UnexpectedAnswerError, "no sunhitch"),
    ],
    ids=lambda one: getattr(one, "__name__", None) or str(getattr(one, "status_code", one))[:20],
)
def test_every_error_says_what_to_do(
    outcome: httpx.Response | Exception, kind: type[SunhitchError], advice: str
) -> None:
    with pytest.raises(kind) as caught:
        asked(Script(outcome))
    assert type(caught.value) is kind
    assert advice in str(caught.value)
    assert caught.value.request_id in str(caught.value)


def test_a_refused_connection_names_the_address() -> None:
    """A port that nothing listens on, without waiting."""
    with (
        Client("http://127.0.0.1:9", retries=0) as client,
        pytest.raises(ConnectionFailedError, match=r"http://127\.0\.0\.1:9.*service running\?"),
    ):
        client.shaded_iv(REQUEST)


@pytest.mark.parametrize(
    ("fault", "kind", "told"),
    [
        (httpx.ConnectTimeout(""), ConnectionFailedError, "Connecting to .* longer than 20 ms;"),
        (httpx.ConnectError("refused"), ConnectionFailedError, r"No connection to .*\(refused\)"),
        (httpx.ReadTimeout(""), TimeLimitError, "did not answer within 20 ms;"),
        (httpx.PoolTimeout(""), TimeLimitError, "No connection .* free within 20 ms;"),
        (httpx.RemoteProtocolError("hung up"), ConnectionFailedError, r"broke off .*\(hung up\)"),
        (httpx.ReadError(""), ConnectionFailedError, r"broke off .*\(ReadError\)"),
        (httpx.DecodingError("gzip"), UnexpectedAnswerError, "gzip"),
    ],
)
def test_what_happened_on_the_way_is_told(
    fault: Exception, kind: type[SunhitchError], told: str
) -> None:
    with pytest.raises(kind, match=told):
        asked(Script(fault), timeout=0.02)


@pytest.mark.parametrize("outcome", [httpx.ConnectError("refused"), refusal(429), refusal(503)])
def test_retries_are_told_where_there_were_any(
    outcome: httpx.Response | Exception, pauses: list[float]
) -> None:
    with pytest.raises(SunhitchError) as once:
        asked(Script(outcome))
    assert once.value.attempts == 1
    assert not re.search("again|Tried|retr", str(once.value))
    with pytest.raises(SunhitchError, match=r" Tried 3 times\. \[request ") as thrice:
        asked(Script(outcome), retries=2)
    assert thrice.value.attempts == len(pauses) + 1 == 3
    assert str(pickle.loads(pickle.dumps(thrice.value))) == str(thrice.value)  # noqa: S301


def test_certificates_are_loaded_once_for_all_clients(monkeypatch: pytest.MonkeyPatch) -> None:
    """They take twenty times as long as the rest of a client."""
    with Client("https://service.test"):
        monkeypatch.setattr(ssl, "SSLContext", None)
        Client("https://service.test").close()
        AsyncClient("https://service.test")


@pytest.mark.parametrize(
    ("given", "variable", "sent"),
    [
        ("mine", "", "mine"),
        (None, "theirs", "theirs"),
        ("mine", "theirs", "mine"),
        (None, "", None),
    ],
)
def test_the_key_is_given_or_stands_in_the_environment(
    monkeypatch: pytest.MonkeyPatch, given: str | None, variable: str, sent: str | None
) -> None:
    monkeypatch.setenv("SUNHITCH_API_KEY", variable)
    script = Script(good)
    asked(script, api_key=given)
    assert script.asked[0].headers.get("X-API-Key") == sent
