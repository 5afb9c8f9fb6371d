"""The table of rules: one entry a code, read from this folder's files."""

import tomllib
from functools import cache
from importlib import resources

import msgspec

from sunhitch.texts import Text
from sunhitch.texts.templates import Template, template
from sunhitch.types.basis import Basis
from sunhitch.types.check import Verdict
from sunhitch.types.wiring import WiringRules
from sunhitch_service.engine.practice import Practice
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table

from .families import Group, admits, family_of


class Citation(msgspec.Struct, frozen=True, forbid_unknown_fields=True, rename={"key": "for"}):
    """Where a rule comes from, under some rule sets and for one kind of circuit.

    Parameters
    ----------
    key : str
        Name by which a caller picks it; empty for the usual one.
    rules, group : str
        Families of rules and kind of circuit that it is for, separated by spaces; or `any`.
    source : str
        Key in `sources.toml`; `edition` stands for the edition of NFPA 70 in force.
    clause, note : str
        Clause, and what to know when relying on it.
    table, row : str
        In place of a source: `folder/name` of a table whose source it is, and the row of one that
        holds common practice.
    """

    key: str = ""
    rules: str = "any"
    group: str = "any"
    source: str = ""
    clause: str = ""
    note: str = ""
    table: str = ""
    row: str = ""


class RuleEntry(msgspec.Struct, frozen=True):
    """One rule.

    Parameters
    ----------
    code, unit : str
        Stable code; unit of demand and capacity, empty where nothing is compared.
    title : str
        The rule in words.
    meaning, why : str
        What it holds a build to, in one sentence; what goes wrong otherwise.
    severity : str
        Verdict beyond the limit. Where a figure is missing, any rule may be `not-assessed`.
    parameters : dict of str
        What each parameter of note and remedies is.
    citations : tuple of Citation
        The first that fits the rule set and the circuit is its basis.
    remedies : dict of Template
        What to change, by name; the one without a name serves where none is picked.
    note : Template or None
        What else to tell of every case, such as the name of what is near.
    """

    code: str
    unit: str
    title: str
    meaning: str
    why: str
    severity: Verdict
    parameters: dict[str, str]
    citations: tuple[Citation, ...]
    remedies: dict[str, Template]
    note: Template | None = None


@cache
def entries() -> dict[str, RuleEntry]:
    """Every rule by its code."""
    found: dict[str, RuleEntry] = {}
    for file in resources.files("sunhitch_service.engine.rules").joinpath("codes").iterdir():
        written = tomllib.loads(file.read_text("utf-8"))
        common = written.pop("common", {})
        for code, fields in written.items():
            remedies = common.get("remedies", {}) | fields.pop("remedies", {})
            remedies |= {"": fields.pop("remedy")} if "remedy" in fields else {}
            templates = {name: template(text) for name, text in remedies.items()}
            note = template(fields.pop("note")) if "note" in fields else None
            told = {name for one in (note, *templates.values()) if one for name in one.names}
            shared = {k: words for k, words in common.get("parameters", {}).items() if k in told}
            found[code] = RuleEntry(
                code=code,
                note=note,
                parameters=shared | fields.pop("parameters", {}),
                citations=msgspec.convert(fields.pop("basis"), tuple[Citation, ...]),
                remedies=templates,
                **fields,
            )
    return found


@cache
def unit_of(code: str) -> str:
    """Unit of a rule's demand and capacity."""
    return entries()[code].unit


@cache
def basis_of(code: str, key: str, rules: WiringRules | None, group: Group | None) -> Basis:
    """Where a rule comes from.

    Parameters
    ----------
    code : str
        The rule's.
    key : str
        Name of the citation; empty for the usual one.
    rules, group : str or None
        Rule set and kind of circuit, where they make a difference.

    Raises
    ------
    KeyError
        If no citation fits.
    """
    family = family_of(rules) if rules else "any"
    for each in entries()[code].citations:
        if each.key == key and admits(each.rules, family) and admits(each.group, group or "any"):
            return cited(code, each, rules)
    raise KeyError(f"{code}: no basis {key!r} under {rules}, {group}")


def note_of(code: str, each: Citation) -> Text | None:
    """What to know when a rule relies on a source; its code is that of the rule and the source."""
    return Text(each.note, f"{code}.{each.source}", {}) if each.note else None


def cited(code: str, each: Citation, rules: WiringRules | None) -> Basis:
    """The source of one citation of a rule."""
    if each.table:
        folder, name = each.table.split("/")
        return Practice(folder, name).basis(each.row) if each.row else table(folder, name).basis
    source = rules if rules and each.source == "edition" else each.source
    return basis(source, each.clause, note_of(code, each))
