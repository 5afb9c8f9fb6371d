"""Clients and services of different versions: what is new is passed over, what is gone is told."""

import json

import httpx
import msgspec
import pytest
from msgspec import inspect as shape
from service_in_memory import ANSWER, JSON, PLATE, REQUEST, Script

from sunhitch import Client, RequestRejectedError, UnexpectedAnswerError, operations, questions
from sunhitch.codec import encode
from sunhitch.operations.operation import Operation
from sunhitch.types.base import Input, Output
from sunhitch.types.problem import Problem


def client_of(answered: bytes) -> Client:
    script = Script(httpx.Response(200, content=answered, headers=JSON))
    http = httpx.Client(transport=httpx.MockTransport(script))
    return Client("http://service.test", http_client=http)


def newer(value: object) -> object:
    """The same with a field more in every object."""
    if isinstance(value, dict):
        return {**{key: newer(one) for key, one in value.items()}, "of_tomorrow": [{"a": 1}]}
    return [newer(one) for one in value] if isinstance(value, list) else value


def test_an_older_client_reads_a_newer_answer() -> None:
    answered = msgspec.json.encode(newer(json.loads(encode(ANSWER))))
    assert answered.count(b"of_tomorrow") > 10
    with client_of(answered) as client:
        assert client.shaded_iv(REQUEST) == ANSWER


def test_an_answer_that_lacks_a_field_is_told_with_what_to_do() -> None:
    older = json.loads(encode(ANSWER))
    del older["tracker"]["lost_w"]
    with (
        client_of(msgspec.json.encode(older)) as client,
        pytest.raises(UnexpectedAnswerError, match=r"/tracker.*pip install --upgrade"),
    ):
        client.shaded_iv(REQUEST)


def test_unknown_fields_of_requests_stay_refused() -> None:
    request = json.loads(encode(REQUEST))
    request["panels"][0]["panel"]["electrical"]["of_tomorrow"] = 1
    with Client.embedded() as client, pytest.raises(RequestRejectedError) as caught:
        client.shaded_iv(request)
    assert caught.value.errors[0].pointer == "/panels/0/panel/electrical/of_tomorrow"
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert({**msgspec.to_builtins(PLATE), "of_tomorrow": 1}, type(PLATE))


def structs_in(root: type) -> set[type]:
    """Every Struct within a Struct."""
    found: set[type] = set()
    waiting: list[shape.Type] = [shape.type_info(root)]
    while waiting:
        node = waiting.pop()
        if isinstance(node, shape.StructType) and node.cls not in found:
            found.add(node.cls)
            waiting += [field.type for field in node.fields]
        waiting += getattr(node, "types", ())
        waiting += [
            part
            for name in ("type", "item_type", "key_type", "value_type")
            if isinstance(part := getattr(node, name, None), shape.Type)
        ]
        waiting += getattr(node, "item_types", ())
    return found


@pytest.mark.parametrize("operation", operations.OPERATIONS, ids=lambda one: one.name)
def test_strict_and_lenient_parts_do_not_mix(operation: Operation) -> None:
    asked, answered = structs_in(operation.request), structs_in(operation.answer)
    assert len(asked) > 1
    assert len(answered) > 5
    assert all(issubclass(one, Input) for one in asked)
    assert all(issubclass(one, Output) for one in answered)
    assert all(one.__struct_config__.forbid_unknown_fields for one in asked)
    assert not any(one.__struct_config__.forbid_unknown_fields for one in answered)


def test_flat_questions_and_problems_likewise() -> None:
    flat = questions.QUESTIONS
    assert all(one.asked.__struct_config__.forbid_unknown_fields for one in flat)
    lenient = {Problem, *(one.answered for one in flat)}
    assert not any(one.__struct_config__.forbid_unknown_fields for one in lenient)
