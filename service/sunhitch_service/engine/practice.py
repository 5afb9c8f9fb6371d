"""Customary figures by name, each a row of one table: value, meaning, note."""

from dataclasses import dataclass
from functools import cached_property

from sunhitch.texts import Text, statement
from sunhitch.types.basis import Basis

from .assumptions import Assumptions
from .sources import basis
from .tables import cell_text, table


@dataclass(frozen=True)
class Practice:
    """One domain's table of common practice, with the columns name, value, meaning and row_note.

    Parameters
    ----------
    domain, name : str
        Folder of the calculation, and file name without ending.
    """

    domain: str
    name: str

    @cached_property
    def _rows(self) -> dict[str, dict[str, str]]:
        return table(self.domain, self.name).by_first

    def figure(self, name: str) -> float:
        """Value of a row.

        Raises
        ------
        KeyError
            If there is no such row.
        """
        return float(self._rows[name]["value"])

    def why(self, name: str) -> Text:
        """The same as a reason for an assumption."""
        row = self._rows[name]
        if not row["row_note"]:
            return statement("common-practice", meaning=row["meaning"])
        return statement("common-practice-note", meaning=row["meaning"], note=row["row_note"])

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
        row = self._rows[name]
        return basis("practice", row["meaning"], cell_text(row, "row_note"))
