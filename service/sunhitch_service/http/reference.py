"""`GET /v1/reference`: the tables that the engine reads, each with its source."""

import math
from dataclasses import dataclass
from functools import partial
from importlib import resources
from typing import Annotated

from litestar.handlers import HTTPRouteHandler

from sunhitch.codec import encode
from sunhitch.types.base import Output
from sunhitch.types.basis import Basis
from sunhitch.types.quantity import count, listing, prose
from sunhitch_service.engine.tables import Table, table
from sunhitch_service.quick.question import Value
from sunhitch_service.quick.writing import table as as_csv

from .reading import CSV, ready
from .requests import JSON

LIST_PATH = "/v1/reference"
TABLE_PATH = "/v1/reference/{table}"


class ReferenceTableInfo(Output, kw_only=True):
    """One table in the list."""

    name: Annotated[str, prose("Last part of its path.", "wiring-nec-table-8")]
    basis: Annotated[Basis, prose("Where its figures come from.")]
    columns: Annotated[
        list[Annotated[str, prose("Name with its unit.", "area_mm2")]],
        listing(1, 200, "Columns, in order."),
    ]
    rows: Annotated[int, count(1, 100_000, "How many there are.", 15)]


class ReferenceTables(Output, kw_only=True):
    """Every table that the engine reads."""

    tables: Annotated[list[ReferenceTableInfo], listing(1, 1000, "By name.")]


class ReferenceTable(Output, kw_only=True):
    """One table with its source."""

    name: Annotated[str, prose("Its name.", "wiring-nec-table-8")]
    basis: Annotated[Basis, prose("Where its figures come from.")]
    columns: Annotated[
        list[Annotated[str, prose("Name with its unit.", "area_mm2")]],
        listing(1, 200, "Columns, in order."),
    ]
    rows: Annotated[
        list[dict[str, float | str | None]],
        listing(1, 100_000, "Values by column; null where the table has none."),
    ]


@dataclass(frozen=True, slots=True)
class Entry:
    """Where a table is.

    Parameters
    ----------
    domain, name : str
        Folder of the engine and file name without ending.
    """

    domain: str
    name: str

    @property
    def slug(self) -> str:
        """Its name in a path."""
        return f"{self.domain}-{self.name.replace('_', '-')}"

    def read(self) -> Table:
        """The table."""
        return table(self.domain, self.name)


def entries() -> tuple[Entry, ...]:
    """Every table of the engine, by name."""
    found = [
        Entry(domain.name, file.name.removesuffix(".csv"))
        for domain in resources.files("sunhitch_service.engine").iterdir()
        if domain.joinpath("data").is_dir()
        for file in domain.joinpath("data").iterdir()
        if file.name.endswith(".csv")
    ]
    return tuple(sorted(found, key=lambda entry: entry.slug))


def reference_handlers() -> list[HTTPRouteHandler]:
    """Handlers of the list and of every table."""
    return [
        ready(LIST_PATH, _list, (JSON, CSV)),
        *(ready(f"{LIST_PATH}/{one.slug}", partial(_table, one), (JSON, CSV)) for one in entries()),
    ]


def _list(media_type: str) -> bytes:
    tables = [(entry.slug, entry.read()) for entry in entries()]
    if media_type == JSON:
        return encode(ReferenceTables(tables=[_info(slug, one) for slug, one in tables]))
    rows: list[dict[str, Value]] = [
        {"name": slug, "rows": len(one.rows), "source": _source(one)} for slug, one in tables
    ]
    return as_csv(("name", "rows", "source"), rows).encode()


def _info(slug: str, one: Table) -> ReferenceTableInfo:
    return ReferenceTableInfo(
        name=slug, basis=one.basis, columns=list(one.rows[0]), rows=len(one.rows)
    )


def _table(entry: Entry, media_type: str) -> bytes:
    one = entry.read()
    columns, rows = list(one.rows[0]), _typed(one)
    if media_type == JSON:
        whole = ReferenceTable(name=entry.slug, basis=one.basis, columns=columns, rows=rows)
        return encode(whole)
    told = {"source": _source(one)}
    return as_csv((*columns, "source"), ({**row, **told} for row in rows)).encode()


def _source(one: Table) -> str:
    return f"{one.basis.reference}: {one.basis.note}" if one.basis.note else one.basis.reference


def _typed(one: Table) -> list[dict[str, float | str | None]]:
    """Rows with numbers in the columns that hold nothing else."""
    numeric = {column for column in one.rows[0] if _all_numbers([row[column] for row in one.rows])}
    return [
        {column: _cell(text, column in numeric) for column, text in row.items()} for row in one.rows
    ]


def _all_numbers(texts: list[str]) -> bool:
    return any(texts) and all(_is_number(text) for text in texts if text)


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def _cell(text: str, numeric: bool) -> float | str | None:
    if not text:
        return None
    return float(text) if numeric else text
