"""What the sheets share: template, words for verdicts, open points, sources."""

from base64 import b64encode
from collections.abc import Callable, Iterable
from functools import cache
from hashlib import sha256
from importlib import resources
from typing import TYPE_CHECKING, Any, cast

from sunhitch.report.amounts import (
    at_least,
    beside,
    both,
    cold_open_circuit,
    figure,
    inches,
    passes,
    percent,
    utilisation,
)
from sunhitch.report.field_words import grouped_assumptions
from sunhitch.report.grouping import alike, grouped_sources, judged
from sunhitch.report.part_words import part_ratings
from sunhitch.types.check import Answer, Check, Verdict

if TYPE_CHECKING:
    from jinja2 import Environment

_WORDS: dict[Verdict, str] = {
    "pass": "✓ Passes",
    "review": "◇ Passes, with points to look at",
    "not-assessed": "? Something decisive is unknown",
    "fail": "✗ Fails: change it before building",
}
_HEADINGS: dict[Verdict, str] = {
    "fail": "Fails",
    "not-assessed": "Could not be assessed",
    "review": "Needs a second look",
}


def page(template: str, answer: Answer, **more: Any) -> str:  # noqa: ANN401 - what a template names
    """Fill a template with an answer.

    Parameters
    ----------
    template : str
        Its file name.
    answer : Answer
        Of any calculation of the contract, `a` in the template.
    **more : object
        What else the template names.

    Returns
    -------
    str
        HTML with its styles inside.
    """
    return (
        _environment()
        .get_template(template)
        .render(
            a=answer,
            words=_WORDS,
            headings=_HEADINGS,
            open=_open(answer.checks),
            assumed=grouped_assumptions(answer.assumptions),
            sources=grouped_sources(answer.sources),
            **more,
        )
    )


def script_digest() -> str:
    """Base64 SHA-256 of the work sheet's script, by which a content policy admits it."""
    file = resources.files("sunhitch_service.drawing").joinpath("templates", "work_sheet.js")
    # The template language drops the last line's end.
    script = file.read_bytes().removesuffix(b"\n")
    return b64encode(sha256(script).digest()).decode()


@cache
def _environment() -> "Environment":
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("sunhitch_service.drawing"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    filters = cast("dict[str, Callable[..., str]]", environment.filters)
    telling = (at_least, beside, both, figure, part_ratings, passes, percent, utilisation)
    filters |= {tell.__name__: tell for tell in telling}
    filters |= {"mms": _mms, "tapes": _tapes, "cold": cold_open_circuit}
    return environment


def _mms(lengths_m: Iterable[float]) -> str:
    return " · ".join(f"{1000.0 * length:.0f}" for length in lengths_m)


def _tapes(lengths_m: Iterable[float]) -> str:
    return " · ".join(inches(length).replace(" ", "\N{NO-BREAK SPACE}") for length in lengths_m)


def _open(checks: list[Check]) -> list[tuple[Verdict, list[list[Check]]]]:
    """What does not pass, gravest first, alike checks together."""
    return [(verdict, alike(found)) for verdict in _HEADINGS if (found := judged(checks, verdict))]
