"""What this service offers: each operation of the contract with the function that answers it."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sunhitch.operations import OPERATIONS, Operation
from sunhitch_service.calculations import CALCULATIONS
from sunhitch_service.renderings import RENDERINGS, Rendering

from .work import EFFORTS, Effort


@dataclass(frozen=True, slots=True)
class Endpoint:
    """One calculation as it is served.

    Parameters
    ----------
    operation : Operation
        Name, types and words of the contract.
    calculate : callable
        Module-level function from request to answer.
    effort : Effort
        What it costs.
    renderings : tuple of Rendering
        Ways to show the answer other than as JSON.
    """

    operation: Operation[Any, Any]
    calculate: Callable[[Any], Any]
    effort: Effort
    renderings: tuple[Rendering, ...] = ()


def catalogue(
    operations: Iterable[Operation[Any, Any]] = OPERATIONS,
    calculations: Mapping[str, Callable[[Any], Any]] = CALCULATIONS,
) -> tuple[Endpoint, ...]:
    """Endpoints of every operation that has a calculation, in the contract's order."""
    return tuple(
        Endpoint(
            operation,
            calculations[operation.name],
            EFFORTS[operation.name],
            RENDERINGS.get(operation.name, ()),
        )
        for operation in operations
        if operation.name in calculations
    )
