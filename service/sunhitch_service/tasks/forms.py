"""Forms of an answer: whole or in part, as one drawing, or with several in one body."""

from dataclasses import dataclass
from typing import Any, Literal

from sunhitch.selection import AnswerSelection
from sunhitch.types.check import Answer
from sunhitch_service.calculations.calculation import Rendering
from sunhitch_service.drawing.columns import CsvStyle
from sunhitch_service.drawing.dark import in_the_dark
from sunhitch_service.drawing.spreadsheet import SPREADSHEETS, spreadsheet

from .media_types import JSON, MULTIPART

USUAL_CSV = CsvStyle()
ALL = AnswerSelection()

Theme = Literal["light", "dark"]
THEMES: tuple[Theme, ...] = ("light", "dark")


@dataclass(frozen=True, slots=True)
class Form:
    """One form of an answer; sent to workers.

    Parameters
    ----------
    media_type : str
        Of the body, without a boundary.
    renderings : tuple of Rendering
        The one drawing, or those that come along with the answer.
    selection : AnswerSelection
        What of the answer is told.
    csv : CsvStyle
        How tables are written.
    theme : {'light', 'dark'}
        Colours of pictures.
    whole : bool
        Whether a workbook holds more than the tables that were asked for.
    """

    media_type: str = JSON
    renderings: tuple[Rendering, ...] = ()
    selection: AnswerSelection = ALL
    csv: CsvStyle = USUAL_CSV
    theme: Theme = "light"
    whole: bool = True

    @property
    def name(self) -> str:
        """What tells it from other forms of the same answer."""
        views = ",".join(one.view for one in self.renderings)
        looks = self.csv.decimal, self.csv.separator or "", self.theme
        return "|".join((self.media_type, views, *self.selection.query.values(), *looks))

    @property
    def draws(self) -> bool:
        """Whether it takes more than the answer itself."""
        return bool(self.renderings) or self.media_type in SPREADSHEETS

    def body(self, request: Any, answer: Any) -> bytes:  # noqa: ANN401 - any calculation's
        """The answer in this form."""
        if self.media_type == MULTIPART:
            told = [(JSON, "answer", self.selection.told(answer))]
            told += [
                (one.media_type, one.view, self._drawn(one, request, answer))
                for one in self.renderings
            ]
            return _multipart(answer, told)
        if self.media_type in SPREADSHEETS:
            tables = {one.view: one.columns(answer) for one in self.renderings if one.columns}
            return spreadsheet(self.media_type, request, answer, tables, whole=self.whole)
        if self.renderings:
            return self._drawn(self.renderings[0], request, answer)
        return self.selection.told(answer)

    def _drawn(self, one: Rendering, request: Any, answer: Any) -> bytes:  # noqa: ANN401
        if one.columns:
            return self.csv.written(one.columns(answer)).encode()
        drawn = one.draw(request, answer)
        return (in_the_dark(drawn) if self.theme == "dark" else drawn).encode()

    def content_type(self, boundary: str) -> str:
        """Media type, with the boundary where there are several parts."""
        several = self.media_type == MULTIPART
        return f"{MULTIPART}; boundary={boundary}" if several else self.media_type


WHOLE = Form()
"""The answer as JSON."""


def _multipart(answer: Answer, parts: list[tuple[str, str, bytes]]) -> bytes:
    """Bodies put together after RFC 2046, 5.1; the boundary is a digest of what is asked."""
    boundary = answer.answer_id.encode()
    pieces: list[bytes] = []
    for media_type, name, body in parts:
        charset = "; charset=utf-8" if media_type.startswith("text/") else ""
        head = f'Content-Type: {media_type}{charset}\r\nContent-Disposition: inline; name="{name}"'
        pieces += [b"--", boundary, b"\r\n", head.encode(), b"\r\n\r\n", body, b"\r\n"]
    return b"".join([*pieces, b"--", boundary, b"--\r\n"])
