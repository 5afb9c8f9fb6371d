"""Keys and the rate limit: who may call, how often, and that no key shows anywhere."""

import hashlib
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

import pytest
from contract_serving import TOY, Served, problem_of, serve, until
from contract_toys import toys

from sunhitch_service.http.keys import make_key
from sunhitch_service.http.settings import Settings

OLD, OLD_ENTRY = make_key("shop")
NEW, NEW_ENTRY = make_key("shop")
OTHER, OTHER_ENTRY = make_key("office")
WATCH, WATCH_ENTRY = make_key("watch", "metrics")
BOTH, BOTH_ENTRY = make_key("owner", "calls+metrics")
COLD = "/v1/quick/cold-voc?v_oc_v=22.9&lowest_ambient_c=-18"


@pytest.fixture(scope="module")
def guarded() -> Iterator[Served]:
    """A service that wants keys."""
    settings = Settings(
        pool_workers=0,
        host="0.0.0.0",  # noqa: S104 - what the settings say, not where the test listens
        api_keys=[OLD_ENTRY, NEW_ENTRY, OTHER_ENTRY, WATCH_ENTRY, BOTH_ENTRY],
    )
    with serve(settings, toys()) as served:
        yield served


def test_a_key_is_known_by_its_hash_only() -> None:
    name, _, known = OLD_ENTRY.partition(":")
    assert (name, known) == ("shop", hashlib.sha256(OLD.encode()).hexdigest())
    assert OLD != NEW
    assert OLD not in OLD_ENTRY


@pytest.mark.parametrize("key", [OLD, NEW, OTHER], ids=["old", "new", "other"])
def test_several_keys_are_valid_at_once(guarded: Served, key: str) -> None:
    asked = f"keyed-{hashlib.sha256(key.encode()).hexdigest()[:8]}"
    headers = {"X-API-Key": key, "X-Request-Id": asked}
    assert guarded.http.post("/v1/add-up", json=TOY, headers=headers).status_code == 200
    assert guarded.line(asked)["caller"] == ("office" if key == OTHER else "shop")


@pytest.mark.parametrize(
    "key",
    ["", "x", OLD[:-1], OLD + "x", OLD.upper(), "ä" * 40],
    ids=["none", "short", "cut", "longer", "upper", "non-ascii"],
)
def test_other_keys_are_not(guarded: Served, key: str) -> None:
    headers = {b"X-API-Key": key.encode()} if key else {}
    answer = guarded.http.post("/v1/add-up", json=TOY, headers=headers)
    problem = problem_of(answer, 401, "unauthorised")
    assert answer.headers["www-authenticate"] == 'ApiKey realm="sunhitch", header="X-API-Key"'
    assert ("not valid" in problem.detail) == bool(key)


@pytest.mark.parametrize("path", ["/v1/quick", "/v1/reference", "/metrics", COLD])
def test_what_is_guarded(guarded: Served, path: str) -> None:
    problem_of(guarded.http.get(path), 401)
    allowed, other = (WATCH, NEW) if path == "/metrics" else (NEW, WATCH)
    assert guarded.http.get(path, headers={"X-API-Key": allowed}).status_code == 200
    assert guarded.http.get(path, headers={"X-API-Key": BOTH}).status_code == 200
    problem_of(guarded.http.get(path, headers={"X-API-Key": other}), 403, "forbidden")


def test_keys_expire(start: Callable[..., Served]) -> None:
    today = datetime.now(UTC).date()
    days = {day: make_key("shop", last_day=f"{today + timedelta(day)}") for day in (-1, 1)}
    entries = [entry for _, entry in days.values()]
    served = start(toys(), pool_workers=0, keys_required=True, api_keys=entries)
    assert served.http.get(COLD, headers={"X-API-Key": days[1][0]}).status_code == 200
    answer = served.http.get(COLD, headers={"X-API-Key": days[-1][0]})
    assert "expired" in problem_of(answer, 401, "unauthorised").detail


@pytest.mark.parametrize("path", ["/health/live", "/health/ready", "/openapi.json", "/docs"])
def test_what_is_open_to_all(guarded: Served, path: str) -> None:
    assert guarded.http.get(path).status_code == 200
    assert guarded.http.options("/v1/add-up").status_code == 204


def test_what_took_a_key_is_for_the_callers_own_cache(guarded: Served) -> None:
    answer = guarded.http.get(COLD, headers={"X-API-Key": NEW})
    assert answer.headers["cache-control"] == "private, max-age=3600"


def test_no_key_is_needed_on_the_loopback_interface(toy_service: Served) -> None:
    assert toy_service.http.post("/v1/add-up", json=TOY).status_code == 200


def test_a_key_in_the_query_is_refused_unless_that_was_chosen(guarded: Served) -> None:
    problem_of(guarded.http.get(f"{COLD}&api_key={NEW}"), 401)
    answer = guarded.http.get(f"{COLD}&api_key={NEW}", headers={"X-API-Key": NEW})
    problem = problem_of(answer, 400, "malformed")
    assert [error.pointer for error in problem.errors] == ["/api_key"]
    assert NEW not in answer.text


