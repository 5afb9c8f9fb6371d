"""What never changes: tables that the engine reads, codes, and JSON Schemas of requests."""

import json
from collections.abc import Callable, Sequence
from functools import partial

from litestar.handlers import HTTPRouteHandler

from sunhitch.codec import encode
from sunhitch.questions import QUESTIONS
from sunhitch.types.basis import Basis
from sunhitch.types.service import ReferenceTable, ReferenceTableInfo, ReferenceTables
from sunhitch_service.calculations.calculation import AnyCalculation
from sunhitch_service.drawing.columns import Columns
from sunhitch_service.engine.tables import table, table_names
from sunhitch_service.schema import paths
from sunhitch_service.schema.codes import codes
from sunhitch_service.schema.requests import question_schema, request_schema
from sunhitch_service.schema.schemas import Schema
from sunhitch_service.tasks.media_types import JSON_SCHEMA

from .reading import ready


def reference_handlers(endpoints: Sequence[AnyCalculation]) -> list[HTTPRouteHandler]:
    """Handlers of all tables and their list, of the codes, and of the schema of every call."""
    return [
        ready(paths.TABLES, lambda: encode(_list()), columns=_list_columns),
        *map(_handler, table_names()),
        ready(paths.CODES, lambda: encode(codes())),
        *(_schema(one.operation.name, partial(request_schema, one.operation)) for one in endpoints),
        *(_schema(one.name, partial(question_schema, one)) for one in QUESTIONS),
    ]


def _handler(name: str) -> HTTPRouteHandler:
    columns = partial(_table_columns, name)
    path = paths.TABLE.format(table=name)
    return ready(path, lambda: encode(_table(name)), columns=columns)


def _schema(name: str, make: Callable[[], Schema]) -> HTTPRouteHandler:
    path = paths.SCHEMA.format(name=name)
    return ready(path, lambda: json.dumps(make(), ensure_ascii=False).encode(), JSON_SCHEMA)


def _list() -> ReferenceTables:
    found = {name: table(*where) for name, where in table_names().items()}
    return ReferenceTables(
        tables=[
            ReferenceTableInfo(
                name=name, basis=one.basis, columns=list(one.rows[0]), rows=len(one.rows)
            )
            for name, one in found.items()
        ]
    )


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
