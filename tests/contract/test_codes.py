"""Codes carry the texts: a front end that holds the list of codes can tell all of them anew."""

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, get_args

import msgspec
import pytest
from plausible import light_example

from sunhitch.codec import encode
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch.texts import Text, coded, table_of
from sunhitch.texts.templates import template, words
from sunhitch.types.mount import LoadCaseName
from sunhitch.types.service import CodeInfo
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine import sources
from sunhitch_service.engine.rules.table import cited, entries
from sunhitch_service.engine.tables import table, table_names
from sunhitch_service.guide.codes import code_text
from sunhitch_service.schema.codes import codes

ROOT = Path(__file__).parents[2]
MOUNT_CASE = re.compile(rf"^(.+?)-({'|'.join(get_args(LoadCaseName))})$")
"""A code of a mount check ends in its load case, a title in its words."""


@cache
def known() -> dict[tuple[str, str], CodeInfo]:
    return {(one.kind, one.code): one for one in codes().codes}


@cache
def answer_of(operation: Operation[Any, Any]) -> Any:
    request = msgspec.convert(light_example(operation), operation.request)
    return json.loads(encode(calculation_of(operation).calculate(request), texts=True))


def carriers(part: Any, name: str) -> Iterator[dict[str, Any]]:
    """Every part of an answer that holds a member."""
    if isinstance(part, dict):
        if name in part:
            yield part
        part = list(part.values())
    if isinstance(part, list):
        for one in part:
            yield from carriers(one, name)


def told(info: CodeInfo, parameters: dict[str, Any]) -> str:
    """The text as a front end makes it: by the template and the parameters alone."""
    return template(info.template).filled(parameters) if info.template else ""


def rule_of(code: str) -> CodeInfo:
    own = known().get(("check", code))
    case = MOUNT_CASE.match(code)
    return own or known()["check", case[1] if case else code]


def test_codes_are_unique_and_their_parameters_described() -> None:
    listed = codes().codes
    assert len(known()) == len(listed)
    for one in listed:
        names = set(template(one.template).names)
        assert names <= set(one.parameters) or one.kind == "work-step", one.code
        assert "word" not in [form for *_, form in template(one.template).parts] or words()


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_texts_of_checks_follow_from_code_and_parameters(operation: Operation[Any, Any]) -> None:
    checks = list(carriers(answer_of(operation), "remedies"))
    assert checks
    for check in checks:
        info = rule_of(check["code"])
        assert check["title"].partition(": ")[0] == info.title
        assert check["note"] == told(info, check["parameters"])
        sentences = [told(known()["remedy", one], check["parameters"]) for one in check["remedies"]]
        assert check["remedy"] == " ".join(sentences)


def test_cautions_steps_and_notes_follow_from_code_and_parameters() -> None:
    seen: set[str] = set()
    for operation in OPERATIONS:
        answer = answer_of(operation)
        for caution in carriers(answer, "about"):
            assert caution["text"] == told(known()["caution", caution["code"]], {})
            seen.add("caution")
        for step in carriers(answer, "hold_until"):
            info = known()["work-step", step["code"]]
            assert step["title"] == info.title
            whole = f"{step['text']} {step['hold_until']}".strip()
            text = " ".join(told(info, step["parameters"]).split())
            assert text.removesuffix(".") == whole.removesuffix(".")
            seen.add("step")
        for note in carriers(answer, "topic"):
            if ("note", note["code"]) in known():
                assert note["text"] == told(known()["note", note["code"]], note["parameters"])
                seen.add("note")
    assert seen == {"caution", "step", "note"}


def test_no_two_cells_of_tables_have_one_code() -> None:
    seen: dict[str, str] = {}
    for where in table_names().values():
        for row in table(*where).rows:
            for cell in row.values():
                if isinstance(cell, Text) and cell:
                    assert seen.setdefault(cell.code, cell) == cell


def test_every_statement_is_told_somewhere() -> None:
    """As written, or put together out of a word and one of these beginnings or endings."""
    sources = "".join(
        path.read_text("utf-8")
        for own in ("client", "service")
        for path in (ROOT / own).rglob("*.py")
    )
    parts = r"(best-for|count|feet|change|changes|in-a-row)-\S+|\S+-(charger|number|silicone)"
    for code, text in table_of("statements").items():
        assert f'"{code}"' in sources or re.fullmatch(parts, code), code
        assert text == text.strip() or "{" in text, code


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_assumptions_and_other_texts_follow_from_code_and_parameters(
    operation: Operation[Any, Any],
) -> None:
    answer = answer_of(operation)
    assert answer["texts"]
    for made in answer["assumptions"]:
        assert made["why"] == told(known()["statement", made["code"]], made["parameters"])
    for one in answer["texts"]:
        info = known()[one["kind"], one["code"]]
        if one["kind"] in ("check", "load-case"):
            assert one["text"].lower() == info.title.lower()
        else:
            assert one["text"] == told(info, one["parameters"])
    assert len({one["text"] for one in answer["texts"]}) == len(answer["texts"])
    assert all(one["text"] for one in answer["texts"])


def test_pages_of_codes_leave_the_notes_of_sources_their_codes() -> None:
    """Sources are kept for all who cite them: a page that reads one first must not strip it."""
    sources.basis.cache_clear()
    for entry in entries().values():
        code_text(entry)
    noted = [
        (each.note, cited(entry.code, each, None).note)
        for entry in entries().values()
        for each in entry.citations
        if each.note and not each.table and each.source != "edition"
    ]
    assert noted
    for note, told in noted:
        assert isinstance(told, Text)
        assert note in {one.text for one in coded([told])}
