"""What every answer to a hostile request must be."""

import json
from collections.abc import Mapping
from typing import Any

from hostile import Hostile

from sunhitch.codec import decode_strict
from sunhitch.types.problem import Problem
from sunhitch.types.stream import ProblemLine

PROBLEM = "application/problem+json"
LINES = "application/x-ndjson"
REFUSALS = {400, 404, 405, 406, 413, 414, 415, 422, 431}


def judge_refusal(request: Hostile, status: int, headers: Mapping[str, str], body: bytes) -> None:
    """A problem document that tells the truth, or one for each line of a batch."""
    if request.path.startswith("/v1/batch/") and status == 200:
        _judge_lines(request, headers, body)
        return
    assert status in REFUSALS, (status, request)
    assert headers["content-type"] == PROBLEM, request
    if request.method == "HEAD":
        return
    problem = decode_strict(body, Problem)
    assert problem.status == status
    judge_pointers(problem, request.body)


def judge_outcome(status: int, headers: Mapping[str, str], sent: bytes, body: bytes) -> None:
    """An answer, or a problem document, but never a fault of the service."""
    if status == 200:
        assert isinstance(json.loads(body), dict)
        return
    assert status in REFUSALS, (status, sent)
    assert headers["content-type"] == PROBLEM
    judge_pointers(decode_strict(body, Problem), sent)


def judge_answer_to_legal(
    status: int, headers: Mapping[str, str], sent: bytes, body: bytes
) -> None:
    """An answer, or a contradiction that points at a field, or work beyond the limit."""
    judge_outcome(status, headers, sent, body)
    if status == 200:
        return
    problem = decode_strict(body, Problem)
    if problem.type.endswith(":too-much-work"):
        return
    assert status == 422, (status, problem)
    assert problem.errors, problem
    assert all(fault.message for fault in problem.errors), problem


def _judge_lines(request: Hostile, headers: Mapping[str, str], body: bytes) -> None:
    assert headers["content-type"] == LINES
    sent = request.body.removesuffix(b"\n").split(b"\n") if request.body else []
    answered = body.splitlines()
    assert len(answered) == len(sent), request
    for line, answer in zip(sent, answered, strict=True):
        problem = decode_strict(answer, ProblemLine).problem
        assert problem.status in REFUSALS
        judge_pointers(problem, line)


def judge_pointers(problem: Problem, sent: bytes) -> None:
    """Every pointer leads to something that was sent, or to where something is missing."""
    in_body = [fault.pointer for fault in problem.errors if fault.location == "body"]
    if not any(in_body):
        return
    body = json.loads(sent)  # takes NaN and 1e999 too, which are pointed at
    for pointer in in_body:
        assert leads_somewhere(body, pointer), (pointer, sent)


def leads_somewhere(body: Any, pointer: str) -> bool:
    """Whether a JSON Pointer (RFC 6901) names a value or a member that an object lacks.

    A member may be one of an object that is itself left out, not an entry of such a list.
    """
    assert pointer == "" or pointer.startswith("/")
    steps = [step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:]]
    for place, step in enumerate(steps):
        if isinstance(body, list) and step.isdecimal() and int(step) < len(body):
            body = body[int(step)]
        elif isinstance(body, dict) and step in body:
            body = body[step]
        else:
            return isinstance(body, dict) and not any(map(str.isdecimal, steps[place:]))
    return True
