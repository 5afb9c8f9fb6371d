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
from .formulas import OFFICE_OPEN, Cell
from .layout import NOTES, placed


def _filled(colour: str) -> PatternFill:
    return PatternFill(fill_type="solid", start_color=colour, end_color=colour)


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
    for number, row in enumerate(formulas.sheet(OFFICE_OPEN, service), 1):
        for letter, cell in zip("ABCDEF", row, strict=False):
            _put(sheet, f"{letter}{number}", cell)
    for letter, (_, width) in zip("ABCDEF", style.COLUMNS, strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.column_dimensions["F"].hidden = True
    sheet.freeze_panes = "A3"
    _verdict_colours(sheet)
    _page(sheet)
    notes = book.create_sheet(style.NOTES)
    notes.column_dimensions["A"].width = style.NOTE_WIDTH
    for number, note in enumerate(NOTES, 1):
        _put(notes, f"A{number}", Cell(note))
    book.save(path)


_LINE = Side(style="thin", color=style.LINE)
_LOOKS: dict[str, dict[str, Any]] = {
    "title": {"font": Font(bold=True, size=14)},
    "overall": {"font": Font(bold=True, size=14)},
    "names": {"font": Font(bold=True)},
    "heading": {"font": Font(bold=True), "fill": _filled(style.HEADING)},
    "entry": {
        "fill": _filled(style.ENTRY),
        "border": Border(left=_LINE, right=_LINE, top=_LINE, bottom=_LINE),
    },
    "figure": {"number_format": style.DECIMALS},
}


def _put(sheet: Worksheet, place: str, cell: Cell) -> None:
    written = sheet[place]
    written.value = cell.content
    written.alignment = Alignment(horizontal="left", vertical="top", wrap_text=True)
    for name, look in _LOOKS.get(cell.look, {}).items():
        setattr(written, name, look)
    if cell.words:
        words = f'"{",".join(cell.words)}"'
        sheet.add_data_validation(DataValidation(type="list", formula1=words, sqref=place))


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
