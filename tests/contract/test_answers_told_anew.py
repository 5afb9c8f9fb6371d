"""A front end tells an answer anew from codes and parameters: nothing of ours stays English."""

import json
import re
from collections.abc import Iterable, Iterator
from functools import cache
from random import Random
from typing import Any

import pytest
from msgspec import inspect
from plausible import light_example, varied

from sunhitch.codec import MalformedBody, decode_strict, encode
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch.questions import QUESTIONS, AnyQuestion
from sunhitch.texts import templates
from sunhitch.texts.templates import Template, plain, template, words
from sunhitch.types.check import Answer
from sunhitch.types.quick.texts import FlatAnswer
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.quick.parameters import Parameter, slots
from sunhitch_service.quick.questions import ANSWERING
from sunhitch_service.quick.reading import UnreadableError, read
from sunhitch_service.schema.codes import codes

FOR_PROGRAMS = re.compile(
    r"\.(answer_id|\w*codes?|basis|air_basis|sources|remedies|keys?|part_keys?|field|path|value|unit"
    r"|currency|symbol|formula|family|version|data_sha256|views|cautions|governing|governed_by|limited_by"
    r"|mode|not_covered|without_price|mounting|size|awg|drop_of|at_hand|thread|insulation|table)$"
)
"""Fields for programs, units and sizes as they are written on the part."""
BY_OWN_CODE = {
    *("Check.title", "Check.note", "Check.remedy", "Caution.text", "WiringNote.text"),
    *("WorkStep.title", "WorkStep.text", "WorkStep.hold_until", "JobChange.text"),
    *("Assumption.why", "FailingCheck.title", "Rejection.title"),
    "Basis.reference",  # title of a source
}
"""Texts beside a code of their own, to which `test_codes.py` holds them."""
MARKS = re.compile(
    r"\b(panel-\d+|EUR|AWG|mm²?|kg|km|ft|in|lb|lbf|mph|psi|psf|MPPT|PWM|Imp|Isc|Voc|Vmp)\b"
)
"""Names that the engine counts out, units and symbols of the trade."""
TITLED = ("check", "load-case", "work-step", "problem")


def foreign(text: str) -> str:
    """Every letter of ours becomes another."""
    return re.sub(r"[A-Za-z]", "ж", text)


@cache
def abroad() -> dict[tuple[str, str], Template]:
    """Templates of the pseudo-locale, as a front end makes them from the list of codes."""
    found: dict[tuple[str, str], Template] = {}
    for one in codes().codes:
        own = template(plain(one.title) if one.kind in TITLED else one.template)
        parts = tuple((foreign(text), name, form) for text, name, form in own.parts)
        found[one.kind, one.code] = Template(own.text, parts, own.names)
    return found


@cache
def foreign_words() -> dict[str, str]:
    """Words of the contract in the pseudo-locale."""
    return {key: foreign(one) for key, one in words().items()}


class Reader:
    """Tells texts of one answer in the pseudo-locale."""

    def __init__(self, texts: list[dict[str, Any]]) -> None:
        self.known = {one["text"]: one for one in texts}

    def told(self, value: Any) -> Any:
        """A text, or a list of them, by code and parameters alone."""
        if isinstance(value, list):
            return [self.told(one) for one in value]
        one = self.known.get(value) if isinstance(value, str) else None
        if one is None:
            return value
        own = abroad()[one["kind"], one["code"]]
        keys = {name for _, name, form in own.parts if form == "word"}
        return own.filled(
            {name: x if name in keys else self.told(x) for name, x in one["parameters"].items()}
        )


def strings(value: Any, kind: inspect.Type, name: str) -> Iterator[tuple[str, str]]:
    """Texts of an answer with the names of their fields, words of fixed sets left out."""
    match kind:
        case inspect.Metadata(type=inner):
            yield from strings(value, inner, name)
        case inspect.UnionType(types=kinds):
            fits = [one for one in kinds if _fits(value, one)]
            yield from strings(value, fits[0], name) if fits else ()
        case inspect.StructType(cls=cls, fields=fields):
            for one in fields:
                if one.encode_name in value:
                    own = f"{cls.__name__}.{one.encode_name}"
                    yield from strings(value[one.encode_name], one.type, own)
        case inspect.ListType(item_type=inner) | inspect.DictType(value_type=inner):
            for one in value.values() if isinstance(value, dict) else value:
                yield from strings(one, inner, name)
        case inspect.StrType():
            yield name, value
        case _:
            pass


def _fits(value: Any, kind: inspect.Type) -> bool:
    match kind:
        case inspect.Metadata(type=inner):
            return _fits(value, inner)
        case inspect.StructType() | inspect.DictType():
            return isinstance(value, dict)
        case inspect.ListType():
            return isinstance(value, list)
        case inspect.StrType():
            return isinstance(value, str)
        case _:
            return False


