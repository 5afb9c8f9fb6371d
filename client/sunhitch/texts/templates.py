"""Sentences with figures: parsed once, filled in for every check that tells them."""

import math
import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from importlib import resources
from string import Formatter

import msgspec

from sunhitch.report.amounts import at_least, at_most, both, figure, near_limit, percent

Parameter = float | str | list[str]
"""A figure in the unit of its name, a name that the caller or a table gave, a text, or a list of
these."""


SEPARATORS = {"space": " ", "comma": ", ", "semicolon": "; ", "plus": " + "}


class Template(msgspec.Struct, frozen=True):
    """A sentence with `{name:format}` where parameters go.

    Parameters
    ----------
    text : str
        As written.
    parts : tuple of tuple of str
        Text before a parameter, the parameter's name, its format. A format is one of Python's,
        or `percent` for a fraction, `ceil` for a figure rounded up, `at-least` and `at-most` for
        limits, never rounded to the wrong side, `word` for a key of `words`, and of a list what
        stands between its entries: a key of `SEPARATORS`, or `and`.
    names : tuple of str
        Parameters that it needs, in order of the alphabet.
    """

    text: str
    parts: tuple[tuple[str, str, str], ...]
    names: tuple[str, ...]

    def filled(self, parameters: Mapping[str, Parameter]) -> str:
        """The sentence; nothing is left of a parameter at its end that is empty.

        Raises
        ------
        KeyError
            If a parameter is missing.
        """
        told: list[str] = []
        for text, name, form in self.parts:
            told.append(text)
            if name:
                one = parameters[name]
                told.append(_listed(one, form) if isinstance(one, list) else _shower(form)(one))
        return "".join(told).rstrip() if self.names else "".join(told)


@cache
def table_of(name: str) -> dict[str, str]:
    """Templates by code, or words by key, out of one of the files beside this one, read once."""
    file = resources.files("sunhitch.texts").joinpath(f"{name}.toml")
    return tomllib.loads(file.read_text("utf-8"))


def words() -> dict[str, str]:
    """Words that sentences name by a key."""
    return table_of("words")


def plain(text: str) -> str:
    """A text that holds no parameters as a template."""
    return text.replace("{", "{{").replace("}", "}}")


@cache
def template(text: str) -> Template:
    """Parse a sentence of the table."""
    parts = tuple(
        (before, name or "", form or "") for before, name, form, _ in Formatter().parse(text)
    )
    return Template(text, parts, tuple(sorted({name for _, name, _ in parts if name})))


_CASES: dict[str, Callable[[str], str]] = {
    "lower": lambda text: text.lower(),
    "start": lambda text: f"{text[:1].lower()}{text[1:]}",
    "place": lambda text: f"{text[:1].lower()}{text[1:]}".rstrip("."),
    "words": lambda key: key.replace("-", " "),
    "capital": lambda text: f"{text[:1].upper()}{text[1:]}",
}
_FIGURES: dict[str, Callable[[float], str]] = {
    "percent": percent,
    "ceil": lambda value: str(math.ceil(value)),
    "at-least": at_least,
    "at-most": at_most,
    "figure": figure,
    "utilisation": near_limit,
}


@cache
def _shower(form: str) -> Callable[[float | str], str]:
    """What shows a figure or a text in a format: looked up once for each."""
    if form in ("word", "title"):
        return lambda key: words()[str(key)].capitalize() if form == "title" else words()[str(key)]
    if form in _CASES:
        return lambda text: _CASES[form](str(text))
    if form in _FIGURES:
        return lambda value: _FIGURES[form](float(value))
    if form.startswith("both"):
        return lambda value: both(float(value), form.removeprefix("both").strip())
    if not form:
        return lambda value: str.__str__(value) if isinstance(value, str) else f"{value:.10g}"
    return lambda value: format(value, form)


def _listed(entries: list[str], form: str) -> str:
    """Entries with what stands between them: the word `to`, or `and` before the last."""
    if form == "to":
        return f" {words()['to']} ".join(entries)
    if form != "and" or len(entries) < 2:
        return SEPARATORS.get(form, ", ").join(entries)
    return f"{', '.join(entries[:-1])} {words()['and']} {entries[-1]}"
