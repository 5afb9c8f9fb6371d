"""Strict JSON for contract Structs; the service and the embedded client accept exactly the same."""

import json
import math
from collections import Counter
from collections.abc import Callable, Iterator
from functools import cache
from itertools import islice
from typing import Any, TypeAlias, TypeVar

import msgspec
from msgspec.structs import replace

from .faults import MOST_FAULTS, fault_at, faults_of
from .pointers import Json, escaped, leaves
from .texts import Text, coded, sentence
from .types.base import Input
from .types.check import Answer
from .types.problem import FieldError, Problem
from .types.quick.texts import FlatAnswer

T = TypeVar("T", bound=msgspec.Struct)
_TELL_TEXTS = (Answer, FlatAnswer, Problem)


def _as_plain(value: object) -> object:
    """Words of other versions and texts with a code as text; numpy's numbers as plain ones."""
    if isinstance(value, str):
        return str.__str__(value)
    tolist = getattr(value, "tolist", None)
    if callable(tolist):
        return tolist()
    raise TypeError(f"A request cannot hold a {type(value).__name__}: {value!r}")


def plain_data(value: object) -> Any:  # noqa: ANN401 - whatever stands in it
    """A Struct, or a list of them, as dicts, lists, numbers and text."""
    return msgspec.to_builtins(value, enc_hook=_as_plain)


def _encoded(encode: Callable[..., bytes], value: object) -> bytes:
    """By the hook that costs least, which knows texts alone; answers hold nothing else."""
    try:
        return encode(value, enc_hook=str.__str__)
    except TypeError:
        return encode(value, enc_hook=_as_plain)


_NUMBER, _SIGNED_EXPONENTS, _REST_OF_EXPONENT = 0xCB, (b"\x7f", b"\xff"), 0xF0
"""A number in MessagePack that is not finite: `cb`, then all bits of the exponent set behind either
sign, `7f f0` or `ff f0` and up."""

_EXACT_UP_TO = 2**53


class MalformedBody(ValueError):  # noqa: N818 - the contract's word for it
    """A body that is not JSON, or not what its type asks for.

    Parameters
    ----------
    faults : list of FieldError
        Every fault found, at least one.

    Attributes
    ----------
    pointer : str
        JSON Pointer of the first fault; empty for the whole body.
    message : str
        What is wrong there and what would be right.
    """

    def __init__(self, faults: list[FieldError]) -> None:
        super().__init__("; ".join(f"{f.pointer or 'body'}: {f.message}" for f in faults))
        self.faults = faults

    @property
    def pointer(self) -> str:
        """JSON Pointer of the first fault."""
        return self.faults[0].pointer

    @property
    def message(self) -> str:
        """What is wrong at the first fault."""
        return self.faults[0].message


class NonFiniteError(ArithmeticError):
    """A number that JSON cannot carry; it must never leave as null.

    Parameters
    ----------
    holder : str
        What it stands in.
    pointer : str
        JSON Pointer to it.
    """

    def __init__(self, holder: str, pointer: str) -> None:
        super().__init__(f"{holder}: {pointer} is not finite")
        self.pointer = pointer


def encode(value: msgspec.Struct | dict[str, Any], *, texts: bool = False) -> bytes:
    """JSON text of a contract Struct, or of the same as plain data.

    Parameters
    ----------
    value : Struct or dict
        Request, answer or problem; arrays of numpy count as lists.
    texts : bool
        Whether an answer tells code and parameters of each `Text` in it; a problem always does.

    Returns
    -------
    bytes
        UTF-8.

    Raises
    ------
    NonFiniteError
        If a number in it is infinite, not a number, or whole and beyond 64 bits; names the field.
    TypeError
        If something in it is no data.
    """
    found: list[Text] = []

    def noted(one: object) -> object:
        if isinstance(one, Text):
            found.append(one)
        return _as_plain(one)

    told = isinstance(value, _TELL_TEXTS if texts else Problem)
    pack = msgspec.msgpack.encode
    try:
        packed = pack(value, enc_hook=noted) if told else _encoded(pack, value)
    except OverflowError:
        pointer = next(_non_finite(plain_data(value)))
        raise NonFiniteError(type(value).__name__, pointer) from None
    if _suspect(packed):
        for pointer in _non_finite(msgspec.msgpack.decode(packed)):
            raise NonFiniteError(type(value).__name__, pointer)
    if isinstance(value, _TELL_TEXTS) and found:
        value = replace(value, texts=coded(found))
    return _encoded(msgspec.json.encode, value)


def _suspect(packed: bytes) -> bool:
    """Whether MessagePack holds what looks like a number that is not finite.

    It takes a fraction of a walk through the value, as the bytes of such an exponent are rare, and
    a tenth of a search by one pattern, as `cb` is not; what it finds by chance, the walk clears.
    """
    last = len(packed) - 1
    for signed in _SIGNED_EXPONENTS:
        at = packed.find(signed)
        while 0 <= at < last:
            if packed[at - 1] == _NUMBER and packed[at + 1] >= _REST_OF_EXPONENT:
                return True
            at = packed.find(signed, at + 1)
    return False


