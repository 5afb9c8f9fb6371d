"""Answers as comma-separated tables."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import TypeVar

import msgspec

from sunhitch.types.base import Output
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest

S = TypeVar("S", bound=Output)

_FORMULA_SIGNS = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
"""What formulas begin with, also in full width."""


def wire_schedule(request: FitOutRequest, answer: FitOutAnswer) -> str:  # noqa: ARG001
    """The wire schedule, a line a cable."""
    return _table(answer.wire_schedule)


def parts_list(request: FitOutRequest, answer: FitOutAnswer) -> str:  # noqa: ARG001
    """The parts list, a line a part."""
    return _table(answer.parts_list)


def curve_points(request: ShadedIvRequest, answer: ShadedIvAnswer) -> str:  # noqa: ARG001
    """The curve; only its header where the request asked for none."""
    curve = answer.curve
    rows = zip(curve.voltage_v, curve.current_a, strict=True)
    return written(("voltage_v", "current_a"), rows)


def state_maxima(request: ShadedIvRequest, answer: ShadedIvAnswer) -> str:  # noqa: ARG001
    """The maximum of every further state, a line each."""
    head = ("name", "power_w", "voltage_v", "current_a", "of_unshaded_fraction")
    rows = (
        (one.name, *msgspec.structs.astuple(one.maximum_power_point), one.of_unshaded_fraction)
        for one in answer.states
    )
    return written(head, rows)


def _table(rows: Sequence[S]) -> str:
    fields = rows[0].__struct_fields__ if rows else ()
    return written(fields, (msgspec.structs.astuple(row) for row in rows))


def written(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as comma-separated text; what a spreadsheet would run as a formula is marked."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return text.getvalue()


def _cell(cell: object) -> object:
    """Lists as one text; a text that a spreadsheet could run as a formula is marked as text."""
    if isinstance(cell, list):
        cell = "; ".join(str(one) for one in cell)
    if isinstance(cell, str) and (cell[:1].isspace() or cell.startswith(_FORMULA_SIGNS)):
        return f"'{cell}"
    return cell
