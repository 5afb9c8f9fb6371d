"""Answers in notebooks: after ``%load_ext sunhitch.notebook`` they show themselves as tables.

`show` asks and adds the picture::

    from sunhitch import Client, operations
    from sunhitch.notebook import show

    show(Client.embedded(), operations.FIT_OUT, job)
"""

from base64 import b64encode
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from typing import Any, Generic

from .client import Client
from .errors import NO_SUCH_DRAWING, ServiceError
from .operations import OPERATIONS, operation_of
from .operations.operation import Operation, Plain, Q, W
from .report.amounts import both, percent
from .report.grouping import judged, verdict_of
from .types.check import VERDICTS, Answer, Check

_MARK = {"pass": "✓", "review": "◐", "not-assessed": "?", "fail": "✗"}
_HEAD = ("", "Rule", "Applied to", "Asked", "Allowed", "Used", "What to change")


@dataclass(frozen=True, slots=True)
class ShownAnswer(Generic[W]):
    """An answer that shows itself in a notebook: verdict, open points, picture, choice.

    Parameters
    ----------
    answer : Answer
        Of any calculation of the contract.
    picture : str
        Its drawing as SVG; empty where there is none.
    """

    answer: W
    picture: str

    def _repr_html_(self) -> str:
        return html(self.answer, self.picture)

    def __str__(self) -> str:
        """The answer as text."""
        return operation_of(self.answer).text(self.answer)


def show(
    client: Client, operation: Operation[Q, W], request: Q | Plain, view: str = ""
) -> ShownAnswer[W]:
    """Ask, and show the answer with its picture.

    Parameters
    ----------
    client : Client
        Whom to ask.
    operation : Operation
        From `sunhitch.operations`.
    request : Input, mapping or bytes
        Its request, as a contract Struct, as plain data or as JSON.
    view : str
        Which picture, where there are several.

    Raises
    ------
    SunhitchError
        There is no answer.
    """
    answer = client.call(operation, request)
    try:
        return ShownAnswer(answer, answer.svg(view))
    except ServiceError as fault:
        if fault.status != NO_SUCH_DRAWING or view:
            raise
        return ShownAnswer(answer, "")


def html(answer: Answer, picture: str = "") -> str:
    """An answer as HTML: verdict, every check that does not pass, and the short text to unfold.

    Parameters
    ----------
    answer : Answer
        Of any calculation of the contract.
    picture : str
        A drawing of it as SVG, kept apart from the page so that neither styles the other.

    Returns
    -------
    str
        A fragment without scripts or external addresses.
    """
    open_points = [
        check for verdict in reversed(VERDICTS[1:]) for check in judged(answer.checks, verdict)
    ]
    passed = len(answer.checks) - len(open_points)
    verdict = verdict_of(answer)
    return (
        f"<div><p><strong>{_MARK[verdict]} {verdict.replace('-', ' ')}</strong> – "
        f"{escape(operation_of(answer).title)}; {passed} of {len(answer.checks)} checks pass.</p>"
        f"{_table(open_points) if open_points else ''}{_picture(answer, picture)}"
        "<details><summary>In words</summary>"
        f"<pre>{escape(operation_of(answer).text(answer, detail='short'))}</pre></details></div>"
    )


def _picture(answer: Answer, svg: str) -> str:
    if not svg:
        return ""
    alt = escape(f"Drawing: {operation_of(answer).title}")
    data = b64encode(svg.encode()).decode()
    return (
        f'<p><img alt="{alt}" style="max-width: 100%" src="data:image/svg+xml;base64,{data}"></p>'
    )


def _table(checks: Iterable[Check]) -> str:
    head = "".join(f'<th scope="col">{name}</th>' for name in _HEAD)
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in _cells(check)) + "</tr>"
        for check in checks
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _cells(check: Check) -> tuple[str, ...]:
    share, unit = check.utilisation_fraction, check.unit or "1"
    return (
        f"{_MARK[verdict_of(check)]} {check.verdict.replace('-', ' ')}",
        check.title,
        check.subject or "",
        "" if check.demand is None else both(check.demand, unit),
        "" if check.capacity is None else both(check.capacity, unit),
        "" if share is None else percent(share),
        check.remedy,
    )


def load_ipython_extension(shell: Any) -> None:  # noqa: ANN401 - the notebook's business
    """Show every answer as HTML in this notebook; ``%load_ext sunhitch.notebook`` calls this."""
    for operation in OPERATIONS:
        shell.display_formatter.formatters["text/html"].for_type(operation.answer, html)
