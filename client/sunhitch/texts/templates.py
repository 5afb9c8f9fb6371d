"""Sentences with figures: parsed once, filled in for every check that tells them."""

import math
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from string import Formatter

import msgspec

from sunhitch.report.amounts import percent

Parameter = float | str
"""A figure in the unit of its name, or a name that the caller or a table gave."""


class Template(msgspec.Struct, frozen=True):
    """A sentence with `{name:format}` where parameters go.

    Parameters
    ----------
    text : str
        As written.
    parts : tuple of tuple of str
        Text before a parameter, the parameter's name, its format. A format is one of Python's,
        or `percent` for a fraction, `ceil` for a figure rounded up, `word` for a key of `words`.
    names : frozenset of str
        Parameters that it needs.
    """

    text: str
    parts: tuple[tuple[str, str, str], ...]
    names: frozenset[str]

    def filled(self, parameters: Mapping[str, Parameter]) -> str:
        """The sentence.

        Raises
        ------
        KeyError
            If a parameter is missing.
        """
        if len(self.parts) == 1 and not self.parts[0][1]:
            return self.parts[0][0]
        return "".join(
            text + _shown(parameters[name], form) if name else text
            for text, name, form in self.parts
        )


@cache
def words() -> dict[str, str]:
    """Words that sentences name by a key, read once from `words.toml`."""
    file = resources.files("sunhitch.texts").joinpath("words.toml")
    return tomllib.loads(file.read_text("utf-8"))


@cache
def template(text: str) -> Template:
    """Parse a sentence of the table."""
    parts = tuple(
        (before, name or "", form or "") for before, name, form, _ in Formatter().parse(text)
    )
    return Template(text, parts, frozenset(name for _, name, _ in parts if name))


def _shown(value: Parameter, form: str) -> str:
    if form == "word":
        return words()[str(value)]
    if form == "percent":
        return percent(float(value))
    if form == "ceil":
        return str(math.ceil(float(value)))
    if not form and not isinstance(value, str):
        form = ".10g"
    return format(value, form)
