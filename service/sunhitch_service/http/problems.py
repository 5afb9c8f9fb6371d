"""Problem documents after RFC 9457: every kind once, and how exceptions become one."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib import resources

from sunhitch import problems as documents
from sunhitch.codec import MalformedBody, encode
from sunhitch.faults import MOST_FAULTS
from sunhitch.types.problem import FieldError, Problem
from sunhitch_service.engine.errors import ContradictionError

MEDIA_TYPE = "application/problem+json"


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of problem.

    Parameters
    ----------
    slug : str
        Last part of its stable identifier.
    status : int
        HTTP status.
    title : str
        The kind in words.
    meaning : str
        When it is answered, for the documentation.
    """

    slug: str
    status: int
    title: str
    meaning: str

    @property
    def urn(self) -> str:
        """Stable identifier."""
        return f"urn:sunhitch:problem:{self.slug}"


_KINDS = tomllib.loads(
    resources.files("sunhitch_service.http").joinpath("problems.toml").read_text("utf-8")
)


def _kind(slug: str) -> Kind:
    return Kind(slug, **_KINDS[slug])


MALFORMED = _kind("malformed")
NOT_HTTP = _kind("not-http")
UNAUTHORISED = _kind("unauthorised")
FORBIDDEN = _kind("forbidden")
NOT_FOUND = _kind("not-found")
METHOD_NOT_ALLOWED = _kind("method-not-allowed")
NOT_ACCEPTABLE = _kind("not-acceptable")
TOO_SLOW = _kind("request-timeout")
TOO_LARGE = _kind("content-too-large")
URI_TOO_LONG = _kind("uri-too-long")
LONGEST_URI = 8192
UNSUPPORTED = _kind("unsupported-media-type")
CONTRADICTORY = _kind("contradictory")
TOO_MUCH_WORK = _kind("too-much-work")
BATCH_ENDED = _kind("batch-ended")
RATE_LIMITED = _kind("rate-limited")
HEAD_TOO_LARGE = _kind("head-too-large")
LONGEST_HEAD = 65_536
HUNG_UP = _kind("hung-up")
INTERNAL = _kind("internal")
OVERLOADED = _kind("overloaded")
TIMED_OUT = _kind("timed-out")
WORKER_DIED = _kind("worker-died")
NOT_READY = _kind("not-ready")


@dataclass
class ProblemError(Exception):
    """Ends a request with a problem document.

    Parameters
    ----------
    kind : Kind
        Kind of problem.
    detail : str
        What happened and what to do.
    errors : sequence of FieldError
        Faults in the request.
    headers : mapping
        Response headers beyond the media type.
    """

    kind: Kind
    detail: str
    errors: Sequence[FieldError] = ()
    headers: Mapping[str, str] = field(default_factory=dict[str, str])


def body_of(error: ProblemError, request_id: str) -> bytes:
    """Problem document of an error as JSON."""
    return encode(
        Problem(
            type=error.kind.urn,
            title=error.kind.title,
            status=error.kind.status,
            detail=error.detail,
            instance=f"urn:sunhitch:request:{request_id}",
            errors=list(error.errors[:MOST_FAULTS]),
        )
    )


def as_problem(error: Exception) -> ProblemError:
    """Problem that an exception stands for.

    Parameters
    ----------
    error : Exception
        Raised while a request was handled.

    Returns
    -------
    ProblemError
        `INTERNAL`, without any detail of the fault, where it is not a caller's doing.
    """
    match error:
        case ProblemError():
            return error
        case MalformedBody():
            told = documents.malformed(error.faults)
            return ProblemError(MALFORMED, told.detail, told.errors)
        case ContradictionError():
            errors = [
                FieldError(pointer=f.pointer, message=f.message, location="body")
                for f in error.faults
            ]
            told = documents.contradictory(errors)
            return ProblemError(CONTRADICTORY, told.detail, told.errors)
        case MemoryError():
            return ProblemError(TOO_MUCH_WORK, "It takes more memory than a worker may have.")
        case _:
            return ProblemError(INTERNAL, "Something failed on our side. Quote the request id.")
