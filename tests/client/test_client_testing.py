"""Sample answers and clients without a service, as programs use them in their own tests."""

import importlib
import inspect
import pkgutil
from collections.abc import Callable
from pathlib import Path

import anyio
import msgspec
import pytest
from service_in_memory import REQUEST, answer, change_shaded_iv, check

import sunhitch.types
from sunhitch import AsyncClient, Client, OverloadedError, RequestRejectedError, ServiceError
from sunhitch.codec import decode_strict, encode
from sunhitch.operations import OPERATIONS, SHADED_IV, WIRE_SIZING
from sunhitch.questions import QUESTIONS, Questions
from sunhitch.testing import Canned, Recorder, Replay, sample
from sunhitch.texts import Text
from sunhitch.types import Check, Problem, QuickColdVoc, ShadedIvAnswer
from sunhitch_service.calculations.calculation import Rendering
from sunhitch_service.engine.errors import ContradictionError, Fault


def test_every_struct_of_the_contract_is_exported() -> None:
    modules = [
        importlib.import_module(one.name)
        for one in pkgutil.walk_packages(sunhitch.types.__path__, "sunhitch.types.")
    ]
    for module in modules:
        for name, one in vars(module).items():
            if inspect.isclass(one) and one.__module__ == module.__name__:
                assert getattr(sunhitch.types, name) is one
    listed = Path(sunhitch.types.__file__).read_text("utf-8")
    ours = (one.__name__.removeprefix("sunhitch.types") for one in modules)
    assert [one for one in ours if f"from {one} import *" not in listed] == [
        ".quantity",
        ".quick",
        ".quick.texts",
    ]
    with pytest.raises(ImportError, match="Nothing"):
        from sunhitch.types import Nothing  # noqa: F401


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_samples_fit_the_contract_and_can_be_told(operation) -> None:
    made = sample(operation.answer, verdict="fail", checks=[sample(Check, verdict="fail")])
    assert decode_strict(encode(made), operation.answer) == made
    assert "VERDICT: FAIL" in operation.text(made, detail="short")


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: one.name)
def test_samples_of_flat_questions(question) -> None:
    assert decode_strict(encode(sample(question.answered)), question.answered)


def ask_waiting(transport: Canned | Replay | Recorder, request: object = REQUEST) -> ShadedIvAnswer:
    return Client.over(transport).shaded_iv(request)


def ask_in_loop(transport: Canned | Replay | Recorder, request: object = REQUEST) -> ShadedIvAnswer:
    async def ask() -> ShadedIvAnswer:
        async with AsyncClient.over(transport.in_loop()) as client:
            return await client.shaded_iv(request)

    return anyio.run(ask)


@pytest.fixture(params=[ask_waiting, ask_in_loop], ids=["Client", "AsyncClient"])
def ask(request: pytest.FixtureRequest) -> Callable[..., ShadedIvAnswer]:
    return request.param


def test_prepared_answers_are_given_and_calls_kept(ask) -> None:
    transport = Canned({SHADED_IV: sample(ShadedIvAnswer, verdict="fail")})
    found = ask(transport)
    assert found.verdict == "fail"
    assert found.html("sheet") == "text/html sheet"
    (asked,) = transport.asked
    assert asked.operation is SHADED_IV
    assert decode_strict(asked.body, SHADED_IV.request) == REQUEST


def test_prepared_errors_are_raised_and_what_is_not_prepared_is_named(ask) -> None:
    busy = OverloadedError(sample(Problem, status=503))
    with pytest.raises(OverloadedError):
        ask(Canned({SHADED_IV: busy}))
    with pytest.raises(LookupError, match="shaded-iv"):
        ask(Canned({WIRE_SIZING: busy}))


def test_batches_and_flat_questions_are_answered_too() -> None:
    canned = {
        SHADED_IV: sample(ShadedIvAnswer),
        Questions.cold_voc: sample(QuickColdVoc, string_v_oc_v=7.0),
    }
    client = Client.over(Canned(canned))
    assert list(client.batch(SHADED_IV, [REQUEST] * 3)) == [canned[SHADED_IV]] * 3
    assert client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0).string_v_oc_v == 7.0


def test_what_was_recorded_is_answered_again(
    ask, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[object] = []

    def calculate(request: object) -> ShadedIvAnswer:
        asked.append(request)
        if request != REQUEST:
            raise ContradictionError([Fault("/sun", Text("Too dim.", "mend", {}))])
        return answer(check(unit="Ω"))

    drawn = (Rendering("image/svg+xml", "power", "Power.", lambda _q, _a: "<svg>Ω</svg>"),)
    change_shaded_iv(monkeypatch, calculate=calculate, renderings=drawn)
    dim = msgspec.structs.replace(
        REQUEST, sun=msgspec.structs.replace(REQUEST.sun, irradiance_w_m2=9.0)
    )
    kept = tmp_path / "answers.ndjson"
    recorder = Recorder(Client.embedded().transport, kept)
    found = ask(recorder)
    assert found.svg() == "<svg>Ω</svg>"
    with pytest.raises(RequestRejectedError):
        ask(recorder, dim)
    good, bad = Client.over(recorder).batch(SHADED_IV, [REQUEST, dim])
    assert good == found
    count = len(asked)

    replay = Replay(kept)
    assert ask(replay) == found
    assert ask(replay).svg() == "<svg>Ω</svg>"
    with pytest.raises(RequestRejectedError, match="Too dim"):
        ask(replay, dim)
    again, refused = Client.over(replay).batch(SHADED_IV, [REQUEST, dim])
    assert again == found
    assert isinstance(refused, ServiceError)
    assert refused.errors == bad.errors
    with pytest.raises(LookupError, match="no such call was recorded: GET /v1/quick/cold-voc"):
        Client.over(replay).quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0)
    assert len(asked) == count
