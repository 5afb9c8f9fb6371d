"""Sentences with figures: parsed once, filled in for every check that tells them."""

import math
import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from importlib import resources
from string import Formatter

import msgspec

from sunhitch.report.amounts import both, figure, near_limit, percent

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
        or `percent` for a fraction, `ceil` for a figure rounded up, `word` for a key of `words`,
        and of a list what stands between its entries: a key of `SEPARATORS`, or `and`.
    names : frozenset of str
        Parameters that it needs.
    """

    text: str
    parts: tuple[tuple[str, str, str], ...]
    names: frozenset[str]

    def filled(self, parameters: Mapping[str, Parameter]) -> str:
        """The sentence; nothing is left of a parameter at its end that is empty.

        Raises
        ------
        KeyError
            If a parameter is missing.
        """
        if not self.names:
            return "".join(part[0] for part in self.parts)
        return "".join(
            text + _shown(parameters[name], form) if name else text
            for text, name, form in self.parts
        ).rstrip()


@cache
def words() -> dict[str, str]:
    """Words that sentences name by a key, read once from `words.toml`."""
    file = resources.files("sunhitch.texts").joinpath("words.toml")
    return tomllib.loads(file.read_text("utf-8"))


def plain(text: str) -> str:
    """A text that holds no parameters as a template."""
    return text.replace("{", "{{").replace("}", "}}")


@cache
def template(text: str) -> Template:
    """Parse a sentence of the table."""
    parts = tuple(
        (before, name or "", form or "") for before, name, form, _ in Formatter().parse(text)
    )
    return Template(text, parts, frozenset(name for _, name, _ in parts if name))


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
    "figure": figure,
    "utilisation": near_limit,
}


def _shown(value: Parameter, form: str) -> str:
    if isinstance(value, list):
        return _listed(value, form)
    if form in ("word", "title"):
        word = words()[str(value)]
        return word.capitalize() if form == "title" else word
    if isinstance(value, str) and form in _CASES:
        return _CASES[form](value)
    if form in _FIGURES:
        return _FIGURES[form](float(value))
    if form.startswith("both"):
        return both(float(value), form.removeprefix("both").strip())
    if not form and not isinstance(value, str):
        form = ".10g"
    return format(value, form)


def _listed(entries: list[str], form: str) -> str:
    """Entries with what stands between them: the word `to`, or `and` before the last."""
    if form == "to":
        return f" {words()['to']} ".join(entries)
    if form != "and" or len(entries) < 2:
        return SEPARATORS.get(form, ", ").join(entries)
    return f"{', '.join(entries[:-1])} {words()['and']} {entries[-1]}"
