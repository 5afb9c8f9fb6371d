"""The engine in this process: the same calls, limits and errors as over HTTP."""

import sys
from pathlib import Path

import anyio
import msgspec
import numpy as np
import pytest
from service_in_memory import ANSWER, REQUEST, change_shaded_iv

from sunhitch import (
    AsyncClient,
    Client,
    RequestRejectedError,
    ServiceError,
    ServiceNotInstalledError,
)
from sunhitch.operations import SHADED_IV
from sunhitch.texts import Text
from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest, Sun
from sunhitch_service.calculations.calculation import Rendering
from sunhitch_service.engine.errors import ContradictionError, Fault


def ask_waiting(request: object) -> object:
    with Client.embedded() as client:
        return client.shaded_iv(request)


def ask_in_loop(request: object) -> object:
    async def ask() -> object:
        async with AsyncClient.embedded() as client:
            return await client.shaded_iv(request)

    return anyio.run(ask)


@pytest.fixture(params=[ask_waiting, ask_in_loop], ids=["Client", "AsyncClient"])
def ask(request: pytest.FixtureRequest):
    return request.param


@pytest.fixture
def engine(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Requests that reached the calculation, which gives one known answer."""
    seen: list[object] = []

    def calculate(request: object) -> object:
        seen.append(request)
        return ANSWER

    change_shaded_iv(monkeypatch, calculate=calculate)
    return seen


def test_the_engine_gets_the_request_and_its_answer_comes_back(ask, engine) -> None:
    assert ask(REQUEST) == ANSWER
    assert ask(msgspec.to_builtins(REQUEST)) == ANSWER
    assert engine == [REQUEST, REQUEST]


def test_limits_hold_for_structs_that_were_never_checked(ask, engine) -> None:
    """A Struct takes any value when it is made; the limit of the contract is 1500 W/m²."""
    wrong = msgspec.structs.replace(
        REQUEST, sun=Sun(irradiance_w_m2=9000.0, cell_temperature_c=45.0)
    )
    with pytest.raises(RequestRejectedError) as caught:
        ask(wrong)
    (fault,) = caught.value.errors
    assert (caught.value.status, fault.pointer) == (400, "/sun/irradiance_w_m2")
    assert "1500" in fault.message
    assert engine == []


@pytest.mark.parametrize("number", [float("nan"), float("inf")])
def test_numbers_that_json_cannot_carry_are_refused(ask, engine, number: float) -> None:
    wrong = msgspec.structs.replace(
        REQUEST, sun=Sun(irradiance_w_m2=number, cell_temperature_c=45.0)
    )
    with pytest.raises(RequestRejectedError, match="/sun/irradiance_w_m2"):
        ask(wrong)
    assert engine == []


@pytest.mark.parametrize(
    "number", [float("nan"), float("inf"), np.float64("nan"), np.float32("inf")]
)
def test_in_plain_data_such_a_number_is_a_fault_and_not_an_absent_one(ask, engine, number) -> None:
    plain = msgspec.to_builtins(REQUEST)
    plain["panels"][0]["cell_temperature_c"] = number
    with pytest.raises(RequestRejectedError) as caught:
        ask(plain)
    assert [fault.pointer for fault in caught.value.errors] == ["/panels/0/cell_temperature_c"]
    plain["panels"][0]["cell_temperature_c"] = None
    plain["panels"][0]["irradiance_fraction"] = np.array([[0.5, number]])
    with pytest.raises(RequestRejectedError, match="/panels/0/irradiance_fraction/0/1"):
        ask(plain)
    assert engine == []


def test_numbers_of_numpy_are_taken_for_what_they_are(ask, engine) -> None:
    sun = Sun(irradiance_w_m2=np.float64(1000.0), cell_temperature_c=np.float32(45.0))
    light = msgspec.structs.replace(REQUEST.panels[0], irradiance_fraction=np.full((1, 36), 0.5))
    assert ask(msgspec.structs.replace(REQUEST, sun=sun, panels=[light])) == ANSWER
    (seen,) = engine
    assert seen.sun == REQUEST.sun
    assert seen.panels[0].irradiance_fraction == [[0.5] * 36]


def test_things_that_are_no_data_are_named(ask, engine) -> None:
    plain = {**msgspec.to_builtins(REQUEST), "sun": object()}
    with pytest.raises(TypeError, match="object"):
        ask(plain)


def test_contradictions_carry_every_pointer(ask, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_request: object) -> object:
        raise ContradictionError(
            [
                Fault("/wiring", Text("Wire it.", "mend", {})),
                Fault("/panels/0", Text("Name it.", "mend", {})),
            ]
        )

    change_shaded_iv(monkeypatch, calculate=refuse)
    with pytest.raises(RequestRejectedError) as caught:
        ask(REQUEST)
    assert caught.value.status == 422
    assert [fault.pointer for fault in caught.value.errors] == ["/wiring", "/panels/0"]
    assert caught.value.problem.instance.endswith(caught.value.request_id)


def test_batches_answer_line_by_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse_dim_light(request: ShadedIvRequest) -> ShadedIvAnswer:
        if request.sun.irradiance_w_m2 < 100.0:
            raise ContradictionError([Fault("/sun", Text("Too dim.", "mend", {}))])
        return ANSWER

    change_shaded_iv(monkeypatch, calculate=refuse_dim_light)
    dim = msgspec.structs.replace(REQUEST, sun=Sun(irradiance_w_m2=9.0, cell_temperature_c=45.0))
    with Client.embedded() as client:
        good, refused, again = client.batch(SHADED_IV, [REQUEST, dim, REQUEST])
    assert (good, again) == (ANSWER, ANSWER)
    assert isinstance(refused, RequestRejectedError)
    assert [fault.pointer for fault in refused.errors] == ["/sun"]


@pytest.mark.parametrize("client", [Client, AsyncClient])
def test_a_missing_engine_is_told_before_the_first_call(client, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "sunhitch_service.calculations", None)
    with pytest.raises(ServiceNotInstalledError, match=r"pip install 'sunhitch\[service\]'"):
        client.embedded()


def picture(request: ShadedIvRequest, shown: ShadedIvAnswer) -> str:
    return f"<svg><title>{request.panels[0].name} {shown.verdict}</title></svg>"


def sheet(request: ShadedIvRequest, shown: ShadedIvAnswer) -> str:
    return f"<!doctype html><title>Ω {shown.verdict}</title>"


DRAWINGS = (
    Rendering("image/svg+xml", "power", "Power over voltage.", picture),
    Rendering("image/svg+xml", "cells", "Cells.", lambda _request, _shown: "<svg>cells</svg>"),
    Rendering("text/html", "sheet", "Work sheet.", sheet),
)


@pytest.fixture
def drawings(engine, monkeypatch: pytest.MonkeyPatch) -> None:
    change_shaded_iv(monkeypatch, renderings=DRAWINGS)


def saved_waiting(paths: dict[Path, str]) -> None:
    with Client.embedded() as client:
        answer = client.shaded_iv(REQUEST)
    for path, view in paths.items():
        answer.save(path, view)


def saved_in_loop(paths: dict[Path, str]) -> None:
    async def ask() -> None:
        async with AsyncClient.embedded() as client:
            answer = await client.shaded_iv(REQUEST)
        for path, view in paths.items():
            answer.save(path, view)

    anyio.run(ask)


def saved_from_a_batch(paths: dict[Path, str]) -> None:
    with Client.embedded() as client:
        _, answer = client.batch(SHADED_IV, [REQUEST, REQUEST])
    for path, view in paths.items():
        answer.save(path, view)


@pytest.mark.parametrize("save", [saved_waiting, saved_in_loop, saved_from_a_batch])
def test_all_documents_come_from_one_computation(drawings, engine, save, tmp_path: Path) -> None:
    names = ("sheet.HTML", "answer.json", "power.svg", "cells.svg")
    sheet, answer, power, cells = (tmp_path / name for name in names)
    save({sheet: "", answer: "", power: "", cells: "cells"})
    assert engine == [REQUEST] * (2 if save is saved_from_a_batch else 1)
    assert sheet.read_text("utf-8") == "<!doctype html><title>Ω pass</title>"
    assert power.read_text("utf-8") == "<svg><title>left pass</title></svg>"
    assert cells.read_text("utf-8") == "<svg>cells</svg>"
    assert msgspec.json.decode(answer.read_bytes(), type=ShadedIvAnswer) == ANSWER


def test_a_view_that_was_named_is_the_usual_one(drawings) -> None:
    with Client.embedded() as client:
        assert client.shaded_iv(REQUEST, views=["cells"]).svg() == "<svg>cells</svg>"
        assert "left pass" in client.shaded_iv(REQUEST).svg()


def test_a_file_that_can_be_none_is_refused(drawings, tmp_path: Path) -> None:
    with Client.embedded() as client, pytest.raises(ValueError, match=r"\.svg"):
        client.shaded_iv(REQUEST).save(tmp_path / "picture.gif")


def test_drawings_that_do_not_exist_are_told_with_those_that_do(drawings, engine) -> None:
    with Client.embedded() as client:
        answer = client.shaded_iv(REQUEST)
        for wanted in (answer.csv, lambda: answer.svg("roof")):
            with pytest.raises(ServiceError, match="sheet") as caught:
                wanted()
            assert caught.value.status == 406
        with pytest.raises(RequestRejectedError, match="known: power, cells, sheet"):
            client.shaded_iv(REQUEST, views=["roof"])
        with pytest.raises(
            RequestRejectedError, match="known: verdict, counts, answer_id"
        ) as caught:
            client.shaded_iv(REQUEST, fields=["verdict", "oven"])
        assert [fault.pointer for fault in caught.value.errors] == ["/fields"]
    assert engine == [REQUEST]


def test_answers_that_no_client_gave_say_so() -> None:
    with pytest.raises(ValueError, match="ask for it again"):
        ANSWER.html()
