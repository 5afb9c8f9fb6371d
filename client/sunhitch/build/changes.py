"""Variants of a request."""

from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

from sunhitch.codec import MalformedBody, NonFiniteError, decode_strict, encode
from sunhitch.errors import service_error
from sunhitch.problems import malformed, refused
from sunhitch.texts import sentence
from sunhitch.types.base import Input

Q = TypeVar("Q", bound=Input)


def changed(request: Q, changes: Mapping[str, Any]) -> Q:
    """The same request with other values in some places, checked against the contract.

    Parameters
    ----------
    request : Input
        Any request; it stays as it is.
    changes : mapping
        New values by JSON Pointer, written as in checks, assumptions and errors:
        ``{"/sun/cell_temperature_c": 60.0}``. A pointer may name a field that was not given.

    Raises
    ------
    RequestRejectedError
        A place that does not exist, or a value that does not fit.

    Examples
    --------
    >>> hotter = changed(request, {"/sun/cell_temperature_c": 60.0})  # doctest: +SKIP
    """
    plain = msgspec.to_builtins(request)
    for pointer, value in changes.items():
        _set(plain, pointer, msgspec.to_builtins(value))
    try:
        return decode_strict(encode(plain), type(request))
    except MalformedBody as fault:
        raise service_error(malformed(fault.faults)) from None
    except NonFiniteError as fault:
        raise refused(sentence("no-finite-number"), fault.pointer) from None


def _set(plain: Any, pointer: str, value: Any) -> None:  # noqa: ANN401
    """Put a value where a JSON Pointer (RFC 6901) says."""
    if not pointer.startswith("/"):
        raise refused(sentence("no-pointer"), pointer)
    *way, last = (part.replace("~1", "/").replace("~0", "~") for part in pointer.split("/")[1:])
    place = plain
    try:
        for part in way:
            key = _key(place, part)
            if isinstance(key, str) and place.get(key) is None:
                place[key] = {}
            place = place[key]
        place[_key(place, last)] = value
    except (AttributeError, IndexError, TypeError, ValueError):
        raise refused(sentence("no-such-place"), pointer) from None


def _key(place: Any, part: str) -> str | int:  # noqa: ANN401
    return int(part) if isinstance(place, list) else part
