"""The sheet of any single calculation: one page of HTML that needs nothing else and prints well."""

import math
import re
from collections.abc import Callable, Sequence
from typing import Any

from sunhitch.operations import operation_of
from sunhitch.report.grouping import counted
from sunhitch.report.layout import Page
from sunhitch.types.check import Answer

from .sheets import page

_PAGES = (Page(), Page(width=42))
"""As wide as paper, and as a phone of 390 px."""
_LEAST_PX = 14.0
_VIEW, _LETTERS = re.compile(r'viewBox="\S+ \S+ (\S+) '), re.compile(r'font-size="([\d.]+)"')


def answer_sheet(
    pictures: Sequence[Callable[[Any, Any], str]],
    request: Any,  # noqa: ANN401 - of any calculation
    answer: Answer,
) -> str:
    """The sheet of one kind of answer, as HTML with its styles and drawings inside.

    Parameters
    ----------
    pictures : sequence of callable
        Module-level functions from request and answer to SVG, or to nothing where there is
        nothing to show.
    request, answer : Input, Answer
        What was asked and answered.
    """
    from markupsafe import Markup

    operation = operation_of(answer)
    drawings = [draw(request, answer) for draw in pictures]
    return page(
        "answer_sheet.html.j2",
        answer,
        title=operation.title,
        counted=counted(answer.checks),
        # Our own drawings, with every text in them escaped.
        pictures=[(Markup(drawn), _phone_px(drawn)) for drawn in drawings if drawn],  # noqa: S704
        results=["\n".join(operation.present(p, answer)).strip("\n") for p in _PAGES],
    )


def _phone_px(svg: str) -> int:
    """Width at which the smallest letters of a picture are read on a roof [px]."""
    wide = float(_VIEW.findall(svg)[0])
    return math.ceil(wide * _LEAST_PX / min(map(float, _LETTERS.findall(svg)), default=_LEAST_PX))
