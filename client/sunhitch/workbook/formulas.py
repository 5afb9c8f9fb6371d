"""The sheets of the workbook, with formulas spelled for either format."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from sunhitch.questions import described

from .cells import Cell, CellSheet, Look
from .layout import (
    ADDRESS,
    CONVERTED,
    CUSTOMARY,
    ENTRIES,
    KEY,
    NOTES,
    QUESTIONS,
    AnswerCell,
    Asked,
    EntryCell,
    Product,
    reached,
    taken,
    unit_of,
)

INPUTS, ANSWERS, ASSUMED, REQUESTS, READ_FIRST = (
    *("Inputs", "Answers", "Assumed", "Requests"),
    "Read first",
)
_INPUT_COLUMNS = (("What", 40.0), ("Value", 30.0), ("Unit", 7.0), ("US", 9.0), ("Unit", 6.0))
_RANGE = ("From, to", 22.0)
_REMEDY, _ASSUMED = ("What to change", 36.0), ("Assumed", 42.0)
_TOLD = (("Question", 28.0), ("Assumed", 70.0), ("Caution", 60.0), ("Source", 60.0))
_ASKED = (("Question", 34.0), ("Address", 90.0), ("Answer as fetched", 60.0))
_NOTE_WIDTH = 110.0
_TOP = 3
"""Rows above the first block: title, engine, names of the columns."""
_ROOM_PT, _LINE_PT, _TITLE_PT, _CAUTION_PT = 48.0, 15.0, 28.0, 56.0
"""Least height of a block, so that what to change fits beside it, of a line, of the title, and
of a caution."""
_MOST_SHOWN = 190
"""Characters of what is assumed that fit beside the answers."""


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a format spells formulas.

    Parameters
    ----------
    opening, separator : str
        Before the formula, and between arguments.
    web, number : str
        Names of WEBSERVICE and NUMBERVALUE.
    cell : callable
        Reference to a cell of a sheet.
    area : callable
        Reference to a range of a sheet.
    """

    opening: str
    separator: str
    web: str
    number: str
    cell: Callable[[str, str], str]
    area: Callable[[str, str, str], str]

    def call(self, name: str, *arguments: str) -> str:
        """A function call."""
        return f"{name}({self.separator.join(arguments)})"

    def when(self, condition: str, then: str, otherwise: str) -> str:
        """One or the other."""
        return self.call("IF", condition, then, otherwise)


DIALECTS = {
    ".xlsx": Dialect(
        "=",
        ",",
        "_xlfn.WEBSERVICE",
        "_xlfn.NUMBERVALUE",
        lambda sheet, name: f"{sheet}!{name}",
        lambda sheet, first, last: f"{sheet}!{first}:{last}",
    ),
    ".ods": Dialect(
        "of:=",
        ";",
        "COM.MICROSOFT.WEBSERVICE",
        "NUMBERVALUE",
        lambda sheet, name: f"[${sheet}.{name}]",
        lambda sheet, first, last: f"[${sheet}.{first}:.{last}]",
    ),
}
"""By the suffix of a file, which names the module that writes it, too."""


@cache
def places() -> dict[str, tuple[str, str]]:
    """Sheet and cell of every entry and figure, by key."""
    entries = ([row.key for row in rows] for rows in ENTRIES.values())
    figures = ([one.key for one in asked.figures] for asked in QUESTIONS)
    found: dict[str, tuple[str, str]] = {}
    for sheet, blocks in ((INPUTS, entries), (ANSWERS, figures)):
        heading = _TOP + 1
        for keys in blocks:
            found |= {key: (sheet, f"B{heading + n}") for n, key in enumerate(keys, 1)}
            heading += 1 + len(keys)
    return found


def small_build(spelled: Dialect, service: str) -> list[CellSheet]:
    """Sheets of the workbook.

    Parameters
    ----------
    spelled : Dialect
        Of the format.
    service : str
        Address of the service, as on the sheet.
    """
    writer = _Formulas(spelled)
    return [
        _inputs(writer, service),
        _answers(writer),
        _assumed(writer),
        _requests(writer),
        CellSheet(READ_FIRST, [_NOTE_WIDTH], [[Cell(note, "text")] for note in NOTES]),
    ]


def _named(columns: tuple[tuple[str, float], ...]) -> list[Cell]:
    return [Cell(name, "names") for name, _ in columns]


def _widths(columns: tuple[tuple[str, float], ...]) -> list[float]:
    return [width for _, width in columns]


def _inputs(writer: "_Formulas", service: str) -> CellSheet:
    columns = (*_INPUT_COLUMNS, _RANGE)
    sheet = _printed(INPUTS, columns, writer)
    for heading, rows in ENTRIES.items():
        sheet.rows.append([Cell(heading, "band", columns=len(columns))])
        sheet.rows += [writer.input_row(row, service) for row in rows]
    return sheet


