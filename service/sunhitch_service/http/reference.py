"""`GET /v1/reference`: the tables that the engine reads, each with its source."""

from functools import partial

from litestar.handlers import HTTPRouteHandler

from sunhitch.codec import encode
from sunhitch.types.basis import Basis
from sunhitch.types.service import ReferenceTable, ReferenceTableInfo, ReferenceTables
from sunhitch_service.drawing.columns import Columns
from sunhitch_service.engine.tables import table, table_names

from .reading import ready
from .requests import JSON

LIST_PATH = "/v1/reference"
TABLE_PATH = "/v1/reference/{table}"


def reference_handlers() -> list[HTTPRouteHandler]:
    """Handlers of the list and of every table."""
    return [
        ready(LIST_PATH, lambda _: encode(_list()), (JSON,), columns=_list_columns),
        *(
            ready(
                f"{LIST_PATH}/{name}",
                lambda _, name=name: encode(_table(name)),  # type: ignore[misc]
                (JSON,),
                columns=partial(_table_columns, name),
            )
            for name in table_names()
        ),
    ]


def _list() -> ReferenceTables:
    infos: list[ReferenceTableInfo] = []
    for name, where in table_names().items():
        one = table(*where)
        columns, count = list(one.rows[0]), len(one.rows)
        infos.append(ReferenceTableInfo(name=name, basis=one.basis, columns=columns, rows=count))
    return ReferenceTables(tables=infos)


def _list_columns() -> Columns:
    rows = [(one.name, one.rows, _source(one.basis)) for one in _list().tables]
    return Columns(("name", "rows", "source"), rows)


def _table(name: str) -> ReferenceTable:
    one = table(*table_names()[name])
    rows = one.typed_rows()
    return ReferenceTable(name=name, basis=one.basis, columns=list(rows[0]), rows=rows)


def _table_columns(name: str) -> Columns:
    one = _table(name)
    rows = [[*row.values(), _source(one.basis)] for row in one.rows]
    return Columns([*one.columns, "source"], rows)


def _source(basis: Basis) -> str:
    return f"{basis.reference}: {basis.note}" if basis.note else basis.reference