def test_spreadsheets_may_show_a_key_in_the_query(start: Callable[..., Served]) -> None:
    served = start(
        toys(), pool_workers=0, keys_required=True, query_keys=True, api_keys=[NEW_ENTRY]
    )
    plain = served.http.get(f"{COLD}&format=txt", headers={"X-API-Key": NEW})
    asked = served.http.get(f"{COLD}&api_key={NEW}&format=txt", headers={"X-Request-Id": "q"})
    assert (asked.status_code, asked.content) == (200, plain.content)
    assert served.line("q")["caller"] == "shop"
    problem_of(served.http.get(f"{COLD}&api_key={OLD}"), 401)
    problem_of(served.http.post(f"/v1/add-up?api_key={NEW}", json=TOY), 401)


def test_no_key_ever_shows_in_the_log(start: Callable[..., Served]) -> None:
    served = start(
        toys(), pool_workers=0, keys_required=True, query_keys=True, api_keys=[NEW_ENTRY]
    )
    for key in (NEW, OLD):
        headers = {"X-API-Key": key}
        served.http.post("/v1/crash", json=TOY, headers=headers)
        served.http.get(f"{COLD}&api_key={key}&x=1")
        served.http.get(f"/v1/quick?api_key={key}", headers=headers)
    until(lambda: len(served.lines()) == 6)
    logged = served.log.getvalue()
    assert "ZeroDivisionError" in logged
    assert NEW not in logged
    assert OLD not in logged


def test_calls_are_limited_by_key_and_the_rest_is_told(start: Callable[..., Served]) -> None:
    entries = [OLD_ENTRY, NEW_ENTRY, OTHER_ENTRY]
    served = start(toys(), pool_workers=0, rate_limit_per_minute=3, api_keys=entries)

    def call(key: str) -> tuple[int, str]:
        answer = served.http.post("/v1/add-up", json=TOY, headers={"X-API-Key": key})
        rest = re.fullmatch(r'"minute";r=(\d+);t=(\d+)', answer.headers["ratelimit"])
        assert rest is not None
        assert 1 <= int(rest[2]) <= 60
        assert answer.headers["ratelimit-policy"] == '"minute";q=3;w=60'
        return answer.status_code, rest[1]

    assert [call(OLD), call(NEW), call(OLD)] == [(200, "2"), (200, "1"), (200, "0")]
    assert call(NEW) == (429, "0")
    assert call(OTHER) == (200, "2")
    answer = served.http.post("/v1/add-up", json=TOY, headers={"X-API-Key": NEW})
    problem_of(answer, 429, "rate-limited")
    assert 1 <= int(answer.headers["retry-after"]) <= 60


def test_calls_without_a_key_are_limited_by_address(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0, rate_limit_per_minute=2, trusted_proxies=["127.0.0.1"])

    def call(address: str) -> int:
        headers = {"X-Forwarded-For": address}
        return served.http.post("/v1/add-up", json=TOY, headers=headers).status_code

    assert [call("192.0.2.1") for _ in range(3)] == [200, 200, 429]
    assert call("192.0.2.2") == 200
    assert [call(f"2001:db8::{n}") for n in (1, 2, 3)] == [200, 200, 429]
    assert call("2001:db8:0:1::1") == 200
    assert served.http.get("/health/live").status_code == 200


@pytest.mark.parametrize("trusted", [[], ["192.0.2.9"]])
def test_strangers_cannot_choose_their_address(
    start: Callable[..., Served], trusted: list[str]
) -> None:
    served = start(toys(), pool_workers=0, rate_limit_per_minute=2, trusted_proxies=trusted)
    seen = [
        served.http.post(
            "/v1/add-up", json=TOY, headers={"X-Forwarded-For": f"192.0.2.{n}"}
        ).status_code
        for n in range(3)
    ]
    assert seen == [200, 200, 429]


def test_guesses_at_keys_are_limited_too(start: Callable[..., Served]) -> None:
    served = start(toys(), keys_required=True, pool_workers=0, rate_limit_per_minute=2)
    seen = [
        served.http.get("/v1/quick", headers={"X-API-Key": str(n)}).status_code for n in range(3)
    ]
    assert seen == [401, 401, 429]


def test_web_pages_may_send_a_key(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0, keys_required=True, cors_origins=["https://a.example"])
    headers = {"Origin": "https://a.example", "Access-Control-Request-Method": "POST"}
    answer = served.http.options("/v1/add-up", headers=headers)
    assert answer.status_code == 204
    assert "x-api-key" in answer.headers["access-control-allow-headers"].lower()
    refused = served.http.post("/v1/add-up", json=TOY, headers={"Origin": "https://a.example"})
    assert refused.headers["access-control-allow-origin"] == "https://a.example"
