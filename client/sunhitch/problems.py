"""Problem documents that a request itself can earn, the same embedded and over HTTP."""

from collections.abc import Sequence

from .types.problem import FieldError, Problem


def malformed(faults: Sequence[FieldError], request_id: str = "") -> Problem:
    """Status 400: the request is not JSON, or not what the contract asks for.

    Parameters
    ----------
    faults : sequence of FieldError
        Every fault found, at least one.
    request_id : str
        Id of the call; empty where none was made.
    """
    first = faults[0]
    told = _counted(len(faults), "does not fit", "do not fit") if first.pointer else first.message
    return _problem("malformed", "Malformed request", 400, told, faults, request_id)


def contradictory(faults: Sequence[FieldError], request_id: str = "") -> Problem:
    """Status 422: the request is well-formed but contradicts itself; arguments as above."""
    told = _counted(len(faults), "contradicts the rest", "contradict each other or the rest")
    return _problem("contradictory", "Contradictory request", 422, told, faults, request_id)


def not_acceptable(on_offer: Sequence[str], request_id: str = "") -> Problem:
    """Status 406: the answer cannot be shown in the way that was asked for."""
    told = f"On offer: {', '.join(on_offer)}."
    return _problem("not-acceptable", "Not acceptable", 406, told, [], request_id)


def _problem(
    slug: str, title: str, status: int, detail: str, faults: Sequence[FieldError], request_id: str
) -> Problem:
    return Problem(
        type=f"urn:sunhitch:problem:{slug}",
        title=title,
        status=status,
        detail=detail,
        instance=f"urn:sunhitch:request:{request_id}" if request_id else "",
        errors=list(faults),
    )


def _counted(count: int, one: str, several: str) -> str:
    what = f"One field {one}" if count == 1 else f"{count} fields {several}"
    return f"{what}; each is named with what would be right."
