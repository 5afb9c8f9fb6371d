"""Answers to requests: printed, or written to files; the exit code is the worst verdict."""

import sys
from argparse import Namespace
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

import msgspec

from sunhitch.client import Client
from sunhitch.codec import encode
from sunhitch.errors import NO_SUCH_DRAWING, RequestRejectedError, ServiceError
from sunhitch.pictures import png
from sunhitch.report.grouping import verdict_of
from sunhitch.report.layout import page_for
from sunhitch.types.check import Answer, Verdict
from sunhitch.types.stream import answer_line, problem_line

from .sharing import (
    FORMS,
    PNG,
    SVG,
    WRONG_REQUEST,
    RequestText,
    UnusableRequestError,
    complain,
    connected,
    example,
    listed,
    put,
    request,
    source,
)

_TEXTS = ("json", "short", "long", "full")
EXIT_CODES: dict[Verdict, int] = {"pass": 0, "review": 3, "not-assessed": 4, "fail": 5}


def calculate(given: Namespace, client: type[Client]) -> int:
    """Answer every request that was named; the shipped example where none was.

    Returns
    -------
    int
        Exit code of the worst.
    """
    shipped = example(given.operation)
    if given.example:
        return put(shipped.body.decode())
    if not given.requests and given.batch:
        raise UnusableRequestError("--batch needs a file of requests, or - for standard input.")
    if not given.requests:
        print(f"No request given: {shipped.name} follows, an invented build.\n", file=sys.stderr)
    _check_output(given)
    with connected(given, client) as asked:
        if given.batch:
            return _worst(_lines(given, asked))
        if len(given.requests) < 2:
            return _answered(given, asked, source(given.requests[0]) if given.requests else shipped)
        return _worst(_one_of_several(given, asked, path) for path in given.requests)


def _check_output(given: Namespace) -> None:
    given.several = len(given.requests) > 1
    given.forms = [given.form or _form_of(output) for output in given.output or ("",)]
    given.form = given.forms[0]
    files = [one for one in given.output if given.several and Path(one).is_file()]
    drawings = set(given.forms).difference(_TEXTS)
    shown = given.form == PNG and not given.output and sys.stdout.isatty()
    wrong = {
        "--batch takes one file; it holds as many requests as wanted.": (
            given.batch and given.several
        ),
        "--batch writes one file; name one.": given.batch and len(given.output) > 1,
        **{f"{one} is one file; name a directory for several.": True for one in files},
        "--view chooses a drawing; say --svg, --png, --html or --csv, or name a file.": (
            given.view and not drawings
        ),
        "--png prints a picture; send it to a file: --output a.png": shown,
    }
    if told := next((told for told, holds in wrong.items() if holds), ""):
        raise UnusableRequestError(told)


def _form_of(output: str) -> str:
    """What the suffix of an output says, where no option does."""
    suffix = Path(output).suffix.lower()
    if suffix and suffix not in FORMS:
        raise UnusableRequestError(
            f"{output}: end the name in one of {', '.join(FORMS)}. A browser prints .html as PDF."
        )
    return FORMS.get(suffix, "short")


def _worst(codes: Iterator[int]) -> int:
    every = {0, *codes}
    return WRONG_REQUEST if WRONG_REQUEST in every else max(every)


def _one_of_several(given: Namespace, client: Client, path: str) -> int:
    """A fault in one request does not keep the others from an answer."""
    try:
        if not given.output and given.form in ("short", "long", "full"):
            put(f"== {path}\n")
        return _answered(given, client, source(path))
    except UnusableRequestError as fault:
        return complain(str(fault), WRONG_REQUEST)


def _answered(given: Namespace, client: Client, asked: RequestText) -> int:
    body = request(given.operation, asked, given.weather)
    with _rejections_named(asked):
        answer: Answer = client.call(given.operation, body, _can_draw_a_bar())
        contents = [_content(given, answer, form) for form in given.forms]
    if not given.output:
        _print(contents[0])
    for output, form, content in zip(given.output, given.forms, contents, strict=False):
        path = Path(output)
        if given.several or path.is_dir():
            suffix = next((one for one, written in FORMS.items() if written == form), ".txt")
            path.mkdir(parents=True, exist_ok=True)
            path /= Path(asked.name).stem + suffix
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        put(f"{verdict_of(answer).replace('-', ' ').upper()}  {path}\n")
    return EXIT_CODES[verdict_of(answer)]


def _content(given: Namespace, answer: Answer, form: str) -> str | bytes:
    if form == "json":
        return msgspec.json.format(encode(answer), indent=2).decode() + "\n"
    if form in _TEXTS:
        page = page_for(None if given.output else sys.stdout)
        told: str = given.operation.text(answer, page, form)
        return told
    try:
        drawing = answer.document(SVG if form == PNG else form, given.view)
        return png(drawing.decode()) if form == PNG else drawing
    except ModuleNotFoundError as fault:
        raise UnusableRequestError(str(fault)) from None
    except ServiceError as fault:
        if fault.status != NO_SUCH_DRAWING:
            raise
        raise UnusableRequestError(f"There is no such drawing. {fault.detail}") from None


def _print(content: str | bytes) -> None:
    if isinstance(content, bytes):
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
    else:
        put(content)


def _lines(given: Namespace, client: Client) -> Iterator[int]:
    """Answer line by line, as JSON."""
    body = source(given.requests[0]).body
    lines = [line for line in body.splitlines() if line.strip()]
    told: list[str] = []
    for outcome in client.batch(given.operation, lines, progress=_can_draw_a_bar()):
        code, line = _line(outcome)
        told.append(line)
        if not given.output:
            put(line)
        yield code
    if given.output:
        Path(given.output[0]).write_text("".join(told), "utf-8")


def _line(outcome: Answer | ServiceError) -> tuple[int, str]:
    if isinstance(outcome, ServiceError):
        return WRONG_REQUEST, problem_line(encode(outcome.problem)).decode() + "\n"
    return EXIT_CODES[verdict_of(outcome)], answer_line(encode(outcome)).decode() + "\n"


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


def is_for_machines(given: Namespace) -> bool:
    """Whether programs read what is printed, which is UTF-8 then."""
    form: str | None = getattr(given, "form", None)
    other: bool = getattr(given, "batch", False) or getattr(given, "example", False)
    return other or form not in (None, "long", "full")
