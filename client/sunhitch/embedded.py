"""Runs the engine in this process: the calls and the errors of the service, without a service."""

from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import replace
from importlib.util import find_spec
from typing import TYPE_CHECKING

from .codec import encode
from .errors import ServiceError, ServiceNotInstalledError, service_error
from .exchange import Call, Exchange, Lookup, RawAnswer, read_request
from .pictures import WORKBOOKS
from .problems import malformed, not_acceptable, read_problem
from .selection import unknown_names
from .types.stream import answer_line, problem_line

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from sunhitch_service.calculations.calculation import AnyCalculation
    from sunhitch_service.tasks.forms import Form

_ENGINE = ("sunhitch_service.calculations", "numpy", "ortools", "pvlib", "scipy", "shapely")


def require_engine() -> None:
    """Notice a missing engine before the first call; it is imported when it is first asked.

    Raises
    ------
    ServiceNotInstalledError
        The service extra is not installed.
    """
    missing = [name for name in _ENGINE if find_spec(name) is None]
    if missing:
        raise ServiceNotInstalledError(
            f"The engine is not installed beside the client: {missing[0]} is missing. Run "
            "pip install 'sunhitch[service]', or give the address of a service."
        )


def answer(exchange: Call, executor: "Executor | None" = None) -> RawAnswer:
    """Answer as the service would.

    Parameters
    ----------
    exchange : Exchange or Lookup
        The call.
    executor : concurrent.futures.Executor or None
        Carries out the pieces of long calculations.

    Raises
    ------
    RequestRejectedError
        A single request is malformed (400) or contradicts itself (422).
    """
    if isinstance(exchange, Lookup):
        return RawAnswer(_found(exchange), exchange.request_id)
    if not exchange.batch:
        return _answer(exchange, executor)
    alone = (replace(exchange, body=body, batch=False) for body in exchange.body.splitlines())
    lines = tuple(_answer_or_problem(line, executor) for line in alone)
    return RawAnswer(b"", exchange.request_id, lines=lines)


def _answer_or_problem(exchange: Exchange, executor: "Executor | None") -> RawAnswer:
    try:
        alone = _answer(exchange, executor)
    except ServiceError as fault:
        return RawAnswer(problem_line(encode(fault.problem)), exchange.request_id)
    return replace(alone, body=answer_line(alone.body))


def _answer(exchange: Exchange, executor: "Executor | None") -> RawAnswer:
    """Answer one request, through the same strict decoder and encoder as in the service."""
    from sunhitch_service.calculations import calculation_of

    request = read_request(exchange.operation, exchange.body, exchange.request_id)
    calculation = calculation_of(exchange.operation)
    divided = calculation.divided
    if exchange.drawn_as:
        _form(calculation, exchange, exchange.drawn_as, exchange.view)
    _require_names(calculation, exchange)
    with _faults_told(exchange):
        if divided is None:
            result = calculation.calculate(request)
        else:
            result = divided.answer(request, executor, exchange.on_progress)

    def draw(_asked: Exchange, media_type: str, view: str) -> bytes:
        return _form(calculation, exchange, media_type, view).body(request, result)

    if exchange.drawn_as:
        drawn = draw(exchange, exchange.drawn_as, exchange.view)
        return RawAnswer(drawn, exchange.request_id, exchange.drawn_as)
    body = exchange.selection.told(result)
    return RawAnswer(body, exchange.request_id, draw=draw)


@contextmanager
def _faults_told(call: Call) -> Generator[None]:
    """Refuse what the engine refuses with the document that the service would send."""
    from sunhitch_service.tasks.problems import CALLERS_FAULTS, as_problem

    try:
        yield
    except CALLERS_FAULTS as fault:
        problem = read_problem(as_problem(fault).body(call.request_id), call.request_id)
        raise service_error(problem, call.request_id) from fault


def _require_names(calculation: "AnyCalculation", exchange: Exchange) -> None:
    """Refuse views and parts that do not exist, as the service does."""
    views = [one.view for one in calculation.renderings]
    faults = unknown_names("views", exchange.views, views) + unknown_names(
        "fields", exchange.operation.fields, calculation.operation.answer.__struct_fields__
    )
    if faults:
        raise service_error(malformed(faults, exchange.request_id), exchange.request_id)


def _found(call: Lookup) -> bytes:
    """Answer a flat question, read from the same texts as in the service."""
    from sunhitch_service.quick.reading import read
    from sunhitch_service.tasks.question import answer

    with _faults_told(call):
        asked = read(call.question, {name: [text] for name, text in call.given.items()})
        return answer(call.question.name, asked, call.given.keys(), call.options.texts)[1]


def _form(calculation: "AnyCalculation", exchange: Exchange, media_type: str, view: str) -> "Form":
    """The drawing of that name and type; without a name the first of those asked for, or of all.

    A workbook holds every table, or the one of that name.
    """
    from sunhitch_service.tasks.forms import Form

    offered = calculation.renderings
    if media_type in WORKBOOKS and not view:
        return Form(media_type, offered)
    kind = "text/csv" if media_type in WORKBOOKS else media_type
    fitting = [one for one in offered if kind in ("", one.media_type) and view in ("", one.view)]
    if not fitting:
        names = ["application/json", *(f"{one.media_type} ({one.view})" for one in offered)]
        raise service_error(not_acceptable(names, exchange.request_id), exchange.request_id)
    drawn = next((one for one in fitting if one.view in exchange.views), fitting[0])
    return Form(media_type, (drawn,), whole=False)


class EmbeddedTransport:
    """Hands calls to the engine.

    Parameters
    ----------
    executor : concurrent.futures.Executor or None
        Carries out the pieces of long calculations.
    """

    def __init__(self, executor: "Executor | None" = None) -> None:
        require_engine()
        self._executor = executor

    def send(self, exchange: Call) -> RawAnswer:
        """Answer as the service would."""
        return answer(exchange, self._executor)

    def close(self) -> None:
        """Nothing to let go of."""
