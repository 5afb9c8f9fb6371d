"""Workbooks in OpenDocument, by odfpy."""

from collections.abc import Iterable
from importlib import import_module
from io import BytesIO
from typing import Any, TypeAlias

from .cells import DECIMALS, LOOKS, VERDICTS, Cell, CellSheet, CellStyle, Validation

Node: TypeAlias = Any
"""An element of the document: odfpy declares no types, and its names stop at this module."""

numbers: Node = import_module("odf.number")
odf: Node = import_module("odf.style")
table: Node = import_module("odf.table")
text: Node = import_module("odf.text")
opendocument: Node = import_module("odf.opendocument")

_CM_PER_CHARACTER = 0.2


def written(sheets: Iterable[CellSheet]) -> bytes:
    """A workbook as the bytes of its file.

    Parameters
    ----------
    sheets : iterable of CellSheet
        In order.
    """
    document = _Document()
    for sheet in sheets:
        document.add(sheet)
    stream = BytesIO()
    document.book.save(stream)
    return stream.getvalue()


class _Document:
    def __init__(self) -> None:
        self.book = opendocument.OpenDocumentSpreadsheet()
        self._validations = table.ContentValidations()
        self.book.spreadsheet.addElement(self._validations)
        self._made: set[str] = set()
        for word, colour in VERDICTS.items():
            self._style(word, CellStyle(bold=True, fill=colour), self.book.styles)
        self._two_decimals()
        self._page()
        for look, style in LOOKS.items():
            if look != "verdict":
                self._style(look, style, self.book.automaticstyles)

    def add(self, sheet: CellSheet) -> None:
        told = {} if sheet.printed else {"print": "false"}
        grid = table.Table(name=sheet.name, stylename="sheet", **told)
        self.book.spreadsheet.addElement(grid)
        for width in sheet.widths:
            grid.addElement(table.TableColumn(stylename=self._column(width)))
        judged = f"verdict-{sheet.name}"
        self._style(judged, LOOKS["verdict"], self.book.automaticstyles, f"{sheet.name}.A1")
        covered: set[tuple[int, int]] = set()
        for number, cells in enumerate(sheet.rows):
            line = table.TableRow(stylename=self._row(sheet.heights.get(number)))
            grid.addElement(line)
            for column, cell in enumerate(cells):
                self._cell(line, cell, judged, (number, column) in covered)
                covered |= {
                    (number + down, column + right)
                    for down in range(cell.rows)
                    for right in range(cell.columns)
                }
            for _ in range(cells[-1].columns - 1):
                line.addElement(table.CoveredTableCell())

    def _style(self, name: str, style: CellStyle, where: Node, base: str = "") -> None:
        shown = {"datastylename": "decimals"} if style.figures else {}
        made = odf.Style(name=name, family="table-cell", parentstylename="Default", **shown)
        bold = "bold" if style.bold else "normal"
        made.addElement(
            odf.TextProperties(fontweight=bold, fontsize=f"{style.size}pt", color=f"#{style.ink}")
        )
        filled = {"backgroundcolor": f"#{style.fill}"} if style.fill else {}
        side = "border" if style.fill else "borderbottom"
        framed = {side: f"0.5pt solid #{style.line}"} if style.line else {}
        made.addElement(
            odf.TableCellProperties(verticalalign="middle", wrapoption="wrap", **filled, **framed)
        )
        if style.indent:
            made.addElement(odf.ParagraphProperties(textalign="start", marginleft="0.15cm"))
        if base:
            for word in VERDICTS:
                condition = f'cell-content()="{word}"'
                made.addElement(
                    odf.Map(condition=condition, applystylename=word, basecelladdress=base)
                )
        where.addElement(made)

    def _two_decimals(self) -> None:
        made = numbers.NumberStyle(name="decimals")
        places = len(DECIMALS.partition(".")[2])
        made.addElement(numbers.Number(decimalplaces=str(places), minintegerdigits="1"))
        self.book.automaticstyles.addElement(made)

    def _page(self) -> None:
        """Every sheet is printed on one page."""
        layout = odf.PageLayout(name="page")
        layout.addElement(
            odf.PageLayoutProperties(
                scaletopages="1", pagewidth="21cm", pageheight="29.7cm", margin="1cm"
            )
        )
        self.book.automaticstyles.addElement(layout)
        self.book.masterstyles.addElement(odf.MasterPage(name="page", pagelayoutname=layout))
        made = odf.Style(name="sheet", family="table", masterpagename="page")
        self.book.automaticstyles.addElement(made)

    def _column(self, width: float) -> str:
        name = f"width-{width:g}"
        wide = f"{width * _CM_PER_CHARACTER:.2f}cm"
        return self._once(name, "table-column", odf.TableColumnProperties(columnwidth=wide))

    def _row(self, height: float | None) -> str:
        if height is None:
            own = odf.TableRowProperties(useoptimalrowheight="true")
            return self._once("height", "table-row", own)
        own = odf.TableRowProperties(rowheight=f"{height:g}pt", useoptimalrowheight="false")
        return self._once(f"height-{height:g}", "table-row", own)

    def _once(self, name: str, family: str, own: Node) -> str:
        if name not in self._made:
            self._made.add(name)
            made = odf.Style(name=name, family=family)
            made.addElement(own)
            self.book.automaticstyles.addElement(made)
        return name

    def _cell(self, line: Node, cell: Cell, judged: str, covered: bool) -> None:
        known: dict[str, str] = {"stylename": judged if cell.look == "verdict" else cell.look}
        if cell.rows > 1 or cell.columns > 1:
            known["numberrowsspanned"] = str(cell.rows)
            known["numbercolumnsspanned"] = str(cell.columns)
        if cell.takes:
            known["contentvalidationname"] = self._validation(cell.takes)
        shown = ""
        if cell.gives:
            known["valuetype"] = "string" if cell.gives == "text" else "float"
            known["formula"] = str(cell.content)
        elif isinstance(cell.content, bool):
            known["valuetype"], known["booleanvalue"] = "boolean", str(cell.content).lower()
            shown = str(cell.content).upper()
        elif isinstance(cell.content, int | float):
            known["valuetype"], known["value"] = "float", repr(cell.content)
            shown = f"{cell.content:g}"
        elif cell.content:
            known["valuetype"], shown = "string", cell.content
        kind = table.CoveredTableCell if covered else table.TableCell
        node = kind(**known)
        if shown:
            node.addElement(text.P(text=shown))
        line.addElement(node)

    def _validation(self, takes: Validation) -> str:
        name = f"validation-{len(self._validations.childNodes)}"
        if takes.words:
            words = ";".join(f'"{word}"' for word in takes.words)
            condition = f"of:cell-content-is-in-list({words})"
        else:
            kind = "whole" if takes.whole else "decimal"
            limits = f"cell-content-is-between({takes.low:.12g},{takes.high:.12g})"
            condition = f"of:cell-content-is-{kind}-number() and {limits}"
        made = table.ContentValidation(
            name=name, condition=condition, allowemptycell="true", displaylist="unsorted"
        )
        told = table.HelpMessage(title="", display="true")
        told.addElement(text.P(text=takes.told))
        wrong = table.ErrorMessage(messagetype="stop", display="true")
        wrong.addElement(text.P(text=f"Expected {takes.range or 'a word of the list'}."))
        made.addElement(told)
        made.addElement(wrong)
        self._validations.addElement(made)
        return name