def names_given(request: Any) -> Iterator[str]:
    """Every text of a request."""
    if isinstance(request, str):
        yield request
    inner = request.values() if isinstance(request, dict) else request
    for one in inner if isinstance(request, dict | list) else ():
        yield from names_given(one)


def escapes(operation: Operation[Any, Any], body: dict[str, Any]) -> list[tuple[str, str]] | None:
    """Texts that stay English, by field; None where the request is refused."""
    try:
        request = decode_strict(json.dumps(body).encode(), operation.request)
        answer = calculation_of(operation).calculate(request)
    except (MalformedBody, ContradictionError):
        return None
    return english(answer, names_given(body))


def english(found: FlatAnswer | Answer, given: Iterable[str]) -> list[tuple[str, str]]:
    """Texts of an answer that stay English, but for names of callers, sources and fields."""
    answer = json.loads(encode(found, texts=True))
    reader = Reader(answer.pop("texts", []))
    own = {one["reference"] for one in answer.get("sources", [])}
    told = [one["parameters"] for one in (*reader.known.values(), *answer.get("assumptions", []))]
    own |= {str(one.get(name, "")) for one in told for name in ("source", "field", "value")}
    known = sorted({*given, *own} - {""}, key=len, reverse=True)
    names = re.compile(rf"(?<!\w)({'|'.join(map(re.escape, known))})(?!\w)")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(templates, "words", foreign_words)
        return list(_english(type(found), answer, reader, names))


def _english(
    kind: type[Any], answer: Any, reader: Reader, names: re.Pattern[str]
) -> Iterator[tuple[str, str]]:
    for field, text in strings(answer | {"texts": []}, inspect.type_info(kind), ""):
        if FOR_PROGRAMS.search(field) or field in BY_OWN_CODE:
            continue
        told = reader.told(text)
        told = "" if told in templates.words() else MARKS.sub("", names.sub("", told))
        if re.search(r"[A-Za-z]{3}|[a-z]{2}", told):
            yield field, told


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_no_answer_escapes_the_pseudo_locale(operation: Operation[Any, Any]) -> None:
    assert escapes(operation, light_example(operation)) == []


@pytest.mark.parametrize(
    ("name", "seed", "requests"),
    [
        *(("wire-sizing", 1, 60), ("mount-check", 5, 6), ("array-configuration", 5, 6)),
        *(("shaded-iv", 5, 6), ("harvest", 5, 14), ("roof-layout", 3, 8), ("fit-out", 3, 9)),
        ("fit-out-change", 1, 3),
    ],
)
def test_no_answer_to_a_varied_request_does(name: str, seed: int, requests: int) -> None:
    operation, dice = next(one for one in OPERATIONS if one.name == name), Random(seed).randrange
    changes = 3 if name == "fit-out-change" else 4
    bodies = [varied(operation, dice, changes) for _ in range(requests)]
    found = [escapes(operation, body) for body in bodies]
    assert any(one is not None for one in found)
    assert [text for texts in found for text in texts or ()] == []


def test_no_change_that_is_told_its_nearest_does() -> None:
    """Nothing mends a battery that frost reaches and that is wanted without protection."""
    operation = next(one for one in OPERATIONS if one.name == "fit-out-change")
    body = light_example(operation)
    body["values"] = [{"pointer": "/battery/cold_charging", "value": "unprotected"}]
    asked = decode_strict(json.dumps(body).encode(), operation.request)
    answer = calculation_of(operation).calculate(asked)
    assert json.loads(encode(answer))["nearest"] is not None
    assert english(answer, names_given(body)) == []


def asked(question: AnyQuestion, dice: Random) -> dict[str, list[str]]:
    """Parameters that must be given, and some of the others: examples, and figures near them."""
    given = [
        dice.choice(one.parameters)
        for one in slots(question)
        if one.required or dice.random() < 0.5
    ]
    moved = dice.choice(given)
    return {one.name: [_value_of(one, dice, moved is one)] for one in given}


def _value_of(one: Parameter, dice: Random, moved: bool) -> str:
    if "enum" in one.schema:
        return str(dice.choice(one.schema["enum"]))
    wanted = float(one.example) * (dice.choice((0.3, 3.0)) if moved else 1.0)
    near = min(one.schema["maximum"], max(one.schema["minimum"], wanted))
    return str(round(near)) if one.schema["type"] == "integer" else f"{near:.6f}"


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: one.name)
def test_no_flat_answer_does(question: AnyQuestion) -> None:
    dice, found, answers = Random(3), list[tuple[str, str]](), 0
    for _ in range(4 if ANSWERING[question.name].estimate_s > 0.02 else 40):
        given = asked(question, dice)
        try:
            answer = ANSWERING[question.name].answer(read(question, given))
        except (UnreadableError, ContradictionError):
            continue
        answers += 1
        found += english(answer, [*given, *(text for texts in given.values() for text in texts)])
    assert answers
    assert found == []