def _answers(writer: "_Formulas") -> CellSheet:
    columns = (*_INPUT_COLUMNS, _REMEDY, _ASSUMED)
    sheet = _printed(ANSWERS, columns, writer)
    for number, asked in enumerate(QUESTIONS):
        sheet.rows.append([Cell(asked.title, "band", columns=len(columns))])
        count = len(asked.figures)
        for index, figure in enumerate(asked.figures):
            beside = [Cell(look="small"), Cell(look="small")]
            if index == 0:
                beside = [
                    Cell(writer.remedy(number), "small", "text", rows=count),
                    Cell(writer.assumed(number), "small", "text", rows=count),
                ]
            sheet.heights[len(sheet.rows)] = max(_LINE_PT, _ROOM_PT / count)
            sheet.rows.append([*writer.answer_row(number, figure), *beside])
    sheet.rows.append([Cell("Cautions", "band", columns=len(columns))])
    for number, asked in enumerate(QUESTIONS):
        if asked.warns:
            sheet.heights[len(sheet.rows)] = _CAUTION_PT
            told = writer.text(number, "caution")
            sheet.rows.append([Cell(told, "small", "text", columns=len(columns))])
    return sheet


def _printed(name: str, columns: tuple[tuple[str, float], ...], writer: "_Formulas") -> CellSheet:
    """A sheet with its head: the worst verdict, the engine, names of columns."""
    head = [
        [Cell("Small build", "title"), Cell(writer.overall(), "verdict", "text")],
        [Cell("Engine", "unit"), Cell(writer.engine(), "unit", "text")],
        _named(columns),
    ]
    return CellSheet(name, _widths(columns), head, {0: _TITLE_PT}, _TOP, printed=True)


def _assumed(writer: "_Formulas") -> CellSheet:
    sheet = CellSheet(ASSUMED, _widths(_TOLD), [_named(_TOLD)], frozen=1)
    for number, asked in enumerate(QUESTIONS):
        told = (writer.text(number, name) for name in ("assumed", "caution", "basis"))
        sheet.rows.append([Cell(asked.title, "text"), *(Cell(one, "text", "text") for one in told)])
    return sheet


def _requests(writer: "_Formulas") -> CellSheet:
    sheet = CellSheet(REQUESTS, _widths(_ASKED), [_named(_ASKED)], frozen=1)
    for number, asked in enumerate(QUESTIONS):
        sheet.heights[len(sheet.rows)] = 2 * _LINE_PT
        sheet.rows.append(
            [
                Cell(asked.title, "small"),
                Cell(writer.address(asked), "small", "text"),
                Cell(writer.fetched(number), "small", "text"),
            ]
        )
    return sheet


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'


