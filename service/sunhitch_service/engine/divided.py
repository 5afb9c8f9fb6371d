"""Long calculations cut into independent pieces, which any executor may carry out.

The pieces are the same whoever carries them out, and are put together in one order, so that the
answer is the same to the last bit in one thread, in many processes and on a cluster.
"""

from collections.abc import Callable, Iterator, Sequence
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


Q = TypeVar("Q")
P = TypeVar("P", bound=Prepared)
R = TypeVar("R")
A = TypeVar("A")


def _tell_nobody(_done: int, _total: int) -> None:
    """Where nobody wants to know."""


@dataclass(frozen=True, slots=True)
class Divided(Generic[Q, P, R, A]):
    """A calculation in three steps, each a module-level function.

    Parameters
    ----------
    prepare : callable
        From a request to its pieces.
    work : callable
        From a piece to its result.
    conclude : callable
        From what was prepared, and the results in the order of the pieces, to the answer.
    """

    prepare: Callable[[Q], P]
    work: Callable[[Any], R]
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
        tell: Progress = progress or _tell_nobody
        jobs = prepared.jobs
        tell(0, len(jobs))
        if executor is None:
            found = list(self._one_by_one(jobs, tell))
        else:
            found = self._handed_out(jobs, executor, tell)
        return self.conclude(prepared, found)

    def _one_by_one(self, jobs: Sequence[Any], tell: Progress) -> Iterator[R]:
        for done, job in enumerate(jobs, start=1):
            yield self.work(job)
            tell(done, len(jobs))

    def _handed_out(self, jobs: Sequence[Any], executor: Executor, tell: Progress) -> list[R]:
        futures: list[Future[R]] = [executor.submit(self.work, job) for job in jobs]
        try:
            for done, future in enumerate(as_completed(futures), start=1):
                future.result()
                tell(done, len(jobs))
        finally:
            for future in futures:
                future.cancel()
        return [future.result() for future in futures]
