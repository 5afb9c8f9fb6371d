"""From the text of a query to a question's Struct, with every fault found."""

import difflib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import msgspec

from sunhitch.faults import MOST_FAULTS
from sunhitch.types.base import Input
from sunhitch.types.problem import FieldError
from sunhitch_service.engine.errors import Fault

from .parameters import Parameter, ParameterSlot, by_name, parameters, slots
from .question import AnyQuestion

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_SHOWN = 60


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
    question : Question
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
    faults = [fault(name, _unknown(name, known)) for name in unknown]
    values: dict[str, Any] = {}
    for name, parameter in known.items():
        if name not in given:
            continue
        if len(given[name]) != 1:
            faults.append(fault(name, "Given more than once; give it once."))
            continue
        try:
            values[parameter.field] = _value(parameter, given[name][0])
        except ValueError as refusal:
            faults.append(fault(name, str(refusal)))
    asked = slots(question)
    alone = (slot for slot in asked if len(slot.parameters) == 1)
    faults += [_missing(slot) for slot in alone if _is_missing(slot, given)]
    if faults:
        raise UnreadableError(faults, contradictory=False)
    _refuse_wrong_choices(asked, given)
    return _whole(question, values)


def fault(name: str, message: str) -> FieldError:
    """A fault at a query parameter."""
    pointer = name[:_SHOWN].replace("~", "~0").replace("/", "~1")
    return FieldError(pointer=f"/{pointer}", message=message, location="query")


def _whole(question: AnyQuestion, values: dict[str, Any]) -> Input:
    asked: Input = msgspec.convert(values, question.asked)
    return asked


def _is_missing(slot: ParameterSlot, given: Iterable[str]) -> bool:
    return slot.required and slot.names.isdisjoint(given)


def _missing(slot: ParameterSlot) -> FieldError:
    one = slot.parameters[0]
    return fault(one.name, f"Missing. Expected {_expected(one)}: {one.schema['description']}")


def _refuse_wrong_choices(
    asked: tuple[ParameterSlot, ...], given: Mapping[str, Sequence[str]]
) -> None:
    """Refuse where none or several of the ways to give something are used."""
    faults: list[FieldError] = []
    for slot in asked:
        if _is_missing(slot, given):
            said = f"Give exactly one of {slot.told}: {slot.parameters[0].schema['description']}"
            faults.append(fault(slot.parameters[0].name, said))
        elif len(slot.names) > 1 and len(slot.names.intersection(given)) > 1:
            used = [one.name for one in slot.parameters if one.name in given]
            faults += [fault(name, f"Give only one of {slot.told}.") for name in used]
    if faults:
        raise UnreadableError(faults, contradictory=True)


def _unknown(name: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(name, list(known), n=1)
    hint = f"did you mean `{close[0]}`?" if close else f"known here: {', '.join(known)}."
    return f"Unknown query parameter; {hint}"


def _value(parameter: Parameter, text: str) -> float | int | str:
    """Value of a text; a `ValueError` says what was expected."""
    schema = parameter.schema
    if schema.get("type") in ("number", "integer"):
        return _number(parameter, text)
    by_text = {str(word): word for word in schema["enum"]}
    if text not in by_text:
        raise ValueError(_refusal(parameter, text))
    found: int | str = by_text[text]
    return found


def _number(parameter: Parameter, text: str) -> float | int:
    schema = parameter.schema
    value = float(text) if _NUMBER.fullmatch(text) else math.nan
    if not schema["minimum"] <= value <= schema["maximum"]:
        raise ValueError(_refusal(parameter, text))
    if schema["type"] == "integer":
        if not value.is_integer():
            raise ValueError(_refusal(parameter, text))
        return int(value)
    return value if parameter.unit is None else parameter.unit.to_si(value)


def _refusal(parameter: Parameter, text: str) -> str:
    shown = text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"
    got = f"got `{shown}`" if shown else "got nothing"
    comma = " Write decimals with a point." if re.fullmatch(r"[+-]?\d*,\d+", text) else ""
    return f"Expected {_expected(parameter)}; {got}.{comma}"


def _expected(parameter: Parameter) -> str:
    schema = parameter.schema
    if "enum" in schema:
        return f"one of {', '.join(f'`{word}`' for word in schema['enum'])}"
    kind = "a whole number" if schema["type"] == "integer" else "a number"
    unit = "" if schema["x-unit"] == "1" else f" {schema['x-unit']}"
    return f"{kind} from {schema['minimum']:g} to {schema['maximum']:g}{unit}"


def located(
    question: AnyQuestion, given: Iterable[str], faults: Iterable[Fault | FieldError]
) -> list[FieldError]:
    """Faults that the engine found, at the query parameters behind them.

    Parameters
    ----------
    question : Question
        The question.
    given : iterable of str
        Parameters of the query.
    faults : iterable of Fault or FieldError
        With pointers into the calculation's own request.

    Returns
    -------
    list of FieldError
        At the parameter that was given, or at the field's own; at the whole query where the
        question has no such field.
    """
    ways: dict[str, list[str]] = {}
    for one in parameters(question):
        ways.setdefault(one.field, []).append(one.name)
    return [_at(ways, set(given), one) for one in faults]


def _at(ways: Mapping[str, list[str]], given: set[str], one: Fault | FieldError) -> FieldError:
    fields = [part for part in reversed(one.pointer.split("/")) if part in ways]
    if not fields:
        return FieldError(pointer="", message=one.message, location="query")
    names = ways[fields[0]]
    return fault(next((name for name in names if name in given), names[0]), one.message)
