"""Requests that fit the schema and are otherwise anything: driven by the contract types alone.

Every choice is a throw of the caller's dice, so that the same code serves random numbers,
hypothesis (which then shrinks) and a coverage-guided fuzzer.
"""

import copy
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import msgspec
from msgspec import inspect

from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch.types.quantity import NAMELIKE

Dice = Callable[[int], int]
"""From a number of faces to one of them, 0-based."""

MOMENTS = (
    *("2027-06-21T12:30:00+02:00", "2027-12-21T09:00Z", "2028-02-29T00:00:00-12:00"),
    *("2027-02-29T12:00Z", "2027-06-21T24:00Z", "2027-06-21T12:60Z", "2027-06-21T12:00+99:00"),
    *("0000-01-01T00:00Z", "0001-01-01T00:00+14:00", "9999-12-31T23:59-14:00", "1583-01-01T00:00Z"),
)
"""Dates and times in the contract's form; some never come to pass."""

_FINE = 1 << 16
_FEW = 3
_DEEPEST = 12


@dataclass(frozen=True)
class Place:
    """Somewhere in a request, and what the contract allows there."""

    path: tuple[str | int, ...]
    allowed: inspect.Type


@cache
def example_text(name: str) -> bytes:
    """The shipped example of a calculation."""
    return (files("sunhitch") / "examples" / f"{name}.json").read_bytes()


def example(operation: Operation[Any, Any]) -> dict[str, Any]:
    """The shipped example, decoded afresh, free to be changed."""
    decoded: dict[str, Any] = msgspec.json.decode(example_text(operation.name))
    return decoded


@cache
def _kind(request: type[msgspec.Struct]) -> inspect.Type:
    """What the contract asks for, which takes longer to find out than to vary."""
    return inspect.type_info(request)


def operation_named(name: str) -> Operation[Any, Any]:
    return next(one for one in OPERATIONS if one.name == name)


def light_example(operation: Operation[Any, Any]) -> dict[str, Any]:
    """The example, or a smaller piece of the same work where the whole takes seconds."""
    body = example(operation)
    if operation.name == "harvest":
        body["weather"]["days"] = 2
        body["compare"] = []
    elif operation.name == "roof-layout":
        body["try_without_obstacles"] = False
    return body


def varied(operation: Operation[Any, Any], dice: Dice, changes: int) -> dict[str, Any]:
    """The example with some of its values, listed or left out, replaced by allowed ones."""
    body = light_example(operation)
    for _ in range(changes):
        allowed = list(places(body, _kind(operation.request)))
        _CHANGES[dice(len(_CHANGES))](body, allowed, dice)
    return body


def legal(operation: Operation[Any, Any], dice: Dice) -> dict[str, Any]:
    """A request that the schema allows: an example with changes, or one in ten made up whole."""
    if dice(10):
        made = varied(operation, dice, 1 + dice(5))
    else:
        made = anything(_kind(operation.request), dice)
    _give_exactly_one(made, _kind(operation.request), dice)
    return made


def _give_exactly_one(value: Any, allowed: inspect.Type, dice: Dice) -> None:
    """Of fields of which exactly one is to be given, leave one or give one, everywhere."""
    bare = _bare(allowed)
    if isinstance(bare, inspect.UnionType):
        for choice in bare.types:
            _give_exactly_one(value, choice, dice)
    elif isinstance(bare, inspect.ListType) and isinstance(value, list):
        for item in value:
            _give_exactly_one(item, bare.item_type, dice)
    elif isinstance(bare, inspect.StructType) and _is_of(value, bare):
        _in_object(value, bare, dice)


def _is_of(value: Any, bare: inspect.StructType) -> bool:
    tagged = bare.tag_field is not None
    return isinstance(value, dict) and not (tagged and value.get(bare.tag_field) != bare.tag)


def _in_object(value: dict[str, Any], bare: inspect.StructType, dice: Dice) -> None:
    fields = {field.encode_name: field.type for field in bare.fields}
    names = getattr(bare.cls, "EXACTLY_ONE", ())
    given = [name for name in names if value.get(name) is not None]
    for name in set(names) - set(given[:1]):
        value.pop(name, None)
    if names and not given:
        value[names[0]] = anything(_not_null(fields[names[0]]), dice)
    for name, kind in fields.items():
        if name in value:
            _give_exactly_one(value[name], kind, dice)


