"""Answers of any version of the service, read with tolerance.

A newer service may widen a range, lengthen a list or a text, use a new word in a fixed set, leave
out what is optional, and add fields. None of these takes the rest of an answer away.
"""

from contextlib import suppress
from typing import Any

import msgspec
from msgspec import inspect

from .codec import MalformedBody, T, plain_json
from .faults import fault_at, in_words, shown, type_info
from .pointers import Json
from .texts import Text, sentence
from .unrecognised import Unrecognised

_LEAVES: dict[type[inspect.Type], type[Any]] = {
    inspect.FloatType: float,
    inspect.IntType: int,
    inspect.StrType: str,
    inspect.BoolType: bool,
}
"""Kinds without limits, which are not enforced here."""


def decode_answer(body: bytes, kind: type[T]) -> T:
    """Read an answer; one that fits this version's contract takes the decoder's time alone.

    Parameters
    ----------
    body : bytes
        JSON text in UTF-8.
    kind : type
        Struct to read.

    Returns
    -------
    Struct
        Numbers, lists and texts as they came, and `Unrecognised` for a word that is not in its set.

    Raises
    ------
    MalformedBody
        It is not JSON, or something indispensable is missing or of another kind.
    """
    try:
        return msgspec.json.decode(body, type=kind)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return convert_answer(plain_json(body), kind)


def convert_answer(value: Json, kind: type[T]) -> T:
    """Read an answer that is decoded already; as `decode_answer`."""
    read: T = _read(value, type_info(kind), "")
    return read


def _read(value: Json, info: inspect.Type, pointer: str) -> Any:  # noqa: ANN401, PLR0911 - a kind each
    match info:
        case inspect.Metadata(type=inner):
            return _read(value, inner, pointer)
        case inspect.UnionType():
            return _first_that_fits(value, info, pointer)
        case inspect.StructType() if isinstance(value, dict):
            return _struct(value, info, pointer)
        case inspect.ListType(item_type=inner) if isinstance(value, list):
            return [_read(one, inner, f"{pointer}/{index}") for index, one in enumerate(value)]
        case inspect.DictType(value_type=inner) if isinstance(value, dict):
            return {name: one for name, one in value.items() if _fits(one, inner)}
        case inspect.LiteralType(values=words) if type(value) is type(words[0]):
            return Unrecognised(value) if isinstance(value, str) and value not in words else value
        case _:
            with suppress(KeyError, msgspec.ValidationError):
                return msgspec.convert(value, _LEAVES[type(info)])
    raise _misfit(pointer, sentence("unfit", expected=in_words(info), got=shown(value)))


def _first_that_fits(value: Json, info: inspect.UnionType, pointer: str) -> Any:  # noqa: ANN401
    if value is None and info.includes_none:
        return None
    *others, last = (one for one in info.types if not isinstance(one, inspect.NoneType))
    for one in others:
        try:
            return _read(value, one, pointer)
        except MalformedBody:
            continue
    return _read(value, last, pointer)


def _struct(value: dict[str, Json], info: inspect.StructType, pointer: str) -> Any:  # noqa: ANN401
    with suppress(msgspec.ValidationError):  # most parts fit, and convert takes a tenth of the time
        return msgspec.convert(value, info.cls)
    given: dict[str, Any] = {}
    for field in info.fields:
        at = f"{pointer}/{field.encode_name}"
        if field.encode_name in value:
            given[field.name] = _read(value[field.encode_name], field.type, at)
        elif field.required and not _fits(None, field.type):
            raise _misfit(at, sentence("kind-missing", expected=in_words(field.type)))
        elif field.required:
            given[field.name] = None
    return info.cls(**given)


def _fits(value: Json, info: inspect.Type) -> bool:
    """Whether a value can be read; what of an open object cannot is a newer service's own."""
    try:
        _read(value, info, "")
    except MalformedBody:
        return False
    return True


def _misfit(pointer: str, text: Text) -> MalformedBody:
    return MalformedBody([fault_at(pointer, text)])
