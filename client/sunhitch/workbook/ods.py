"""The workbook in OpenDocument, by odfpy."""

from importlib import import_module
from pathlib import Path
from typing import Any, TypeAlias

from . import formulas, style
from .formulas import OPEN_DOCUMENT
from .layout import ADDRESS, CUSTOMARY, NOTES, EntryCell, Heading, Product, Reply, Row, placed

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
        self._service = service
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
        self._rows(build)
        self._notes()

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

    def _rows(self, build: Node) -> None:
        top = formulas.overall(OPEN_DOCUMENT)
        build.addElement(_line([_text(style.TITLE, "title"), _formula(top, "overall", words=True)]))
        build.addElement(_line([_text(name, "names") for name, _ in style.COLUMNS]))
        for number, row in placed():
            build.addElement(_line(self._cells(number, row)))

    def _cells(self, number: int, row: Row) -> list[Node]:
        if isinstance(row, Heading):
            texts = [row.text, *[""] * (len(style.COLUMNS) - 2)]
            return [_text(one, "heading") for one in texts]
        first, unit = _text(row.label), _text(row.unit)
        if isinstance(row, Product):
            return [first, _formula(formulas.product(row, OPEN_DOCUMENT), "answer"), unit]
        beside = formulas.customary(row, f"B{number}", OPEN_DOCUMENT)
        other = _formula(beside, "figure") if beside else _text("")
        cells = [
            first,
            self._value(number, row),
            unit,
            other,
            _text(CUSTOMARY.get(row.customary, "")),
        ]
        if isinstance(row, Reply):
            cells.append(_formula(formulas.ask(row, OPEN_DOCUMENT), "plain", words=True))
        return cells

    def _value(self, number: int, row: EntryCell | Reply) -> Node:
        if isinstance(row, Reply):
            shown = formulas.show(row, f"F{number}", OPEN_DOCUMENT)
            return _formula(shown, "figure" if row.unit else "answer", words=row.words)
        value = self._service if row.key == ADDRESS else row.value
        chosen = {"contentvalidationname": self._choice(row)} if row.words else {}
        if isinstance(value, str):
            return _text(value, "entry", **chosen)
        cell = table.TableCell(stylename="entry", valuetype="float", value=repr(value))
        cell.addElement(text.P(text=f"{value:g}"))
        return cell

    def _choice(self, row: EntryCell) -> str:
        name = f"choice-{row.key}"
        words = ";".join(f'"{word}"' for word in row.words)
        self._validations.addElement(
            table.ContentValidation(
                name=name,
                condition=f"of:cell-content-is-in-list({words})",
                allowemptycell="false",
                displaylist="unsorted",
            )
        )
        return name

    def _notes(self) -> None:
        sheet = table.Table(name=style.NOTES)
        sheet.addElement(table.TableColumn(stylename=self._column(style.NOTE_WIDTH)))
        for note in NOTES:
            sheet.addElement(_line([_text(note)]))
        self.book.spreadsheet.addElement(sheet)


def _line(cells: list[Node]) -> Node:
    row = table.TableRow()
    for cell in cells:
        row.addElement(cell)
    return row


def _text(content: str, look: str = "plain", **more: str) -> Node:
    if not content:
        return table.TableCell(stylename=look)
    cell = table.TableCell(stylename=look, valuetype="string", **more)
    cell.addElement(text.P(text=content))
    return cell


def _formula(formula: str, look: str, *, words: bool = False) -> Node:
    kind = "string" if words else "float"
    return table.TableCell(stylename=look, valuetype=kind, formula=formula)
