"""Flat questions as calls: `client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0)`."""

from inspect import Signature, signature
from typing import Generic, ParamSpec, TypeVar, get_type_hints

from sunhitch import questions
from sunhitch.exchange import AsyncTransport, Transport, look_up, read_found
from sunhitch.questions import Question
from sunhitch.types.base import Output

P = ParamSpec("P")
A = TypeVar("A", bound=Output)


class _Described(Generic[P, A]):
    """A question that shows its parameters in notebooks and by `help`."""

    def __init__(self, question: Question[P, A]) -> None:
        self._question = question
        self.__name__ = question.name.replace("-", "_")
        self.__doc__ = f"{question.asked.__doc__} All parameters in SI units, by name."

    @property
    def __signature__(self) -> Signature:
        plain = get_type_hints(self._question.asked)
        whole = signature(self._question.asked)
        named = [one.replace(annotation=plain[one.name]) for one in whole.parameters.values()]
        return whole.replace(parameters=named, return_annotation=self._question.answered)

    def __repr__(self) -> str:
        return f"<{self.__name__}{self.__signature__}>"


class Asked(_Described[P, A]):
    """One flat question; a call of it waits for the answer.

    Parameters
    ----------
    question : Question
        From `sunhitch.questions`.
    transport : Transport
        Carries the call.
    """

    def __init__(self, question: Question[P, A], transport: Transport) -> None:
        super().__init__(question)
        self._transport = transport

    def __call__(self, *args: P.args, **given: P.kwargs) -> A:
        """Ask, with the parameters of the question's Struct."""
        call = look_up(self._question, self._question.asked(*args, **given))
        return read_found(self._question, self._transport.send(call), call.request_id)


class AsyncAsked(_Described[P, A]):
    """One flat question; a call of it is awaited.

    Parameters
    ----------
    question : Question
        From `sunhitch.questions`.
    transport : AsyncTransport
        Carries the call.
    """

    def __init__(self, question: Question[P, A], transport: AsyncTransport) -> None:
        super().__init__(question)
        self._transport = transport

    async def __call__(self, *args: P.args, **given: P.kwargs) -> A:
        """Ask, with the parameters of the question's Struct."""
        call = look_up(self._question, self._question.asked(*args, **given))
        return read_found(self._question, await self._transport.send(call), call.request_id)


class Quick:
    """Every flat question, waiting.

    Parameters
    ----------
    transport : Transport
        Carries the calls.
    """

    def __init__(self, transport: Transport) -> None:
        self.cold_voc = Asked(questions.COLD_VOC, transport)
        self.hot_vmp = Asked(questions.HOT_VMP, transport)
        self.string_count = Asked(questions.STRING_COUNT, transport)
        self.cell_temperature = Asked(questions.CELL_TEMPERATURE, transport)
        self.shaded_power = Asked(questions.SHADED_POWER, transport)
        self.wire_size = Asked(questions.WIRE_SIZE, transport)
        self.wire_ampacity = Asked(questions.WIRE_AMPACITY, transport)
        self.voltage_drop = Asked(questions.VOLTAGE_DROP, transport)
        self.string_fuse = Asked(questions.STRING_FUSE, transport)
        self.battery_fuse = Asked(questions.BATTERY_FUSE, transport)
        self.foot_load = Asked(questions.FOOT_LOAD, transport)
        self.dynamic_pressure = Asked(questions.DYNAMIC_PRESSURE, transport)
        self.bond_strength = Asked(questions.BOND_STRENGTH, transport)
        self.cure_time = Asked(questions.CURE_TIME, transport)
        self.bolt_torque = Asked(questions.BOLT_TORQUE, transport)


class AsyncQuick:
    """Every flat question, awaited.

    Parameters
    ----------
    transport : AsyncTransport
        Carries the calls.
    """

    def __init__(self, transport: AsyncTransport) -> None:
        self.cold_voc = AsyncAsked(questions.COLD_VOC, transport)
        self.hot_vmp = AsyncAsked(questions.HOT_VMP, transport)
        self.string_count = AsyncAsked(questions.STRING_COUNT, transport)
        self.cell_temperature = AsyncAsked(questions.CELL_TEMPERATURE, transport)
        self.shaded_power = AsyncAsked(questions.SHADED_POWER, transport)
        self.wire_size = AsyncAsked(questions.WIRE_SIZE, transport)
        self.wire_ampacity = AsyncAsked(questions.WIRE_AMPACITY, transport)
        self.voltage_drop = AsyncAsked(questions.VOLTAGE_DROP, transport)
        self.string_fuse = AsyncAsked(questions.STRING_FUSE, transport)
        self.battery_fuse = AsyncAsked(questions.BATTERY_FUSE, transport)
        self.foot_load = AsyncAsked(questions.FOOT_LOAD, transport)
        self.dynamic_pressure = AsyncAsked(questions.DYNAMIC_PRESSURE, transport)
        self.bond_strength = AsyncAsked(questions.BOND_STRENGTH, transport)
        self.cure_time = AsyncAsked(questions.CURE_TIME, transport)
        self.bolt_torque = AsyncAsked(questions.BOLT_TORQUE, transport)
