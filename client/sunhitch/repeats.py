"""Keys that a JSON object gives twice: of two values one would be lost without a word."""

import json
from collections import Counter
from collections.abc import Iterator
from typing import TypeAlias, cast

import msgspec

from .faults import escaped, fault_at
from .texts import sentence
from .types.problem import FieldError


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
    return [] if _is_surely_clean(body) else list(_faults(_tree(body), ""))


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


def _tree(body: bytes) -> _Tree:
    plain = json.loads(body, object_pairs_hook=_Object, parse_int=str, parse_float=str)
    return cast("_Tree", plain)


def _faults(value: _Tree, pointer: str) -> Iterator[FieldError]:
    if isinstance(value, list):
        for index, item in enumerate(value):
            yield from _faults(item, f"{pointer}/{index}")
    elif isinstance(value, _Object):
        for key in value.repeated:
            yield fault_at(f"{pointer}/{escaped(key)}", sentence("given-twice"))
        for key, item in value.items():
            yield from _faults(item, f"{pointer}/{escaped(key)}")
