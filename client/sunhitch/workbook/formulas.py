"""Every cell of the sheet, with formulas spelled for either format."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from . import style
from .layout import (
    ADDRESS,
    CONVERTED,
    CUSTOMARY,
    EntryCell,
    Heading,
    Product,
    Reply,
    Row,
    Shown,
    cells,
    placed,
    verdict_range,
)


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell, the same in both formats.

    Parameters
    ----------
    content : str or float
        Text, number or formula.
    look : str
        Name of its style.
    kind : str
        ``given``, or what a formula gives: ``number`` or ``text``.
    words : sequence of str
        Choices, where it is one of them.
    """

    content: Shown
    look: str = "plain"
    kind: Literal["given", "number", "text"] = "given"
    words: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a format spells formulas.

    Parameters
    ----------
    opening, separator : str
        Before the formula, and between arguments.
    web, number : str
        Names of WEBSERVICE and NUMBERVALUE.
    cell, area : callable
        References to a cell, and to a range.
    """

    opening: str
    separator: str
    web: str
    number: str
    cell: Callable[[str], str]
    area: Callable[[str, str], str]

    def call(self, name: str, *arguments: str) -> str:
        """A function call."""
        return f"{name}({self.separator.join(arguments)})"


OFFICE_OPEN = Dialect(
    "=", ",", "_xlfn.WEBSERVICE", "_xlfn.NUMBERVALUE", str, lambda first, last: f"{first}:{last}"
)
OPEN_DOCUMENT = Dialect(
    "of:=",
    ";",
    "COM.MICROSOFT.WEBSERVICE",
    "NUMBERVALUE",
    lambda name: f"[.{name}]",
    lambda first, last: f"[.{first}:.{last}]",
)


def sheet(spelled: Dialect, service: str) -> Iterator[list[Cell]]:
    """Rows of the sheet from its top, each from the first column on.

    Parameters
    ----------
    spelled : Dialect
        Of the format.
    service : str
        Address of the service.
    """
    yield [Cell(style.TITLE, "title"), Cell(_overall(spelled), "overall", "text")]
    yield [Cell(name, "names") for name, _ in style.COLUMNS]
    for number, row in placed():
        yield _row(row, f"B{number}", f"F{number}", spelled, service)


def _row(row: Row, value: str, fetched: str, spelled: Dialect, service: str) -> list[Cell]:
    if isinstance(row, Heading):
        return [Cell(row.text, "heading"), *[Cell("", "heading")] * (len(style.COLUMNS) - 2)]
    label, unit = Cell(row.label), Cell(row.unit)
    if isinstance(row, Product):
        return [label, Cell(_product(row, spelled), "answer", "number"), unit]
    beside = [Cell(""), Cell("")]
    if row.customary:
        formula = _customary(row, value, spelled)
        beside = [Cell(formula, "figure", "number"), Cell(CUSTOMARY[row.customary])]
    if isinstance(row, EntryCell):
        given = service if row.key == ADDRESS else row.value
        return [label, Cell(given, "entry", words=row.words), unit, *beside]
    kind: Literal["number", "text"] = "text" if row.words else "number"
    shown = Cell(_show(row, fetched, spelled), "figure" if row.unit else "answer", kind)
    return [label, shown, unit, *beside, Cell(_ask(row, spelled), "plain", "text")]


def _ask(reply: Reply, spelled: Dialect) -> str:
    """Formula that fetches an answer as text."""
    where = cells()
    fixed = f"/v1/quick/{reply.question}?format=txt&errors=text&field={reply.field}{reply.fixed}"
    parts = [spelled.cell(where[ADDRESS]), f'"{fixed}"']
    for parameter, key in reply.given.items():
        parts += [f'"&{parameter}="', _pointed(spelled, where[key])]
    return spelled.opening + spelled.call(spelled.web, "&".join(parts))


def _pointed(spelled: Dialect, cell: str) -> str:
    """A cell as text, with a point where the country writes a decimal comma."""
    return spelled.call("SUBSTITUTE", spelled.cell(cell), '","', '"."')


def _show(reply: Reply, fetched: str, spelled: Dialect) -> str:
    """Formula that shows a fetched answer: a number where it is one, else its text."""
    text = spelled.cell(fetched)
    if reply.words:
        return spelled.opening + text
    number = spelled.call(spelled.number, text, '"."')
    return spelled.opening + spelled.call("IFERROR", number, text)


def _product(row: Product, spelled: Dialect) -> str:
    """Formula of a figure that the sheet multiplies itself."""
    where = cells()
    return spelled.opening + "*".join(spelled.cell(where[key]) for key in row.factors)


def _customary(row: EntryCell | Reply, cell: str, spelled: Dialect) -> str:
    """Formula of the same figure in a US customary unit."""
    units = (f'"{CONVERTED[row.unit]}"', f'"{row.customary}"')
    converted = spelled.call("CONVERT", spelled.cell(cell), *units)
    return spelled.opening + spelled.call("IFERROR", converted, '""')


def _overall(spelled: Dialect) -> str:
    """Formula of the worst verdict on the sheet; an answer that is missing counts as worst."""
    area = spelled.area(*verdict_range())

    def there_is(pattern: str) -> str:
        return spelled.call("COUNTIF", area, f'"{pattern}"') + ">0"

    worst = '"pass"'
    for word in ("review", "not-assessed", "fail"):
        worst = spelled.call("IF", there_is(word), f'"{word}"', worst)
    faults = spelled.call("SUMPRODUCT", f"--{spelled.call('ISERROR', area)}") + ">0"
    errors = spelled.call("SUMPRODUCT", f'--({spelled.call("LEFT", area, "6")}="Error:")') + ">0"
    asked = spelled.call("IF", errors, '"mend the errors below"', worst)
    return spelled.opening + spelled.call("IF", faults, '"no answer from the service"', asked)
