"""How the framework answers an exception that a handler raised."""

from typing import Any, cast

from litestar import Request, Response
from litestar.exceptions import HTTPException

from . import problems
from .asgi import Scope
from .problems import ProblemError

_BY_STATUS = {
    kind.status: kind
    for kind in (
        problems.MALFORMED,
        problems.NOT_FOUND,
        problems.METHOD_NOT_ALLOWED,
        problems.NOT_ACCEPTABLE,
        problems.TOO_LARGE,
        problems.UNSUPPORTED,
    )
}


def respond(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """Answer any exception with a problem document; unexpected ones go to the log."""
    scope = cast("Scope", request.scope)
    problem = _problem(error)
    if problem.kind is problems.INTERNAL:
        scope["state"]["exception"] = error
    return Response(
        problems.body_of(problem, problems.request_id_of(scope)),
        status_code=problem.kind.status,
        media_type=problems.MEDIA_TYPE,
        headers=dict(problem.headers),
    )


def _problem(error: Exception) -> ProblemError:
    if isinstance(error, HTTPException) and error.status_code in _BY_STATUS:
        kind = _BY_STATUS[error.status_code]
        return ProblemError(kind, kind.meaning, headers=error.headers or {})
    return problems.as_problem(error)