def decode_strict(body: bytes, kind: type[T]) -> T:
    """Read a contract Struct from JSON without guessing.

    Text is never taken for a number, unknown fields are refused, limits are enforced, and a request
    may give no key twice. A whole number may be written with a decimal point (``4.0``), as JSON
    does not tell the two apart.

    Parameters
    ----------
    body : bytes
        JSON text in UTF-8.
    kind : type
        Struct to read.

    Returns
    -------
    Struct
        Of the given type.

    Raises
    ------
    MalformedBody
        With every fault found, each with its JSON Pointer.
    """
    try:
        decoded: T = _decoder(kind).decode(body)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        decoded = _second_reading(body, kind)
    if issubclass(kind, Input) and (repeated := repeated_keys(body)):
        raise MalformedBody(repeated)
    return decoded


@cache
def _decoder(kind: type[msgspec.Struct]) -> msgspec.json.Decoder[Any]:
    return msgspec.json.Decoder(kind)


def _second_reading(body: bytes, kind: type[T]) -> T:
    plain = plain_json(body)
    try:
        return msgspec.convert(plain, kind)
    except msgspec.ValidationError as error:
        raise MalformedBody(faults_of(plain, kind)) from error


def plain_json(body: bytes) -> Json:
    """Decoded JSON, whole numbers as int.

    Raises
    ------
    MalformedBody
        It is not JSON, or nested too deep.
    """
    try:
        plain: Json = _PLAIN.decode(body)
    except UnicodeDecodeError as error:
        raise MalformedBody([fault_at("", sentence("not-utf-8"))]) from error
    except RecursionError as error:
        raise MalformedBody([fault_at("", sentence("too-deep"))]) from error
    except msgspec.DecodeError as error:
        raise MalformedBody(_unending(body) or [_why_not_json(body, str(error))]) from error
    return plain


def _unending(body: bytes) -> list[FieldError]:
    """A fault for each NaN, Infinity or too large number, where nothing else is wrong."""
    try:
        pointers = list(islice(_non_finite(json.loads(body)), MOST_FAULTS + 1))
    except (ValueError, RecursionError):
        return []
    return [fault_at(pointer, sentence("not-finite")) for pointer in pointers]


def _why_not_json(body: bytes, reason: str) -> FieldError:
    if not body.strip():
        return fault_at("", sentence("empty-body"))
    plain = reason.removeprefix("JSON is malformed: ").partition(" - at `")[0]
    return fault_at("", sentence("not-json", reason=plain))


def _number(text: str) -> float | int:
    """A whole number as int, so that ``4.0`` may stand for ``4``."""
    value = float(text)
    if math.isinf(value):
        raise ValueError("Number out of range")
    return int(value) if value.is_integer() and abs(value) < _EXACT_UP_TO else value


_PLAIN = msgspec.json.Decoder(float_hook=_number)


def _non_finite(value: Json) -> Iterator[str]:
    """JSON Pointers of numbers that are not finite, or whole and beyond 64 bits."""
    for pointer, one in leaves(value):
        if (isinstance(one, float) and not math.isfinite(one)) or (
            isinstance(one, int) and not -(2**63) <= one < 2**64
        ):
            yield pointer


def repeated_keys(body: bytes) -> list[FieldError]:
    """A fault for each key that is given more than once in its object.

    Parameters
    ----------
    body : bytes
        JSON text that was decoded before.

    Returns
    -------
    list of FieldError
        Each with the JSON Pointer of the key; empty for nearly every body.
    """
    if _is_surely_clean(body):
        return []
    plain = json.loads(body, object_pairs_hook=_Object, parse_int=str, parse_float=str)
    return list(_repeated(plain, ""))


def _is_surely_clean(body: bytes) -> bool:
    """Whether reading and writing the body loses no colon.

    A key that is lost takes its colon along. Only escapes could make up for it: they may stand for
    a colon.
    """
    if b"\\" in body:
        return False
    return body.count(b":") == msgspec.json.encode(msgspec.json.decode(body)).count(b":")


_Tree: TypeAlias = "_Object | list[_Tree] | str | bool | None"


class _Object(dict[str, "_Tree"]):
    """A JSON object that knows what it was given more than once."""

    def __init__(self, pairs: list[tuple[str, _Tree]]) -> None:
        super().__init__(pairs)
        counts = Counter(key for key, _ in pairs)
        self.repeated = [key for key, count in counts.items() if count > 1]


def _repeated(value: _Tree, pointer: str) -> Iterator[FieldError]:
    if isinstance(value, list):
        for index, item in enumerate(value):
            yield from _repeated(item, f"{pointer}/{index}")
    elif isinstance(value, _Object):
        for key in value.repeated:
            yield fault_at(f"{pointer}/{escaped(key)}", sentence("given-twice"))
        for key, item in value.items():
            yield from _repeated(item, f"{pointer}/{escaped(key)}")
