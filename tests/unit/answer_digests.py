"""Prints a digest of every example's answer and pictures, under whatever environment it runs in."""

import contextlib
import hashlib
import json
import locale
import sys
import time
from pathlib import Path

import msgspec

sys.path.insert(0, str(Path(__file__).parents[1] / "fuzz"))

from plausible import light_example

from sunhitch.codec import encode
from sunhitch_service.calculations import calculations


def digests() -> dict[str, str]:
    """By operation and by picture."""
    found: dict[str, bytes] = {}
    for one in calculations():
        operation = one.operation
        body = light_example(operation)
        request = msgspec.convert(body, operation.request)
        answer = one.calculate(request)
        found[operation.name] = encode(answer)
        for rendering in one.renderings:
            drawn = rendering.draw(request, answer)
            found[f"{operation.name} {rendering.view}"] = (
                drawn if isinstance(drawn, bytes) else drawn.encode()
            )
    return {name: hashlib.sha256(text).hexdigest() for name, text in found.items()}


if __name__ == "__main__":
    time.tzset()
    with contextlib.suppress(locale.Error):  # a machine may not have the language installed
        locale.setlocale(locale.LC_ALL, "")
    print(json.dumps(digests()))  # noqa: T201 - its output is what it is for
