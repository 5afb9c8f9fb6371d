"""Complete requests of an invented job, a mobile library van; also test input."""

from importlib import resources
from typing import Any, overload

from sunhitch.codec import decode_strict
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation, Q

NAMES = tuple(operation.name for operation in OPERATIONS)
"""One for each calculation."""


@overload
def load(which: Operation[Q, Any]) -> Q: ...


@overload
def load(which: str) -> Any: ...  # noqa: ANN401 - of the calculation of that name


def load(which: Operation[Q, Any] | str) -> Q | Any:
    """The example of a calculation, for `changed` to make variants of.

    Parameters
    ----------
    which : Operation or str
        From `sunhitch.operations`, which tells type checkers the request, or its name.

    Raises
    ------
    ValueError
        There is no calculation of that name.
    """
    found = [one for one in OPERATIONS if which in (one, one.name)]
    if not found:
        raise ValueError(f"There is no example {which!r}; there are {', '.join(NAMES)}.")
    return decode_strict(text(found[0]), found[0].request)


def text(operation: Operation[Any, Any]) -> bytes:
    """The same as JSON in UTF-8."""
    return (resources.files(__name__) / f"{operation.name}.json").read_bytes()
