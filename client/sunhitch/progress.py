"""How far a long calculation has come: told to a function, or drawn as a bar."""

from collections.abc import Callable, Generator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeAlias

import msgspec

from .errors import ConnectionFailedError, UnexpectedAnswerError, service_error
from .problems import read_problem

if TYPE_CHECKING:
    from tqdm import tqdm

ProgressCallback: TypeAlias = Callable[[int, int], object]
"""Told how many pieces are done, and how many there are."""

_EXCERPT = 80


class Line(msgspec.Struct, frozen=True):
    """A line of a stream, of which only as much is read as tells what it holds."""

    kind: str = ""
    done: int = 0
    total: int = 0
    answer: msgspec.Raw = msgspec.Raw()
    problem: msgspec.Raw = msgspec.Raw()


def read_line(line: bytes, request_id: str) -> Line:
    """What a line of a batch, or of an answer that tells its progress, holds.

    Raises
    ------
    UnexpectedAnswerError
        It is not a JSON object.
    """
    try:
        return msgspec.json.decode(line, type=Line)
    except (msgspec.DecodeError, UnicodeDecodeError):
        told = line[:_EXCERPT].decode(errors="replace")
        raise UnexpectedAnswerError(f"This line is no answer: {told}", request_id) from None


class ProgressReader:
    """Reads an answer that comes after lines of progress.

    Parameters
    ----------
    on_progress : callable
        Told of every line of progress.
    request_id : str
        Of the call.
    """

    def __init__(self, on_progress: ProgressCallback, request_id: str) -> None:
        self._on_progress = on_progress
        self._request_id = request_id
        self._answer = b""

    def read(self, line: str) -> None:
        """Take the next line; one of a kind that this version does not know is passed over.

        Raises
        ------
        ServiceError
            It is a problem document.
        UnexpectedAnswerError
            It is not JSON.
        """
        if not line:
            return
        told = read_line(line.encode(), self._request_id)
        match told.kind:
            case "progress":
                self._on_progress(told.done, told.total)
            case "answer":
                self._answer = bytes(told.answer)
            case "problem":
                problem = read_problem(bytes(told.problem), self._request_id)
                raise service_error(problem, self._request_id)
            case _:
                pass

    def answer(self) -> bytes:
        """The answer, after the last line.

        Raises
        ------
        ConnectionFailedError
            The lines ended before it.
        """
        if not self._answer:
            raise ConnectionFailedError(
                "The connection ended before the answer came.", self._request_id
            )
        return self._answer


def bars() -> "type[tqdm[Any]]":
    """What draws progress bars, in a terminal or a notebook.

    Raises
    ------
    ModuleNotFoundError
        tqdm is not installed.
    """
    try:
        from tqdm.auto import tqdm
    except ModuleNotFoundError as missing:
        raise ModuleNotFoundError(
            "The progress bar needs tqdm; run pip install tqdm, or give a function.", name="tqdm"
        ) from missing
    return tqdm


@contextmanager
def piece_reporter(progress: bool | ProgressCallback) -> Generator[ProgressCallback]:
    """Where progress is told: to a function, or to a bar that is drawn here.

    Raises
    ------
    ModuleNotFoundError
        A bar was asked for and tqdm, which draws it, is not installed.
    """
    if not isinstance(progress, bool):
        yield progress
        return
    with bars()(unit="piece", leave=False) as bar:

        def advance(done: int, total: int) -> None:
            bar.total = total
            bar.n = done
            bar.refresh()

        yield advance
