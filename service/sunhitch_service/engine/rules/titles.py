"""Titles of checks as texts with codes."""

from sunhitch.texts import Text, statement
from sunhitch.types.check import Check

from .table import entries


def title_of(check: Check) -> Text:
    """Title of a check; of one in a load case it is the rule's with the title of the case."""
    title = rule_title_of(check)
    case_title = check.title.removeprefix(title).removeprefix(": ")
    if not case_title:
        return title
    case = Text(case_title, check.code.removeprefix(f"{title.code}-"), {}, "load-case")
    return statement("title-in-case", title=title, load_case=case)


def rule_title_of(check: Check) -> Text:
    """Title of the rule behind a check, in whatever load case."""
    title, known = check.title.partition(": ")[0], entries()
    words = check.code.split("-")
    codes = ("-".join(words[:count]) for count in range(len(words), 0, -1))
    return Text(title, next(code for code in codes if code in known), {}, "check")
