"""The two problem documents that a request itself can earn, the same embedded and over HTTP."""

from collections.abc import Sequence

from .types.problem import FieldError, Problem


def malformed(faults: Sequence[FieldError], request_id: str = "") -> Problem:
    """Status 400: the request is not JSON, or not what the contract asks for."""
    return Problem(
        type="urn:sunhitch:problem:malformed",
        title="Malformed request",
        status=400,
        detail="The request does not fit the contract; every fault is listed.",
        instance=_instance(request_id),
        errors=list(faults),
    )


def contradictory(faults: Sequence[FieldError], request_id: str = "") -> Problem:
    """Status 422: the request is well-formed but contradicts itself."""
    return Problem(
        type="urn:sunhitch:problem:contradictory",
        title="Contradictory request",
        status=422,
        detail="The request is well-formed but makes no sense as it stands; every fault is listed.",
        instance=_instance(request_id),
        errors=list(faults),
    )


def _instance(request_id: str) -> str:
    return f"urn:sunhitch:request:{request_id}" if request_id else ""
