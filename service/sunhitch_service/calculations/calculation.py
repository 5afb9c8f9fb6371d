"""What a calculation of the service is: its operation, function, computing time and drawings."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Generic, TypeAlias

from sunhitch.operations.operation import Operation, Q, W
from sunhitch_service.drawing.answer_sheet import answer_sheet
from sunhitch_service.drawing.columns import Columns, as_csv
from sunhitch_service.engine.divided import Divided


@dataclass(frozen=True, slots=True)
class Rendering:
    """One way to show an answer.

    Parameters
    ----------
    media_type : str
        For example ``image/svg+xml``.
    view : str
        Name in kebab-case, to choose among several of the same media type.
    description : str
        What it shows.
    draw : callable
        From request and answer to text; a module-level function or another callable that can be
        sent to another process.
    columns : callable or None
        From answer to the values of a table.
    """

    media_type: str
    view: str
    description: str
    draw: Callable[[Any, Any], str]
    columns: Callable[[Any], Columns] | None = None


def picture(view: str, description: str, draw: Callable[[Any, Any], str]) -> Rendering:
    """A picture as SVG."""
    return Rendering("image/svg+xml", view, description, draw)


def table(view: str, description: str, columns: Callable[[Any], Columns]) -> Rendering:
    """A table, as CSV or in a workbook."""
    return Rendering("text/csv", view, description, partial(as_csv, columns), columns)


def sheet(*pictures: Callable[[Any, Any], str]) -> Rendering:
    """Everything on one sheet as HTML."""
    return Rendering(
        "text/html", "sheet", "Everything on one sheet, to print.", partial(answer_sheet, pictures)
    )


@dataclass(frozen=True, slots=True)
class ComputingTime:
    """What an answer costs.

    Parameters
    ----------
    expected_ms : callable
        From a request to milliseconds on one core, None where they cannot be told; module-level,
        since it goes to other processes.
    advice : str
        What a caller can reduce.
    """

    expected_ms: Callable[[Any], float | None]
    advice: str


@dataclass(frozen=True, slots=True)
class Calculation(Generic[Q, W]):
    """One calculation as it is served.

    Parameters
    ----------
    operation : Operation
        Name, types and words of the contract.
    calculate : callable
        Module-level function from request to answer.
    computing_time : ComputingTime
        What an answer costs.
    renderings : tuple of Rendering
        Ways to show the answer other than as JSON; the first of each media type is the usual one.
    divided : Divided or None
        The same function in pieces, where it may take long.
    usually_whole : bool
        Whether it is only divided for callers who want to know how far it is.
    """

    operation: Operation[Q, W]
    calculate: Callable[[Q], W]
    computing_time: ComputingTime
    renderings: tuple[Rendering, ...] = ()
    divided: Divided[Q, Any, Any, W] | None = None
    usually_whole: bool = False


AnyCalculation: TypeAlias = Calculation[Any, Any]
