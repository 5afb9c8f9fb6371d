"""Coverage-guided fuzzing of decoding and of the mapping from faults to problem documents.

    python tests/fuzz/fuzz_requests.py -max_total_time=30 -seed=1

Needs the extra `fuzz`. The first byte of an input chooses between two targets:

- the rest is a body, decoded as the request of every calculation: it fits, or the refusal names
  faults at places that exist;
- the rest is a run of choices that change a shipped example, which is then posted to the whole
  application in this process: an answer or a problem document, in time.

The corpus starts from the shipped examples; whatever crashes is written to the working directory.
"""

import sys
import tempfile
from pathlib import Path
from typing import Any

import atheris

with atheris.instrument_imports(
    include=["sunhitch", "sunhitch_service.http", "sunhitch_service.tasks"]
):
    import hostile
    import plausible
    from in_process import InProcess, in_process
    from judging import judge_outcome, judge_pointers

    from sunhitch.codec import MalformedBody, decode_strict, encode
    from sunhitch.operations import OPERATIONS
    from sunhitch.operations.operation import Operation
    from sunhitch.problems import malformed

_DECODED, _CHANGED = 0, 1
_LONGEST = 8192
QUICK = tuple(one for one in OPERATIONS if one.name in ("wire-sizing", "shaded-iv"))
"""Posted in one piece; the others are posted only where they are refused, since each takes long."""


def decode_as_every_request(body: bytes) -> None:
    """Either a Struct that survives a round trip, or faults with pointers that lead somewhere."""
    for operation in OPERATIONS:
        try:
            request = decode_strict(body, operation.request)
        except MalformedBody as refusal:
            judge_pointers(malformed(refusal.faults), body)
        else:
            assert decode_strict(encode(request), operation.request) == request


def post_a_changed_example(service: InProcess, choices: bytes) -> None:
    """From choices to a request over the application."""
    provider = atheris.FuzzedDataProvider(choices)

    def dice(faces: int) -> int:
        return int(provider.ConsumeIntInRange(0, faces - 1))

    operation = OPERATIONS[dice(len(OPERATIONS))]
    body = _changed(operation, dice)
    request = hostile.Hostile("POST", operation.path, body, {"Content-Type": hostile.JSON})
    reply = service.call(request)
    judge_outcome(reply.status, reply.headers, body, reply.body)


def _changed(operation: Operation[Any, Any], dice: plausible.Dice) -> bytes:
    return (
        hostile.changed(operation, dice)
        if operation in QUICK
        else hostile.malformed(operation, dice)
    )


def seeds(folder: Path) -> None:
    """The shipped examples as bodies, and one run of choices for each calculation."""
    for index, operation in enumerate(OPERATIONS):
        text = plausible.example_text(operation.name)
        (folder / f"body-{operation.name}").write_bytes(bytes([_DECODED]) + text)
        choices = bytes([_CHANGED, *range(index, index + 40)])
        (folder / f"choices-{operation.name}").write_bytes(choices)


def main() -> None:
    """Run until the fuzzer's own limits."""
    with in_process() as service, tempfile.TemporaryDirectory() as corpus:
        seeds(Path(corpus))

        def one_input(data: bytes) -> None:
            if data[:1] == bytes([_CHANGED]):
                post_a_changed_example(service, data[1:])
            else:
                decode_as_every_request(data[1:])

        atheris.Setup([*sys.argv, f"-max_len={_LONGEST}", "-timeout=60", corpus], one_input)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
