"""`GET /v1/quick/{question}`: flat questions for spreadsheets, and the list of them."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import cast

import msgspec
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch import problems as documents
from sunhitch.codec import encode
from sunhitch.types.base import Input, Output
from sunhitch.types.problem import FieldError
from sunhitch.types.service import QuickQuestion, QuickQuestions
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.quick.parameters import slots
from sunhitch_service.quick.question import AnyQuestion, Value
from sunhitch_service.quick.questions import BY_NAME, QUESTIONS
from sunhitch_service.quick.reading import UnreadableError, fault, located, read
from sunhitch_service.quick.writing import plain, table

from .compute import Compute
from .exchange import exchange_of
from .jobs import Refusal
from .problems import CONTRADICTORY, MALFORMED, ProblemError
from .reading import CSV, FORMATS, TEXT, as_text, freshness, reading, ready
from .requests import JSON, Request, accepted
from .work import WorkOrder

LIST_PATH = "/v1/quick"
_ABOUT_ANSWER = {"format", "field", "errors"}


def quick_handlers(compute: Compute) -> list[HTTPRouteHandler]:
    """Handlers of all questions and of their list.

    Parameters
    ----------
    compute : Compute
        Where the longer ones run.
    """
    return [
        ready(LIST_PATH, _list, (JSON, CSV)),
        *(reading(question.path, partial(_respond, question, compute)) for question in QUESTIONS),
    ]


def _list(media_type: str) -> bytes:
    listed = QuickQuestions(questions=[_listed(question) for question in QUESTIONS])
    if media_type == JSON:
        return encode(listed)
    rows = [cast("dict[str, Value]", msgspec.to_builtins(one)) for one in listed.questions]
    return table(list(rows[0]), rows).encode()


def _listed(question: AnyQuestion) -> QuickQuestion:
    return QuickQuestion(
        name=question.name,
        title=question.title,
        description=question.description,
        value=question.fields[0],
        example=f"{question.path}?{'&'.join(_example(question))}&format=txt",
    )


def _example(question: AnyQuestion) -> list[str]:
    """The least that must be given."""
    needed = [slot.parameters[0] for slot in slots(question) if slot.required]
    return [f"{one.name}={one.example}" for one in needed]


async def _respond(question: AnyQuestion, compute: Compute, request: Request) -> ASGIResponse:
    given = request.query_params.dict()
    try:
        return await _answered(question, compute, request, given)
    except Exception as error:
        if "text" in given.get("errors", ()):
            return as_text(request, error)
        raise


async def _answered(
    question: AnyQuestion,
    compute: Compute,
    request: Request,
    given: Mapping[str, Sequence[str]],
) -> ASGIResponse:
    asked, field = _asked(question, given)
    word = _first(given, "format")
    media_type = FORMATS[word] if word else accepted(request, tuple(FORMATS.values()))
    exchange, work = exchange_of(request), (question.name, asked)
    order = WorkOrder(exchange, "question", compute.limit_s, question.estimate_s)
    if compute.belongs_inline(question.estimate_s * 1000.0):
        outcome = await compute.inline(answer, work, order)
    else:
        pooled = partial(compute.in_pool, answer, work, order)
        outcome = await compute.with_place(pooled, exchange, request.receive)
    if isinstance(outcome, Refusal):
        raise _refused(located(question, given, outcome.faults), contradictory=True)
    body = _body(question, outcome, field, media_type)
    return ASGIResponse(body=body, media_type=media_type, headers=freshness(request))


def answer(given: tuple[str, Input]) -> tuple[Output, bytes] | Refusal:
    """Answer a question by its name, in this process or in another one.

    Returns
    -------
    tuple of (Output, bytes) or Refusal
        The answer, and the same as JSON, which cannot hold a number that is not finite.
    """
    name, asked = given
    try:
        found: Output = BY_NAME[name].answer(asked)
    except ContradictionError as error:
        return Refusal(error.faults)
    return found, encode(found)


def _asked(question: AnyQuestion, given: Mapping[str, Sequence[str]]) -> tuple[Input, str | None]:
    """The question, and the field to show alone; refused with every parameter at fault."""
    faults = _faults_about_answer(question, given)
    about = {name: texts for name, texts in given.items() if name not in _ABOUT_ANSWER}
    try:
        asked = read(question, about)
    except UnreadableError as refusal:
        raise _refused([*faults, *refusal.faults], refusal.contradictory and not faults) from None
    if faults:
        raise _refused(faults, contradictory=False)
    return asked, _first(given, "field")


def _refused(faults: list[FieldError], contradictory: bool) -> ProblemError:
    kind, told = (
        (CONTRADICTORY, documents.contradictory)
        if contradictory
        else (MALFORMED, documents.malformed)
    )
    return ProblemError(kind, told(faults).detail, faults)


def _faults_about_answer(
    question: AnyQuestion, given: Mapping[str, Sequence[str]]
) -> list[FieldError]:
    """Faults of the parameters that every question has."""
    known = {"format": tuple(FORMATS), "field": question.fields, "errors": ("problem", "text")}
    faults: list[FieldError] = []
    for name, words in known.items():
        texts = given.get(name, [])
        if len(texts) > 1:
            faults.append(fault(name, "Given more than once; give it once."))
        elif texts and texts[0] not in words:
            said = ", ".join(f"`{word}`" for word in words)
            faults.append(fault(name, f"Expected one of {said}."))
    return faults


def _first(given: Mapping[str, Sequence[str]], name: str) -> str | None:
    return given[name][0] if name in given else None


def _body(
    question: AnyQuestion, outcome: tuple[Output, bytes], field: str | None, media_type: str
) -> bytes:
    found, whole = outcome
    if media_type == JSON and field is None:
        return whole
    row: dict[str, Value] = {name: getattr(found, name) for name in question.fields}
    if media_type == TEXT:
        return plain(row[field or question.fields[0]]).encode()
    if media_type == CSV:
        columns = question.fields if field is None else (field,)
        return table(columns, [row]).encode()
    return msgspec.json.encode(row[field or question.fields[0]])
