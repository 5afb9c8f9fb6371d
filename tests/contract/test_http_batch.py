"""Batches: one line out for each line in, in order, whatever happens to a line."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from contract_serving import TOY, Served, half_open, problem_of, told_in, until
from contract_toys import toys
from hypothesis import given
from hypothesis import strategies as st

from sunhitch_service.tasks.lines import Body

LINES = {"Content-Type": "application/x-ndjson"}


def batch(served: Served, name: str, lines: list[bytes], **headers: str) -> list[dict[str, Any]]:
    """Answers to a batch, each line decoded."""
    body = b"\n".join(lines) + b"\n"
    answer = served.http.post(f"/v1/batch/{name}", content=body, headers=LINES | headers)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/x-ndjson"
    assert answer.content.endswith(b"\n")
    return told_in(answer.content)


def toy(side_m: float, **change: Any) -> bytes:
    """One line."""
    return json.dumps(TOY | {"shapes": [{"kind": "square", "side_m": side_m}]} | change).encode()


def test_order_is_kept_and_nothing_lost(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=2)
    sides = [(number % 97) / 10 for number in range(5000)]
    answers = batch(served, "add-up", [toy(side) for side in sides])
    assert [answer["area_m2"] for answer in answers] == [side**2 for side in sides]


def test_a_fault_stays_in_its_line(toy_service: Served) -> None:
    lines = [toy(1), b"", b"{", toy(2, size="large"), toy(3, copies=0), b"\xff", toy(4)]
    answers = batch(toy_service, "add-up", lines, **{"X-Request-Id": "b"})
    assert [answer.get("area_m2") for answer in answers] == [1, *[None] * 5, 16]
    problems = answers[1:6]
    assert [problem["status"] for problem in problems] == [400, 400, 422, 400, 400]
    assert [problem["instance"] for problem in problems] == [
        f"urn:sunhitch:request:b:{number}" for number in range(2, 7)
    ]


def test_defects_and_too_much_work_are_problems_too(toy_service: Served) -> None:
    headers = {"X-Request-Id": "defective"}
    answers = batch(toy_service, "not-a-number", [toy(1), toy(2)], **headers)
    assert [answer["status"] for answer in answers] == [500, 500]
    assert "NonFiniteError" in toy_service.line("defective")["exception"]
    (answer,) = batch(toy_service, "too-much", [toy(1)])
    assert answer["type"] == "urn:sunhitch:problem:too-much-work"


def test_line_ends(toy_service: Served) -> None:
    for body, count in ((b"", 0), (b"\n", 1), (toy(1), 1), (toy(1) + b"\r\n" + toy(1), 2)):
        answer = toy_service.http.post("/v1/batch/add-up", content=body, headers=LINES)
        assert answer.content.count(b"\n") == count


def test_a_batch_has_limits(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0, max_batch_bytes=1000, max_batch_lines=3)
    for body in (b"1\n" * 4, b" " * 1001):
        answer = served.http.post("/v1/batch/add-up", content=body, headers=LINES)
        assert (answer.status_code, answer.json()["status"]) == (413, 413)


def test_a_batch_takes_lines_only(toy_service: Served) -> None:
    answer = toy_service.http.post("/v1/batch/add-up", json=TOY)
    assert answer.status_code == 415
    headers = LINES | {"Accept": "application/json"}
    assert toy_service.http.post("/v1/batch/add-up", headers=headers).status_code == 406


def test_a_worker_that_dies_loses_no_line(start: Callable[..., Served], tmp_path: Path) -> None:
    served = start(toys(), pool_workers=2)
    marks = [tmp_path / f"m{number % 3}" for number in range(40)]
    lines = [toy(1, name=str(mark)) for mark in marks]
    answers = batch(served, "die-once", lines)
    assert [answer["note"] for answer in answers] == [str(mark) for mark in marks]


def test_a_line_that_takes_too_long_is_a_problem(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=1, time_limit_s=2.0)
    sides = [0, 3, 0.3, 0.3, 0.3, 3, 0]
    answers = batch(served, "linger", [toy(side) for side in sides])
    assert [answer.get("status") for answer in answers] == [
        503 if side == 3 else None for side in sides
    ]


def test_a_batch_stops_when_the_caller_hangs_up(
    start: Callable[..., Served], tmp_path: Path
) -> None:
    served = start(toys(), pool_workers=1)
    names = [tmp_path / f"n{number}" for number in range(20)]
    body = b"\n".join(toy(0.5, name=str(name)) for name in names)
    with half_open(served.url, "/v1/batch/linger", body, LINES["Content-Type"]):
        until(names[0].exists)
    until(lambda: "in_flight 0.0" in served.http.get("/metrics").text)
    assert not names[-1].exists()


def test_a_line_is_no_longer_than_a_call(toy_service: Served) -> None:
    """The toys take bodies of 20,000 bytes."""
    padded = toy(1) + b" " * 19_000
    assert [one["area_m2"] for one in batch(toy_service, "add-up", [padded, toy(2)])] == [1, 4]
    body = b"\n".join([toy(1), toy(1) + b" " * 20_000, toy(1)])
    answer = toy_service.http.post("/v1/batch/add-up", content=body, headers=LINES)
    assert (
        "A line is above the limit of 20000 bytes"
        in problem_of(answer, 413, "content-too-large").detail
    )


@given(st.lists(st.binary(max_size=9).map(lambda line: line.replace(b"\n", b"")), max_size=30))
def test_lines_are_cut_off_as_they_came(lines: list[bytes]) -> None:
    """However the body arrives, and whether its last line has an end or not."""
    for text in (b"\n".join(lines), b"".join(line + b"\n" for line in lines)):
        expected = text.removesuffix(b"\n").split(b"\n") if text else []
        for width in (1, 3, 1000):
            body = Body(most=1000, longest=1000)
            for start in range(0, len(text), width):
                body.take(text[start : start + width])
            assert body.count == len(expected)
            cut: list[bytes] = []
            while piece := body.cut(4):
                cut += piece
            assert cut == expected
