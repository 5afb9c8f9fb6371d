"""Query parameters of a question: its fields in SI units, and the other units they may come in."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, cast

import msgspec
from msgspec import structs

from sunhitch import units
from sunhitch.questions import AnyQuestion
from sunhitch.types.base import Input

_DIGITS = 6


@dataclass(frozen=True, slots=True)
class Unit:
    """Another unit for a quantity.

    Parameters
    ----------
    symbol, suffix : str
        As written, and as it ends a parameter's name.
    to_si, from_si : callable
        Conversion to the unit of the contract and back.
    """

    symbol: str
    suffix: str
    to_si: Callable[[float], float]
    from_si: Callable[[float], float]


_OTHERS: Mapping[tuple[str, str], tuple[Unit, ...]] = {
    ("m", "_m"): (Unit("ft", "_ft", units.feet, units.to_feet),),
    ("m/s", "_m_s"): (
        Unit("km/h", "_km_h", units.km_per_h, units.to_km_per_h),
        Unit("mph", "_mph", units.mph, units.to_mph),
    ),
    ("°C", "_c"): (Unit("°F", "_f", units.fahrenheit, units.to_fahrenheit),),
    ("kg", "_kg"): (Unit("lb", "_lb", units.pounds, units.to_pounds),),
    ("N", "_n"): (Unit("lbf", "_lbf", units.pounds_force, units.to_pounds_force),),
}
"""Other units by the contract's unit and the suffix that stands for it."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One query parameter.

    Parameters
    ----------
    name : str
        As given in the query.
    field : str
        Field of the question that it sets.
    schema : dict
        JSON Schema with limits, description, unit and example.
    unit : Unit or None
        Unit to convert from; None for the contract's own.
    """

    name: str
    field: str
    schema: dict[str, Any]
    unit: Unit | None = None

    @property
    def example(self) -> str:
        """A value as it is written in a query."""
        return str(self.schema["examples"][0])


@dataclass(frozen=True)
class ParameterSlot:
    """Something that a question asks for, in one of several ways.

    Parameters
    ----------
    parameters : tuple of Parameter
        Ways to give it, of which at most one is used.
    required : bool
        Whether one must be.
    """

    parameters: tuple[Parameter, ...]
    required: bool

    @cached_property
    def names(self) -> frozenset[str]:
        """Names of the ways."""
        return frozenset(one.name for one in self.parameters)

    @property
    def told(self) -> str:
        """The ways in words."""
        return " or ".join(f"`{one.name}`" for one in self.parameters)


@cache
def slots(question: AnyQuestion) -> tuple[ParameterSlot, ...]:
    """What a question asks for, in the order of its fields.

    Parameters
    ----------
    question : FlatQuestion
        The question.

    Returns
    -------
    tuple of ParameterSlot
        Fields of which exactly one is given share a slot.
    """
    found: list[ParameterSlot] = []
    asked = cast("type[Input]", question.asked)
    together = [one for one in structs.fields(asked) if one.name in asked.EXACTLY_ONE]
    for one in structs.fields(asked):
        if one not in together:
            found.append(ParameterSlot(_parameters(one), one.required))
        elif one == together[0]:
            ways = [way for other in together for way in _parameters(other)]
            found.append(ParameterSlot(tuple(ways), True))
    return tuple(found)


@cache
def by_name(question: AnyQuestion) -> Mapping[str, Parameter]:
    """Every parameter of a question under its name."""
    return {one.name: one for slot in slots(question) for one in slot.parameters}


def least(question: AnyQuestion) -> dict[str, str]:
    """What must be given, by parameter, as the examples have it."""
    needed = (slot.parameters[0] for slot in slots(question) if slot.required)
    return {one.name: one.example for one in needed}


def _parameters(one: structs.FieldInfo) -> tuple[Parameter, ...]:
    schema = _schema(one)
    own = Parameter(one.name, one.name, schema)
    for (symbol, suffix), others in _OTHERS.items():
        if schema.get("x-unit") == symbol and one.name.endswith(suffix):
            stem = one.name.removesuffix(suffix)
            return (own, *(_converted(own, stem, other) for other in others))
    return (own,)


def _schema(one: structs.FieldInfo) -> dict[str, Any]:
    """Schema of a field without the null that stands for "not given"."""
    schema = msgspec.json.schema(one.type)
    choices = [choice for choice in schema.get("anyOf", []) if choice.get("type") != "null"]
    (plain,) = choices or [schema]
    return {name: content for name, content in plain.items() if name != "default"}


def _converted(own: Parameter, stem: str, unit: Unit) -> Parameter:
    """The same quantity in another unit; limits are rounded inwards, so that none is too wide."""
    low, high = (unit.from_si(own.schema[limit]) for limit in ("minimum", "maximum"))
    schema = own.schema | {
        "minimum": _rounded(low, math.ceil),
        "maximum": _rounded(high, math.floor),
        "examples": [float(f"{unit.from_si(own.schema['examples'][0]):.3g}")],
        "x-unit": unit.symbol,
    }
    return Parameter(stem + unit.suffix, own.field, schema, unit)


def _rounded(value: float, towards: Callable[[float], int]) -> float:
    if value == 0.0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(abs(value))) + 1 - _DIGITS)
    return float(f"{towards(value / step) * step:.{_DIGITS}g}")
