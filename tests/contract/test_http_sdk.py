"""The client over a real connection: the same answers and the same problems as embedded."""

import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from types import ModuleType

import anyio
import msgspec
import pytest
from contract_serving import Served
from contract_toys import SHORT, Square, ToyAnswer, ToyRequest, add_up, toys

from sunhitch import (
    AsyncClient,
    Client,
    ConnectionFailedError,
    OverloadedError,
    RequestRejectedError,
    ServiceError,
)
from sunhitch.operations.operation import Operation
from sunhitch.questions import BY_NAME, QUESTIONS
from sunhitch_service.calculations.calculation import Calculation, Rendering
from sunhitch_service.quick.parameters import slots
from sunhitch_service.quick.reading import read

TOYS = {endpoint.operation.name: endpoint.operation for endpoint in toys()}
ADD_UP: Operation[ToyRequest, ToyAnswer] = TOYS["add-up"]
REQUEST = ToyRequest(name="first", shapes=[Square(side_m=2.0)], copies=3)


def _shelve(monkeypatch: pytest.MonkeyPatch, toy: Calculation[ToyRequest, ToyAnswer]) -> None:
    """Where the embedded client looks for the records of operations."""
    module = ModuleType("sunhitch_service.calculations.add_up")
    monkeypatch.setattr(module, "CALCULATION", toy, raising=False)
    monkeypatch.setitem(sys.modules, module.__name__, module)


@pytest.fixture
def client(toy_service: Served) -> Iterator[Client]:
    with Client(toy_service.url, retries=0) as connected:
        yield connected


@pytest.fixture
def embedded(monkeypatch: pytest.MonkeyPatch) -> Client:
    """The toys without a service."""
    _shelve(monkeypatch, Calculation(ADD_UP, add_up, SHORT))
    return Client.embedded()


def test_answers_are_the_same_with_and_without_a_service(client: Client, embedded: Client) -> None:
    assert client.call(ADD_UP, REQUEST) == embedded.call(ADD_UP, REQUEST)
    assert client.call(ADD_UP, REQUEST).area_m2 == 12.0


@pytest.mark.parametrize(
    "wrong",
    [
        ToyRequest(name="", shapes=[]),
        ToyRequest(name="first", shapes=[Square(side_m=99.0)], copies=11, size="huge"),
        ToyRequest(name="first", shapes=[Square(side_m=1.0)], size="large"),
        ToyRequest(name="first", shapes=[Square(side_m=1.0)], size="large", copies=7),
    ],
    ids=["empty", "beyond limits", "one contradiction", "two contradictions"],
)
def test_problems_are_the_same_with_and_without_a_service(
    client: Client, embedded: Client, wrong: ToyRequest
) -> None:
    told = []
    for asked in (client, embedded):
        with pytest.raises(RequestRejectedError) as caught:
            asked.call(ADD_UP, wrong)
        assert caught.value.problem.instance == f"urn:sunhitch:request:{caught.value.request_id}"
        told.append(msgspec.structs.replace(caught.value.problem, instance=""))
    assert told[0] == told[1]
    assert told[0].errors


def test_batches_are_the_same_with_and_without_a_service(client: Client, embedded: Client) -> None:
    squares = [Square(side_m=float(n % 10)) for n in range(57)]
    requests = [
        ToyRequest(name="first", shapes=[square], copies=7 if n % 11 == 3 else 1)
        for n, square in enumerate(squares)
    ]
    told = [
        [
            msgspec.structs.replace(one.problem, instance="")
            if isinstance(one, ServiceError)
            else one
            for one in asked.batch(ADD_UP, requests, lines=10)
        ]
        for asked in (client, embedded)
    ]
    assert told[0] == told[1]
    areas = [one.area_m2 if isinstance(one, ToyAnswer) else one.status for one in told[0]]
    assert areas == [422 if n % 11 == 3 else float(n % 10) ** 2 for n in range(57)]


def name_and_area(request: ToyRequest, answer: ToyAnswer) -> str:
    return f"<svg><title>{request.name}: {answer.area_m2} m²</title></svg>"


