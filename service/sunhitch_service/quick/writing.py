"""An answer as comma-separated columns, or one value of it as plain text."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from .question import Value

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
        writer.writerow("" if value is None else plain(value) for value in values)
    return text.getvalue()
