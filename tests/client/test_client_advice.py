"""Every error says what to do, in words for the one who reads it."""

import httpx
import pytest
from service_in_memory import REQUEST, Script, good, refusal

from sunhitch import (
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
    Client("http://service.test", retries=0, http_client=http, **more).shaded_iv(REQUEST)


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
