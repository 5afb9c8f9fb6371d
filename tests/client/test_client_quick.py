"""Flat questions as calls: typed, over GET, and the same in this process."""

import inspect
from collections.abc import Callable
from typing import get_type_hints

import anyio
import httpx
import msgspec
import pytest
from service_in_memory import JSON, Script, refusal

from sunhitch import AsyncClient, Client, RequestRejectedError, UnexpectedAnswerError, questions
from sunhitch.codec import encode
from sunhitch.questions import BY_NAME, QUESTIONS, AnyQuestion
from sunhitch.types.base import Output
from sunhitch_service.quick.parameters import slots
from sunhitch_service.quick.questions import ANSWERING
from sunhitch_service.quick.reading import read

COLDER = {"v_oc_v": 22.9, "lowest_ambient_c": -18.0}


def least(name: str) -> dict[str, object]:
    """Parameters that must be given, with the values of the documentation."""
    question = BY_NAME[name]
    needed = [slot.parameters[0] for slot in slots(question) if slot.required]
    asked = read(question, {one.name: [one.example] for one in needed})
    return {field: value for field, value in msgspec.structs.asdict(asked).items() if value}


def served(*outcomes: httpx.Response | Callable[[httpx.Request], httpx.Response]) -> Script:
    return Script(*outcomes)


def connected(script: Script) -> Client:
    return Client(
        "http://service.test", http_client=httpx.Client(transport=httpx.MockTransport(script))
    )


def test_the_service_answers_what_the_client_asks() -> None:
    hints = {name: get_type_hints(one.answer) for name, one in ANSWERING.items()}
    there = [(name, one["asked"], one["return"]) for name, one in hints.items()]
    assert [(one.name, one.asked, one.answered) for one in QUESTIONS] == there


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: one.name)
def test_every_question_is_a_call(question: AnyQuestion) -> None:
    given = least(question.name)
    known = ANSWERING[question.name].answer(question.asked(**given))
    name = question.name.replace("-", "_")
    with Client.embedded() as client:
        assert getattr(client.quick, name)(**given) == known

    async def awaited() -> Output:
        async with AsyncClient.embedded() as client:
            found: Output = await getattr(client.quick, name)(**given)
            return found

    assert anyio.run(awaited) == known


def test_a_question_travels_as_a_get_without_body() -> None:
    found = ANSWERING["cold-voc"].answer(questions.Questions.cold_voc.asked(**COLDER))
    script = served(
        refusal(503, **{"Retry-After": "0"}),
        httpx.Response(200, content=encode(found), headers=JSON),
    )
    with connected(script) as client:
        assert client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0) == found
    first, second = script.asked
    assert first.method == second.method == "GET"
    assert str(second.url) == (
        "http://service.test/v1/quick/cold-voc?v_oc_v=22.9&lowest_ambient_c=-18.0"
    )
    assert second.content == b""
    assert "content-type" not in second.headers


def test_faults_point_at_parameters() -> None:
    with Client.embedded() as client:
        with pytest.raises(RequestRejectedError) as caught:
            client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-180.0)
        assert (caught.value.status, caught.value.errors[0].pointer) == (400, "/lowest_ambient_c")
        with pytest.raises(RequestRejectedError) as caught:
            client.quick.voltage_drop(current_a=20.0, voltage_v=12.0, length_m=4.0)
        assert (caught.value.status, caught.value.errors[0].pointer) == (422, "/awg")
        with pytest.raises(RequestRejectedError) as caught:
            client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-50.0)
        assert caught.value.errors[0].pointer == "/beta_voc_fraction_per_c"


def test_an_answer_of_another_program_is_refused() -> None:
    script = served(httpx.Response(200, content=b'{"voltage":1}', headers=JSON))
    with connected(script) as client, pytest.raises(UnexpectedAnswerError, match="same version"):
        client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0)


def test_questions_tell_their_parameters() -> None:
    with Client.embedded() as client:
        shown = client.quick.cold_voc
        assert list(inspect.signature(shown).parameters)[:2] == ["v_oc_v", "lowest_ambient_c"]
        assert repr(shown).startswith("<cold_voc(*, v_oc_v: float, lowest_ambient_c: float")
        assert "string in the cold" in (shown.__doc__ or "")
