"""Answers as text for people: ``print(report.text(answer))``; the command line does the same."""

from sunhitch.operations import OPERATIONS
from sunhitch.types.check import Answer

from .layout import Page
from .results import PRESENTERS
from .summary import summary

_BY_ANSWER = {operation.answer: operation for operation in OPERATIONS}


def text(answer: Answer, page: Page | None = None, *, full: bool = False) -> str:
    """Verdict, what fails and how to mend it, results, assumptions and cautions.

    Parameters
    ----------
    answer : Answer
        Of any calculation of the contract.
    page : Page or None
        Width and colour; 100 columns without colour where none is given.
    full : bool
        Whether passing checks and the basis of every rule are listed too.

    Returns
    -------
    str
        Lines that fit the page, with a line feed at the end.
    """
    page = page or Page()
    operation = _BY_ANSWER[type(answer)]
    results = PRESENTERS[operation.name](page, answer)
    return summary(page, operation.title, answer, results, full)


def results(answer: Answer) -> str:
    """What only this calculation has to tell, as text: figures and tables."""
    present = PRESENTERS[_BY_ANSWER[type(answer)].name]
    return "\n".join(present(Page(), answer)).strip("\n")


def title(answer: Answer) -> str:
    """What was asked, in a few words."""
    return _BY_ANSWER[type(answer)].title
