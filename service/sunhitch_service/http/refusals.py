"""How exceptions become problem documents."""

from typing import Any

from litestar import Request, Response
from litestar.exceptions import HTTPException, MethodNotAllowedException

from . import problems
from .exchange import HttpExchange, exchange_of
from .problems import Kind, ProblemError

_OF_FRAMEWORK: dict[int, Kind] = {
    kind.status: kind
    for kind in (
        problems.MALFORMED,
        problems.NOT_FOUND,
        problems.METHOD_NOT_ALLOWED,
        problems.TOO_LARGE,
    )
}
"""What the framework refuses by itself, by status."""


def refused(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """Answer any exception with a problem document; unexpected ones go to the log."""
    exchange = exchange_of(request)
    problem = _problem(exchange, error)
    exchange.problem = problem.kind.slug
    if problem.kind is problems.INTERNAL:
        exchange.error = error
    return Response(
        problems.body_of(problem, exchange.request_id),
        status_code=problem.kind.status,
        media_type=problems.MEDIA_TYPE,
        headers=dict(problem.headers),
    )


def _problem(exchange: HttpExchange, error: Exception) -> ProblemError:
    if not isinstance(error, HTTPException) or error.status_code not in _OF_FRAMEWORK:
        return problems.as_problem(error)
    if isinstance(error, MethodNotAllowedException):
        return _other_method(exchange, (error.headers or {}).get("allow", ""))
    kind = _OF_FRAMEWORK[error.status_code]
    return ProblemError(kind, kind.meaning)


def _other_method(exchange: HttpExchange, methods: str) -> ProblemError:
    """The framework takes a path with a slash at its end for the one without."""
    if exchange.path.endswith("/"):
        return ProblemError(problems.NOT_FOUND, problems.NOT_FOUND.meaning)
    allow = ", ".join(sorted(methods.split(", ")))
    return ProblemError(problems.METHOD_NOT_ALLOWED, f"Use {allow}.", headers={"Allow": allow})
