"""Note every value that the engine chooses for the caller."""

from typing import TypeVar

from sunhitch.types.basis import Assumption

T = TypeVar("T", bound=float | str | bool)


class Assumptions:
    """Collects assumptions; one entry a field."""

    def __init__(self) -> None:
        self._by_field: dict[str, Assumption] = {}

    def choose(self, field: str, given: T | None, default: T, why: str) -> T:
        """The given value, or the default with a note.

        Parameters
        ----------
        field : str
            JSON Pointer of the request field.
        given : float or str or bool or None
            What the caller said.
        default : float or str or bool
            What to use otherwise.
        why : str
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

    def note(self, field: str, value: float | str | bool, why: str) -> None:
        """Note a value that has no field of its own, or that was derived."""
        self._by_field.setdefault(field, Assumption(field=field, value=value, why=why))

    def merge(self, others: list[Assumption], prefix: str = "") -> None:
        """Take over assumptions of a part, their fields moved under `prefix`."""
        for other in others:
            self.note(prefix + other.field, other.value, other.why)

    def listed(self) -> list[Assumption]:
        """All of them, in the order in which they were made."""
        return list(self._by_field.values())
