"""Answers as workbooks of values: what was asked, the checks, and tables, a sheet each."""

from collections.abc import Mapping
from importlib import import_module

from sunhitch.codec import plain_data
from sunhitch.operations import operation_of
from sunhitch.pictures import MEDIA_TYPES
from sunhitch.pointers import leaves
from sunhitch.types.base import Input
from sunhitch.types.check import Answer
from sunhitch.workbook.cells import Cell, CellSheet

from .columns import Columns

SPREADSHEETS: Mapping[str, str] = {MEDIA_TYPES[name]: name for name in (".xlsx", ".ods")}
"""Module that writes a media type, named as the suffix of its files."""
_NARROW, _WIDE = 10.0, 60.0
_CHECK = (
    *("verdict", "subject", "title", "demand", "capacity", "unit", "utilisation_fraction"),
    *("remedy", "note", "code", "basis"),
)


def spreadsheet(
    media_type: str, request: Input, answer: Answer, tables: Mapping[str, Columns], *, whole: bool
) -> bytes:
    """A workbook of an answer.

    Parameters
    ----------
    media_type : str
        One of `SPREADSHEETS`.
    request, answer : Input, Answer
        What was asked, and what is told.
    tables : mapping
        Tables by the name of their sheet.
    whole : bool
        Whether request, checks and sources come along.

    Returns
    -------
    bytes
        The file. Its first sheet holds the `answer_id`.
    """
    sheets = {"about": _about(answer)}
    if whole:
        asked = leaves(plain_data(request))
        given = [(pointer, value) for pointer, value in asked if value is not None]
        sheets["request"] = Columns(("field", "value"), given)
        checks = [[getattr(check, name) for name in _CHECK] for check in answer.checks]
        sheets["checks"] = Columns(_CHECK, checks)
    sheets |= tables
    if whole:
        cited = [(one.key, one.kind, one.reference, one.note) for one in answer.sources]
        sheets["sources"] = Columns(("key", "kind", "reference", "note"), cited)
    writer = import_module(SPREADSHEETS[media_type], "sunhitch.workbook")
    made: bytes = writer.written([_sheet(name, one) for name, one in sheets.items()])
    return made


def _about(answer: Answer) -> Columns:
    counts: dict[str, int] = plain_data(answer.counts)
    told: list[tuple[str, str | int]] = [
        ("calculation", operation_of(answer).title),
        ("answer_id", answer.answer_id),
        ("engine_version", answer.engine.version),
        ("engine_data_sha256", answer.engine.data_sha256),
        ("verdict", answer.verdict),
        *((f"checks {name}", count) for name, count in counts.items()),
        *((f"caution {one.code}", one.text) for one in answer.cautions),
    ]
    return Columns(("what", "value"), told)


def _sheet(name: str, table: Columns) -> CellSheet:
    """A table under its names, in columns as wide as what they hold, within reason."""
    rows = [[Cell(column, "names") for column in table.head]]
    rows += [
        [Cell(value, "text" if isinstance(value, str) else "plain") for value in row]
        for row in table.rows
    ]
    columns = zip(*([str(cell.content) for cell in row] for row in rows), strict=True)
    widths = [min(_WIDE, max(_NARROW, 1.2 * max(map(len, told)))) for told in columns]
    return CellSheet(name, widths, rows, frozen=1)
