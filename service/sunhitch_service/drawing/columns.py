"""Tables of values, and how they are written as comma-separated text."""

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal as PlainDecimal
from typing import Any, Literal, TypeAlias

import msgspec

from sunhitch.codec import plain_data
from sunhitch.pointers import Json, leaves

Value: TypeAlias = float | int | str | bool | None
Decimal = Literal["point", "comma"]
Separator = Literal["comma", "semicolon", "tab"]

_SIGNS: dict[str, str] = {"point": ".", "comma": ",", "semicolon": ";", "tab": "\t"}
_BYTE_ORDER_MARK = "\ufeff"
"""Without it spreadsheets read UTF-8 as the country's old encoding."""
_FULL_WIDTH = 0xFEE0
_FORMULA_SIGNS = tuple(chr(ord(sign) + wide) for sign in "=+-@" for wide in (0, _FULL_WIDTH))
"""What formulas begin with, also in full width."""
_DIGITS = 12
"""Significant digits: all that any rule or figure can mean, without binary remainders."""


@dataclass(frozen=True, slots=True)
class Columns:
    """A table: names of the columns, and rows of values."""

    head: Sequence[str]
    rows: Sequence[Sequence[Value]]


@dataclass(frozen=True, slots=True)
class CsvStyle:
    """How a country's spreadsheets write tables.

    Parameters
    ----------
    decimal : {'point', 'comma'}
        Sign before the decimals.
    separator : {'comma', 'semicolon', 'tab'} or None
        Between cells; a comma, or a semicolon where decimals have the comma, if not given.
    """

    decimal: Decimal = "point"
    separator: Separator | None = None

    @property
    def is_readable(self) -> bool:
        """Whether decimals and cells can be told apart."""
        return self.decimal != self.separator

    def written(self, table: Columns) -> str:
        """The table as text (RFC 4180), with a byte-order mark.

        What a spreadsheet would run as a formula is marked as text.
        """
        text = io.StringIO()
        usual = "semicolon" if self.decimal == "comma" else "comma"
        delimiter = _SIGNS[self.separator or usual]
        writer = csv.writer(text, delimiter=delimiter, lineterminator="\r\n")
        writer.writerow(table.head)
        writer.writerows([self._cell(value) for value in row] for row in table.rows)
        return _BYTE_ORDER_MARK + text.getvalue()

    def _cell(self, value: Value) -> str:
        if value is None:
            return ""
        told = plain(value)
        if not isinstance(value, str):
            return told.replace(".", _SIGNS[self.decimal])
        runs = told[:1].isspace() or told.startswith(_FORMULA_SIGNS)
        return f"'{told}" if runs else told


def as_csv(columns: Callable[[Any], Columns], _request: object, answer: object) -> str:
    """A table of an answer as CSV in the usual style."""
    return CsvStyle().written(columns(answer))


def plain(value: Value) -> str:
    """A value alone: numbers in plain decimal with a point, never with an exponent; no line end.

    Parameters
    ----------
    value : float, int, str, bool or None
        One value of an answer.

    Returns
    -------
    str
        ``none`` where there is nothing to tell.
    """
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return value
    return format(PlainDecimal(f"{value:.{_DIGITS}g}"), "f")


def columns_of(rows: Sequence[msgspec.Struct]) -> Columns:
    """Structs of one kind, a row each; lists of words in one cell."""
    head = rows[0].__struct_fields__ if rows else ()
    return Columns(head, [[_value(one) for one in msgspec.structs.astuple(row)] for row in rows])


def _value(told: object) -> Value:
    if told is None or isinstance(told, str | int | float):
        return told
    words: Json = plain_data(told)
    if isinstance(words, list):
        return "; ".join(plain(one) for _, one in leaves(words))
    return msgspec.json.encode(words).decode()
