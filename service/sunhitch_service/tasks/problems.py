"""Problem documents after RFC 9457: every kind once, and how exceptions become one."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from importlib import resources

from sunhitch import problems as documents
from sunhitch.codec import MalformedBody, encode
from sunhitch.faults import MOST_FAULTS, fault_at
from sunhitch.types.basis import CodedText
from sunhitch.types.problem import FieldError, Problem
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.quick.reading import UnreadableError

LONGEST_URI, LONGEST_HEAD = 8192, 65_536
"""Bytes of path and query, and of request line and headers."""

_TOLD = tomllib.loads(
    resources.files("sunhitch_service.tasks").joinpath("problems.toml").read_text("utf-8")
)


class Kind(Enum):
    """One kind of problem, by the last part of its stable identifier.

    Attributes
    ----------
    status : int
        HTTP status.
    title, meaning : str
        The kind in words, and when it is answered.
    """

    MALFORMED = "malformed"
    NOT_HTTP = "not-http"
    UNAUTHORISED = "unauthorised"
    FORBIDDEN = "forbidden"
    NOT_FOUND = "not-found"
    METHOD_NOT_ALLOWED = "method-not-allowed"
    NOT_ACCEPTABLE = "not-acceptable"
    TOO_SLOW = "request-timeout"
    TOO_LARGE = "content-too-large"
    URI_TOO_LONG = "uri-too-long"
    UNSUPPORTED = "unsupported-media-type"
    CONTRADICTORY = "contradictory"
    TOO_MUCH_WORK = "too-much-work"
    BATCH_ENDED = "batch-ended"
    RATE_LIMITED = "rate-limited"
    HEAD_TOO_LARGE = "head-too-large"
    HUNG_UP = "hung-up"
    INTERNAL = "internal"
    OVERLOADED = "overloaded"
    TIMED_OUT = "timed-out"
    WORKER_DIED = "worker-died"
    NOT_READY = "not-ready"

    def __init__(self, slug: str) -> None:
        self.status: int = _TOLD[slug]["status"]
        self.title: str = _TOLD[slug]["title"]
        self.meaning: str = _TOLD[slug]["meaning"]


@dataclass
class ProblemError(Exception):
    """Ends a request with a problem document.

    Parameters
    ----------
    kind : Kind
        Kind of problem.
    detail : str
        What happened and what to do; what the kind means if not given.
    errors : sequence of FieldError
        Faults in the request.
    headers : mapping
        Response headers beyond the media type.
    error_count : int
        How many faults there are, where more than are told.
    texts : sequence of CodedText
        Code and parameters of texts among the parameters of the faults.
    """

    kind: Kind
    detail: str = ""
    errors: Sequence[FieldError] = ()
    headers: Mapping[str, str] = field(default_factory=dict[str, str])
    error_count: int = 0
    texts: Sequence[CodedText] = ()

    def body(self, request_id: str) -> bytes:
        """Problem document as JSON."""
        return encode(
            Problem(
                type=f"urn:sunhitch:problem:{self.kind.value}",
                title=self.kind.title,
                status=self.kind.status,
                detail=self.detail or self.kind.meaning,
                instance=f"urn:sunhitch:request:{request_id}",
                errors=list(self.errors[:MOST_FAULTS]),
                error_count=self.error_count or len(self.errors),
                texts=list(self.texts),
            )
        )


CALLERS_FAULTS = (ProblemError, MalformedBody, ContradictionError, UnreadableError)
"""Errors that are no fault of the service."""


def as_problem(error: Exception) -> ProblemError:
    """Problem that an exception stands for; `INTERNAL` tells nothing of a fault of the service."""
    match error:
        case ProblemError():
            return error
        case MalformedBody(faults=faults):
            return refused_fields(faults, contradictory=False)
        case ContradictionError(faults=found):
            faults = [fault_at(one.pointer, one.message) for one in found]
            return refused_fields(faults, contradictory=True)
        case UnreadableError(faults=faults, contradictory=contradictory):
            return refused_fields(faults, contradictory=contradictory)
        case MemoryError():
            return ProblemError(Kind.TOO_MUCH_WORK, "It takes more memory than a worker may have.")
        case _:
            return ProblemError(
                Kind.INTERNAL, "Something failed on our side. Quote the request id."
            )


def refused_fields(faults: Sequence[FieldError], *, contradictory: bool) -> ProblemError:
    """`MALFORMED` or `CONTRADICTORY`, for at least one field at fault."""
    kind = Kind.CONTRADICTORY if contradictory else Kind.MALFORMED
    told = (documents.contradictory if contradictory else documents.malformed)(faults)
    return ProblemError(
        kind, told.detail, told.errors, error_count=told.error_count, texts=told.texts
    )
