"""What a calculation of the contract is: its name, its types, and how its answer is told."""

from collections.abc import Callable, Coroutine, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, Self, TypeAlias, TypeVar, overload

from sunhitch.calls import InLoop, Waiting
from sunhitch.progress import ProgressCallback
from sunhitch.report.layout import Page
from sunhitch.report.summary import Detail, summary
from sunhitch.types.base import Input
from sunhitch.types.check import Answer

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=Answer)
R = TypeVar("R")
Plain: TypeAlias = Mapping[str, Any] | bytes
"""A request as plain data, or as JSON text in UTF-8."""


@dataclass(frozen=True, slots=True)
class Operation(Generic[Q, A]):
    """One calculation of the contract; as an attribute of a client, the call that asks it.

    Parameters
    ----------
    name : str
        Kebab-case name, the last part of the path.
    request, answer : type
        Contract Structs.
    title : str
        What it answers, in a few words.
    description : str
        What it is given and what it answers.
    present : callable
        Lines about the results that only this calculation has.
    in_pieces : bool
        Whether it may take long, and tells its progress on the way.
    has_tables : bool
        Whether its answers can be had as CSV.
    """

    name: str
    request: type[Q]
    answer: type[A]
    title: str
    description: str
    present: Callable[[Page, A], list[str]]
    in_pieces: bool = False
    has_tables: bool = False

    @overload
    def __get__(self, holder: Waiting, owner: type) -> "OperationCall[Q, A]": ...

    @overload
    def __get__(
        self, holder: InLoop, owner: type
    ) -> "OperationCall[Q, Coroutine[Any, Any, A]]": ...

    @overload
    def __get__(self, holder: object, owner: type) -> Self: ...

    def __get__(self, holder: Any, owner: type) -> Any:
        if holder is None or not issubclass(owner, Waiting | InLoop):
            return self
        return OperationCall(self, holder.call)

    @property
    def path(self) -> str:
        """Path of the POST call."""
        return f"/v1/{self.name}"

    def text(self, answer: A, page: Page | None = None, detail: Detail = "long") -> str:
        """Verdict, what fails and how to mend it, results, assumptions and cautions.

        Parameters
        ----------
        answer : Answer
            Of this operation.
        page : Page or None
            Width and colour; 100 columns without colour where none is given.
        detail : str
            ``"short"``: verdict, what to mend and the choice, on at most 40 lines; ``"full"``:
            passing checks and the basis of every rule too.

        Returns
        -------
        str
            Lines that fit the page, with a line feed at the end.
        """
        page = page or Page()
        return summary(page, self.title, answer, self.present(page, answer), detail)


class OperationCall(Generic[Q, R]):
    """One operation as a method of a client, described in notebooks and by `help`.

    Parameters
    ----------
    operation : Operation
        What is asked.
    call : callable
        `Client.call` or `AsyncClient.call`.
    """

    def __init__(self, operation: Operation[Q, Any], call: Callable[..., R]) -> None:
        self._operation = operation
        self._call = call
        self.__name__ = operation.name.replace("-", "_")
        self.__doc__ = f"{operation.title}. {operation.description}"

    def __call__(
        self,
        request: Q | Plain,
        *,
        progress: bool | ProgressCallback = False,
        views: Iterable[str] = (),
    ) -> R:
        """Ask; as `Client.call`."""
        return self._call(self._operation, request, progress, views)

    def __repr__(self) -> str:
        asked, answered = self._operation.request.__name__, self._operation.answer.__name__
        return f"<{self.__name__}({asked}) -> {answered}>"
