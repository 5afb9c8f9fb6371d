"""What a calculation of the contract is: its name, its types, and how its answer is told."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, Self, TypeAlias, TypeVar, overload

from sunhitch.progress import ProgressCallback
from sunhitch.report.layout import Page
from sunhitch.report.summary import summary
from sunhitch.types.base import Input
from sunhitch.types.check import Answer

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=Answer)
Plain: TypeAlias = Mapping[str, Any] | bytes
"""A request as plain data, or as JSON text in UTF-8."""


class Caller(ABC):
    """Asks any operation and waits for the answer."""

    @abstractmethod
    def call(
        self,
        operation: "Operation[Q, A]",
        request: Q | Plain,
        progress: bool | ProgressCallback = False,
    ) -> A:
        """Ask an operation."""


class AsyncCaller(ABC):
    """Asks any operation in an event loop."""

    @abstractmethod
    async def call(
        self,
        operation: "Operation[Q, A]",
        request: Q | Plain,
        progress: bool | ProgressCallback = False,
    ) -> A:
        """Ask an operation."""


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
    """

    name: str
    request: type[Q]
    answer: type[A]
    title: str
    description: str
    present: Callable[[Page, A], list[str]]
    in_pieces: bool = False

    @overload
    def __get__(self, holder: Caller, owner: type) -> "OperationCall[Q, A]": ...

    @overload
    def __get__(self, holder: AsyncCaller, owner: type) -> "AsyncOperationCall[Q, A]": ...

    @overload
    def __get__(self, holder: object, owner: type) -> Self: ...

    def __get__(
        self, holder: object, owner: type
    ) -> "Self | OperationCall[Q, A] | AsyncOperationCall[Q, A]":
        if isinstance(holder, Caller):
            return OperationCall(self, holder)
        if isinstance(holder, AsyncCaller):
            return AsyncOperationCall(self, holder)
        return self

    @property
    def path(self) -> str:
        """Path of the POST call."""
        return f"/v1/{self.name}"

    def text(self, answer: A, page: Page | None = None, *, full: bool = False) -> str:
        """Verdict, what fails and how to mend it, results, assumptions and cautions.

        Parameters
        ----------
        answer : Answer
            Of this operation.
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
        return summary(page, self.title, answer, self.present(page, answer), full)


class _BoundOperation(Generic[Q, A]):
    """An operation as a method of a client, described in notebooks and by `help`."""

    def __init__(self, operation: Operation[Q, A]) -> None:
        self._operation = operation
        self.__name__ = operation.name.replace("-", "_")
        self.__doc__ = f"{operation.title}. {operation.description}"

    def __repr__(self) -> str:
        asked, answered = self._operation.request.__name__, self._operation.answer.__name__
        return f"<{self.__name__}({asked}) -> {answered}>"


class OperationCall(_BoundOperation[Q, A]):
    """One operation of a client that waits.

    Parameters
    ----------
    operation : Operation
        What is asked.
    client : Caller
        Who asks.
    """

    def __init__(self, operation: Operation[Q, A], client: Caller) -> None:
        super().__init__(operation)
        self._client = client

    def __call__(self, request: Q | Plain, *, progress: bool | ProgressCallback = False) -> A:
        """Ask; as `Client.call`."""
        return self._client.call(self._operation, request, progress)


class AsyncOperationCall(_BoundOperation[Q, A]):
    """One operation of a client in an event loop.

    Parameters
    ----------
    operation : Operation
        What is asked.
    client : AsyncCaller
        Who asks.
    """

    def __init__(self, operation: Operation[Q, A], client: AsyncCaller) -> None:
        super().__init__(operation)
        self._client = client

    async def __call__(self, request: Q | Plain, *, progress: bool | ProgressCallback = False) -> A:
        """Ask; as `AsyncClient.call`."""
        return await self._client.call(self._operation, request, progress)
