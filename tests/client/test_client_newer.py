"""1,000 recorded answers, each changed as a newer service may change it: none is lost, in any form.

The contract promises that ranges, lists and texts may grow, that words may join a fixed set, that
fields may be added, and that what may be null may be left out.
"""

import copy
import json
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from random import Random
from typing import Any

import anyio
import httpx
import msgspec
import pytest
from msgspec import inspect
from plausible import light_example, parent_of
from service_in_memory import JSON

from sunhitch import AsyncClient, Client, RequestRejectedError, ServiceError, embedded, notebook
from sunhitch.codec import encode
from sunhitch.exchange import RawAnswer
from sunhitch.operations import HARVEST, OPERATIONS, SHADED_IV, WIRE_SIZING
from sunhitch.operations.operation import Operation
from sunhitch.tolerant import decode_answer
from sunhitch.types.problem import Problem
from sunhitch.types.stream import answer_line, problem_line
from sunhitch.unrecognised import Unrecognised

LINES = {"Content-Type": "application/x-ndjson"}
MANY = 190
FEWER = {
    "fit-out": 20,
    "fit-out-change": 30,
    "array-configuration": 60,
    "mount-check": 90,
    "roof-layout": 90,
}
"""Changed answers of a calculation; the long ones have fewer."""

Path = tuple[str | int, ...]
Form = Callable[[Operation[Any, Any], Sequence[bytes]], list[Any]]


@cache
def recorded(operation: Operation[Any, Any]) -> bytes:
    request = json.dumps(light_example(operation)).encode()
    return encode(Client.embedded().call(operation, request))


def bare(info: inspect.Type) -> inspect.Type:
    return bare(info.type) if isinstance(info, inspect.Metadata) else info


def inner(info: inspect.Type, value: Any) -> inspect.Type:
    """What a place holds now, if it may hold several kinds."""
    found = bare(info)
    kinds = [bare(one) for one in found.types] if isinstance(found, inspect.UnionType) else [found]
    absent = [one for one in kinds if isinstance(one, inspect.NoneType)]
    if value is None and absent:
        return absent[0]
    texts = [one for one in kinds if isinstance(one, inspect.StrType)]
    return texts[0] if isinstance(value, str) and texts else kinds[0]


def spots(
    value: Any, info: inspect.Type, path: Path = ()
) -> Iterator[tuple[Path, inspect.Type, str]]:
    """Every place in an answer, what the contract allows there, and what stands there."""
    found = inner(info, value)
    if path:
        yield path, info, type(found).__name__
    match found:
        case inspect.StructType(fields=fields) if isinstance(value, dict):
            for field in fields:
                name = field.encode_name
                if name in value:
                    yield from spots(value[name], field.type, (*path, name))
        case inspect.ListType(item_type=item) if isinstance(value, list):
            for index, one in enumerate(value):
                yield from spots(one, item, (*path, index))


