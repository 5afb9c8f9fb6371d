"""Long calculations cut into independent pieces, which any executor may carry out.

The pieces are the same whoever carries them out, and are put together in one order, so that the
answer is the same to the last bit in one thread, in many processes and on a cluster.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, as_completed
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeAlias, TypeVar

Progress: TypeAlias = Callable[[int, int], object]
"""Told how many pieces are done, and how many there are."""


class Prepared(Protocol):
    """A request made ready to be worked on."""

    @property
    def jobs(self) -> Sequence[Any]:
        """Independent pieces of about equal size, each fit to be sent to another process."""
        ...

    @property
    def pieces(self) -> int:
        """How many there are, those of the second round too."""
        ...


Q = TypeVar("Q")
P = TypeVar("P", bound=Prepared)
R = TypeVar("R")
A = TypeVar("A")


@dataclass(frozen=True, slots=True)
class Divided(Generic[Q, P, R, A]):
    """A calculation in steps, each a module-level function.

    Parameters
    ----------
    prepare : callable
        From a request to its pieces.
    work : callable
        From a piece to its result.
    further : callable
        From what was prepared, and the results in the order of the pieces, to the pieces of a
        second round, of which there may be none.
    conclude : callable
        From what was prepared, and the results of both rounds, to the answer.
    """

    prepare: Callable[[Q], P]
    work: Callable[[Any], R]
    further: Callable[[P, Sequence[R]], Sequence[Any]]
    conclude: Callable[[P, Sequence[R]], A]

    def answer(
        self, request: Q, executor: Executor | None = None, progress: Progress | None = None
    ) -> A:
        """Answer a request.

        Parameters
        ----------
        request : object
            What `prepare` takes.
        executor : concurrent.futures.Executor, optional
            Carries out the pieces; one after the other in this thread if not given.
        progress : callable, optional
            Told of every finished piece.

        Returns
        -------
        object
            What `conclude` returns.
        """
        prepared = self.prepare(request)
        tell: Progress = progress or (lambda _done, _total: None)
        found: list[R] = []

        def counted(results: Iterable[R]) -> Iterator[R]:
            for done, result in enumerate(results, start=len(found) + 1):
                tell(done, prepared.pieces)
                yield result

        tell(0, prepared.pieces)
        found += self._done(prepared.jobs, executor, counted)
        found += self._done(self.further(prepared, found), executor, counted)
        return self.conclude(prepared, found)

    def _done(
        self,
        jobs: Sequence[Any],
        executor: Executor | None,
        counted: Callable[[Iterable[R]], Iterable[R]],
    ) -> list[R]:
        """Results in the order of the pieces, counted as they come."""
        if executor is None:
            return list(counted(map(self.work, jobs)))
        futures: list[Future[R]] = [executor.submit(self.work, job) for job in jobs]
        try:
            for _ in counted(future.result() for future in as_completed(futures)):
                pass
        finally:
            for future in futures:
                future.cancel()
        return [future.result() for future in futures]
