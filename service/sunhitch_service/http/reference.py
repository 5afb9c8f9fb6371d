"""`GET /v1/reference`: the tables that the engine reads, each with its source."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from importlib import resources

from litestar.handlers import HTTPRouteHandler

from sunhitch.codec import encode
from sunhitch.types.basis import Basis
from sunhitch.types.service import ReferenceTable, ReferenceTableInfo, ReferenceTables
from sunhitch_service.drawing.columns import Columns
from sunhitch_service.engine.tables import Table, table

from .reading import ready
from .requests import JSON

LIST_PATH = "/v1/reference"
TABLE_PATH = "/v1/reference/{table}"


@dataclass(frozen=True, slots=True)
class Entry:
    """Where a table is: folder of the engine, and file name without ending."""

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
        ready(LIST_PATH, lambda _: encode(_list()), (JSON,), columns=_list_columns),
        *(
            ready(
                f"{LIST_PATH}/{one.slug}",
                lambda _, one=one: encode(_table(one)),  # type: ignore[misc]
                (JSON,),
                columns=partial(_table_columns, one),
            )
            for one in entries()
        ),
    ]


def _list() -> ReferenceTables:
    return ReferenceTables(tables=[_info(entry.slug, entry.read()) for entry in entries()])


def _list_columns() -> Columns:
    rows = [(one.name, one.rows, _source(one.basis)) for one in _list().tables]
    return Columns(("name", "rows", "source"), rows)


def _info(slug: str, one: Table) -> ReferenceTableInfo:
    return ReferenceTableInfo(
        name=slug, basis=one.basis, columns=list(one.rows[0]), rows=len(one.rows)
    )


def _table(entry: Entry) -> ReferenceTable:
    one = entry.read()
    columns, rows = list(one.rows[0]), _typed(one)
    return ReferenceTable(name=entry.slug, basis=one.basis, columns=columns, rows=rows)


def _table_columns(entry: Entry) -> Columns:
    one = _table(entry)
    rows = [[*row.values(), _source(one.basis)] for row in one.rows]
    return Columns([*one.columns, "source"], rows)


def _source(basis: Basis) -> str:
    return f"{basis.reference}: {basis.note}" if basis.note else basis.reference


def _typed(one: Table) -> list[dict[str, float | str | None]]:
    """Rows with numbers in the columns that hold nothing else."""
    columns = [_column([row[name] for row in one.rows]) for name in one.rows[0]]
    return [dict(zip(one.rows[0], cells, strict=True)) for cells in zip(*columns, strict=True)]


def _column(texts: list[str]) -> Sequence[float | str | None]:
    try:
        numbers = [float(text) if text else None for text in texts]
    except ValueError:
        numbers = [math.nan]
    if all(one is None or math.isfinite(one) for one in numbers):
        return numbers
    return [text or None for text in texts]
