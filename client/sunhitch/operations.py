"""Every calculation once: its name, path, request and answer; client and server read this."""

from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from .types.base import Input
from .types.check import Answer
from .types.shade import ShadedIvAnswer, ShadedIvRequest

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=Answer)


@dataclass(frozen=True, slots=True)
class Operation(Generic[Q, A]):
    """One calculation of the contract.

    Parameters
    ----------
    name : str
        Kebab-case name, the last part of the path.
    request, answer : type
        Contract Structs.
    title : str
        What it answers, in a few words.
    description : str
        What it is given and what it answers.
    """

    name: str
    request: type[Q]
    answer: type[A]
    title: str
    description: str

    @property
    def path(self) -> str:
        """Path of the POST call."""
        return f"/v1/{self.name}"


SHADED_IV = Operation(
    "shaded-iv",
    ShadedIvRequest,
    ShadedIvAnswer,
    "Power of a partly shaded array",
    "Current and power curves, every local maximum, what a simple tracker finds, the state of "
    "every panel, bypass group and cell, and where the power goes.",
)

OPERATIONS: tuple[Operation[Any, Any], ...] = (SHADED_IV,)