class _Formulas:
    """Formulas of every kind of cell."""

    def __init__(self, spelled: Dialect) -> None:
        self._spelled = spelled

    def input_row(self, row: EntryCell | Product, service: str) -> list[Cell]:
        label = Cell(row.label)
        if isinstance(row, Product):
            product = "*".join(self._at(key) for key in row.factors)
            shown = Cell(self._spelled.opening + product, "figure", "number")
            return [label, shown, Cell(row.unit, "unit"), *([Cell(look="unit")] * 3)]
        taken_ = taken(row.key)
        value = Cell(service if row.key == ADDRESS else row.value, "entry", takes=taken_)
        unit = unit_of(reached(row.key)[0]) if taken_ else ""
        limits = Cell(taken_.range if taken_ else "", "unit")
        return [label, value, Cell(unit, "unit"), *self._customary(row, unit), limits]

    def answer_row(self, number: int, figure: AnswerCell) -> list[Cell]:
        schema = described(QUESTIONS[number].question.answered)[figure.field]
        label, unit = Cell(figure.label), unit_of(schema)
        if schema.get("type") in ("number", "integer"):
            look: Look = "figure" if unit else "plain"
            shown = Cell(self._figure(number, figure.field), look, "number")
        else:
            judged = figure.field == "verdict"
            shown = Cell(self.text(number, figure.field), "verdict" if judged else "plain", "text")
        return [label, shown, Cell(unit, "unit"), *self._customary(figure, unit)]

    def address(self, asked: Asked) -> str:
        """What is asked, without the key; an empty cell is left out."""
        call = self._spelled.call
        service = self._at(ADDRESS)
        slash = f'{call("RIGHT", service)}="/"'
        shorter = call("LEFT", service, f"{call('LEN', service)}-1")
        fixed = "".join(f"&{name}={word}" for name, word in asked.fixed.items())
        query = f"{asked.question.path}?format=xml&errors=text{fixed}"
        parts = [self._spelled.when(slash, shorter, service), f'"{query}"']
        for parameter, key in asked.given.items():
            cell = self._at(key)
            pointed = call("SUBSTITUTE", cell, '","', '"."')
            parts.append(self._spelled.when(f'{cell}=""', '""', f'"&{parameter}="&{pointed}'))
        return self._spelled.opening + "&".join(parts)

    def fetched(self, number: int) -> str:
        """The whole answer, in one request."""
        key = self._at(KEY)
        with_key = self._spelled.when(f'{key}=""', '""', f'"&{KEY}="&{key}')
        address = self._spelled.cell(REQUESTS, f"B{number + 2}")
        return self._spelled.opening + self._spelled.call(
            self._spelled.web, f"{address}&{with_key}"
        )

    def text(self, number: int, name: str) -> str:
        """A text of an answer; `Error` where there is none."""
        return self._spelled.opening + self._text(number, name, '"Error"')

    def remedy(self, number: int) -> str:
        """What to change, or what is wrong with the request."""
        answer = self._answer(number)
        failed = f'{self._spelled.call("LEFT", answer, "6")}="Error:"'
        names = described(QUESTIONS[number].question.answered)
        told = self._text(number, "remedy", '""') if "remedy" in names else '""'
        return self._spelled.opening + self._spelled.when(failed, answer, told)

    def assumed(self, number: int) -> str:
        """What is assumed, as far as it fits."""
        call, whole = self._spelled.call, self._spelled.cell(ASSUMED, f"B{number + 2}")
        long = f"{call('LEN', whole)}>{_MOST_SHOWN}"
        short = f'{call("LEFT", whole, str(_MOST_SHOWN))}&"… (sheet {ASSUMED})"'
        return self._spelled.opening + self._spelled.when(long, short, whole)

    def engine(self) -> str:
        """Version of the engine that answers."""
        told = self._between(0, 'version="', '"')
        return self._spelled.opening + self._spelled.call("IFERROR", told, '"no answer"')

    def overall(self) -> str:
        """The worst verdict on the sheet; an answer that is missing counts as worst."""
        call, when = self._spelled.call, self._spelled.when
        cells = [name for sheet, name in places().values() if sheet == ANSWERS]
        area = self._spelled.area(ANSWERS, cells[0], cells[-1])
        worst = _quoted("pass")
        for word in ("review", "not-assessed", "fail"):
            worst = when(f"{call('COUNTIF', area, _quoted(word))}>0", _quoted(word), worst)
        errors = f"{call('COUNTIF', area, _quoted('Error'))}>0"
        worst = when(errors, _quoted("mend the errors"), worst)
        faults = f"{call('SUMPRODUCT', '--' + call('ISERROR', area))}>0"
        return self._spelled.opening + when(faults, _quoted("no service"), worst)

    def _at(self, key: str) -> str:
        return self._spelled.cell(*places()[key])

    def _answer(self, number: int) -> str:
        return self._spelled.cell(REQUESTS, f"C{number + 2}")

    def _between(self, number: int, before: str, after: str) -> str:
        """What stands in an answer between two marks."""
        call, answer = self._spelled.call, self._answer(number)
        start = f"{call('FIND', _quoted(before), answer)}+{len(before)}"
        end = call("FIND", _quoted(after), answer, start)
        return call("MID", answer, start, f"{end}-({start})")

    def _element(self, number: int, name: str) -> str:
        return self._between(number, f"<{name}>", "<")

    def _absent(self, number: int, name: str, then: str, otherwise: str) -> str:
        found = self._spelled.call("FIND", _quoted(f"<{name} />"), self._answer(number))
        return self._spelled.when(self._spelled.call("ISNUMBER", found), then, otherwise)

    def _figure(self, number: int, name: str) -> str:
        """A number of an answer, whatever the country's decimal sign, or `none`."""
        call = self._spelled.call
        value = call(self._spelled.number, self._element(number, name), '"."', '","')
        failed = call("LEFT", self._answer(number), "5")
        told = call("IFERROR", value, self._absent(number, name, '"none"', failed))
        return self._spelled.opening + told

    def _text(self, number: int, name: str, failed: str) -> str:
        call, told = self._spelled.call, self._element(number, name)
        for entity, sign in (("&lt;", "<"), ("&gt;", ">"), ("&amp;", "&")):
            told = call("SUBSTITUTE", told, _quoted(entity), _quoted(sign))
        return call("IFERROR", told, self._absent(number, name, '""', failed))

    def _customary(self, row: EntryCell | AnswerCell, unit: str) -> list[Cell]:
        """The same figure in a US customary unit, and that unit."""
        if not row.customary:
            return [Cell(look="unit"), Cell(look="unit")]
        units = (f'"{CONVERTED[unit]}"', f'"{row.customary}"')
        converted = self._spelled.call("CONVERT", self._at(row.key), *units)
        formula = self._spelled.opening + self._spelled.call("IFERROR", converted, '""')
        return [Cell(formula, "figure", "number"), Cell(CUSTOMARY[row.customary], "unit")]
