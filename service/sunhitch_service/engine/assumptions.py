"""Note every value that the engine chooses for the caller."""

from collections.abc import Callable
from typing import TypeVar

from msgspec.structs import replace

from sunhitch.texts import Text
from sunhitch.types.basis import Assumption

T = TypeVar("T", bound=float | str | bool)


def reason_of(made: Assumption) -> Text:
    """Why a value was chosen, with its code."""
    return Text(made.why, made.code, made.parameters)


class Assumptions:
    """Collects assumptions; one entry a field."""

    def __init__(self) -> None:
        self._by_field: dict[str, Assumption] = {}

    def choose(self, field: str, given: T | None, default: T, why: Text) -> T:
        """The given value, or the default with a note.

        Parameters
        ----------
        field : str
            JSON Pointer of the request field.
        given : float or str or bool or None
            What the caller said.
        default : float or str or bool
            What to use otherwise.
        why : Text
            Reason for the default, with its basis.

        Returns
        -------
        float or str or bool
            The value to use.
        """
        if given is not None:
            return given
        self.note(field, default, why)
        return default

    def note(self, field: str, value: float | str | bool, why: Text) -> None:
        """Note a value that has no field of its own, or that was derived."""
        made = Assumption(
            field=field,
            value=value,
            why=str.__str__(why),
            code=why.code,
            parameters=why.parameters,
        )
        self._by_field.setdefault(field, made)

    def merge(self, others: list[Assumption], moved: Callable[[str], str] = str) -> None:
        """Take over assumptions of a part, its fields' pointers translated by `moved`."""
        for other in others:
            field = moved(other.field)
            self._by_field.setdefault(field, replace(other, field=field))

    def listed(self) -> list[Assumption]:
        """All of them, in the order in which they were made."""
        return list(self._by_field.values())
