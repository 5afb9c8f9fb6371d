"""An answer as comma-separated columns, as flat XML, or one value of it as plain text."""

import csv
import io
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from sunhitch_service.engine.stamp import stamp

from .question import Value

_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
_DIGITS = 12
"""Significant digits: all that any rule or figure can mean, without binary remainders."""


def plain(value: Value) -> str:
    """A value alone: numbers in plain decimal with a point, never with an exponent; no line end.

    Parameters
    ----------
    value : float, int, str or None
        One value of an answer.

    Returns
    -------
    str
        ``none`` where there is nothing to tell.
    """
    if value is None:
        return "none"
    if isinstance(value, str):
        return value
    return format(Decimal(f"{value:.{_DIGITS}g}"), "f")


def table(columns: Sequence[str], rows: Iterable[Mapping[str, Value]]) -> str:
    """Rows as CSV (RFC 4180) under a line with the columns' names; absent values are empty.

    Parameters
    ----------
    columns : sequence of str
        Columns, in order.
    rows : iterable of mapping
        Values by column.
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(columns)
    for row in rows:
        values = [row[column] for column in columns]
        writer.writerow(_cell(value) for value in values)
    return text.getvalue()


def as_xml(row: Mapping[str, Value]) -> bytes:
    """One element for each value, which spreadsheets read by path: ``//loss_w``, ``/*/@version``.

    Parameters
    ----------
    row : mapping
        Values by name; an absent one is an empty element.
    """
    engine = stamp()
    answer = ET.Element("answer", version=engine.version, data_sha256=engine.data_sha256)
    for name, value in row.items():
        ET.SubElement(answer, name).text = "" if value is None else plain(value)
    told: bytes = ET.tostring(answer, encoding="utf-8", xml_declaration=True)
    return told


def _cell(value: Value) -> str:
    """A text that a spreadsheet could run as a formula is marked as text."""
    if value is None:
        return ""
    told = plain(value)
    return f"'{told}" if isinstance(value, str) and told.startswith(_FORMULA_SIGNS) else told
