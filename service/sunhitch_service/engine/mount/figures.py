"""Named figures of this domain's tables, each with its basis."""

from functools import cache

from sunhitch.texts import Text, together
from sunhitch.types.basis import Basis
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.tables import cell_text, number, table

DOMAIN = "mount"
ROUNDING_M = 1e-9
"""By so much lengths may differ that are told alike [m]: decimals are not exact in binary."""


def row(name: str, key: str) -> dict[str, str]:
    """Row of a table by its first column.

    Raises
    ------
    KeyError
        If there is none.
    """
    return table(DOMAIN, name).by_first[key]


@cache
def figure(name: str, key: str, column: str = "value") -> float:
    """One number out of a table.

    Raises
    ------
    KeyError
        If there is no such row, or the cell is empty.
    """
    value = number(row(name, key), column)
    if value is None:
        raise KeyError(f"{name}: {key} has no {column}")
    return value


@cache
def known(name: str, key: str, column: str) -> float | None:
    """One number out of a table, or None where the table has none."""
    return number(row(name, key), column)


@cache
def why(name: str, key: str) -> Text:
    """Why a figure is what it is: the row's own note before the table's."""
    own = row(name, key)
    notes = [cell_text(own, "row_note")] if "row_note" in own else []
    return together("space", [*notes, *table(DOMAIN, name).notes])


def table_basis(name: str) -> Basis:
    """Source of a whole table."""
    return table(DOMAIN, name).basis


def choose(notes: Assumptions, field: str, given: float | None, name: str, key: str) -> float:
    """The given value, or a table's figure with a note that says why.

    Parameters
    ----------
    notes : Assumptions
        Collects what was chosen.
    field : str
        JSON Pointer of the request field.
    given : float or None
        What the caller said.
    name, key : str
        Table and row of the default.
    """
    return notes.choose(field, given, figure(name, key), why(name, key))
