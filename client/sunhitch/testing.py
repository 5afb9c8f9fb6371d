"""For the tests of programs that use this package: sample answers, clients without a service.

::

    transport = Canned({FIT_OUT: sample(FitOutAnswer, verdict="fail")})
    client = Client.over(transport)                  # or AsyncClient.over(transport.in_loop())
    assert my_program(client) == "call the customer"
    assert transport.asked[0].operation is FIT_OUT

`Recorder` keeps what a service or the engine answers in a file, `Replay` answers from it.
"""

import json
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from os import PathLike
from pathlib import Path
from typing import Any, cast

import msgspec
from msgspec import inspect

from .codec import T, encode
from .errors import ServiceError, SunhitchError, service_error
from .exchange import AsyncTransport, AwaitedTransport, Call, Exchange, RawAnswer, Transport
from .faults import metadata
from .problems import read_problem
from .types.stream import answer_line

_VALUES: dict[type, Any] = {
    inspect.FloatType: 1.0,
    inspect.IntType: 1,
    inspect.StrType: "",
    inspect.BoolType: False,
}


def sample(kind: type[T], **given: Any) -> T:  # noqa: ANN401 - fields of any kind
    """A Struct of the contract with the example values of its fields, and as few parts as it may.

    Parameters
    ----------
    kind : type
        For example `FitOutAnswer`.
    **given : object
        Fields with values of your own.

    Examples
    --------
    >>> from sunhitch.types import Check
    >>> sample(Check, verdict="fail").verdict
    'fail'
    """
    info = cast("inspect.StructType", inspect.type_info(kind))
    values = {one.name: _example(one.type) for one in info.fields if one.required}
    return kind(**{**values, **given})


def _example(info: inspect.Type) -> Any:  # noqa: ANN401, PLR0911 - one for each kind of type
    match info:
        case inspect.Metadata(type=inner):
            shown: list[Any] | None = metadata(info).get("examples")
            plain = type(inner) in _VALUES or isinstance(inner, inspect.LiteralType)
            return shown[0] if shown and plain else _example(inner)
        case inspect.UnionType(types=kinds):
            return None if info.includes_none else _example(kinds[0])
        case inspect.StructType(cls=kind):
            return sample(kind)
        case inspect.ListType(item_type=item):
            return [_example(item) for _ in range(info.min_length or 0)]
        case inspect.DictType():
            return {}
        case inspect.LiteralType(values=words):
            return words[0]
        case _:
            return _VALUES[type(info)]


class _Offline:
    """What transports that reach nobody share."""

    def send(self, exchange: Call) -> RawAnswer:
        raise NotImplementedError

    def in_loop(self) -> AsyncTransport:
        """The same for `AsyncClient.over`."""
        return AwaitedTransport(self)

    def close(self) -> None:
        """Nothing to let go of."""


class Canned(_Offline):
    """Gives prepared answers.

    Parameters
    ----------
    answers : mapping
        By operation or flat question: an answer, or an error to raise.

    Attributes
    ----------
    asked : list
        Every call so far; its `body` is the request as JSON.
    """

    def __init__(self, answers: Mapping[Any, msgspec.Struct | SunhitchError]) -> None:
        self._answers = {one.name: outcome for one, outcome in answers.items()}
        self.asked: list[Call] = []

    def send(self, exchange: Call) -> RawAnswer:
        """The answer that was prepared; documents name themselves.

        Raises
        ------
        LookupError
            None was prepared.
        """
        self.asked.append(exchange)
        which = exchange.operation if isinstance(exchange, Exchange) else exchange.question
        if which.name not in self._answers:
            raise LookupError(f"no answer to {which.name} was prepared")
        outcome = self._answers[which.name]
        if isinstance(outcome, SunhitchError):
            raise outcome
        body = encode(outcome)
        if isinstance(exchange, Exchange) and exchange.batch:
            body = b"\n".join([answer_line(body)] * len(exchange.body.splitlines()))
        return RawAnswer(body, exchange.request_id, draw=_named)


def _named(_asked: Exchange, media_type: str, view: str) -> bytes:
    return f"{media_type} {view}".encode()


_BYTES = "surrogateescape"
"""How bytes that are no text stand in a recording."""


class Recorder(_Offline):
    """Asks another transport, and keeps what it answers.

    Parameters
    ----------
    transport : Transport
        For example that of ``Client.embedded()``, as `transport`.
    path : path
        File to add to, one JSON object a line.
    """

    def __init__(self, transport: Transport, path: str | PathLike[str]) -> None:
        self._transport = transport
        self._path = Path(path)

    def send(self, exchange: Call) -> RawAnswer:
        """What the other answers."""
        try:
            reply = self._transport.send(exchange)
        except ServiceError as fault:
            self._keep(exchange, problem=encode(fault.problem).decode())
            raise
        lines = [line.body for line in reply.lines] or [reply.body]
        reply = replace(reply, body=b"\n".join(lines), lines=(), draw=partial(self._draw, reply))
        documents = [[*name, text] for name, text in reply.documents.items()]
        self._keep(exchange, body=reply.body.decode(), documents=documents)
        return reply

    def _draw(self, reply: RawAnswer, exchange: Exchange, media_type: str, view: str) -> bytes:
        alone = replace(exchange, drawn_as=media_type, view=view, views=(), batch=False)
        if reply.draw is None or reply.lines:
            drawn = self._transport.send(alone).body
        else:
            drawn = reply.draw(exchange, media_type, view)
        self._keep(alone, body=drawn.decode(errors=_BYTES), documents=[])
        return drawn

    def _keep(self, exchange: Call, **kept: Any) -> None:  # noqa: ANN401
        with self._path.open("a", encoding="utf-8") as file:
            file.write(json.dumps({"call": _key(exchange), **kept}) + "\n")


class Replay(_Offline):
    """Answers from what a `Recorder` has kept.

    Parameters
    ----------
    path : path
        Its file.
    """

    def __init__(self, path: str | PathLike[str]) -> None:
        lines = Path(path).read_text("utf-8").splitlines()
        self._kept: dict[str, dict[str, Any]] = {(one := json.loads(x))["call"]: one for x in lines}

    def send(self, exchange: Call) -> RawAnswer:
        """What was answered to the same call.

        Raises
        ------
        LookupError
            No such call was recorded.
        """
        kept = self._kept.get(_key(exchange))
        if kept is None:
            raise LookupError(f"no such call was recorded: {exchange.method} {exchange.path}")
        if "problem" in kept:
            raise service_error(read_problem(kept["problem"].encode(), ""), exchange.request_id)
        documents = {(kind, view): text for kind, view, text in kept["documents"]}
        body = kept["body"].encode(errors=_BYTES)
        return RawAnswer(body, exchange.request_id, documents=documents, draw=self._draw)

    def _draw(self, exchange: Exchange, media_type: str, view: str) -> bytes:
        alone = replace(exchange, drawn_as=media_type, view=view, views=(), batch=False)
        return self.send(alone).body


def _key(exchange: Call) -> str:
    return f"{exchange.method} {exchange.path} {exchange.accept} {exchange.body.decode()}"
