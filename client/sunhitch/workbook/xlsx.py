"""The workbook in Office Open XML, by openpyxl."""

from pathlib import Path
from typing import Any, cast

from openpyxl import Workbook
from openpyxl.formatting.rule import Rule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from . import formulas, style
from .formulas import OFFICE_OPEN
from .layout import ADDRESS, CUSTOMARY, NOTES, EntryCell, Heading, Product, Reply, Row, placed


def write(path: Path, service: str) -> None:
    """Write the workbook.

    Parameters
    ----------
    path : Path
        File to write.
    service : str
        Address of the service, as on the sheet.
    """
    book = Workbook()
    sheet = book.active
    if not isinstance(sheet, Worksheet):
        raise TypeError("a new workbook opens with a sheet of cells")
    sheet.title = style.BUILD
    _head(sheet)
    for number, row in placed():
        _row(sheet, number, row, service)
    _verdict_colours(sheet)
    _page(sheet)
    _notes(book.create_sheet(style.NOTES))
    book.save(path)


def _head(sheet: Worksheet) -> None:
    sheet["A1"] = style.TITLE
    sheet["A1"].font = Font(bold=True, size=14)
    sheet["B1"] = formulas.overall(OFFICE_OPEN)
    sheet["B1"].font = Font(bold=True, size=14)
    for letter, (name, width) in zip("ABCDEF", style.COLUMNS, strict=True):
        sheet[f"{letter}2"] = name
        sheet[f"{letter}2"].font = Font(bold=True)
        sheet.column_dimensions[letter].width = width
    sheet.column_dimensions["F"].hidden = True
    sheet.freeze_panes = "A3"


def _row(sheet: Worksheet, number: int, row: Row, service: str) -> None:
    if isinstance(row, Heading):
        sheet[f"A{number}"] = row.text
        for letter in "ABCDE":
            sheet[f"{letter}{number}"].font = Font(bold=True)
            sheet[f"{letter}{number}"].fill = _filled(style.HEADING)
        return
    sheet[f"A{number}"] = row.label
    sheet[f"C{number}"] = row.unit
    value = sheet[f"B{number}"]
    value.alignment = Alignment(horizontal="left", vertical="top", wrap_text=True)
    if isinstance(row, Product):
        value.value = formulas.product(row, OFFICE_OPEN)
        return
    if isinstance(row, Reply):
        sheet[f"F{number}"] = formulas.ask(row, OFFICE_OPEN)
        value.value = formulas.show(row, f"F{number}", OFFICE_OPEN)
        value.number_format = style.DECIMALS if row.unit else "General"
    else:
        _entry(sheet, number, row, service)
    if row.customary:
        sheet[f"D{number}"] = formulas.customary(row, f"B{number}", OFFICE_OPEN)
        sheet[f"D{number}"].number_format = style.DECIMALS
        sheet[f"D{number}"].alignment = Alignment(horizontal="left", vertical="top")
        sheet[f"E{number}"] = CUSTOMARY[row.customary]


def _entry(sheet: Worksheet, number: int, row: EntryCell, service: str) -> None:
    cell = sheet[f"B{number}"]
    cell.value = service if row.key == ADDRESS else row.value
    cell.fill = _filled(style.ENTRY)
    line = Side(style="thin", color=style.LINE)
    cell.border = Border(left=line, right=line, top=line, bottom=line)
    if row.words:
        words = f'"{",".join(row.words)}"'
        choice = DataValidation(type="list", formula1=words, sqref=cell.coordinate)
        sheet.add_data_validation(choice)


def _filled(colour: str) -> PatternFill:
    return PatternFill(fill_type="solid", start_color=colour, end_color=colour)


def _verdict_colours(sheet: Worksheet) -> None:
    last = max(number for number, _ in placed())
    for word, colour in style.VERDICTS.items():
        look = DifferentialStyle(fill=_filled(colour))
        rule = Rule(type="cellIs", operator="equal", formula=[f'"{word}"'], dxf=look)
        for area in ("B1", f"B3:B{last}"):
            cast("Any", sheet.conditional_formatting).add(area, rule)


def _page(sheet: Worksheet) -> None:
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.print_title_rows = "1:2"


def _notes(sheet: Worksheet) -> None:
    sheet.column_dimensions["A"].width = style.NOTE_WIDTH
    for number, note in enumerate(NOTES, 1):
        sheet[f"A{number}"] = note
        sheet[f"A{number}"].alignment = Alignment(wrap_text=True, vertical="top")
