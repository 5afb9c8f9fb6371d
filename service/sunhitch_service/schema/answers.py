"""Answers as examples for the OpenAPI document.

To the shipped requests, their lists cut short, and to flat questions with what must be given.
"""

import json
import math
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
from msgspec import Struct, structs
from msgspec.structs import replace

from sunhitch import examples
from sunhitch.codec import encode
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch.pointers import Json, leaves
from sunhitch.questions import QUESTIONS, AnyQuestion
from sunhitch_service.calculations import calculation_of
from sunhitch_service.quick.parameters import least
from sunhitch_service.quick.questions import ANSWERING
from sunhitch_service.quick.reading import read

_FILE = Path(__file__).with_name("answers.json")
_SAME_FRACTION = 1e-6
"""By which figures of two machines may differ."""


@cache
def answers() -> dict[str, Any]:
    """The examples, by the name of their calculation or question."""
    return msgspec.json.decode(_FILE.read_bytes(), type=dict[str, Any])


def made_anew(
    operations: Iterable[Operation[Any, Any]] = OPERATIONS,
    questions: Iterable[AnyQuestion] = QUESTIONS,
) -> dict[str, Any]:
    """The same, calculated; takes seconds."""
    found: dict[str, Any] = {}
    for one in operations:
        answer = calculation_of(one).calculate(examples.load(one))
        engine = replace(answer.engine, data_sha256="9f2c")
        short = replace(_shortened(answer), engine=engine, answer_id="5d41402abc4b2a76")
        found[one.name] = json.loads(encode(short))
    for each in questions:
        asked = read(each, {name: [text] for name, text in least(each).items()})
        found[each.name] = json.loads(encode(ANSWERING[each.name].answer(asked)))
    return found


def write_anew() -> None:
    """Calculate them and keep them."""
    _FILE.write_text(f"{json.dumps(made_anew(), indent=1, ensure_ascii=False)}\n", "utf-8")


def stale() -> list[str]:
    """Names of those that are told otherwise today; other machines may differ in last digits."""
    anew = made_anew()
    if anew.keys() != answers().keys():
        return sorted(anew.keys() ^ answers().keys())
    return [name for name, shown in answers().items() if not _alike(shown, anew[name])]


def _alike(one: Json, other: Json) -> bool:
    shown, anew = dict(leaves(one)), dict(leaves(other))
    return shown.keys() == anew.keys() and all(_same(shown[at], anew[at]) for at in shown)


def _same(one: str | float | None, other: str | float | None) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=_SAME_FRACTION, abs_tol=_SAME_FRACTION)
    return one == other


def _shortened(value: Any, kind: Any = None) -> Any:  # noqa: ANN401
    """A value with as few entries in each list as its kind allows, numbers and words but three."""
    if isinstance(value, Struct):
        cut = {
            field.name: _shortened(getattr(value, field.name), field.type)
            for field in structs.fields(value)
        }
        return replace(value, **cut)
    if not isinstance(value, list):
        return value
    entries: list[Any] = value  # pyright: ignore[reportUnknownVariableType]
    fewest = msgspec.json.schema(kind).get("minItems", 0) if kind else 0
    kept = max(fewest, 1 if isinstance(value[0], Struct) else 3) if value else 0
    return [_shortened(one) for one in entries[:kept]]
