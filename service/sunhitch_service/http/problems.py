"""Problem documents after RFC 9457: every kind once, and how exceptions become one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

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


MALFORMED = Kind(
    "malformed", 400, "Malformed request", "Not JSON, or not what the schema asks for."
)
NOT_HTTP = Kind("not-http", 400, "Not HTTP", "The bytes received are no HTTP request.")
UNAUTHORISED = Kind(
    "unauthorised", 401, "Unauthorised", "The API key is missing, not valid, or expired."
)
FORBIDDEN = Kind("forbidden", 403, "Forbidden", "The API key is valid, but for other paths.")
NOT_FOUND = Kind("not-found", 404, "Not found", "There is nothing at this path.")
METHOD_NOT_ALLOWED = Kind(
    "method-not-allowed", 405, "Method not allowed", "The path answers other methods; see `Allow`."
)
NOT_ACCEPTABLE = Kind(
    "not-acceptable", 406, "Not acceptable", "None of the media types in `Accept` is on offer."
)
TOO_SLOW = Kind("request-timeout", 408, "Request timeout", "The request did not arrive in time.")
TOO_LARGE = Kind("content-too-large", 413, "Content too large", "The body exceeds the limit.")
URI_TOO_LONG = Kind("uri-too-long", 414, "URI too long", "Path and query are above 8 kB together.")
LONGEST_URI = 8192
UNSUPPORTED = Kind(
    "unsupported-media-type",
    415,
    "Unsupported media type",
    "The body is of another media type than the call takes, or is compressed.",
)
CONTRADICTORY = Kind(
    "contradictory",
    422,
    "Contradictory request",
    "Well-formed, but its values contradict each other; `errors` says which and what would be "
    "right.",
)
TOO_MUCH_WORK = Kind(
    "too-much-work",
    422,
    "Too much work",
    "Well-formed, but would take longer than one call may, or more memory.",
)
BATCH_ENDED = Kind(
    "batch-ended",
    422,
    "Batch ended",
    "Too many lines were malformed, or the batch took too much processor time; the last line says "
    "how far it came.",
)
RATE_LIMITED = Kind(
    "rate-limited", 429, "Too many calls", "The key or address calls too often; see `Retry-After`."
)
HEAD_TOO_LARGE = Kind(
    "head-too-large", 431, "Head too large", "Request line and headers are above 64 kB together."
)
LONGEST_HEAD = 65_536
HUNG_UP = Kind(
    "hung-up", 499, "Caller hung up", "The connection closed before the answer; only in the log."
)
INTERNAL = Kind("internal", 500, "Internal error", "A fault of the service; quote the request id.")
OVERLOADED = Kind(
    "overloaded", 503, "Overloaded", "Too many calculations under way; see `Retry-After`."
)
TIMED_OUT = Kind("timed-out", 503, "Timed out", "The calculation took longer than one call may.")
WORKER_DIED = Kind(
    "worker-died", 503, "Worker died", "The process that calculated ended twice before its answer."
)
NOT_READY = Kind(
    "not-ready", 503, "Not ready", "The service is starting or stopping; see `Retry-After`."
)


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
