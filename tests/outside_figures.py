"""Checks against figures from outside of the project, kept as rows of the validation page.

A test asks for the fixture `outside` and calls it with our figure and the other one: the call
asserts, and the run notes a row. `pytest --validation write` writes the page and
its picture, `--validation check` says whether the page holds the rows of the run.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from itertools import chain
from typing import Any, Literal

import numpy as np

from sunhitch_service.drawing.sheet import Sheet

Kind = Literal["published", "hand-worked", "reference program"]
Seen = Literal["read", "recalled", "common practice"]
KINDS: tuple[Kind, ...] = ("published", "hand-worked", "reference program")
SEEN: tuple[Seen, ...] = ("read", "recalled", "common practice")

_HEAD = (
    "# Validation",
    "",
    "Every row is a check of the test suite against a figure from outside of the project; a row",
    "out of tolerance breaks the build. Where several figures are compared, the row shows the",
    "pair that differs most. The error is signed: ours less the other. *Recalled* means from",
    "memory, without the text at hand. Where the circuit simulator is installed, the suite asks it",
    "for random arrays too; the rows here hold its stored results.",
    "",
    "![Errors as shares of their tolerance, by calculation and kind of source](validation.svg)",
    "",
    "| kind | read | recalled | common practice | rows | figures |",
    "|---|---|---|---|---|---|",
)

ROOMS = {
    "wiring": "wire-sizing",
    "circuit": "wire-sizing",
    "mount": "mount-check",
    "array": "array-configuration",
    "shade": "shaded-iv",
    "harvest": "harvest",
    "roof": "roof-layout",
    "commissioning": "commissioning-check",
    "fitout": "fit-out",
}
"""Calculation by the first word of a test module's name after `test_`."""


@dataclass(frozen=True)
class Row:
    """One check: our figures against others.

    Parameters
    ----------
    calculation, of : str
        Which calculation, and which figure of it.
    source : str
        Where the other figure stands, or how it is derived.
    kind, seen : str
        What kind of source it is, and whether its text was read.
    expected, ours : str
        Both figures with their unit; where there are several, the pair that differs most.
    error : float
        Signed difference as a share of the tolerance, the largest of all figures.
    relative : float
        Signed difference as a share of the other figure, of the same pair; 0 where that is 0.
    tolerance : str
        As the source allows it.
    figures : int
        How many were compared.
    """

    calculation: str
    of: str
    source: str
    kind: Kind
    seen: Seen
    expected: str
    ours: str
    error: float
    relative: float
    tolerance: str
    figures: int


class Outside:
    """Asserts figures against others from outside.

    Parameters
    ----------
    calculation : str
        Of the test module.
    kept : list of tuple
        Where rows go: a test's `user_properties`.
    """

    def __init__(self, calculation: str, kept: list[tuple[str, object]]) -> None:
        self._calculation = calculation
        self._kept = kept

    def __call__(
        self,
        ours: Any,
        expected: Any,
        *,
        of: str,
        source: str,
        rel: float = 0.0,
        abs: float = 0.0,  # noqa: A002 - as in pytest.approx
        unit: str = "",
        kind: Kind = "published",
        seen: Seen = "read",
        calculation: str = "",
    ) -> None:
        """Assert that our figures lie within the tolerance of the others.

        Parameters
        ----------
        ours, expected : float or array_like
            As many figures on both sides.
        of, source, unit, kind, seen, calculation : str
            As in `Row`; `calculation` where it is not the module's.
        rel, abs : float
            Tolerances as shares and in the unit; the wider one holds. Both 0: equal.

        Raises
        ------
        AssertionError
            Where a figure lies beyond the tolerance.
        """
        own, other = (
            np.atleast_1d(np.asarray(ours, float)),
            np.atleast_1d(np.asarray(expected, float)),
        )
        assert own.shape == other.shape, (own.shape, other.shape)
        assert own.size, "nothing compared"
        allowed = np.maximum(rel * np.abs(other), abs)
        off = own - other
        share = off / np.where(allowed > 0.0, allowed, 1.0)
        worst = int(np.argmax(np.abs(share).round(6)))  # the first where only rounding differs
        mine, theirs = float(own.flat[worst]), float(other.flat[worst])
        row = Row(
            calculation=calculation or self._calculation,
            of=of,
            source=source,
            kind=kind,
            seen=seen,
            expected=told(theirs, unit),
            ours=told(mine, unit),
            error=float(share.flat[worst]) if rel or abs else 0.0,
            relative=float(off.flat[worst]) / theirs if theirs else 0.0,
            tolerance=" or ".join(
                ([f"{rel:.2g} of it"] if rel else []) + ([told(abs, unit)] if abs else [])
            )
            or "equal",
            figures=own.size,
        )
        assert np.all(np.abs(off) <= allowed), (
            f"{row.of}: {row.ours} against {row.expected}, {source}"
        )
        self._kept.append(("outside", asdict(row)))


