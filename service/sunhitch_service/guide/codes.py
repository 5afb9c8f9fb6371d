"""Check codes as Markdown: one list, and one page each."""

from collections.abc import Iterator
from functools import cache
from importlib import resources
from typing import Any

import msgspec

from sunhitch.texts.templates import Template
from sunhitch_service.engine.rules.table import Citation, RuleEntry, cited, entries

_VERDICTS = {"fail": "a fail", "review": "to be reviewed", "not-assessed": "not assessed"}


def codes_text() -> str:
    """Every code with its title, in the order of the alphabet."""
    rows = [
        f"| [{entry.code}](/guide/codes/{entry.code}) | {entry.title} | {entry.unit} |"
        for _, entry in sorted(entries().items())
    ]
    head = (
        "# Codes\n\nEvery check that an answer can hold, each with its rule, remedies and sources."
    )
    return "\n".join([head, "", "| code | check | unit |", "|---|---|---|", *rows, ""])


def code_text(entry: RuleEntry) -> str:
    """One code: its rule, what its figures are, what to change, where the limit comes from.

    Parameters
    ----------
    entry : RuleEntry
        Out of the table of rules.
    """
    parts = [
        f"# {entry.code}",
        f"**{entry.title}**" + (f", in {entry.unit}" if entry.unit else ""),
        entry.meaning,
        entry.why,
        f"Beyond the limit it is {_VERDICTS.get(entry.severity, entry.severity)}.",
    ]
    if entry.parameters:
        listed = (f"- `{name}`: {words}" for name, words in entry.parameters.items())
        parts += ["## Its figures", "\n".join(listed)]
    if entry.remedies:
        listed = (f"- {_blank(sentence)}" for sentence in entry.remedies.values())
        parts += ["## What to change", "\n".join(listed)]
    if seen := _examples().get(entry.code):
        parts += ["## An example", _example(seen)]
    parts += ["## Where the limit comes from", "\n".join(_citations(entry))]
    return "\n\n".join(parts) + "\n"


def _blank(sentence: Template) -> str:
    """A sentence with the names of its parameters in place of figures."""
    return "".join(text + (f"‹{name}›" if name else "") for text, name, _ in sentence.parts)


def _citations(entry: RuleEntry) -> Iterator[str]:
    for each in entry.citations:
        when = " ".join(word for word in (each.rules, each.group) if word != "any")
        told = _source(entry.code, each)
        yield f"- {when}: {told}" if when else f"- {told}"


def _source(code: str, each: Citation) -> str:
    if each.source == "edition":
        return f"NFPA 70 in the edition asked for, {each.clause}. {each.note}".rstrip()
    found = cited(code, each, None)
    return f"{found.reference}. {found.note}".rstrip()


@cache
def _examples() -> dict[str, dict[str, Any]]:
    """One check of each code, as tests have seen it."""
    file = resources.files("sunhitch_service.guide").joinpath("examples.json")
    return msgspec.json.decode(file.read_bytes(), type=dict[str, dict[str, Any]])


def _example(seen: dict[str, Any]) -> str:
    unit = "" if seen.get("unit") in (None, "1") else f" {seen['unit']}"
    sides = (("asked", seen.get("demand")), ("there", seen.get("capacity")))
    figures = ", ".join(f"{words} {value:g}{unit}" for words, value in sides if value is not None)
    told = f"{figures}: `{seen['verdict']}`" if figures else f"`{seen['verdict']}`"
    return f"{told}. {seen['remedy']}".rstrip()
