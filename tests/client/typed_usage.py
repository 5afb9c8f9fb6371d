"""How programs use the client; checked by type checkers, not run.

Lines that must not pass carry an ignore, and the checkers complain about an ignore that nothing
needs.
"""

from collections.abc import AsyncIterator, Iterator, Sequence
from typing import assert_type

import sunhitch
from sunhitch import (
    AsyncClient,
    Client,
    RequestRejectedError,
    ServiceError,
    SunhitchError,
    examples,
    testing,
)
from sunhitch.operations import HARVEST, SHADED_IV
from sunhitch.operations.operation import Operation
from sunhitch.types import (
    AnswerPart,
    ArrayPanel,
    ArrayWiring,
    Check,
    FieldError,
    HarvestAnswer,
    HarvestRequest,
    Panel,
    PanelElectrical,
    QuickBoltTorque,
    QuickColdVoc,
    ShadedIvAnswer,
    ShadedIvRequest,
    Sun,
    Verdict,
)
from sunhitch.units import awg, feet, to_awg

plate = PanelElectrical(
    p_mp_w=115.0, v_mp_v=19.2, i_mp_a=5.99, v_oc_v=22.9, i_sc_a=6.4, cells_in_series=36
)
request = ShadedIvRequest(
    panels=[ArrayPanel(name="left", panel=Panel(electrical=plate))],
    wiring=ArrayWiring(strings=[["left"]]),
    sun=Sun(irradiance_w_m2=1000.0, cell_temperature_c=45.0),
)


class Voltage(AnswerPart, kw_only=True):
    """The part of an answer that this program wants."""

    open_circuit_voltage_v: float


def waiting() -> None:
    """Calls that wait."""
    with Client("http://127.0.0.1:8000", "key", timeout=5.0, retries=1, time_limit=20.0) as client:
        assert_type(client, Client)
        answer = client.shaded_iv(request)
        assert_type(answer, ShadedIvAnswer)
        assert_type(answer.maximum_power_point.power_w, float)
        assert_type(answer.verdict, Verdict)
        assert_type(answer.checks, list[Check])
        assert_type(client.with_options(time_limit=5.0, checked=False), Client)
        assert_type(examples.load(HARVEST), HarvestRequest)
        assert_type(testing.sample(Sun, irradiance_w_m2=1.0), Sun)
        Client.over(testing.Canned({HARVEST: testing.sample(HarvestAnswer)}))
        AsyncClient.over(testing.Replay("answers.ndjson").in_loop())
        assert_type(client.call(SHADED_IV, request), ShadedIvAnswer)
        assert_type(Client.harvest, Operation[HarvestRequest, HarvestAnswer])
        assert_type(client.call(Client.harvest, b"{}", progress=print), HarvestAnswer)
        assert_type(client.harvest({}, progress=True), HarvestAnswer)
        assert_type(client.shaded_iv({"panels": []}), ShadedIvAnswer)
        part = client.shaded_iv(request, fields=Voltage, views=["power"], checks="open")
        assert_type(part, Voltage)
        assert_type(part.open_circuit_voltage_v, float)
        assert_type(part.verdict, Verdict)
        assert_type(client.call(SHADED_IV.part(Voltage), request, checks="counts"), Voltage)
        SHADED_IV.text(part)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
        print(part.curve)  # type: ignore[attr-defined]  # pyright: ignore[reportAttributeAccessIssue, reportUnknownMemberType, reportUnknownArgumentType]  # noqa: T201
        client.shaded_iv(request, checks="some")  # type: ignore[call-overload]  # pyright: ignore[reportArgumentType]
        outcomes = client.batch(SHADED_IV, [request, {"panels": []}], progress=print, lines=10)
        assert_type(outcomes, Iterator[ShadedIvAnswer | ServiceError])
        found = client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0)
        assert_type(found, QuickColdVoc)
        assert_type(found.string_v_oc_v, float)
        client.quick.cold_voc(v_oc_v="22.9", lowest_ambient_c=-18.0)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
        client.quick.cold_voc(v_oc_v=22.9)  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
        client.shaded_iv(plate)  # type: ignore[call-overload]  # pyright: ignore[reportArgumentType]
        client.shaded_iv(request, progress=1.0)  # type: ignore[call-overload]  # pyright: ignore[reportArgumentType]
        client.shaded_iv()  # type: ignore[call-overload]  # pyright: ignore[reportCallIssue]


async def in_a_loop() -> None:
    """Calls that are awaited."""
    async with AsyncClient.embedded() as client:
        assert_type(client, AsyncClient)
        assert_type(await client.shaded_iv(request), ShadedIvAnswer)
        assert_type(AsyncClient.shaded_iv, Operation[ShadedIvRequest, ShadedIvAnswer])
        assert_type(await client.call(SHADED_IV, request), ShadedIvAnswer)
        assert_type(await client.shaded_iv(request, fields=Voltage), Voltage)
        assert_type(
            await client.quick.bolt_torque(thread="M6", property_class="8.8"), QuickBoltTorque
        )
        outcomes = client.batch(SHADED_IV, iter([request]))
        assert_type(outcomes, AsyncIterator[ShadedIvAnswer | ServiceError])


def errors(client: Client) -> None:
    """What is known about an error."""
    try:
        client.shaded_iv(request)
    except RequestRejectedError as fault:
        assert_type(fault.errors, Sequence[FieldError])
        assert_type(fault.status, int)
    except ServiceError as fault:
        assert_type(fault.retry_after_s, float | None)
    except SunhitchError as fault:
        assert_type(fault.request_id, str)


def newer(client: Client) -> None:
    """Words that this version does not know."""
    verdict = client.shaded_iv(request).verdict
    if isinstance(verdict, sunhitch.Unrecognised):
        assert_type(verdict.lower(), str)


def frozen() -> None:
    """Requests do not change under the caller's hands."""
    plate.p_mp_w = 120.0  # type: ignore[misc]  # pyright: ignore[reportAttributeAccessIssue]
    Sun(1000.0, 45.0)  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]


assert_type(feet(6, inches=2), float)
assert_type(awg("10"), float)
assert_type(to_awg(4.0), str)
print(sunhitch.Clients)  # type: ignore[attr-defined]  # pyright: ignore[reportAttributeAccessIssue, reportUnknownMemberType, reportUnknownArgumentType]  # noqa: T201
