"""Answers in notebooks: after ``%load_ext sunhitch.notebook`` they show themselves as tables."""

from collections.abc import Callable, Iterable
from html import escape
from typing import Any, Protocol

from . import report
from .operations import OPERATIONS
from .report.amounts import both, percent
from .types.check import VERDICTS, Answer, Check

_MARK = {"pass": "✓", "review": "◐", "not-assessed": "?", "fail": "✗"}
_HEAD = ("", "Rule", "Applied to", "Asked", "Allowed", "Used", "What to change")


def html(answer: Answer) -> str:
    """An answer as HTML: verdict, every check that does not pass, and the whole text to unfold.

    Parameters
    ----------
    answer : Answer
        Of any calculation of the contract.

    Returns
    -------
    str
        A fragment without scripts or external addresses.
    """
    open_points = sorted(
        (check for check in answer.checks if check.verdict != "pass"),
        key=lambda check: (-VERDICTS.index(check.verdict), -(check.utilisation_fraction or 0.0)),
    )
    passed = len(answer.checks) - len(open_points)
    verdict = answer.verdict.replace("-", " ")
    return (
        f"<div><p><strong>{_MARK[answer.verdict]} {escape(verdict)}</strong> – "
        f"{escape(report.title(answer))}; {passed} of {len(answer.checks)} checks pass.</p>"
        f"{_table(open_points) if open_points else ''}"
        "<details><summary>Everything in words</summary>"
        f"<pre>{escape(report.text(answer, full=True))}</pre></details></div>"
    )


def _table(checks: Iterable[Check]) -> str:
    head = "".join(f'<th scope="col">{name}</th>' for name in _HEAD)
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in _cells(check)) + "</tr>"
        for check in checks
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _cells(check: Check) -> tuple[str, ...]:
    share = check.utilisation_fraction
    return (
        f"{_MARK[check.verdict]} {check.verdict.replace('-', ' ')}",
        check.title,
        check.subject,
        "" if check.demand is None else both(check.demand, check.unit),
        "" if check.capacity is None else both(check.capacity, check.unit),
        "" if share is None else percent(share),
        check.remedy,
    )


class _Formatter(Protocol):
    def for_type(self, kind: type, function: Callable[[Any], str]) -> object: ...


class _DisplayFormatter(Protocol):
    formatters: dict[str, _Formatter]


class _Shell(Protocol):
    display_formatter: _DisplayFormatter


def load_ipython_extension(shell: _Shell) -> None:
    """Show every answer as HTML in this notebook; ``%load_ext sunhitch.notebook`` calls this."""
    for operation in OPERATIONS:
        shell.display_formatter.formatters["text/html"].for_type(operation.answer, html)
