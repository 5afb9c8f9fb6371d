"""Places in plain data by JSON Pointer (RFC 6901)."""

from collections.abc import Iterator
from typing import Any, TypeAlias

Json: TypeAlias = "dict[str, Json] | list[Json] | str | float | bool | None"
"""A decoded JSON value."""


def escaped(name: str) -> str:
    """A name as a part of a pointer."""
    return name.replace("~", "~0").replace("/", "~1")


def leaves(plain: Json, at: str = "") -> Iterator[tuple[str, str | float | bool | None]]:
    """Pointer and value of everything in plain data that holds nothing else.

    Parameters
    ----------
    plain : object
        Plain data.
    at : str
        Pointer to it.
    """
    if isinstance(plain, dict):
        for name, one in plain.items():
            yield from leaves(one, f"{at}/{escaped(str(name))}")
    elif isinstance(plain, list):
        for place, one in enumerate(plain):
            yield from leaves(one, f"{at}/{place}")
    else:
        yield at, plain


def put(plain: Any, pointer: str, value: object) -> None:  # noqa: ANN401 - any JSON
    """Put a value where a pointer says; objects on the way that are absent are made.

    Parameters
    ----------
    plain : dict or list
        Changed in place.
    pointer : str
        Begins with a slash; `-` at its end is the place after the last of a list.
    value : object
        Plain data.

    Raises
    ------
    LookupError
        There is no such place.
    """
    if not pointer.startswith("/"):
        raise LookupError(pointer)
    *way, last = (part.replace("~1", "/").replace("~0", "~") for part in pointer.split("/")[1:])
    place = plain
    try:
        for part in way:
            key = _key(place, part)
            if isinstance(key, str) and place.get(key) is None:
                place[key] = {}
            place = place[key]
        if last == "-":
            place.append(value)
        else:
            place[_key(place, last)] = value
    except (AttributeError, IndexError, TypeError, ValueError):
        raise LookupError(pointer) from None


def get(plain: Any, pointer: str) -> Any:  # noqa: ANN401 - any JSON
    """What stands where a pointer says; none where nothing does.

    Parameters
    ----------
    plain : dict or list
        Plain data.
    pointer : str
        Begins with a slash.
    """
    place = plain
    for part in pointer.split("/")[1:]:
        try:
            place = place[_key(place, part.replace("~1", "/").replace("~0", "~"))]
        except (IndexError, KeyError, TypeError, ValueError):
            return None
    return place


def _key(place: object, part: str) -> str | int:
    return int(part) if isinstance(place, list) else part
