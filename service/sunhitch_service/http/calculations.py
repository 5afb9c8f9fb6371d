"""`POST /v1/{calculation}`: one handler for each calculation."""

from dataclasses import dataclass, replace
from typing import TypeAlias

from litestar import post
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch.types.check import VERDICT_HEADER
from sunhitch_service.calculations.calculation import AnyCalculation, Rendering
from sunhitch_service.engine.errors import ContradictionError

from .cache import Cache
from .compute import Compute
from .exchange import exchange_of
from .jobs import Refusal, Shown, Task
from .requests import (
    JSON,
    Request,
    accepted,
    query_choice,
    query_of,
    require_media_type,
    takes_gzip,
    whole_body,
)
from .studies import Study

_DRAWN = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:"}
"""Drawings carry their own styles; nothing in them may be loaded or run."""


@dataclass(frozen=True, slots=True)
class _View:
    """One way to show answers: what they are kept under, how to come by one, and its headers."""

    name: tuple[str, ...]
    task: Task
    compressed: Task
    media_type: str
    headers: dict[str, str]


_Offers: TypeAlias = dict[str | None, dict[str, _View]]


def calculation_handler(
    endpoint: AnyCalculation, compute: Compute, cache: Cache, study: Study | None
) -> HTTPRouteHandler:
    """Handler that answers one calculation.

    Parameters
    ----------
    endpoint : Calculation
        Operation and its function.
    compute : Compute
        Where it runs.
    cache : Cache
        Answers that were given before.
    study : Study or None
        Answers callers who want to be told the progress.
    """
    offers = _offers(endpoint)

    @post(endpoint.operation.path, status_code=200)
    async def calculate(request: Request) -> ASGIResponse:
        if study is not None and study.is_wanted(request):
            lines = await study.respond(request)
            return lines.to_asgi_response(None, request)  # pyright: ignore[reportUnknownMemberType]
        view = _chosen(offers, request)
        require_media_type(request, JSON)
        shown = await _shown(view, study or compute, cache, request)
        headers = {VERDICT_HEADER: shown.verdict, **view.headers}
        if shown.compressed:
            headers["Content-Encoding"] = "gzip"
        return ASGIResponse(body=shown.body, media_type=view.media_type, headers=headers)

    return calculate


async def _shown(view: _View, compute: Compute | Study, cache: Cache, request: Request) -> Shown:
    """An answer that was kept, or a new one."""
    body = await whole_body(request)
    task = view.compressed if takes_gzip(request.headers) else view.task
    key = cache.key((*view.name, str(task.gzip)), body)
    kept = cache.get(key)
    if kept is not None:
        return kept
    outcome = await compute.answer(task, body, exchange_of(request), request.receive)
    if isinstance(outcome, Refusal):
        raise ContradictionError(outcome.faults)
    cache.keep(key, outcome)
    return outcome


def _chosen(offers: _Offers, request: Request) -> _View:
    """What the caller wants to see."""
    name = None
    if request.scope["query_string"]:
        names = [name for name in offers if name is not None]
        name = query_choice(query_of(request, ["view"] if names else []), "view", names)
    offer = offers[name]
    return offer[accepted(request, list(offer))]


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
    task = Task(operation.request, endpoint.calculate, endpoint.computing_time)
    if rendering is None:
        return _View((operation.name, JSON), task, replace(task, gzip=True), JSON, {})
    task = replace(task, draw=rendering.draw)
    name = (operation.name, rendering.media_type, rendering.view)
    return _View(name, task, replace(task, gzip=True), rendering.media_type, _DRAWN)
