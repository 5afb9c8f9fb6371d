"""Cached reader of the engine's own tables: CSV files whose first line names their source."""

import csv
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from importlib import resources
from typing import cast

from sunhitch.texts import Text
from sunhitch.types.basis import Basis

from .sources import basis, checked

TEXTS = (
    "row_note",
    "meaning",
    "drop_why",
    "reason",
    "text",
    "title",
    "note",
    "how",
    "test",
    "place",
    "poles",
)
"""Columns whose cells are told to people."""


@dataclass(frozen=True)
class Table:
    """A table with its source.

    Parameters
    ----------
    name : str
        File name without ending.
    basis : Basis
        Source of the whole table.
    notes : tuple of Text
        What to know of the table, and how its source was checked.
    rows : tuple of dict
        Rows as text by column name; empty cells are absent values, and cells told to people are
        texts with a code.
    """

    name: str
    basis: Basis
    notes: tuple[Text, ...]
    rows: tuple[dict[str, str], ...]

    @cached_property
    def by_first(self) -> dict[str, dict[str, str]]:
        """Rows by their first cells."""
        return {next(iter(row.values())): row for row in self.rows}

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

    def typed_rows(self) -> list[dict[str, float | str | None]]:
        """Rows with numbers in the columns that hold nothing else; None for empty cells."""
        columns = [_typed([row[name] for row in self.rows]) for name in self.rows[0]]
        return [dict(zip(self.rows[0], cells, strict=True)) for cells in zip(*columns, strict=True)]


def _typed(texts: list[str]) -> Sequence[float | str | None]:
    try:
        numbers = [float(text) if text else None for text in texts]
    except ValueError:
        numbers = [math.nan]
    if all(one is None or math.isfinite(one) for one in numbers):
        return numbers
    return [text or None for text in texts]


def table_names() -> dict[str, tuple[str, str]]:
    """Folder and file name of every table of the engine, by both in one word, in its order."""
    found = [
        (domain.name, file.name.removesuffix(".csv"))
        for domain in resources.files("sunhitch_service.engine").iterdir()
        if domain.joinpath("data").is_dir()
        for file in domain.joinpath("data").iterdir()
        if file.name.endswith(".csv")
    ]
    return dict(
        sorted((f"{domain}-{name.replace('_', '-')}", (domain, name)) for domain, name in found)
    )


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
    code = f"{domain}-{name}".replace("_", "-")
    own = Text(note, f"{code}.note", {})
    told = tuple(note for note in (own, checked(key)) if note)
    return Table(name, basis(key, clause, own), told, _coded(list(csv.DictReader(lines)), code))


def _coded(rows: list[dict[str, str]], table_code: str) -> tuple[dict[str, str], ...]:
    """Rows whose texts have codes, made of table, first cells and column."""
    cells = [list(row.values()) for row in rows]
    told_apart = (
        count
        for count in range(1, len(rows[0]))
        if len({tuple(own[:count]) for own in cells}) == len(rows)
    )
    key_cells = next(told_apart, len(rows[0]))
    for row, own in zip(rows, cells, strict=True):
        for name in row.keys() & TEXTS:
            code = "-".join([table_code, *own[:key_cells]])
            code = re.sub(r"[^A-Za-z0-9.]+", "-", code)
            row[name] = Text(row[name], f"{code}.{name.replace('_', '-')}", {})
    return tuple(rows)


def cell_text(row: dict[str, str], column: str) -> Text:
    """A cell of one of the columns `TEXTS`."""
    return cast("Text", row[column])


def number(row: dict[str, str], column: str) -> float | None:
    """Value of a cell, or None where the table has none."""
    text = row[column]
    return float(text) if text else None
