"""Variants of a request."""

from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

from sunhitch.codec import MalformedBody, NonFiniteError, decode_strict, encode
from sunhitch.errors import service_error
from sunhitch.pointers import put
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
        raise refused(sentence("not-finite"), fault.pointer) from None


def _set(plain: Any, pointer: str, value: Any) -> None:  # noqa: ANN401
    if not pointer.startswith("/"):
        raise refused(sentence("no-pointer"), pointer)
    try:
        put(plain, pointer, value)
    except LookupError:
        raise refused(sentence("no-such-place"), pointer) from None
