"""Flat questions as calls: `client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0)`."""

from collections.abc import Mapping
from typing import ParamSpec

from .calls import InLoop, Waiting
from .exchange import AsyncTransport, CallOptions, F, Lookup, Transport, look_up, read_answer
from .questions import FlatQuestion, Questions

P = ParamSpec("P")


class Quick(Questions, Waiting):
    """Every flat question, waiting.

    Parameters
    ----------
    transport : Transport
        Carries the calls.
    options : CallOptions
        How to ask.
    """

    def __init__(self, transport: Transport, options: CallOptions) -> None:
        self._transport = transport
        self._options = options

    def ask(self, question: FlatQuestion[P, F], *args: P.args, **given: P.kwargs) -> F:
        """Ask any question, with the parameters of its Struct."""
        call = look_up(question, question.asked(*args, **given), self._options)
        return read_answer(question.name, question.answered, self._transport.send(call))

    def ask_in_words(self, question: FlatQuestion[..., F], given: Mapping[str, str]) -> F:
        """Ask with texts by the names of parameters, as they stand in an address."""
        call = Lookup(question, dict(given), options=self._options)
        return read_answer(question.name, question.answered, self._transport.send(call))


class AsyncQuick(Questions, InLoop):
    """Every flat question, awaited.

    Parameters
    ----------
    transport : AsyncTransport
        Carries the calls.
    options : CallOptions
        How to ask.
    """

    def __init__(self, transport: AsyncTransport, options: CallOptions) -> None:
        self._transport = transport
        self._options = options

    async def ask(self, question: FlatQuestion[P, F], *args: P.args, **given: P.kwargs) -> F:
        """Ask any question; as `Quick.ask`."""
        call = look_up(question, question.asked(*args, **given), self._options)
        return read_answer(question.name, question.answered, await self._transport.send(call))