def told(figure: float, unit: str) -> str:
    """A figure to four digits, with its unit."""
    return f"{figure:.4g} {unit}".rstrip()


def rows_of(properties: Iterable[tuple[str, Any]]) -> list[Row]:
    """Rows among the properties of a test."""
    return [Row(**value) for key, value in properties if key == "outside"]


def distinct(rows: Iterable[Row]) -> list[Row]:
    """Rows in order, of one check only the one that errs most.

    A check that runs twice, with compiled loops and without, is one.
    """
    found: dict[tuple[object, ...], Row] = {}
    for row in sorted(rows, key=lambda row: (abs(row.error), row.ours)):
        found[row.calculation, row.of, row.source, row.expected, row.figures] = row
    return sorted(found.values(), key=lambda row: (row.of, row.source, row.expected))


def page(rows: Iterable[Row]) -> str:
    """The validation page as Markdown.

    Parameters
    ----------
    rows : iterable of Row
        In any order.

    Returns
    -------
    str
        Counts, then one table per calculation.
    """
    by_calculation: dict[str, list[Row]] = defaultdict(list)
    for row in distinct(rows):
        by_calculation[row.calculation].append(row)
    sections = [_section(name, of_one) for name, of_one in sorted(by_calculation.items())]
    return "\n".join([_head(list(chain.from_iterable(by_calculation.values()))), *sections])


def unchanging(text: str) -> list[list[str]]:
    """Table cells of a page without our figures and errors, whose last digits a machine decides."""
    rows = [line.strip("| ").split(" | ") for line in text.splitlines() if line.startswith("|")]
    return [row[:2] + row[4:] for row in rows]


def picture(rows: Iterable[Row]) -> str:
    """Errors as shares of their tolerances, by what and which calculation is held against it.

    Parameters
    ----------
    rows : iterable of Row
        Those that allow no difference are left out: they have none.

    Returns
    -------
    str
        A picture as SVG.
    """
    groups: dict[tuple[str, str], list[float]] = defaultdict(list)
    for row in distinct(rows):
        if row.tolerance != "equal":
            groups[_against(row), row.calculation].append(row.error)
    sheet = Sheet(
        "Errors as shares of their tolerance", "Each dot is a row of the validation page."
    )
    middle, reach, bottom = 560.0, 240.0, 100.0 + 34.0 * len(groups)
    for share, words in ((-1.0, "− tolerance"), (0.0, "equal"), (1.0, "+ tolerance")):
        x = middle + reach * share
        sheet.line("rule", (x, 92.0), (x, bottom))
        sheet.text(x, 86.0, words, "small", "middle")
    for at, ((against, calculation), errors) in enumerate(sorted(groups.items())):
        y = 112.0 + 34.0 * at
        sheet.text(40.0, y + 4.0, f"{against}: {calculation}, {len(errors)}")
        for n, error in enumerate(errors):
            sheet.dot(middle + reach * error, y + 4.0 * (n % 5 - 2), 2.5)
    return sheet.svg(840.0, bottom + 30.0)


def _against(row: Row) -> str:
    """What a row is compared with, as the picture groups it."""
    programs = {
        "ngspice": "circuit simulator",
        "pvlib": "pvlib",
        "finite elements": "finite elements",
    }
    return next((group for word, group in programs.items() if word in row.source), row.kind)


def _head(rows: list[Row]) -> str:
    counts = [_counted(kind, [row for row in rows if row.kind == kind]) for kind in KINDS]
    return "\n".join([*_HEAD, *counts, _counted("all", rows), ""])


def _counted(name: str, rows: list[Row]) -> str:
    seen = [sum(row.seen == way for row in rows) for way in SEEN]
    return _line([name, *seen, len(rows), sum(row.figures for row in rows)])


def _line(cells: Iterable[object]) -> str:
    return f"| {' | '.join(str(cell).replace('|', '/') for cell in cells)} |"


def _section(calculation: str, rows: list[Row]) -> str:
    lines = [
        f"## {calculation}",
        "",
        "| what | other | ours | error | tolerance | figures | kind | source |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for row in rows:
        kind = row.kind if row.seen == "read" else f"{row.kind}, {row.seen}"
        figures = (row.expected, row.ours, _error(row), row.tolerance, row.figures)
        lines.append(_line((row.of, *figures, kind, row.source)))
    return "\n".join([*lines, ""])


def _error(row: Row) -> str:
    """Signed error; below what machines agree on, a bound."""
    if row.expected == row.ours and row.relative == 0.0:
        return "0"
    if abs(row.relative) < 1e-5:
        return "< 0.001 %"
    return f"{100.0 * row.relative:+.2g} %"
