"""What a quick question is: flat parameters in, flat figures out of the engine's formulas."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeAlias, TypeVar

from sunhitch.types.base import Input, Output
from sunhitch.types.basis import Assumption, Basis, Caution

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=Output)


@dataclass(frozen=True, slots=True)
class Question(Generic[Q, A]):
    """One question.

    Parameters
    ----------
    name : str
        Kebab-case name, the last part of the path.
    title, description : str
        What it answers, in a few words and in full.
    asked, answered : type
        Flat Structs; the first field of the answer is the one that is given alone.
    answer : callable
        Module-level function from one to the other.
    estimate_s : float
        Time that an answer takes [s].
    """

    name: str
    title: str
    description: str
    asked: type[Q]
    answered: type[A]
    answer: Callable[[Q], A]
    estimate_s: float = 0.0005

    @property
    def path(self) -> str:
        """Path of the GET call."""
        return f"/v1/quick/{self.name}"

    @property
    def fields(self) -> tuple[str, ...]:
        """Fields of the answer, in order."""
        return self.answered.__struct_fields__


AnyQuestion: TypeAlias = Question[Any, Any]


def assumed(assumptions: list[Assumption]) -> str:
    """Assumptions as text, each named by the last part of its field."""
    return " ".join(f"{_name(one.field)} = {one.value}: {one.why}" for one in assumptions)


def _name(pointer: str) -> str:
    return pointer.rsplit("/", 1)[-1]


def cited(*bases: Basis) -> str:
    """Sources as text, each once."""
    texts = [f"{one.reference}: {one.note}" if one.note else f"{one.reference}." for one in bases]
    return " ".join(dict.fromkeys(texts))


def warned(cautions: list[Caution]) -> str:
    """Cautions as text."""
    return " ".join(one.text for one in cautions)
