"""Workbooks in Office Open XML, by openpyxl."""

from collections.abc import Iterable
from io import BytesIO
from typing import Any, Literal, cast

from openpyxl import Workbook
from openpyxl.formatting.rule import Rule
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from .cells import DECIMALS, LOOKS, VERDICTS, Cell, CellSheet, CellStyle, Validation

_MARGIN_IN = 0.4


def written(sheets: Iterable[CellSheet]) -> bytes:
    """A workbook as the bytes of its file.

    Parameters
    ----------
    sheets : iterable of CellSheet
        In order.
    """
    book = Workbook()
    book.remove(cast("Worksheet", book.active))
    for look, style in LOOKS.items():
        book.add_named_style(_named(look, style))
    for one in sheets:
        sheet = book.create_sheet(one.name)
        for number, row in enumerate(one.rows, 1):
            for column, cell in enumerate(row, 1):
                _put(sheet, number, column, cell)
        for number, row in enumerate(one.rows, 1):
            for column, cell in enumerate(row, 1):
                if cell.rows > 1 or cell.columns > 1:
                    last = number + cell.rows - 1, column + cell.columns - 1
                    sheet.merge_cells(None, number, column, *last)
        _arrange(sheet, one)
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue()


def _filled(colour: str) -> PatternFill:
    return PatternFill(fill_type="solid", start_color=colour, end_color=colour)


def _named(look: str, style: CellStyle) -> NamedStyle:
    line = Side(style="thin", color=style.line) if style.line else Side()
    around = style.fill and style.line
    made = NamedStyle(name=f"sunhitch {look}")
    made.font = Font(name="Calibri", size=style.size, bold=style.bold, color=style.ink)
    made.alignment = Alignment(
        horizontal="left" if style.indent else None,
        vertical="center",
        wrap_text=True,
        indent=int(style.indent),
    )
    beside = line if around else Side()
    made.border = Border(bottom=line, top=beside, left=beside, right=beside)
    if style.fill:
        made.fill = _filled(style.fill)
    if style.figures:
        made.number_format = DECIMALS
    return made


def _put(sheet: Worksheet, row: int, column: int, cell: Cell) -> None:
    written_ = cast("Any", sheet.cell(row, column))
    written_.value = cell.content
    if isinstance(cell.content, str) and not cell.gives:
        written_.data_type = "s"
    written_.style = f"sunhitch {cell.look}"
    if cell.takes:
        _validate(sheet, written_.coordinate, cell.takes)
    if cell.look == "verdict":
        _colour(sheet, written_.coordinate)


def _validate(sheet: Worksheet, place: str, takes: Validation) -> None:
    if takes.words:
        made = DataValidation(type="list", formula1=f'"{",".join(takes.words)}"')
    else:
        kind: Literal["whole", "decimal"] = "whole" if takes.whole else "decimal"
        low, high = f"{takes.low:.12g}", f"{takes.high:.12g}"
        made = DataValidation(type=kind, operator="between", formula1=low, formula2=high)
    made.allow_blank = True
    made.prompt, made.showInputMessage = takes.told[:255], True
    made.error = f"Expected {takes.range or 'a word of the list'}."
    made.showErrorMessage = True
    cast("Any", made).add(place)
    sheet.add_data_validation(made)


def _colour(sheet: Worksheet, place: str) -> None:
    for word, colour in VERDICTS.items():
        look = DifferentialStyle(fill=_filled(colour))
        rule = Rule(type="cellIs", operator="equal", formula=[f'"{word}"'], dxf=look)
        cast("Any", sheet.conditional_formatting).add(place, rule)


def _arrange(sheet: Worksheet, one: CellSheet) -> None:
    for number, width in enumerate(one.widths, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    for row, height in one.heights.items():
        sheet.row_dimensions[row + 1].height = height
    if one.frozen:
        sheet.freeze_panes = f"A{one.frozen + 1}"
    sheet.sheet_view.showGridLines = False
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    margins = sheet.page_margins
    margins.left = margins.right = margins.top = margins.bottom = _MARGIN_IN
    if one.printed:
        sheet.page_setup.fitToHeight = 1
        sheet.print_area = f"A1:{get_column_letter(len(one.widths))}{len(one.rows)}"
