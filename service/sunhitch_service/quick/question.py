"""What a quick question is: flat parameters in, flat figures out of the engine's formulas."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeAlias, TypeVar

from sunhitch.texts import Text, statement, together
from sunhitch.types.base import Input
from sunhitch.types.basis import Assumption, Basis, Caution
from sunhitch.types.quick.texts import FlatAnswer
from sunhitch_service.engine.assumptions import reason_of

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=FlatAnswer)


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
        """Fields of the answer as a row, in order."""
        return tuple(name for name in self.answered.__struct_fields__ if name != "texts")


AnyQuestion: TypeAlias = Question[Any, Any]


def assumed(assumptions: list[Assumption]) -> str:
    """Assumptions as text, each named by the last part of its field."""
    return together(
        "space",
        (
            statement(
                "value-assumed",
                field=one.field.rsplit("/", 1)[-1],
                value=str(one.value),
                why=reason_of(one),
            )
            for one in assumptions
        ),
    )


def cited(*bases: Basis) -> str:
    """Sources as text, each once."""
    texts = (
        statement("source-and-note", source=one.reference, note=one.note)
        if one.note
        else statement("source-alone", source=one.reference)
        for one in bases
    )
    return together("space", dict.fromkeys(texts))


def warned(cautions: list[Caution]) -> str:
    """Cautions as text."""
    return together("space", (Text(one.text, one.code, {}, "caution") for one in cautions))