def changed(parent: Any, key: str | int, info: inspect.Type) -> Any:
    """A newer value for a place, and what an older client makes of it; None where there is none."""
    value = parent[key]
    nullable = isinstance(bare(info), inspect.UnionType) and bare(info).includes_none
    if nullable and isinstance(key, str) and value is None:
        del parent[key]
        return None
    match inner(info, value):
        case inspect.LiteralType() if isinstance(value, str):
            parent[key] = "word-of-tomorrow"
        case inspect.FloatType() | inspect.IntType():
            parent[key] = 10**15 if value >= 0 else -(10**15)
        case inspect.StrType():
            parent[key] = value + " and on" * 200
        case inspect.ListType(max_length=most) if value:
            parent[key] = value * (2 + ((most or 1) if most and most < 100 else 1) // len(value))
        case inspect.StructType():
            return value | {"of_tomorrow": [{"a": 1}]}
    return parent[key]


def newer(operation: Operation[Any, Any]) -> Iterator[tuple[bytes, Any]]:
    """Changed answers as text, each with what is to be read from it."""
    random = Random(f"newer {operation.name}")
    by_kind: dict[str, list[tuple[Path, inspect.Type]]] = {}
    for path, info, found in spots(
        json.loads(recorded(operation)), inspect.type_info(operation.answer)
    ):
        by_kind.setdefault(found, []).append((path, info))
    for _ in range(FEWER.get(operation.name, MANY)):
        sent = msgspec.json.decode(recorded(operation))
        path, info = random.choice(by_kind[random.choice(sorted(by_kind))])
        parent, key = parent_of(sent, path), path[-1]
        added = changed(parent, key, info)
        expected = sent
        if isinstance(added, dict):
            expected = copy.deepcopy(sent)
            parent[key] = added
        yield json.dumps(sent).encode(), expected


def same(read: Any, expected: Any) -> bool:
    """Whether all that was sent was read; what was left out reads as null."""
    if read == expected:  # most of it, at once
        return True
    if isinstance(expected, dict):
        return all(same(one, expected.get(name)) for name, one in read.items())
    if isinstance(expected, list):
        return len(read) == len(expected) and all(map(same, read, expected))
    return False


def service(answers: Sequence[bytes]) -> Callable[[httpx.Request], httpx.Response]:
    """One answer after the other, or all of them as the lines of a batch or of a stream."""
    left = list(answers)

    def serve(request: httpx.Request) -> httpx.Response:
        if request.url.path.startswith("/v1/batch/"):
            return httpx.Response(200, content=b"\n".join(map(answer_line, answers)), headers=LINES)
        if request.headers["accept"] == LINES["Content-Type"]:
            told = b'{"kind": "progress", "done": 1, "total": 2}\n{"kind": "of-tomorrow"}\n'
            told += answer_line(left.pop(0))
            return httpx.Response(200, content=told, headers=LINES)
        return httpx.Response(200, content=left.pop(0), headers=JSON)

    return serve


def waiting(answers: Sequence[bytes]) -> Client:
    http = httpx.Client(transport=httpx.MockTransport(service(answers)))
    return Client("http://service.test", http_client=http)


def in_loop(answers: Sequence[bytes]) -> AsyncClient:
    http = httpx.AsyncClient(transport=httpx.MockTransport(service(answers)))
    return AsyncClient("http://service.test", http_client=http)


def ask_waiting(operation: Operation[Any, Any], answers: Sequence[bytes]) -> list[Any]:
    client, request = waiting(answers), light_example(operation)
    return [client.call(operation, request) for _ in answers]


def ask_in_loop(operation: Operation[Any, Any], answers: Sequence[bytes]) -> list[Any]:
    async def ask() -> list[Any]:
        client, request = in_loop(answers), light_example(operation)
        return [await client.call(operation, request) for _ in answers]

    return anyio.run(ask)


def ask_in_batches(operation: Operation[Any, Any], answers: Sequence[bytes]) -> list[Any]:
    requests = [light_example(operation)] * len(answers)
    return list(waiting(answers).batch(operation, requests, lines=len(answers)))


def ask_in_batches_in_loop(operation: Operation[Any, Any], answers: Sequence[bytes]) -> list[Any]:
    async def ask() -> list[Any]:
        requests = [light_example(operation)] * len(answers)
        outcomes = in_loop(answers).batch(operation, requests, lines=len(answers))
        return [outcome async for outcome in outcomes]

    return anyio.run(ask)


def follow(operation: Operation[Any, Any], answers: Sequence[bytes]) -> list[Any]:
    client, request, told = waiting(answers), light_example(operation), list[int]()
    read = [client.call(operation, request, lambda done, _: told.append(done)) for _ in answers]
    assert len(told) == len(answers)
    return read


def follow_in_loop(operation: Operation[Any, Any], answers: Sequence[bytes]) -> list[Any]:
    async def ask() -> list[Any]:
        client, request = in_loop(answers), light_example(operation)
        return [await client.call(operation, request, lambda _, __: None) for _ in answers]

    return anyio.run(ask)


FORMS: tuple[Form, ...] = (ask_waiting, ask_in_loop, ask_in_batches, ask_in_batches_in_loop)


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_no_answer_of_a_newer_service_is_lost(operation: Operation[Any, Any]) -> None:
    answers = list(newer(operation))
    forms = (*FORMS, follow, follow_in_loop) if operation is HARVEST else FORMS
    for form in forms:
        outcomes = form(operation, [sent for sent, _ in answers])
        for outcome, (_, expected) in zip(outcomes, answers, strict=True):
            assert isinstance(outcome, operation.answer)
            assert same(msgspec.json.decode(encode(outcome)), expected)
    for outcome in outcomes[::3]:
        assert operation.text(outcome, detail="full")
        assert notebook.html(outcome)


def without_null(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: without_null(one) for name, one in value.items() if one is not None}
    return [without_null(one) for one in value] if isinstance(value, list) else value


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_whatever_is_null_may_be_left_out(operation: Operation[Any, Any]) -> None:
    """All at once, so that no field is left to chance."""
    sent = without_null(json.loads(recorded(operation)))
    read = decode_answer(json.dumps(sent).encode(), operation.answer)
    assert json.loads(encode(read)) == json.loads(recorded(operation))


def test_the_embedded_client_reads_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    answers = list(newer(WIRE_SIZING))
    sent = [text for text, _ in answers]
    monkeypatch.setattr(embedded, "answer", lambda *_: RawAnswer(sent.pop(0), "r-1"))
    client = Client.embedded()
    for _, expected in answers:
        read = client.wire_sizing(light_example(WIRE_SIZING))
        assert same(json.loads(encode(read)), expected)


def test_a_word_of_tomorrow_is_told_as_such_and_counts_as_not_assessed() -> None:
    sent = json.loads(recorded(SHADED_IV))
    sent["verdict"] = sent["checks"][0]["verdict"] = "doubtful"
    read = decode_answer(json.dumps(sent).encode(), SHADED_IV.answer)
    assert isinstance(read.verdict, Unrecognised)
    assert read.verdict == "doubtful"
    told = SHADED_IV.text(read)
    assert "VERDICT: NOT ASSESSED" in told
    assert sent["checks"][0]["title"] in told.partition("WHAT COULD NOT BE ASSESSED")[2]


def problem(**members: object) -> bytes:
    return json.dumps(members).encode()


FAULT = {"pointer": "/sun", "message": "Brighter than the sun.", "location": "body"}
WHOLE = {
    "type": "urn:sunhitch:problem:contradictory",
    "title": "Contradictory request",
    "status": 422,
    "detail": "One field.",
    "instance": "urn:sunhitch:request:1",
    "errors": [FAULT],
}
LACKING = [
    *({name: value for name, value in WHOLE.items() if name != left_out} for left_out in WHOLE),
    *(WHOLE | {name: [] if name != "errors" else "none"} for name in WHOLE),
    {"errors": [FAULT]},
    WHOLE | {"errors": [{"pointer": "/sun"}, {}, 7]},
    WHOLE | {"errors": [FAULT | {"location": "trailer"}]},
]
"""RFC 9457, section 3.1: members may be absent, and one of the wrong type is passed over."""


@pytest.mark.parametrize("members", LACKING)
def test_a_problem_that_lacks_members_keeps_the_rest(members: dict[str, Any]) -> None:
    def serve(request: httpx.Request) -> httpx.Response:
        if request.url.path.startswith("/v1/batch/"):
            return httpx.Response(200, content=problem_line(problem(**members)), headers=LINES)
        if request.headers["accept"] == LINES["Content-Type"]:
            return httpx.Response(200, content=problem_line(problem(**members)), headers=LINES)
        return httpx.Response(422, content=problem(**members))

    client = Client("http://s.test", http_client=httpx.Client(transport=httpx.MockTransport(serve)))
    request = light_example(SHADED_IV)
    with pytest.raises(ServiceError) as plain:
        client.shaded_iv(request)
    with pytest.raises(ServiceError) as streamed:
        client.call(HARVEST, light_example(HARVEST), lambda _, __: None)
    (outcome,) = client.batch(SHADED_IV, [request])
    assert isinstance(plain.value, RequestRejectedError)
    for error in (plain.value, streamed.value, outcome):
        assert isinstance(error, ServiceError)
        kept = members["errors"] if isinstance(members.get("errors"), list) else []
        pointers = [one.get("pointer", "") for one in kept if isinstance(one, dict)]
        assert [fault.pointer for fault in error.errors] == pointers
        assert isinstance(error.problem, Problem)
        for name in ("title", "detail"):
            if isinstance(members.get(name), str):
                assert members[name] in str(error)