def _not_null(info: inspect.Type) -> inspect.Type:
    bare = _bare(info)
    types = bare.types if isinstance(bare, inspect.UnionType) else (info,)
    return next(one for one in types if not isinstance(_bare(one), inspect.NoneType))


def _vary_any(body: dict[str, Any], allowed: list[Place], dice: Dice) -> None:
    vary(body, allowed[dice(len(allowed))], dice)


def _make_equal(body: dict[str, Any], allowed: list[Place], dice: Dice) -> None:
    """Put one number where another stands, as far as that is allowed there."""
    numbers = [one for one in allowed if _limits(one.allowed) and _is_number(body, one.path)]
    if not numbers:
        return
    source, target = numbers[dice(len(numbers))], numbers[dice(len(numbers))]
    value, limits = _value(body, source.path), _limits(target.allowed)
    low = limits.ge if limits.ge is not None else value
    high = limits.le if limits.le is not None else value
    within = min(max(value, low), high)
    whole = isinstance(limits, inspect.IntType)
    parent_of(body, target.path)[target.path[-1]] = round(within) if whole else float(within)


def _repeat_or_drop(body: dict[str, Any], allowed: list[Place], dice: Dice) -> None:
    """List an entry twice, or leave it out, within the allowed length."""
    lists = [one for one in allowed if isinstance(_value(body, one.path), list)]
    if not lists:
        return
    place = lists[dice(len(lists))]
    entries, bare = _value(body, place.path), _bare(place.allowed)
    if not entries or not isinstance(bare, inspect.ListType):
        return
    chosen = dice(len(entries))
    if dice(2) and len(entries) > (bare.min_length or 0):
        del entries[chosen]
    elif len(entries) < (bare.max_length or len(entries) + 1):
        entries.append(copy.deepcopy(entries[chosen]))


def _rename(body: dict[str, Any], _allowed: list[Place], dice: Dice) -> None:
    """Call one thing by the name of another."""
    names = [path for path in _every_path(body) if path[-1] == "name"]
    texts = [_value(body, path) for path in names]
    if names:
        path = names[dice(len(names))]
        parent_of(body, path)["name"] = texts[dice(len(texts))]


_CHANGES = (_vary_any, _vary_any, _vary_any, _make_equal, _repeat_or_drop, _rename)


