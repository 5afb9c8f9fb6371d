"""Titles of checks as texts with codes."""

from sunhitch.texts import Text, statement
from sunhitch.types.check import Check

from .table import entries


def title_of(check: Check) -> Text:
    """Title of a check; of one in a load case it is the rule's with the title of the case."""
    if check.code in entries():
        return Text(check.title, check.code, {}, "check")
    title, _, case_title = check.title.partition(": ")
    code = next(
        code
        for code, one in entries().items()
        if check.code.startswith(f"{code}-") and one.title == title
    )
    case = Text(case_title, check.code.removeprefix(f"{code}-"), {}, "load-case")
    rule_title = Text(title, code, {}, "check")
    return statement("title-in-case", title=rule_title, load_case=case) if case else rule_title
