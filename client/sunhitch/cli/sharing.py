"""What every verb shares: requests, forms of output, exit codes, and whom to ask.

Requests come from files, standard input, or the examples that ship with the package.
"""

import json
import os
import sys
from argparse import Namespace
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from msgspec import structs

from sunhitch import examples, weather
from sunhitch.client import Client
from sunhitch.codec import MalformedBody, decode_strict
from sunhitch.operations.operation import Operation
from sunhitch.pictures import MEDIA_TYPES
from sunhitch.types.base import Input
from sunhitch.types.problem import FieldError

STANDARD_INPUT = "-"


class UnusableRequestError(Exception):
    """The request cannot be read or does not fit the contract; the text says where and how."""


@dataclass(frozen=True, slots=True)
class RequestText:
    """A request as text, and where it came from.

    Parameters
    ----------
    name : str
        File name, or what stands for it in messages.
    body : bytes
        Text in UTF-8.
    """

    name: str
    body: bytes


def example(operation: Operation[Any, Any]) -> RequestText:
    """The shipped request of an operation, an invented build."""
    return RequestText(f"the shipped example of {operation.name}", examples.text(operation))


def source(path: str) -> RequestText:
    """A file, or standard input for ``-``.

    Raises
    ------
    UnusableRequestError
        There is no such file, or it cannot be read.
    """
    if path == STANDARD_INPUT:
        return RequestText("standard input", sys.stdin.buffer.read())
    try:
        return RequestText(path, Path(path).read_bytes())
    except FileNotFoundError:
        raise UnusableRequestError(
            f"{path}: no such file in {Path.cwd()}. Give the path of a JSON request, - for "
            "standard input, or nothing for the shipped example."
        ) from None
    except OSError as fault:
        raise UnusableRequestError(f"{path}: cannot be read ({fault.strerror}).") from None


def request(
    operation: Operation[Any, Any], given: RequestText, weather_file: str | None = None
) -> Input:
    """Request of an operation out of its JSON text, with the weather of a file where one is named.

    Raises
    ------
    UnusableRequestError
        The text is not JSON (with line and column), or does not fit (with every pointer), or the
        weather file cannot be used.
    """
    text = _text(given)
    try:
        decoded: Input = decode_strict(text.encode(), operation.request)
        if weather_file is not None:
            found = weather.read(weather_file)
            decoded = structs.replace(decoded, place=found.place, weather=found.weather)
    except weather.WeatherFileError as fault:
        raise UnusableRequestError(str(fault)) from None
    except MalformedBody as fault:
        _require_json(given.name, text)
        raise UnusableRequestError(
            listed(f"{given.name} is no {operation.name} request:", fault.faults)
        ) from None
    return decoded


def listed(opening: str, faults: Iterable[FieldError]) -> str:
    """Faults of a request, one a line, each with its pointer."""
    lines = (f"  {fault.pointer or '(whole request)'}: {fault.message}" for fault in faults)
    return "\n".join([opening, *lines])


def _text(given: RequestText) -> str:
    try:
        return given.body.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise UnusableRequestError(
            f"{given.name} is not UTF-8 text (byte {fault.start}); save it as UTF-8."
        ) from None


def _require_json(name: str, text: str) -> None:
    """Refuse what is not JSON, with the line and the place in it."""
    try:
        json.loads(text)
    except json.JSONDecodeError as fault:
        line = fault.doc.splitlines()[fault.lineno - 1 : fault.lineno]
        shown = "".join(f"\n  {text}\n  {' ' * (fault.colno - 1)}^" for text in line)
        raise UnusableRequestError(
            f"{name}, line {fault.lineno}, column {fault.colno}: {fault.msg}.{shown}"
        ) from None
    except RecursionError:
        return


def nearest(kind: str, word: str, known: Iterable[str]) -> str:
    """What to say of a word that is none of those known: the nearest of them, or all."""
    names = list(known)
    near = get_close_matches(word, names, 1)
    told = f"did you mean {near[0]}?" if near else f"there are {', '.join(names)}."
    return f"There is no {kind} {word}; {told}"


SVG, PNG = MEDIA_TYPES[".svg"], "image/png"
FORMS = {".txt": "long", **MEDIA_TYPES, ".json": "json", ".png": PNG}
"""What the suffix of a file stands for."""

NO_ANSWER, WRONG_REQUEST, INTERRUPTED = 1, 2, 130


def connected(given: Namespace, client: type[Client]) -> Client:
    """A client of the service that is named, here or in the environment; else of the engine."""
    if given.url is None and not os.environ.get("SUNHITCH_URL"):
        return client.embedded()
    try:
        return client(given.url, timeout=given.timeout)
    except ValueError as fault:
        raise UnusableRequestError(str(fault)) from None


def put(text: str) -> int:
    """Print, so that a fault of the output shows at once; the exit code of all being well."""
    sys.stdout.write(text)
    sys.stdout.flush()
    return 0


def complain(text: str, code: int) -> int:
    """Tell a fault; its exit code."""
    print(f"sunhitch: {text}", file=sys.stderr)
    return code
