"""`sunhitch quick`: flat questions with NAME=VALUE words."""

from argparse import Namespace
from collections.abc import Iterator
from inspect import signature
from typing import Any

import msgspec

from sunhitch.client import Client
from sunhitch.codec import plain_data
from sunhitch.errors import RequestRejectedError
from sunhitch.questions import BY_NAME, QUESTIONS, AnyQuestion, described
from sunhitch.report.amounts import figure
from sunhitch.report.layout import page_for

from .calculating import EXIT_CODES
from .sharing import UnusableRequestError, connected, nearest, put


def ask(given: Namespace, client: type[Client]) -> int:
    """Answer a flat question, or list its parameters, or all questions."""
    if given.question is None:
        told = ((one.name, one.asked.__doc__ or "") for one in QUESTIONS)
        return put("\n".join(page_for(None).table(("Question", "Answers"), list(told))) + "\n")
    if given.question not in BY_NAME:
        raise UnusableRequestError(nearest("question", given.question, BY_NAME))
    question = BY_NAME[given.question]
    if not given.parameters:
        head = ("Parameter", "Unit", "What it is")
        return put("\n".join(page_for(None).table(head, list(_parameters(question)))) + "\n")
    words = [word.partition("=") for word in given.parameters]
    if wrong := [name for name, equals, _ in words if not equals]:
        raise UnusableRequestError(f"Give parameters as NAME=VALUE, not {wrong[0]!r}.")
    with connected(given, client) as asked:
        try:
            answer = asked.quick.ask_in_words(question, {name: value for name, _, value in words})
        except RequestRejectedError as fault:
            faults = (f"\n  {one.pointer.lstrip('/')}: {one.message}" for one in fault.errors)
            raise UnusableRequestError(
                f"{question.name}: {fault.title}." + "".join(faults)
            ) from None
    return _tell(given, plain_data(answer))


def _tell(given: Namespace, plain: dict[str, Any]) -> int:
    if given.form == "json":
        put(msgspec.json.format(msgspec.json.encode(plain), indent=2).decode() + "\n")
    elif given.field is not None:
        if given.field not in plain:
            raise UnusableRequestError(nearest("field", given.field, plain))
        put(f"{_word(plain[given.field])}\n")
    else:
        width = max(map(len, plain))
        page = page_for(None)
        for name, value in plain.items():
            put("\n".join(page.wrap(_word(value), f"{name:{width}}  ") or [name]) + "\n")
    return EXIT_CODES.get(plain.get("verdict", "pass"), EXIT_CODES["not-assessed"])


def _word(value: Any) -> str:  # noqa: ANN401 - of any field
    return figure(value, 6) if isinstance(value, float) else str(value)


def _parameters(question: AnyQuestion) -> Iterator[tuple[str, str, str]]:
    """Name, unit, meaning and words of each; those that may be left out say so."""
    taken = signature(question.asked).parameters
    left_out = {name for name, one in taken.items() if one.default is None}
    for name, one in described(question.asked).items():
        words = f" One of {', '.join(one['enum'])}." if "enum" in one else ""
        optional = " May be left out." if name in left_out else ""
        yield name, one.get("x-unit", ""), one.get("description", "") + words + optional
