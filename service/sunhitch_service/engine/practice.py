"""Customary figures by name, each a row of one table: value, meaning, note."""

from dataclasses import dataclass
from functools import cache

from sunhitch.texts import Text, statement
from sunhitch.types.basis import Basis

from .assumptions import Assumptions
from .sources import basis
from .tables import cell_text, table


@dataclass(frozen=True, slots=True)
class Practice:
    """One domain's table of common practice, with the columns name, value, meaning and row_note.

    Parameters
    ----------
    domain, name : str
        Folder of the calculation, and file name without ending.
    """

    domain: str
    name: str

    def figure(self, name: str) -> float:
        """Value of a row.

        Raises
        ------
        KeyError
            If there is no such row.
        """
        return _value(self.domain, self.name, name)

    def why(self, name: str) -> Text:
        """The same as a reason for an assumption."""
        return _why(self.domain, self.name, name)

    def usual(self, notes: Assumptions, field: str, given: float | None, name: str) -> float:
        """The given value, or the customary one with a note among the assumptions.

        Parameters
        ----------
        notes : Assumptions
            Takes the note.
        field : str
            JSON Pointer.
        given : float or None
            What the caller said.
        name : str
            Row of the table.
        """
        return notes.choose(field, given, self.figure(name), self.why(name))

    def basis(self, name: str) -> Basis:
        """Where it comes from."""
        row = _row(self.domain, self.name, name)
        return basis("practice", row["meaning"], cell_text(row, "row_note"))


@cache
def _row(domain: str, table_name: str, name: str) -> dict[str, str]:
    return table(domain, table_name).row("name", name)


@cache
def _why(domain: str, table_name: str, name: str) -> Text:
    row = _row(domain, table_name, name)
    if not row["row_note"]:
        return statement("common-practice", meaning=row["meaning"])
    return statement("common-practice-note", meaning=row["meaning"], note=row["row_note"])


@cache
def _value(domain: str, table_name: str, name: str) -> float:
    return float(_row(domain, table_name, name)["value"])