def test_drawings_are_the_same_with_and_without_a_service(
    start: Callable[..., Served], embedded: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawings = (Rendering("image/svg+xml", "area", "Area.", name_and_area),)
    toy = Calculation(ADD_UP, add_up, SHORT, drawings)
    _shelve(monkeypatch, toy)
    served = start((toy,), pool_workers=0)
    with Client(served.url, retries=0) as client:
        answers = [asked.call(ADD_UP, REQUEST) for asked in (client, embedded)]
        answers.append(client.call(ADD_UP, REQUEST, views=["area"]))
        assert {one.svg("area") for one in answers} == {"<svg><title>first: 12.0 m²</title></svg>"}
        for one in answers:
            with pytest.raises(ServiceError) as caught:
                one.csv()
            assert caught.value.status == 406


async def _in_loop(url: str) -> str:
    async with AsyncClient(url, retries=0) as client:
        answer = await client.call(ADD_UP, REQUEST, views=["area"])
        return answer.svg()


def test_named_documents_come_along_with_the_answer(start: Callable[..., Served]) -> None:
    """In a loop none can be asked for later: what is shown has come along."""
    drawings = (Rendering("image/svg+xml", "area", "Area.", name_and_area),)
    served = start((Calculation(ADD_UP, add_up, SHORT, drawings),), pool_workers=0)
    assert anyio.run(_in_loop, served.url) == "<svg><title>first: 12.0 m²</title></svg>"
    with Client(served.url, retries=0) as client:
        with pytest.raises(RequestRejectedError) as caught:
            client.call(ADD_UP, REQUEST, views=["oven"])
        assert [fault.pointer for fault in caught.value.errors] == ["/views"]


def test_the_request_id_of_an_error_is_in_the_log(client: Client, toy_service: Served) -> None:
    with pytest.raises(RequestRejectedError) as caught:
        client.call(ADD_UP, ToyRequest(name="", shapes=[]))
    assert toy_service.line(caught.value.request_id)["status"] == 400


def test_defects_of_the_service_are_told_without_their_inside(client: Client) -> None:
    with pytest.raises(ServiceError) as caught:
        client.call(TOYS["crash"], REQUEST)
    assert caught.value.status == 500
    assert "secret" not in str(caught.value)


def test_an_unknown_calculation_is_not_found(client: Client) -> None:
    unknown = replace(ADD_UP, name="unknown")
    with pytest.raises(ServiceError) as caught:
        client.call(unknown, REQUEST)
    assert caught.value.status == 404


def test_nobody_at_the_address_is_a_failed_connection(toy_service: Served) -> None:
    with Client("http://127.0.0.1:9", retries=0) as client, pytest.raises(ConnectionFailedError):
        client.call(ADD_UP, REQUEST)


def test_an_overloaded_service_is_asked_again_until_it_answers(
    start: Callable[..., Served],
) -> None:
    """One calculation at a time is let in; four callers at once all get their answer."""
    served = start(toys(), pool_workers=1, max_in_flight=1, retry_after_s=1)
    briefly = ToyRequest(name="first", shapes=[Square(side_m=0.3)])
    answers: list[ToyAnswer] = []

    async def ask(client: AsyncClient) -> None:
        answers.append(await client.call(TOYS["linger"], briefly))

    async def all_at_once() -> None:
        async with (
            AsyncClient(served.url, retries=20) as client,
            anyio.create_task_group() as group,
        ):
            for _ in range(4):
                group.start_soon(ask, client)

    anyio.run(all_at_once)
    assert len(answers) == 4
    assert any(line["status"] == 503 for line in served.lines())


def test_without_retries_an_overloaded_service_says_when_to_come_back(
    start: Callable[..., Served],
) -> None:
    served = start(toys(), pool_workers=1, max_in_flight=1, retry_after_s=3)
    refused: list[OverloadedError] = []

    async def ask(client: AsyncClient) -> None:
        try:
            await client.call(TOYS["linger"], ToyRequest(name="a", shapes=[Square(side_m=0.5)]))
        except OverloadedError as fault:
            refused.append(fault)

    async def both() -> None:
        async with AsyncClient(served.url, retries=0) as client, anyio.create_task_group() as group:
            group.start_soon(ask, client)
            group.start_soon(ask, client)

    anyio.run(both)
    assert [fault.retry_after_s for fault in refused] == [3.0]


@pytest.mark.parametrize("name", [one.name for one in QUESTIONS])
def test_flat_questions_are_the_same_with_and_without_a_service(service: Served, name: str) -> None:
    needed = [slot.parameters[0] for slot in slots(BY_NAME[name]) if slot.required]
    asked = read(BY_NAME[name], {one.name: [one.example] for one in needed})
    given = {key: one for key, one in msgspec.structs.asdict(asked).items() if one is not None}
    call = name.replace("-", "_")
    with Client(service.url, retries=0).with_options(texts=True) as client:
        found = getattr(client.quick, call)(**given)
        assert found.texts
    embedded = Client.embedded().with_options(texts=True)
    assert found == getattr(embedded.quick, call)(**given)


def test_faults_of_flat_questions_are_the_same_with_and_without_a_service(service: Served) -> None:
    told = []
    with Client(service.url, retries=0) as client:
        for asked in (client, Client.embedded()):
            for temperature in (-180.0, -50.0):
                with pytest.raises(RequestRejectedError) as caught:
                    asked.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=temperature)
                told.append(msgspec.structs.replace(caught.value.problem, instance=""))
    assert told[:2] == told[2:]
    assert [one.status for one in told[:2]] == [400, 422]
