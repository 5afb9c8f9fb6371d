"""`sunhitch …`: the calculations on the command line."""

import io
import os
import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Generator, Sequence
from contextlib import contextmanager
from importlib.util import find_spec

import msgspec

from sunhitch.client import Client
from sunhitch.codec import encode
from sunhitch.errors import (
    NO_SUCH_DRAWING,
    RequestRejectedError,
    ServiceError,
    ServiceNotInstalledError,
    SunhitchError,
)
from sunhitch.pictures import png
from sunhitch.report.grouping import verdict_of
from sunhitch.report.layout import page_for
from sunhitch.types.check import Answer, Verdict

from .arguments import PNG, SVG, parser
from .reading import RequestText, UnusableRequestError, example, listed, request, source

EXIT_CODES: dict[Verdict, int] = {"pass": 0, "review": 3, "not-assessed": 4, "fail": 5}
_NO_ANSWER, _WRONG_REQUEST, _INTERRUPTED = 1, 2, 130
_FOR_MACHINES = ("json", "batch", "drawn_as", "example")
"""Options that print what programs read."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one verb.

    Parameters
    ----------
    arguments : sequence of str or None
        Words after the command; those of the process where none are given.

    Returns
    -------
    int
        Exit code, as listed in ``sunhitch --help``.
    """
    whole = parser()
    given = whole.parse_args(arguments)
    _set_encodings(for_machines=any(vars(given).get(name) for name in _FOR_MACHINES))
    try:
        return _run(whole, given)
    except UnusableRequestError as fault:
        return _complain(str(fault), _WRONG_REQUEST)
    except SunhitchError as fault:
        return _complain(str(fault), _NO_ANSWER)
    except KeyboardInterrupt:
        return _INTERRUPTED
    except OSError as fault:
        # Nothing may be written at shutdown either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(fault, BrokenPipeError):  # whoever read the output has seen enough
            return _NO_ANSWER
        return _complain(f"The output cannot be written: {fault.strerror}.", _NO_ANSWER)


def _run(whole: ArgumentParser, given: Namespace) -> int:
    if given.verb in ("serve", "settings", "key"):
        return _operate(given)
    if given.verb == "completion":
        return _completion(whole, given.shell)
    return _calculate(given)


def _completion(whole: ArgumentParser, shell: str) -> int:
    try:
        import shtab
    except ModuleNotFoundError:
        raise UnusableRequestError("Completion needs shtab; run pip install shtab.") from None
    return _print(shtab.complete(whole, shell) + "\n")


def _calculate(given: Namespace) -> int:
    shipped = example(given.operation)
    if given.example:
        return _print(shipped.body.decode())
    if given.request is None and given.batch:
        raise UnusableRequestError("--batch needs a file of requests, or - for standard input.")
    if given.request is None:
        print(f"No request given: {shipped.name} follows, an invented build.\n", file=sys.stderr)
    asked = shipped if given.request is None else source(given.request)
    if given.batch:
        return _batch(given, asked)
    if given.view and not given.drawn_as:
        raise UnusableRequestError("--view chooses a drawing; say --svg, --png, --html or --csv.")
    body = request(given.operation, asked)
    with _rejections_named(asked), _client(given) as client:
        answer: Answer = client.call(given.operation, body, _can_draw_a_bar())
        if given.drawn_as:
            _draw(answer, given)
        elif given.json:
            _print(msgspec.json.format(encode(answer), indent=2).decode() + "\n")
        else:
            _print(given.operation.text(answer, page_for(sys.stdout), full=given.full))
    return EXIT_CODES[verdict_of(answer)]


def _draw(answer: Answer, given: Namespace) -> None:
    as_png = given.drawn_as == PNG
    if as_png and sys.stdout.isatty():
        raise UnusableRequestError("--png prints a picture; send it to a file: … > picture.png")
    show = {SVG: answer.svg, PNG: answer.svg, "text/html": answer.html, "text/csv": answer.csv}
    try:
        drawing = show[given.drawn_as](given.view)
        if as_png:
            sys.stdout.buffer.write(png(drawing))
        _print("" if as_png else drawing)
    except ModuleNotFoundError as fault:
        raise UnusableRequestError(str(fault)) from None
    except ServiceError as fault:
        if fault.status != NO_SUCH_DRAWING:
            raise
        raise UnusableRequestError(f"There is no such drawing. {fault.detail}") from None


def _batch(given: Namespace, asked: RequestText) -> int:
    """Answer line by line; the exit code is that of the worst line."""
    lines = [line for line in asked.body.splitlines() if line.strip()]
    codes = {0}
    with _client(given) as client:
        for outcome in client.batch(given.operation, lines, progress=_can_draw_a_bar()):
            codes.add(_print_line(outcome))
    return _WRONG_REQUEST if _WRONG_REQUEST in codes else max(codes)


def _print_line(outcome: Answer | ServiceError) -> int:
    if isinstance(outcome, ServiceError):
        _print(encode(outcome.problem).decode() + "\n")
        return _WRONG_REQUEST
    _print(encode(outcome).decode() + "\n")
    return EXIT_CODES[verdict_of(outcome)]


def _can_draw_a_bar() -> bool:
    return sys.stderr.isatty() and find_spec("tqdm") is not None


@contextmanager
def _rejections_named(asked: RequestText) -> Generator[None]:
    """Tell what is wrong with a request by the name of its file."""
    try:
        yield
    except RequestRejectedError as fault:
        raise UnusableRequestError(
            listed(f"{asked.name}: {fault.title}. {fault.detail}", fault.errors)
        ) from None


def _client(given: Namespace) -> Client:
    if given.url is None:
        return Client.embedded()
    try:
        return Client(given.url, timeout=given.timeout)
    except ValueError as fault:
        raise UnusableRequestError(str(fault)) from None


def _operate(given: Namespace) -> int:
    """Run the service, or tell what its operator needs."""
    try:
        from sunhitch_service.http.keys import introduced
        from sunhitch_service.http.serve import run
        from sunhitch_service.http.settings import SettingsError, as_text
    except ModuleNotFoundError as missing:
        raise ServiceNotInstalledError(
            f"{missing.name} is missing. Run pip install 'sunhitch[service]'."
        ) from missing
    try:
        if given.verb == "settings":
            return _print(as_text())
        if given.verb == "key":
            return _print(introduced(given.name, given.scopes, given.last_day))
        run(host=given.host, port=given.port, workers=given.workers)
    except SettingsError as fault:
        return _complain(str(fault), _WRONG_REQUEST)
    except SystemExit as stopped:  # the server has logged why, with a code that is a verdict here
        return _NO_ANSWER if stopped.code else 0
    return 0


def _print(text: str) -> int:
    sys.stdout.write(text)
    sys.stdout.flush()
    return 0


def _complain(text: str, code: int) -> int:
    print(f"sunhitch: {text}", file=sys.stderr)
    return code


def _set_encodings(*, for_machines: bool) -> None:
    """For programs UTF-8; for people ? in place of Ω and ² where a console cannot show them."""
    for stream in (sys.stdout, sys.stderr):
        if not isinstance(stream, io.TextIOWrapper):
            continue
        stream.reconfigure(errors="replace")
        if for_machines and stream is sys.stdout:
            stream.reconfigure(encoding="utf-8", newline="\n")
