"""What a calculation of the contract is: its name, its types, and how its answer is told."""

from collections.abc import Callable, Coroutine, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Generic, Protocol, Self, TypeAlias, TypeVar, cast, overload

from msgspec import defstruct
from msgspec.structs import fields

from sunhitch.calls import InLoop, Waiting
from sunhitch.progress import ProgressCallback
from sunhitch.report.layout import Page
from sunhitch.report.summary import Detail, summary
from sunhitch.types.base import Input
from sunhitch.types.check import Answer, AnswerPart, Checks

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=AnswerPart)
P = TypeVar("P", bound=AnswerPart)
W = TypeVar("W", bound=Answer)
Q_contra = TypeVar("Q_contra", bound=Input, contravariant=True)
A_co = TypeVar("A_co", bound=AnswerPart, covariant=True)
R = TypeVar("R")
Awaited: TypeAlias = Coroutine[Any, Any, R]
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
    fields : tuple of str
        Parts of the answer that are asked for; all of them where empty.
    """

    name: str
    request: type[Q]
    answer: type[A]
    title: str
    description: str
    present: Callable[[Page, A], list[str]]
    in_pieces: bool = False
    has_tables: bool = False
    fields: tuple[str, ...] = ()

    @overload
    def __get__(self, holder: Waiting, owner: type) -> "OperationCall[Q, A]": ...

    @overload
    def __get__(self, holder: InLoop, owner: type) -> "AwaitedCall[Q, A]": ...

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

    @overload
    def part(self, wanted: type[P]) -> "Operation[Q, P]": ...

    @overload
    def part(self, wanted: Iterable[str]) -> "Operation[Q, Any]": ...

    def part(self, wanted: type[P] | Iterable[str]) -> "Operation[Q, Any]":
        """The same calculation, asked for parts of its answer.

        Parameters
        ----------
        wanted : type or iterable of str
            Subclass of `AnswerPart` whose fields are named and typed as those of the answer; names
            alone do where no type checker looks on.
        """
        if isinstance(wanted, type):
            names = tuple(one.encode_name for one in fields(wanted))
            return replace(self, answer=cast("Any", wanted), fields=names)
        names, always = tuple(wanted), AnswerPart.__struct_fields__
        told = [
            (one.name, one.type)
            for one in fields(self.answer)
            if one.name in names and one.name not in always
        ]
        kind = f"{self.answer.__name__}Part"
        made: Any = defstruct(kind, told, bases=(AnswerPart,), kw_only=True)
        return replace(self, answer=made, fields=names)

    def text(
        self: "Operation[Q, W]", answer: W, page: Page | None = None, detail: Detail = "long"
    ) -> str:
        """Verdict, what fails and how to mend it, results, assumptions and cautions.

        Parameters
        ----------
        answer : Answer
            All of it, of this operation.
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


class OperationCall(Generic[Q, A]):
    """One operation as a method of a client, described in notebooks and by `help`.

    Parameters
    ----------
    operation : Operation
        What is asked.
    call : callable
        `Client.call` or `AsyncClient.call`.
    """

    def __init__(self, operation: Operation[Q, A], call: Callable[..., Any]) -> None:
        self._operation = operation
        self._call = call
        self.__name__ = operation.name.replace("-", "_")
        self.__doc__ = f"{operation.title}. {operation.description}"

    @overload
    def __call__(
        self,
        request: Q | Plain,
        *,
        progress: bool | ProgressCallback = False,
        views: Iterable[str] = (),
        checks: Checks = "all",
        fields: None = None,
    ) -> A: ...

    @overload
    def __call__(
        self,
        request: Q | Plain,
        *,
        views: Iterable[str] = (),
        checks: Checks = "all",
        fields: type[P],
    ) -> P: ...

    @overload
    def __call__(
        self,
        request: Q | Plain,
        *,
        views: Iterable[str] = (),
        checks: Checks = "all",
        fields: Iterable[str],
    ) -> Any: ...  # noqa: ANN401 - no checker knows names

    def __call__(
        self,
        request: Q | Plain,
        *,
        progress: bool | ProgressCallback = False,
        views: Iterable[str] = (),
        checks: Checks = "all",
        fields: type[AnswerPart] | Iterable[str] | None = None,
    ) -> Any:
        """Ask; as `Client.call`, `fields` as of `Operation.part`."""
        operation = self._operation if fields is None else self._operation.part(fields)
        return self._call(operation, request, progress, views, checks)

    def __repr__(self) -> str:
        asked, answered = self._operation.request.__name__, self._operation.answer.__name__
        return f"<{self.__name__}({asked}) -> {answered}>"


class AwaitedCall(Protocol[Q_contra, A_co]):
    """`OperationCall` of a client in an event loop."""

    @overload
    def __call__(
        self,
        request: Q_contra | Plain,
        *,
        progress: bool | ProgressCallback = False,
        views: Iterable[str] = (),
        checks: Checks = "all",
        fields: None = None,
    ) -> Awaited[A_co]: ...

    @overload
    def __call__(
        self,
        request: Q_contra | Plain,
        *,
        views: Iterable[str] = (),
        checks: Checks = "all",
        fields: type[P],
    ) -> Awaited[P]: ...

    @overload
    def __call__(
        self,
        request: Q_contra | Plain,
        *,
        views: Iterable[str] = (),
        checks: Checks = "all",
        fields: Iterable[str],
    ) -> Awaited[Any]: ...
