"""What turns one job into another, as a JSON Patch (RFC 6902)."""

from collections.abc import Iterator
from typing import Any, cast

from sunhitch.codec import plain_data
from sunhitch.types.fitout import FitOutRequest
from sunhitch.types.revision import PatchStep

_Object = dict[str, Any]


def patch(before: FitOutRequest, after: FitOutRequest) -> list[PatchStep]:
    """Operations in an order that never changes, each value by itself where that is possible.

    Parameters
    ----------
    before, after : FitOutRequest
        What is sent, and what it is to become.
    """
    return list(_steps("", plain_data(before), plain_data(after)))


def _steps(at: str, before: Any, after: Any) -> Iterator[PatchStep]:  # noqa: ANN401
    if before == after:
        return
    if isinstance(before, dict) and isinstance(after, dict):
        yield from _of_objects(at, cast(_Object, before), cast(_Object, after))
    elif _may_grow(before, after):
        yield from _of_lists(at, cast(list[Any], before), cast(list[Any], after))
    else:
        yield PatchStep(op="replace", path=at, value=after)


def _of_objects(at: str, before: _Object, after: _Object) -> Iterator[PatchStep]:
    for name, value in before.items():
        if name in after:
            yield from _steps(f"{at}/{name}", value, after[name])
        else:
            yield PatchStep(op="remove", path=f"{at}/{name}")
    for name, value in after.items():
        if name not in before:
            yield PatchStep(op="add", path=f"{at}/{name}", value=value)


def _may_grow(before: Any, after: Any) -> bool:  # noqa: ANN401
    """Whether two lists differ by entries at their places, some gone, or some new at the end."""
    if not (_is_list(before) and _is_list(after)):
        return False
    kept = [name for name in _names(before) if name in _names(after)]
    named = len(_names(before)) == len(before) and len(_names(after)) == len(after)
    return named and kept == _names(after)[: len(kept)]


def _is_list(value: Any) -> bool:  # noqa: ANN401
    return isinstance(value, list)


def _names(items: list[Any]) -> list[str]:
    return [item["name"] for item in items if isinstance(item, dict) and "name" in item]


def _of_lists(at: str, before: list[Any], after: list[Any]) -> Iterator[PatchStep]:
    names = _names(after)
    kept = [item for item in before if item["name"] in names]
    for index in reversed(range(len(before))):
        if before[index]["name"] not in names:
            yield PatchStep(op="remove", path=f"{at}/{index}")
    for index, item in enumerate(kept):
        yield from _steps(f"{at}/{index}", item, after[index])
    for item in after[len(kept) :]:
        yield PatchStep(op="add", path=f"{at}/-", value=item)
