"""Plain text on a page of at most 100 columns: wrapping, lists, tables, and colour on terminals."""

import os
import re
import shutil
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TextIO, TypeVar

from sunhitch.types.check import Verdict

T = TypeVar("T")

_WIDEST = 100
_NARROWEST = 40
_GAP = "  "
_LONGEST_CELL = 30
_LEAST_LAST = 12
_NUMBER = re.compile(r"([-−≥]?[\d.]+( [^\s\d]{1,5}( \(.*\))?)?)?$")
_COLOUR: dict[Verdict, str] = {
    "pass": "\x1b[1;32m",
    "review": "\x1b[1;33m",
    "not-assessed": "\x1b[1;35m",
    "fail": "\x1b[1;31m",
}
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"


@dataclass(frozen=True, slots=True)
class Page:
    """How wide the text may be, and whether it is coloured.

    Parameters
    ----------
    width : int
        Columns.
    coloured : bool
        Whether verdicts and headings carry terminal colours.
    """

    width: int = _WIDEST
    coloured: bool = False

    def heading(self, text: str) -> str:
        """A heading in capitals."""
        told = "\n".join(self.wrap(text.upper()))
        return f"{_BOLD}{told}{_PLAIN}" if self.coloured else told

    def verdict(self, verdict: Verdict, text: str | None = None) -> str:
        """A verdict as a word that stands out without colour too."""
        word = "\n".join(self.wrap(text or verdict.replace("-", " ").upper()))
        return f"{_COLOUR[verdict]}{word}{_PLAIN}" if self.coloured else word

    def wrap(self, text: str, first: str = "", rest: str | None = None) -> list[str]:
        """Lines of a paragraph.

        Parameters
        ----------
        text : str
            Any number of words.
        first, rest : str
            What stands before the first line and before the others.
        """
        hanging = " " * len(first) if rest is None else rest
        return textwrap.wrap(
            " ".join(text.split()),
            self.width,
            initial_indent=first,
            subsequent_indent=hanging,
            break_on_hyphens=False,
        )

    def bullets(self, texts: Iterable[str], mark: str = "- ") -> list[str]:
        """A list, one mark an entry."""
        return [line for text in texts for line in self.wrap(text, "  " + mark)]

    def section(self, title: str, texts: Sequence[str]) -> list[str]:
        """A heading over a list, after an empty line; nothing where the list is empty."""
        return ["", self.heading(title), *self.bullets(texts)] if texts else []

    def chapter(self, title: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
        """A heading, if any, over a table, after an empty line; nothing where there are no rows."""
        told = list(rows)
        above = ["", self.heading(title)] if title else []
        return [*above, *self.table(head, told)] if told else []

    def columns(
        self, title: str, items: Iterable[T], cells: Mapping[str, Callable[[T], str]]
    ) -> list[str]:
        """As `chapter`, a row for each item; what each column tells of it stands by its name."""
        rows = [[tell(one) for tell in cells.values()] for one in items]
        return self.chapter(title, list(cells), rows)

    def table(self, head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
        """A table whose last column takes what is left of the page; numbers stand right.

        Parameters
        ----------
        head : sequence of str
            Titles of the columns.
        rows : sequence of sequence of str
            Cells, as many in a row as there are titles.
        """
        columns = [_column([row[i] for row in (head, *rows)]) for i in range(len(head) - 1)]
        last = [row[-1] for row in (head, *rows)]
        if _are_numbers(last[1:]):
            last = _column(last)
        needed = sum(len(_GAP + column[0]) for column in columns) + len(_GAP)
        if needed + min(_LEAST_LAST, max(map(len, last))) > self.width:
            return self._stacked(head, rows)
        lines: list[str] = []
        for cells, final in zip(zip(*columns, strict=True), last, strict=True):
            start = _GAP + "".join(cell + _GAP for cell in cells)
            spaces = len(final) - len(final.lstrip())
            lines += self.wrap(final.lstrip(), start + " " * spaces, " " * len(start)) or [
                start.rstrip()
            ]
        return lines

    def _stacked(self, head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
        """Row below row, one cell a line, where a table is too wide."""
        lines: list[str] = []
        for first, *others in rows:
            lines += self.wrap(f"{head[0]} {first}", _GAP)
            for title, cell in zip(head[1:], others, strict=True):
                lines += self.wrap(f"{title}: {cell}", _GAP * 2, _GAP * 3) if cell else []
        return lines


def page_for(stream: TextIO | None) -> Page:
    """The page that suits an output: narrower and coloured on a terminal, unless asked not to.

    A pipe is as wide as the variable COLUMNS says, if it is set; a file never.

    References
    ----------
    The NO_COLOR convention: any non-empty value of that variable switches colour off.
    """
    terminal = stream is not None and stream.isatty()
    if stream is None or not (terminal or os.environ.get("COLUMNS")):
        return Page()
    columns = shutil.get_terminal_size((_WIDEST, 24)).columns
    plain = bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"
    return Page(max(_NARROWEST, min(_WIDEST, columns)), terminal and not plain)


def _column(cells: Sequence[str]) -> list[str]:
    """Cells of one width: title first, numbers to the right, long names cut."""
    cut = [
        cell if len(cell) <= _LONGEST_CELL else cell[: _LONGEST_CELL - 1] + "…" for cell in cells
    ]
    width = max(len(cell) for cell in cut)
    side = ">" if _are_numbers(cut[1:]) else "<"
    return [f"{cell:{side}{width}}" for cell in cut]


def _are_numbers(cells: Sequence[str]) -> bool:
    return all(len(cell) <= _LONGEST_CELL and _NUMBER.match(cell) for cell in cells)
