"""From the text of a query to a question's Struct, with every fault found."""

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import msgspec

from sunhitch.faults import MOST_FAULTS, between, fault_at, one_of
from sunhitch.faults import unknown as words_of_unknown
from sunhitch.pointers import escaped
from sunhitch.questions import AnyQuestion
from sunhitch.texts import Text, phrase, sentence
from sunhitch.types.base import Input
from sunhitch.types.problem import FieldError

from .parameters import Parameter, ParameterSlot, by_name, slots

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_SHOWN = 60


class _UnfitError(ValueError):
    """A text that its parameter cannot take; tells what was expected."""

    def __init__(self, text: Text) -> None:
        super().__init__(text)
        self.text = text


class UnreadableError(ValueError):
    """A query that does not fit its question.

    Parameters
    ----------
    faults : list of FieldError
        Every fault found, at least one.
    contradictory : bool
        Whether every value fits by itself, but not all of them together.
    """

    def __init__(self, faults: list[FieldError], *, contradictory: bool) -> None:
        super().__init__("; ".join(f"{fault.pointer}: {fault.message}" for fault in faults))
        self.faults = faults
        self.contradictory = contradictory


def read(question: AnyQuestion, given: Mapping[str, Sequence[str]]) -> Input:
    """The question as it was asked.

    Parameters
    ----------
    question : FlatQuestion
        The question.
    given : mapping
        Texts by parameter; each must be there once.

    Returns
    -------
    Input
        The question's Struct, within its limits.

    Raises
    ------
    UnreadableError
        With every parameter at fault.
    """
    known = by_name(question)
    unknown = sorted(given.keys() - known.keys())[: MOST_FAULTS + 1]
    faults = [fault(name, words_of_unknown("parameter", name, known)) for name in unknown]
    values: dict[str, Any] = {}
    for name, parameter in known.items():
        if name not in given:
            continue
        if len(given[name]) != 1:
            faults.append(fault(name, sentence("given-twice")))
            continue
        try:
            values[parameter.field] = _value(parameter, given[name][0])
        except _UnfitError as refusal:
            faults.append(fault(name, refusal.text))
    alone = (slot for slot in slots(question) if len(slot.parameters) == 1)
    faults += [_missing(slot) for slot in alone if _is_missing(slot, given)]
    if faults:
        raise UnreadableError(faults, contradictory=False)
    _refuse_wrong_choices(slots(question), given)
    asked: Input = msgspec.convert(values, question.asked)
    return asked


def fault(name: str, text: Text) -> FieldError:
    """A fault at a query parameter."""
    return fault_at(f"/{escaped(name[:_SHOWN])}", text, "query")


def _is_missing(slot: ParameterSlot, given: Iterable[str]) -> bool:
    return slot.required and slot.names.isdisjoint(given)


def _missing(slot: ParameterSlot) -> FieldError:
    one = slot.parameters[0]
    said = one.schema["description"].rstrip(".")
    return fault(one.name, sentence("missing-described", expected=_expected(one), description=said))


def _refuse_wrong_choices(
    asked: tuple[ParameterSlot, ...], given: Mapping[str, Sequence[str]]
) -> None:
    """Refuse where none or several of the ways to give something are used."""
    faults: list[FieldError] = []
    for slot in asked:
        if _is_missing(slot, given):
            said = slot.parameters[0].schema["description"]
            text = sentence("exactly-one-way", ways=slot.told, description=said)
            faults.append(fault(slot.parameters[0].name, text))
        elif len(slot.names) > 1 and len(slot.names.intersection(given)) > 1:
            used = [one.name for one in slot.parameters if one.name in given]
            faults += [fault(name, sentence("only-one-way", ways=slot.told)) for name in used]
    if faults:
        raise UnreadableError(faults, contradictory=True)


def _value(parameter: Parameter, text: str) -> float | int | str:
    """Value of a text; an `_UnfitError` says what was expected."""
    schema = parameter.schema
    if schema.get("type") in ("number", "integer"):
        return _number(parameter, text)
    by_text = {str(word): word for word in schema["enum"]}
    if text not in by_text:
        raise _UnfitError(_refusal(parameter, text))
    found: int | str = by_text[text]
    return found


def _number(parameter: Parameter, text: str) -> float | int:
    schema = parameter.schema
    value = float(text) if _NUMBER.fullmatch(text) else math.nan
    if not schema["minimum"] <= value <= schema["maximum"]:
        raise _UnfitError(_refusal(parameter, text))
    if schema["type"] == "integer":
        if not value.is_integer():
            raise _UnfitError(_refusal(parameter, text))
        return int(value)
    return value if parameter.unit is None else parameter.unit.to_si(value)


def _refusal(parameter: Parameter, text: str) -> Text:
    shown = text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"
    got = f"`{shown}`" if shown else phrase("nothing")
    code = "comma-for-point" if re.fullmatch(r"[+-]?\d*,\d+", text) else "unfit"
    return sentence(code, expected=_expected(parameter), got=got)


def _expected(parameter: Parameter) -> str:
    schema = parameter.schema
    if "enum" in schema:
        return one_of(schema["enum"])
    kind = "whole-number" if schema["type"] == "integer" else "number"
    return phrase(kind, range=between(schema["minimum"], schema["maximum"], schema["x-unit"]))


def located(
    question: AnyQuestion, given: Iterable[str], faults: Iterable[FieldError]
) -> list[FieldError]:
    """Faults that the engine found, at the query parameters behind them.

    Parameters
    ----------
    question : FlatQuestion
        The question.
    given : iterable of str
        Parameters of the query.
    faults : iterable of FieldError
        With pointers into the calculation's own request.

    Returns
    -------
    list of FieldError
        At the parameter that was given, or at the field's own; at the whole query where the
        question has no such field.
    """
    ways: dict[str, list[str]] = {}
    for one in by_name(question).values():
        ways.setdefault(one.field, []).append(one.name)
    return [_at(ways, set(given), one) for one in faults]


def _at(ways: Mapping[str, list[str]], given: set[str], one: FieldError) -> FieldError:
    fields = [part for part in reversed(one.pointer.split("/")) if part in ways]
    if not fields:
        return msgspec.structs.replace(one, pointer="", location="query")
    names = ways[fields[0]]
    at = next((name for name in names if name in given), names[0])
    return msgspec.structs.replace(one, pointer=f"/{at}", location="query")
