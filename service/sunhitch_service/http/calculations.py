"""`POST /v1/{calculation}`: one handler for each calculation."""

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

from litestar import post
from litestar.background_tasks import BackgroundTask
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch.selection import PART
from sunhitch.types.check import VERDICT_HEADER
from sunhitch_service.calculations.calculation import AnyCalculation
from sunhitch_service.drawing.sheets import script_digest
from sunhitch_service.drawing.spreadsheet import SPREADSHEETS
from sunhitch_service.tasks.forms import THEMES, WHOLE, Form, Theme
from sunhitch_service.tasks.kept import Cache
from sunhitch_service.tasks.media_types import JSON, MULTIPART, NDJSON
from sunhitch_service.tasks.task import Shown, Task, task_of

from .cluster import Crew
from .compute import Compute
from .exchange import exchange_of
from .requests import (
    CSV_WORDS,
    TOLD_WORDS,
    Request,
    accepted,
    csv_style,
    names_of,
    query_of,
    require_media_type,
    selection_of,
    takes_gzip,
    whole_body,
)
from .settings import Settings
from .studies import Study

_DRAWN = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""Policy of drawings: they carry their own styles, and nothing is loaded."""
_PAGE = f"{_DRAWN}; script-src 'sha256-{script_digest()}'"
"""Policy of pages: the work sheet's script alone runs."""


def calculation_handler(
    endpoint: AnyCalculation, crew: Crew, cache: Cache, settings: Settings
) -> HTTPRouteHandler:
    """Handler that answers one calculation.

    Parameters
    ----------
    endpoint : Calculation
        Operation and its function.
    crew : Crew
        Where it runs.
    cache : Cache
        Answers that were given before.
    settings : Settings
        Limits.
    """
    operation, divided = endpoint.operation, endpoint.divided
    task = replace(task_of(endpoint), keeps=cache.keeps)
    study = Study(task, divided, crew, settings) if divided else None
    whole = crew.compute if study is None or endpoint.usually_whole else study
    forms = _Forms(endpoint)

    @post(operation.path, status_code=200)
    async def calculate(request: Request) -> ASGIResponse:
        form = forms.wanted(request)
        if study is not None and form.media_type == NDJSON:
            lines = await study.respond(request, form)
            return lines.to_asgi_response(None, request)  # pyright: ignore[reportUnknownMemberType]
        require_media_type(request, JSON)
        wanted = replace(task, form=form, gzip=takes_gzip(request.headers))
        shown, keep = await _shown(operation.name, wanted, whole, cache, request)
        headers: dict[str, str] = {VERDICT_HEADER: shown.verdict}
        if form.draws:
            headers["Content-Security-Policy"] = _PAGE if form.media_type == "text/html" else _DRAWN
        if shown.compressed:
            headers["Content-Encoding"] = "gzip"
        media_type = form.content_type(shown.boundary)
        return ASGIResponse(
            body=shown.body, media_type=media_type, headers=headers, background=keep
        )

    return calculate


async def _shown(
    name: str, task: Task, compute: Compute | Study, cache: Cache, request: Request
) -> tuple[Shown, BackgroundTask | None]:
    """An answer that was kept, in this form or as a whole, or a new one, and how it is kept."""
    body = await whole_body(request)
    wanted = (name, task.form.name, *(["gzip"] if task.gzip else []))
    whole, key = cache.keys(body, (name,), wanted)
    found = cache.get(key)
    if found is not None:
        return found, None
    task = replace(task, made=cache.get(whole))
    shown = await compute.answer(task, body, exchange_of(request), request.receive)

    async def keep() -> None:
        if whole and task.made is None:
            cache.keep(whole, Shown(shown.to_keep, shown.verdict))
        cache.keep(key, Shown(shown.body, shown.verdict, shown.compressed, shown.boundary))

    return shown, BackgroundTask(keep)  # after the answer has gone: it takes as long as telling it


class _Forms:
    """The forms in which one calculation's answers may be had."""

    def __init__(self, endpoint: AnyCalculation) -> None:
        self._by_view = {one.view: one for one in endpoint.renderings}
        self._usual: dict[str, Form] = {JSON: WHOLE}
        for one in endpoint.renderings:
            self._usual.setdefault(one.media_type, Form(one.media_type, (one,)))
        tables = tuple(one for one in endpoint.renderings if one.columns)
        self._usual |= {media_type: Form(media_type, tables) for media_type in SPREADSHEETS}
        self._usual[PART] = Form(PART)
        if endpoint.divided:
            self._usual[NDJSON] = Form(NDJSON)
        several = Form(MULTIPART, tuple(self._by_view.values()))
        self._without_query = self._usual | ({MULTIPART: several} if self._by_view else {})
        self._parts = endpoint.operation.answer.__struct_fields__
        self._known: dict[str, Sequence[str] | None] = {**TOLD_WORDS, "fields": None}
        if self._by_view:
            self._known |= {"view": tuple(self._by_view), "views": None, "theme": THEMES}
        if tables:
            self._known |= CSV_WORDS

    def wanted(self, request: Request) -> Form:
        """The form that a call asks for.

        Raises
        ------
        ProblemError
            `MALFORMED` for what is unknown in the query, `NOT_ACCEPTABLE`.
        """
        query = query_of(request, self._known)
        if not query:
            return self._without_query[accepted(request, list(self._without_query))]
        views = names_of(query, "views", self._by_view)
        fields = names_of(query, "fields", self._parts)
        if views:
            accepted(request, [MULTIPART])
            form = Form(MULTIPART, tuple(self._by_view[name] for name in views))
        elif "view" in query:
            drawn = self._by_view[query["view"]]
            offered = [drawn.media_type, *(SPREADSHEETS if drawn.columns else ())]
            form = Form(accepted(request, offered), (drawn,), whole=False)
        else:
            offered = [one for one in self._usual if not fields or one != NDJSON]
            media_type = accepted(request, offered)
            told = PART if fields and media_type == JSON else media_type
            form = replace(self._usual[media_type], media_type=told)
        return replace(
            form,
            selection=selection_of(query, fields),
            csv=csv_style(query),
            theme=cast("Theme", query.get("theme", "light")),
        )
