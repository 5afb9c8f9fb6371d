"""`GET /v1/quick/{question}`: flat questions for spreadsheets, and the list of them."""

import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from functools import partial
from typing import get_args

import msgspec
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch.codec import encode, plain_data
from sunhitch.questions import QUESTIONS, AnyQuestion
from sunhitch.selection import Texts
from sunhitch.types.base import Input, Output
from sunhitch.types.service import QuickQuestion, QuickQuestions
from sunhitch_service.drawing.columns import Columns, CsvStyle, Value, columns_of, plain
from sunhitch_service.engine.stamp import stamp
from sunhitch_service.quick.parameters import least
from sunhitch_service.quick.questions import ANSWERING
from sunhitch_service.quick.reading import UnreadableError, read
from sunhitch_service.schema.paths import QUICK
from sunhitch_service.tasks.media_types import CSV, JSON, TEXT, XML
from sunhitch_service.tasks.problems import refused_fields
from sunhitch_service.tasks.question import answer
from sunhitch_service.workers.pool import WorkOrder

from .compute import Compute
from .exchange import exchange_of
from .reading import FORMATS, freshness, is_held, reading, ready, tag_of
from .requests import CSV_WORDS, ERRORS, Request, accepted, csv_style, word_faults

_Given = Mapping[str, Sequence[str]]


def quick_handlers(compute: Compute) -> list[HTTPRouteHandler]:
    """Handlers of all questions, of which the longer ones run in `compute`, and of their list."""
    return [
        ready(QUICK, lambda: encode(_list()), columns=lambda: columns_of(_list().questions)),
        *(reading(question.path, partial(_respond, question, compute)) for question in QUESTIONS),
    ]


def _list() -> QuickQuestions:
    return QuickQuestions(questions=[_listed(question) for question in QUESTIONS])


def _listed(question: AnyQuestion) -> QuickQuestion:
    given = "&".join(f"{name}={text}" for name, text in least(question).items())
    return QuickQuestion(
        name=question.name,
        title=question.title,
        description=question.description,
        value=question.fields[0],
        example=f"{question.path}?{given}&format=txt",
    )


async def _respond(question: AnyQuestion, compute: Compute, request: Request) -> ASGIResponse:
    given = request.query_params.dict()
    asked = _asked(question, given)
    style = csv_style({name: given[name][0] for name in CSV_WORDS if name in given})
    word, field = (given[name][0] if name in given else None for name in ("format", "field"))
    media_type = FORMATS[word] if word else accepted(request, tuple(FORMATS.values()))
    coded = given.get("texts") == ["coded"]
    exchange, work = exchange_of(request), partial(answer, question.name, asked, [*given], coded)
    expected_s = ANSWERING[question.name].estimate_s
    order = WorkOrder(exchange, "question", compute.limit_s, expected_s)
    if compute.belongs_inline(expected_s * 1000.0):
        found, whole = await compute.inline(work, order)
    else:
        pooled = partial(compute.in_pool, work, order)
        found, whole = await compute.with_place(pooled, exchange, request.receive)
    if media_type != JSON or field is not None:
        whole = _part(question, found, field, media_type, style)
    tag = tag_of(whole)
    headers = {"ETag": f"W/{tag}", **freshness(request)}
    if is_held(request, tag):
        return ASGIResponse(status_code=304, headers=headers)
    return ASGIResponse(body=whole, media_type=media_type, headers=headers)


def _asked(question: AnyQuestion, given: _Given) -> Input:
    """The question; refused with every parameter at fault."""
    known: dict[str, Sequence[str]] = {
        "format": tuple(FORMATS),
        "field": question.fields,
        "errors": ERRORS,
        "texts": get_args(Texts),
        **CSV_WORDS,
    }
    faults = word_faults(given, known)
    try:
        asked = read(question, {name: told for name, told in given.items() if name not in known})
    except UnreadableError as refusal:
        raise refused_fields(
            [*faults, *refusal.faults], contradictory=refusal.contradictory and not faults
        ) from None
    if faults:
        raise refused_fields(faults, contradictory=False)
    return asked


def _part(
    question: AnyQuestion, found: Output, field: str | None, media_type: str, style: CsvStyle
) -> bytes:
    """A row of the answer, or one value of it."""
    row: dict[str, Value] = {name: getattr(found, name) for name in question.fields}
    if media_type == TEXT:
        return plain(row[field or question.fields[0]]).encode()
    if media_type == CSV:
        names = question.fields if field is None else (field,)
        return style.written(Columns(names, [[row[name] for name in names]])).encode()
    if media_type == XML:
        return as_xml({name: row[name] for name in question.fields if field in (None, name)})
    return msgspec.json.encode(plain_data(row[field or question.fields[0]]))


def as_xml(row: Mapping[str, Value]) -> bytes:
    """One element for each value, which spreadsheets read by path: ``//loss_w``, ``/*/@version``.

    Parameters
    ----------
    row : mapping
        Values by name; an absent one is an empty element.
    """
    engine = stamp()
    answer = ET.Element("answer", version=engine.version, data_sha256=engine.data_sha256)
    for name, value in row.items():
        ET.SubElement(answer, name).text = "" if value is None else plain(value)
    told: bytes = ET.tostring(answer, encoding="utf-8", xml_declaration=True)
    return told
