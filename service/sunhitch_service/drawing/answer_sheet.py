"""The sheet of any single calculation: one page of HTML that needs nothing else and prints well."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sunhitch import report
from sunhitch.report.grouping import counted
from sunhitch.types.check import Answer

from .sheets import page


@dataclass(frozen=True, slots=True)
class AnswerSheet:
    """Draws the sheet of one kind of answer.

    Parameters
    ----------
    pictures : tuple of callable
        Module-level functions from request and answer to SVG, or to nothing where there is
        nothing to show.
    """

    pictures: tuple[Callable[[Any, Any], str], ...]

    def __call__(self, request: Any, answer: Answer) -> str:  # noqa: ANN401 - of any calculation
        """HTML with its styles and drawings inside."""
        from markupsafe import Markup

        pictures = [draw(request, answer) for draw in self.pictures]
        return page(
            "answer_sheet.html.j2",
            answer,
            title=report.title(answer),
            counted=counted(answer.checks),
            # Our own drawings, with every text in them escaped.
            pictures=[Markup(drawn) for drawn in pictures if drawn],  # noqa: S704
            results=report.results(answer),
        )
