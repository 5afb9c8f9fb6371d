"""`POST /v1/{calculation}`: one handler for each calculation."""

from dataclasses import dataclass, field, replace

from litestar import post
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch.types.check import VERDICT_HEADER
from sunhitch_service.calculations.calculation import AnyCalculation

from .cache import Cache
from .compute import Compute
from .exchange import exchange_of
from .jobs import Shown, Task
from .requests import (
    JSON,
    Request,
    accepted,
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
    media_type: str
    headers: dict[str, str] = field(default_factory=dict[str, str])


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
    known = {"view": [name for name in offers if name]} if endpoint.renderings else {}

    @post(endpoint.operation.path, status_code=200)
    async def calculate(request: Request) -> ASGIResponse:
        if study is not None and study.is_wanted(request):
            lines = await study.respond(request)
            return lines.to_asgi_response(None, request)  # pyright: ignore[reportUnknownMemberType]
        offer = offers[query_of(request, known).get("view", "")]
        view = offer[accepted(request, list(offer))]
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
    gzip = takes_gzip(request.headers)
    key = cache.key((*view.name, str(gzip)), body)
    shown = cache.get(key)
    if shown is None:
        task = replace(view.task, gzip=True) if gzip else view.task
        shown = await compute.answer(task, body, exchange_of(request), request.receive)
        cache.keep(key, shown)
    return shown


def _offers(endpoint: AnyCalculation) -> dict[str, dict[str, _View]]:
    """What is on offer for each view, and without one: by media type, the usual one first."""
    operation = endpoint.operation
    task = Task(operation.request, endpoint.calculate, endpoint.computing_time)
    offers = {"": {JSON: _View((operation.name, JSON), task, JSON)}}
    for one in endpoint.renderings:
        name = (operation.name, one.media_type, one.view)
        view = _View(name, replace(task, draw=one.draw), one.media_type, _DRAWN)
        offers[""].setdefault(one.media_type, view)
        offers[one.view] = {one.media_type: view}
    return offers
