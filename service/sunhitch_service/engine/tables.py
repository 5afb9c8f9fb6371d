"""Cached reader of the engine's own tables: CSV files whose first line names their source."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

from sunhitch.types.basis import Basis

from .sources import basis


@dataclass(frozen=True, slots=True)
class Table:
    """A table with its source.

    Parameters
    ----------
    name : str
        File name without ending.
    basis : Basis
        Source of the whole table.
    rows : tuple of dict
        Rows as text by column name; empty cells are absent values.
    """

    name: str
    basis: Basis
    rows: tuple[dict[str, str], ...]

    def row(self, column: str, value: str) -> dict[str, str]:
        """First row with `value` in `column`.

        Raises
        ------
        KeyError
            If there is none.
        """
        for row in self.rows:
            if row[column] == value:
                return row
        raise KeyError(f"{self.name}: no row with {column} = {value}")


@cache
def table(domain: str, name: str) -> Table:
    """Read `engine/<domain>/data/<name>.csv`.

    The first line is ``# source-key | clause | note``; the second holds the column names, which
    carry units; a column named `row_note` marks single rows, for example as recalled from memory.

    Parameters
    ----------
    domain, name : str
        Folder of the calculation and file name without ending.

    Returns
    -------
    Table
        Rows and their source.

    Raises
    ------
    FileNotFoundError
        If there is no such table.
    ValueError
        If the first line does not name a source.
    """
    path = resources.files("sunhitch_service.engine").joinpath(domain, "data", f"{name}.csv")
    first, *lines = path.read_text("utf-8").splitlines()
    if not first.startswith("# "):
        raise ValueError(f"{domain}/{name}.csv: the first line must name the source")
    key, clause, note = (part.strip() for part in first[2:].split("|"))
    return Table(name, basis(key, clause, note), tuple(csv.DictReader(lines)))


def number(row: dict[str, str], column: str) -> float | None:
    """Value of a cell, or None where the table has none."""
    text = row[column]
    return float(text) if text else None