def _every_path(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    inside = value.items() if isinstance(value, dict) else enumerate(value)
    for key, inner in inside:
        yield (*path, key)
        if isinstance(inner, dict | list):
            yield from _every_path(inner, (*path, key))


def _value(body: Any, path: tuple[str | int, ...]) -> Any:
    """What stands in a place; nothing where it was left out."""
    for key in path:
        if body is None:
            return None
        body = body.get(key) if isinstance(body, dict) else body[key]
    return body


def _is_number(body: Any, path: tuple[str | int, ...]) -> bool:
    value = _value(body, path)
    return isinstance(value, int | float) and not isinstance(value, bool)


def _limits(allowed: inspect.Type) -> inspect.FloatType | inspect.IntType | None:
    """The number that a place may hold."""
    bare = _bare(allowed)
    for choice in bare.types if isinstance(bare, inspect.UnionType) else (bare,):
        one = _bare(choice)
        if isinstance(one, inspect.FloatType | inspect.IntType):
            return one
    return None


def vary(body: dict[str, Any], place: Place, dice: Dice) -> None:
    """Put another allowed value in one place."""
    parent = parent_of(body, place.path)
    parent[place.path[-1]] = anything(place.allowed, dice)


def parent_of(body: Any, path: tuple[str | int, ...]) -> Any:
    for key in path[:-1]:
        body = body[key]
    return body


def places(value: Any, allowed: inspect.Type, path: tuple[str | int, ...] = ()) -> Iterator[Place]:
    """Every place but free text, which names things; those left out by the caller too."""
    bare = _bare(allowed)
    if path and not (isinstance(bare, inspect.StrType) and bare.pattern == NAMELIKE):
        yield Place(path, allowed)
    for choice in bare.types if isinstance(bare, inspect.UnionType) else (bare,):
        yield from _inside(value, _bare(choice), path)


def _inside(value: Any, bare: inspect.Type, path: tuple[str | int, ...]) -> Iterator[Place]:
    if isinstance(bare, inspect.StructType) and isinstance(value, dict):
        if bare.tag_field is None or value.get(bare.tag_field) == bare.tag:
            for field in bare.fields:
                yield from places(
                    value.get(field.encode_name), field.type, (*path, field.encode_name)
                )
    elif isinstance(bare, inspect.ListType) and isinstance(value, list):
        for index, item in enumerate(value):
            yield from places(item, bare.item_type, (*path, index))


def _bare(info: inspect.Type) -> inspect.Type:
    return _bare(info.type) if isinstance(info, inspect.Metadata) else info


def _examples(info: inspect.Type) -> list[Any]:
    known = getattr(info, "extra_json_schema", None) or {}
    return list(known.get("examples") or [])


def anything(info: inspect.Type, dice: Dice, depth: int = _DEEPEST) -> Any:
    """Any value that a type allows; its limits and its example more often than the rest."""
    bare = _bare(info)
    match bare:
        case inspect.FloatType() | inspect.IntType():
            drawn: Any = _number(bare, _examples(info), dice)
        case inspect.StrType():
            drawn = _text(bare, _examples(info), dice)
        case inspect.LiteralType(values):
            drawn = values[dice(len(values))]
        case inspect.UnionType(types):
            drawn = anything(types[dice(len(types))], dice, depth)
        case inspect.ListType():
            drawn = _listing(bare, dice, depth)
        case inspect.StructType():
            drawn = _object(bare, dice, depth)
        case inspect.DictType():
            drawn = {}
        case inspect.AnyType():
            drawn = (None, True, 1.5, "text")[dice(4)]
        case _:
            drawn = {inspect.BoolType: [False, True], inspect.NoneType: [None, None]}[type(bare)][
                dice(2)
            ]
    return drawn


def _text(bare: inspect.StrType, known: list[Any], dice: Dice) -> str:
    if bare.pattern not in (None, NAMELIKE):
        return MOMENTS[dice(len(MOMENTS))]
    return str(known[0]) if known and dice(2) else "x" * (bare.min_length or 0)


def _number(bare: inspect.FloatType | inspect.IntType, known: list[Any], dice: Dice) -> float:
    low = bare.ge if bare.ge is not None else -1e6
    high = bare.le if bare.le is not None else 1e6
    usual = known[0] if known else low
    share = dice(_FINE + 1) / _FINE
    drawn = (
        low,
        high,
        usual,
        low + share * (high - low),
        usual * 4.0 ** (2.0 * share - 1.0),
        _between_logs(low, high, share),
    )[dice(6)]
    within = min(max(drawn, low), high)
    return round(within) if isinstance(bare, inspect.IntType) else float(within)


def _between_logs(low: float, high: float, share: float) -> float:
    """Small numbers as often as large ones."""
    top = max(abs(low), abs(high), 1e-12)
    bottom = max(low, top * 1e-9)
    return math.exp(math.log(bottom) + share * (math.log(top) - math.log(bottom)))


def _listing(bare: inspect.ListType, dice: Dice, depth: int) -> list[Any]:
    fewest = bare.min_length or 0
    most = max(fewest, min(_FEW, bare.max_length or _FEW))
    length = fewest + dice(most - fewest + 1) if depth else fewest
    return [anything(bare.item_type, dice, depth - 1) for _ in range(length)]


def _object(bare: inspect.StructType, dice: Dice, depth: int) -> dict[str, Any]:
    chosen = {} if bare.tag_field is None else {bare.tag_field: bare.tag}
    for field in bare.fields:
        if field.required or (depth > 0 and not dice(_FEW)):
            chosen[field.encode_name] = anything(field.type, dice, depth - 1)
    return copy.deepcopy(chosen)
