"""Everything that can go wrong in a call, as one tree.

::

    SunhitchError
    ├── ConnectionFailedError       nobody answered at that address
    ├── TimeLimitError              no answer in the time allowed
    ├── ServiceError                an answer with a problem document
    │   ├── RequestRejectedError    400 malformed, 422 contradictory: mend the request
    │   ├── UnauthorisedError       401, 403: the key is missing, wrong or not enough
    │   └── TryLaterError           come back after `retry_after_s`
    │       ├── RateLimitedError    429: this key asks too often
    │       └── OverloadedError     502, 503, 504: the service is busy or restarting
    ├── UnexpectedAnswerError       an answer that the contract does not know
    └── ServiceNotInstalledError    `embedded()` without the service extra

Any other error status raises `ServiceError` itself. Every error of a call carries the request id
that the service has in its log.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .types.problem import FieldError, Problem


class SunhitchError(Exception):
    """Base of all errors of this package.

    Parameters
    ----------
    message : str
        What happened and what to do about it.
    request_id : str
        Id under which the service logged the call; empty where none was made.

    Attributes
    ----------
    attempts : int
        How often the call was tried.
    """

    attempts = 1

    def __init__(self, message: str, request_id: str = "") -> None:
        super().__init__(message, request_id)
        self.message = message
        self.request_id = request_id

    def __str__(self) -> str:
        """The message, how often it was tried, and the request id to quote."""
        tried = f" Tried {self.attempts} times." if self.attempts > 1 else ""
        return self.message + tried + (f" [request {self.request_id}]" if self.request_id else "")


class ConnectionFailedError(SunhitchError):
    """Nobody answered: wrong address, service not running, or the network is down."""


class TimeLimitError(SunhitchError):
    """No answer in the time allowed."""


class UnexpectedAnswerError(SunhitchError):
    """The answer is not one of the contract: another program or another version answers there."""


class ServiceNotInstalledError(SunhitchError):
    """The engine is not installed beside the client."""


class ServiceError(SunhitchError):
    """The service answered with a problem document (RFC 9457).

    Parameters
    ----------
    problem : Problem
        The document, with a pointer to every field at fault.
    request_id : str
        Id under which the service logged the call.
    retry_after_s : float or None
        Seconds after which the service expects to answer, where it said so.
    """

    def __init__(
        self, problem: "Problem", request_id: str = "", retry_after_s: float | None = None
    ) -> None:
        super().__init__(_told(problem), request_id)
        self.args = (problem, request_id, retry_after_s)
        self.problem = problem
        self.retry_after_s = retry_after_s

    @property
    def status(self) -> int:
        """HTTP status."""
        return self.problem.status

    @property
    def title(self) -> str:
        """Kind of problem in words."""
        return self.problem.title

    @property
    def detail(self) -> str:
        """What happened and what to do."""
        return self.problem.detail

    @property
    def errors(self) -> "Sequence[FieldError]":
        """Every fault found in the request, each with its JSON Pointer."""
        return self.problem.errors


class RequestRejectedError(ServiceError):
    """The request is malformed (400) or contradicts itself (422); `errors` says where."""


class UnauthorisedError(ServiceError):
    """The API key is missing, wrong, or not enough for this call."""


class TryLaterError(ServiceError):
    """The service cannot answer now; the same call may work after `retry_after_s`."""


class RateLimitedError(TryLaterError):
    """The key or address has asked too often."""


class OverloadedError(TryLaterError):
    """The service is busy, restarting, or out of reach behind its proxy."""


NO_SUCH_DRAWING = 406
"""Status of a problem about a drawing or table that an answer does not have."""

_BY_STATUS: dict[int, type[ServiceError]] = {
    400: RequestRejectedError,
    401: UnauthorisedError,
    403: UnauthorisedError,
    422: RequestRejectedError,
    429: RateLimitedError,
    502: OverloadedError,
    503: OverloadedError,
    504: OverloadedError,
}


def service_error(
    problem: "Problem", request_id: str = "", retry_after_s: float | None = None
) -> ServiceError:
    """The member of the tree that fits a problem document's status."""
    kind = _BY_STATUS.get(problem.status, ServiceError)
    return kind(problem, request_id, retry_after_s)


_ADVICE = {
    401: "Give the client api_key=…, or set SUNHITCH_API_KEY; who runs the service makes keys.",
    403: "This key may not make this call; ask who runs the service.",
    404: "Check the address, and that the service is not older than this client.",
    413: "Send fewer requests in one batch, or ask for less in one request.",
    429: "Wait, ask less often, or put many requests in a batch.",
    503: "Try later, or with fewer calls at a time.",
}
"""What to do about a status, where the document itself cannot know it."""


def _told(problem: "Problem") -> str:
    faults = [f"\n  {fault.pointer or '(request)'}: {fault.message}" for fault in problem.errors]
    advice = f" {_ADVICE[problem.status]}" if problem.status in _ADVICE else ""
    return f"{problem.status} {problem.title}: {problem.detail}{advice}" + "".join(faults)
