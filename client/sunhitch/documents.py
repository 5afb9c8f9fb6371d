"""Documents of an answer: those that came along with it, and others of whoever computed it."""

from dataclasses import dataclass
from email.parser import BytesParser
from email.policy import HTTP
from os import PathLike
from pathlib import Path
from typing import cast

from .exchange import Exchange, RawAnswer, read_answer
from .operations.operation import A
from .pictures import drawn_as, png
from .report.differences import differences
from .types.check import Answer


@dataclass(frozen=True, slots=True)
class AnswerDocuments:
    """Documents of one answer.

    Parameters
    ----------
    exchange : Exchange
        What was asked.
    reply : RawAnswer
        What came back.
    """

    exchange: Exchange
    reply: RawAnswer

    @property
    def request_id(self) -> str:
        """Id of the call, as in the log of the service."""
        return self.reply.request_id

    def drawn(self, media_type: str, view: str) -> bytes:
        """A picture, a sheet, a table or a workbook; errors as of `Documented.html`."""
        for (kind, name), document in self.reply.documents.items():
            if kind == media_type and view in ("", name):
                return document.encode()
        if self.reply.draw is None:
            raise ValueError(f"{view or media_type} did not come along; name it in views=[…].")
        return self.reply.draw(self.exchange, media_type, view)

    def save(self, path: str | PathLike[str], view: str) -> None:
        """Write one to a file; errors as of `Documented.save`."""
        media_type = drawn_as(path)
        content = self.drawn(media_type, view) if media_type else self.reply.body
        is_png = Path(path).suffix.lower() == ".png"
        Path(path).write_bytes(png(content.decode()) if is_png else content)

    def differences(self, older: Answer, newer: Answer) -> str:
        """What changed between two answers, in ten lines or less."""
        return differences(older, newer)


def read_documented(exchange: Exchange, kind: type[A], reply: RawAnswer) -> A:
    """An answer with its documents; errors as of `read_answer`."""
    answer = read_answer(exchange.operation.name, kind, reply)
    return answer.with_documents(AnswerDocuments(exchange, reply))


def parts_of(content_type: str, body: bytes) -> tuple[bytes, dict[tuple[str, str], str]]:
    """The answer and the documents of a multipart body (RFC 2046, 5.1), by media type and name."""
    head = f"Content-Type: {content_type}\r\n\r\n".encode()
    whole = BytesParser(policy=HTTP).parsebytes(head + body)
    answer, documents = b"", dict[tuple[str, str], str]()
    for part in whole.iter_parts():
        content = cast("bytes", part.get_payload(decode=True))
        name = part.get_param("name", "", "Content-Disposition")
        if part.get_content_type() == "application/json":
            answer = content
        else:
            documents[part.get_content_type(), str(name)] = content.decode()
    return answer, documents
