"""The workbook in OpenDocument, by odfpy."""

from collections.abc import Iterable, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any, TypeAlias

from . import formulas, style
from .formulas import OPEN_DOCUMENT, Cell
from .layout import NOTES

Node: TypeAlias = Any
"""An element of the document: odfpy declares no types, and its names stop at this module."""

numbers: Node = import_module("odf.number")
odf: Node = import_module("odf.style")
table: Node = import_module("odf.table")
text: Node = import_module("odf.text")
opendocument: Node = import_module("odf.opendocument")

_CM_PER_CHARACTER = 0.2
_TOP = {"verticalalign": "top", "wrapoption": "wrap"}


def write(path: Path, service: str) -> None:
    """Write the workbook.

    Parameters
    ----------
    path : Path
        File to write.
    service : str
        Address of the service, as on the sheet.
    """
    sheet = _Sheet(service)
    sheet.book.save(str(path))


class _Sheet:
    """The document as it grows."""

    def __init__(self, service: str) -> None:
        self.book = opendocument.OpenDocumentSpreadsheet()
        self._validations = table.ContentValidations()
        self.book.spreadsheet.addElement(self._validations)
        self._styles()
        look = odf.Style(name="sheet", family="table", masterpagename=self._page())
        self.book.automaticstyles.addElement(look)
        build = table.Table(name=style.BUILD, stylename=look)
        self.book.spreadsheet.addElement(build)
        for name, width in style.COLUMNS:
            hidden = {"visibility": "collapse"} if name == style.COLUMNS[-1][0] else {}
            build.addElement(table.TableColumn(stylename=self._column(width), **hidden))
        self._rows(build, formulas.sheet(OPEN_DOCUMENT, service))
        notes = table.Table(name=style.NOTES)
        self.book.spreadsheet.addElement(notes)
        notes.addElement(table.TableColumn(stylename=self._column(style.NOTE_WIDTH)))
        self._rows(notes, ([Cell(note)] for note in NOTES))

    def _styles(self) -> None:
        self._style("title", weight="bold", size="14pt")
        self._style("names", weight="bold")
        self._style("heading", weight="bold", colour=style.HEADING)
        self._style("entry", colour=style.ENTRY, border=f"0.5pt solid #{style.LINE}")
        self._style("plain")
        for word, colour in style.VERDICTS.items():
            self._style(word, colour=colour)
        self._style("answer", by_verdict=True)
        self._two_decimals()
        self._style("figure", decimals=True)
        self._style("overall", weight="bold", size="14pt", by_verdict=True)

    def _style(
        self,
        name: str,
        *,
        weight: str = "normal",
        size: str = "10pt",
        colour: str = "",
        border: str = "",
        by_verdict: bool = False,
        decimals: bool = False,
    ) -> None:
        shown = {"datastylename": "decimals"} if decimals else {}
        made = odf.Style(name=name, family="table-cell", parentstylename="Default", **shown)
        made.addElement(odf.TextProperties(fontweight=weight, fontsize=size))
        filled = {"backgroundcolor": f"#{colour}"} if colour else {}
        framed = {"border": border} if border else {}
        made.addElement(odf.TableCellProperties(**_TOP, **filled, **framed))
        made.addElement(odf.ParagraphProperties(textalign="start"))
        for word in style.VERDICTS if by_verdict else ():
            condition = f'cell-content()="{word}"'
            made.addElement(odf.Map(condition=condition, applystylename=word))
        where = self.book.styles if name in style.VERDICTS else self.book.automaticstyles
        where.addElement(made)

    def _two_decimals(self) -> None:
        made = numbers.NumberStyle(name="decimals")
        places = len(style.DECIMALS.partition(".")[2])
        made.addElement(numbers.Number(decimalplaces=str(places), minintegerdigits="1"))
        self.book.automaticstyles.addElement(made)

    def _page(self) -> Node:
        """Pages with the sheet's whole width on them."""
        layout = odf.PageLayout(name="page")
        layout.addElement(odf.PageLayoutProperties(scaletopages=str(style.PAGES)))
        self.book.automaticstyles.addElement(layout)
        page = odf.MasterPage(name="page", pagelayoutname=layout)
        self.book.masterstyles.addElement(page)
        return page

    def _column(self, width: float) -> Node:
        name = f"width-{width:g}"
        made = odf.Style(name=name, family="table-column")
        wide = f"{width * _CM_PER_CHARACTER:.2f}cm"
        made.addElement(odf.TableColumnProperties(columnwidth=wide))
        self.book.automaticstyles.addElement(made)
        return made

    def _cell(self, cell: Cell) -> Node:
        if cell.kind != "given":
            kind = "string" if cell.kind == "text" else "float"
            return table.TableCell(stylename=cell.look, valuetype=kind, formula=cell.content)
        if cell.content == "":
            return table.TableCell(stylename=cell.look)
        known = {"valuetype": "string"}
        if not isinstance(cell.content, str):
            known = {"valuetype": "float", "value": repr(cell.content)}
        if cell.words:
            known["contentvalidationname"] = self._choice(cell.words)
        node = table.TableCell(stylename=cell.look, **known)
        shown = cell.content if isinstance(cell.content, str) else f"{cell.content:g}"
        node.addElement(text.P(text=shown))
        return node

    def _choice(self, choices: Sequence[str]) -> str:
        name = f"choice-{choices[0]}"
        words = ";".join(f'"{word}"' for word in choices)
        self._validations.addElement(
            table.ContentValidation(
                name=name,
                condition=f"of:cell-content-is-in-list({words})",
                allowemptycell="false",
                displaylist="unsorted",
            )
        )
        return name

    def _rows(self, sheet: Node, rows: Iterable[list[Cell]]) -> None:
        for cells in rows:
            line = table.TableRow()
            sheet.addElement(line)
            for cell in cells:
                line.addElement(self._cell(cell))
