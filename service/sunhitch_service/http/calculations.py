"""`POST /v1/{calculation}`: one route for each calculation."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeAlias

from sunhitch.codec import decode_strict
from sunhitch.types.check import VERDICT_HEADER, VERDICTS
from sunhitch_service.calculations.calculation import AnyCalculation, Rendering
from sunhitch_service.engine.errors import ContradictionError

from .asgi import Header, Receive, Route, Scope, Send, encoded, send_encoded
from .cache import Cache
from .compute import Compute, unless_hung_up
from .jobs import Refusal, Shown, Task, answer, answer_body
from .problems import send_error
from .requests import (
    JSON,
    accepted,
    query_choice,
    query_of,
    require_media_type,
    whole_body,
    with_charset,
)
from .settings import Settings
from .studies import Study
from .work import require_affordable

_DRAWN = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:"}
"""Drawings carry their own styles; nothing in them may be loaded or run."""

_VERDICTS = {verdict: encoded({VERDICT_HEADER: verdict}) for verdict in VERDICTS}

_Response: TypeAlias = tuple[Sequence[Header], bytes]


@dataclass(frozen=True, slots=True)
class _View:
    """One way to show answers.

    Parameters
    ----------
    name : tuple of str
        What answers are kept under.
    task : Task
        How to come by one.
    headers : list of Header
        Of every one.
    """

    name: tuple[str, str, str]
    task: Task
    headers: list[Header]


_Offers: TypeAlias = dict[str | None, dict[str, _View]]


class _Calculation:
    """Answers one calculation."""

    def __init__(
        self,
        endpoint: AnyCalculation,
        compute: Compute,
        cache: Cache,
        settings: Settings,
        study: Study | None,
    ) -> None:
        self._endpoint = endpoint
        self._study = study
        self._compute = compute
        self._cache = cache
        self._largest = settings.max_body_bytes
        self._offers = _offers(endpoint)

    async def respond(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, with a problem document if it must be."""
        try:
            if self._study is not None and self._study.is_wanted(scope):
                await self._study.respond(scope, receive, send)
                return
            headers, body = await self._response(scope, receive)
        except Exception as error:  # noqa: BLE001 - becomes a problem document
            await send_error(send, scope, error)
        else:
            await send_encoded(send, 200, headers, body)

    async def _response(self, scope: Scope, receive: Receive) -> _Response:
        view = self._view(scope)
        require_media_type(scope, JSON)
        self._compute.require_place()
        body = await whole_body(scope, receive, self._largest)
        shown = await self._answered(view, body, receive)
        length = (b"content-length", b"%d" % len(shown.body))
        return [*view.headers, length, *_VERDICTS[shown.verdict]], shown.body

    def _view(self, scope: Scope) -> _View:
        """What the caller wants to see."""
        name = None
        if scope["query_string"]:
            names = [name for name in self._offers if name is not None]
            name = query_choice(query_of(scope, ["view"] if names else []), "view", names)
        offer = self._offers[name]
        return offer[accepted(scope, list(offer))]

    async def _answered(self, view: _View, body: bytes, receive: Receive) -> Shown:
        key = self._cache.key(view.name, body)
        kept = self._cache.get(key)
        if kept is not None:
            return kept
        outcome = await self._outcome(view.task, body, receive)
        if isinstance(outcome, Refusal):
            raise ContradictionError(outcome.faults)
        self._cache.keep(key, outcome)
        return outcome

    async def _outcome(self, task: Task, body: bytes, receive: Receive) -> Shown | Refusal:
        compute = self._compute
        request = decode_strict(body, task.kind)
        expected_ms = require_affordable(self._endpoint.computing_time, request, compute.limit_s)
        compute.require_place()
        with compute.place():
            if compute.belongs_inline(expected_ms):
                return await compute.inline(partial(answer, task), request)
            work = compute.in_time(answer_body, (task, body))
            return await unless_hung_up(work, receive)


def calculation_route(
    endpoint: AnyCalculation,
    compute: Compute,
    cache: Cache,
    settings: Settings,
    study: Study | None,
) -> Route:
    """Route that answers one calculation.

    Parameters
    ----------
    endpoint : Calculation
        Operation and its function.
    compute : Compute
        Where it runs.
    cache : Cache
        Answers that were given before.
    settings : Settings
        Limits.
    study : Study or None
        Answers callers who want to be told the progress.

    Returns
    -------
    Route
        For the gate.
    """
    calculation = _Calculation(endpoint, compute, cache, settings, study)
    return Route("POST", endpoint.operation.path, calculation.respond)


def _offers(endpoint: AnyCalculation) -> _Offers:
    """What is on offer for each view, and without one: by media type, the usual one first."""
    plain: _Offers = {None: {JSON: _view(endpoint, None)}}
    for rendering in endpoint.renderings:
        plain[None].setdefault(rendering.media_type, _view(endpoint, rendering))
    by_view = {one.view: {one.media_type: _view(endpoint, one)} for one in endpoint.renderings}
    return plain | by_view


def _view(endpoint: AnyCalculation, rendering: Rendering | None) -> _View:
    """A way to show answers; as JSON without a rendering."""
    operation = endpoint.operation
    if rendering is None:
        task, headers = Task(operation.request, endpoint.calculate), {"Content-Type": JSON}
        return _View((operation.name, JSON, ""), task, encoded(headers))
    task = Task(operation.request, endpoint.calculate, rendering.draw)
    headers = {"Content-Type": with_charset(rendering.media_type), **_DRAWN}
    return _View((operation.name, rendering.media_type, rendering.view), task, encoded(headers))
