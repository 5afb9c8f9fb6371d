"""What a workbook is made of, the same in both formats: sheets of cells with their looks."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

Content: TypeAlias = str | float | bool | None
Look: TypeAlias = Literal[
    "plain", "title", "verdict", "band", "names", "entry", "figure", "unit", "text", "small"
]


@dataclass(frozen=True, slots=True)
class Validation:
    """What a cell takes.

    Parameters
    ----------
    told : str
        What it is, shown beside the cell.
    words : tuple of str
        Choices, where it is one of them.
    low, high : float
        Limits, where it is a number.
    whole : bool
        Whether only whole numbers will do.
    """

    told: str
    words: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    whole: bool = False

    @property
    def range(self) -> str:
        """The limits in words; empty for a choice."""
        return "" if self.words else f"{self.low:g} to {self.high:g}"


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell.

    Parameters
    ----------
    content : str, float, bool or None
        Text or number; a formula where `gives` says so.
    look : str
        Name of its style.
    gives : {'', 'number', 'text'}
        What a formula gives.
    takes : Validation or None
        What may be entered.
    rows, columns : int
        Cells that it covers, downwards and to the right.
    """

    content: Content = None
    look: Look = "plain"
    gives: Literal["", "number", "text"] = ""
    takes: Validation | None = None
    rows: int = 1
    columns: int = 1


@dataclass(slots=True)
class CellSheet:
    """One sheet.

    Parameters
    ----------
    name : str
        On its tab.
    widths : sequence of float
        Of the columns, in characters.
    rows : list of list of Cell
        From the top left; what another cell covers is left out of no row.
    heights : dict of float
        Of rows by number from 0 [pt]; the others are as high as they need to be.
    frozen : int
        Rows that stay on the screen.
    printed : bool
        Whether it is printed, on one page; else it is wherever a program prints every sheet.
    """

    name: str
    widths: Sequence[float]
    rows: list[list[Cell]] = field(default_factory=list[list[Cell]])
    heights: dict[int, float] = field(default_factory=dict[int, float])
    frozen: int = 0
    printed: bool = False


@dataclass(frozen=True, slots=True)
class CellStyle:
    """How cells of a look are written: sizes in points, colours as RRGGBB."""

    size: int = 10
    bold: bool = False
    ink: str = "1D2730"
    fill: str = ""
    line: str = ""
    figures: bool = False
    indent: bool = False


LOOKS: dict[Look, CellStyle] = {
    "plain": CellStyle(line="E3E8EC"),
    "title": CellStyle(size=18, bold=True, ink="24506B"),
    "verdict": CellStyle(bold=True, line="E3E8EC"),
    "band": CellStyle(bold=True, ink="FFFFFF", fill="24506B"),
    "names": CellStyle(bold=True, ink="46525D", fill="E3E8EC"),
    "entry": CellStyle(fill="FFF8DC", line="B0A070"),
    "figure": CellStyle(line="E3E8EC", figures=True),
    "unit": CellStyle(ink="6B7780", line="E3E8EC", indent=True),
    "text": CellStyle(),
    "small": CellStyle(size=8, ink="46525D", line="E3E8EC"),
}
VERDICTS = {"pass": "CFE8CF", "review": "FFE7A0", "not-assessed": "D9D2E9", "fail": "F4B6B0"}
"""Colour behind a verdict; the word itself always stands in the cell."""
DECIMALS = "0.00"
"""Figures with a unit; a cell keeps all digits behind it."""
