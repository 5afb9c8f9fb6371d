"""`POST /v1/{calculation}`: one route for each calculation of the catalogue."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TypeAlias

from sunhitch.codec import decode_strict
from sunhitch.types.check import VERDICT_HEADER
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.renderings import Rendering

from .asgi import Receive, Route, Scope, Send, send_whole
from .cache import Cache
from .catalogue import Endpoint
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

_DRAWN = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:"}
"""Drawings carry their own styles; nothing in them may be loaded or run."""

_Response: TypeAlias = tuple[bytes, Mapping[str, str]]
_Offers: TypeAlias = dict[str | None, dict[str, Rendering | None]]


class _Calculation:
    """Answers one calculation."""

    def __init__(
        self,
        endpoint: Endpoint,
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
        self._offers = _offers(endpoint.renderings)

    async def respond(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, with a problem document if it must be."""
        try:
            if self._study is not None and self._study.is_wanted(scope):
                await self._study.respond(scope, receive, send)
                return
            body, headers = await self._response(scope, receive)
        except Exception as error:  # noqa: BLE001 - becomes a problem document
            await send_error(send, scope, error)
        else:
            await send_whole(send, 200, headers, body)

    async def _response(self, scope: Scope, receive: Receive) -> _Response:
        rendering = self._rendering(scope)
        require_media_type(scope, JSON)
        self._compute.require_place()
        body = await whole_body(scope, receive, self._largest)
        shown = await self._answered(rendering, body, receive)
        headers = {"Content-Length": str(len(shown.body)), VERDICT_HEADER: shown.verdict}
        if rendering is None:
            return shown.body, {"Content-Type": JSON, **headers}
        media_type = with_charset(rendering.media_type)
        return shown.body, {"Content-Type": media_type, **headers, **_DRAWN}

    def _rendering(self, scope: Scope) -> Rendering | None:
        """What the caller wants to see; None for JSON."""
        view = None
        if scope["query_string"]:
            views = [name for name in self._offers if name is not None]
            view = query_choice(query_of(scope, ["view"] if views else []), "view", views)
        offer = self._offers[view]
        return offer[accepted(scope, list(offer))]

    async def _answered(self, rendering: Rendering | None, body: bytes, receive: Receive) -> Shown:
        operation = self._endpoint.operation
        shown_as = (rendering.media_type, rendering.view) if rendering else (JSON, "")
        key = self._cache.key((operation.name, *shown_as), body)
        kept = self._cache.get(key)
        if kept is not None:
            return kept
        draw = rendering.draw if rendering else None
        task = Task(operation.request, self._endpoint.calculate, draw)
        outcome = await self._outcome(task, body, receive)
        if isinstance(outcome, Refusal):
            raise ContradictionError(outcome.faults)
        self._cache.keep(key, outcome)
        return outcome

    async def _outcome(self, task: Task, body: bytes, receive: Receive) -> Shown | Refusal:
        compute = self._compute
        request = decode_strict(body, task.kind)
        expected_ms = self._endpoint.effort.require_affordable(request, compute.limit_s)
        compute.require_place()
        with compute.place():
            if compute.belongs_inline(expected_ms):
                return await compute.inline(partial(answer, task), request)
            work = compute.in_time(answer_body, (task, body))
            return await unless_hung_up(work, receive)


def calculation_route(
    endpoint: Endpoint, compute: Compute, cache: Cache, settings: Settings, study: Study | None
) -> Route:
    """Route that answers one calculation.

    Parameters
    ----------
    endpoint : Endpoint
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


def _offers(renderings: Sequence[Rendering]) -> _Offers:
    """What is on offer for each view, and without one: by media type, the usual one first."""
    plain: _Offers = {None: {JSON: None}}
    for rendering in renderings:
        plain[None].setdefault(rendering.media_type, rendering)
    by_view: _Offers = {one.view: {one.media_type: one} for one in renderings}
    return plain | by_view
