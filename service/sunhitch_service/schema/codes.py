"""Every code of answers and problems, with its texts as templates."""

from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from sunhitch.report.field_words import title_of
from sunhitch.texts import Text, table_of
from sunhitch.texts.templates import plain, template, words
from sunhitch.types.service import CodeInfo, CodeKind, Codes
from sunhitch_service.engine.cautions import all_cautions
from sunhitch_service.engine.fitout.steps import all_steps, tool_text
from sunhitch_service.engine.mount.advice import looks
from sunhitch_service.engine.revision.changes import change_kinds, described
from sunhitch_service.engine.rules.table import RuleEntry, entries, note_of
from sunhitch_service.engine.sources import all_sources
from sunhitch_service.engine.tables import table, table_names
from sunhitch_service.tasks.problems import Kind


def codes() -> Codes:
    """Every code, in the order of the alphabet within its kind."""
    # Titles of load cases stand behind those of rules, whose codes end in them.
    cases = [
        _info("load-case", one, title, "", "") for one, title in table_of("load-cases").items()
    ]
    found = [*_checks(entries().values()), *cases, *_work(), *_statements(), *_problems()]
    return Codes(codes=found, words=words())


def _checks(rules: Iterable[RuleEntry]) -> Iterator[CodeInfo]:
    """Rules, their notes and the sentences of their remedies."""
    for rule in sorted(rules, key=lambda one: one.code):
        note = rule.note.text if rule.note else ""
        yield _info("check", rule.code, rule.title, rule.meaning, note, rule)
        for name, remedy in sorted(rule.remedies.items()):
            code = ".".join(filter(None, [rule.code, name]))
            yield _info("remedy", code, rule.title, "", remedy.text, rule)


def _work() -> Iterator[CodeInfo]:
    """Cautions, steps of the work, notes on wiring and changes of a job."""
    for code, caution in sorted(all_cautions().items()):
        yield _info("caution", code, "", "", caution.text)
    for step in all_steps():
        held = f" {step.hold_until}." if step.hold_until else ""
        yield _info("work-step", step.code, step.title, "", f"{step.text}{held}")
    for row in table("wiring", "notes").rows:
        yield _info("note", row["code"], "", "", row["text"])
    for code, kind in sorted(change_kinds().items()):
        told = _info("change", code, "", "", kind.text)
        yield replace(told, parameters=described(kind))


def _statements() -> Iterator[CodeInfo]:
    """What answers tell beside their figures, out of sentences and out of the engine's tables."""
    told = dict(table_of("statements"))
    cited = (
        note_of(rule.code, each)
        for rule in sorted(entries().values(), key=lambda one: one.code)
        for each in rule.citations
    )
    told |= {one.code: plain(one) for one in cited if one}
    told |= {f"source.{key}": one.checked for key, one in all_sources().items() if one.checked}
    for domain, name in table_names().values():
        found = table(domain, name)
        cells = (cell for row in found.rows for cell in row.values())
        told |= {one.code: one for one in (*found.notes, *cells) if isinstance(one, Text) and one}
    looked_at = (
        what for row in table("mount", "inspection").rows for what in looks(row["mounting"])
    )
    told |= {one.code: plain(one) for one in looked_at}
    tools = (tool_text(name) for step in all_steps() for name in step.tools)
    told |= {one.code: plain(one) for one in tools}
    for code, text in told.items():
        yield _info("statement", code, "", "", text)


def _problems() -> Iterator[CodeInfo]:
    for kind in Kind:
        yield _info("problem", kind.value, kind.title, kind.meaning, "")
    for code, text in table_of("faults").items():
        yield _info("fault", code, "", "", text)
    for code, text in table_of("phrases").items():
        yield _info("phrase", code, "", "", text)


def _info(
    kind: CodeKind,
    code: str,
    title: str,
    meaning: str,
    text: str,
    rule: RuleEntry | None = None,
) -> CodeInfo:
    return CodeInfo(
        kind=kind,
        code=code,
        title=title,
        meaning=meaning,
        template=text,
        severity=rule.severity if rule else None,
        unit=rule.unit if rule else "",
        parameters=rule.parameters
        if rule
        else {name: title_of(name) for name in template(text).names},
    )
