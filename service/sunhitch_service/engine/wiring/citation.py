"""Which clause stands behind a check, by rule set and kind of circuit."""

from functools import cache, lru_cache

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Circuit, WiringRules
from sunhitch_service.engine.checks import Rule
from sunhitch_service.engine.rules.families import Group, edition_of
from sunhitch_service.engine.rules.table import basis_of, entries
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table


@cache
def circuit_row(circuit: Circuit) -> dict[str, str]:
    """Usual allowance, runs and device place of a circuit."""
    return table("wiring", "circuits").row("circuit", circuit)


@cache
def group_of(circuit: Circuit) -> Group:
    """Whether a circuit belongs to the panels or to the battery."""
    return "pv" if circuit_row(circuit)["group"] == "pv" else "battery"


def cited(row: dict[str, str], rules: WiringRules) -> Basis:
    """Basis of a table row with `source` and `clause`; `edition` stands for the rules' edition."""
    source = edition_of(rules) if row["source"] == "edition" else row["source"]
    return basis(source, row["clause"])


@cache
def _told(code: str, rules: WiringRules, group: Group) -> tuple[str, str, Basis]:
    entry = entries()[code]
    return entry.title.filled({}), entry.unit, basis_of(entry, "", rules, group, {})


def rule(code: str, rules: WiringRules, group: Group, remedy: str, subject: str = "") -> Rule:
    """A check's rule with title, unit and clause for a rule set and a kind of circuit.

    Parameters
    ----------
    code : str
        Code of the check.
    rules : str
        Rule set.
    group : {'pv', 'battery'}
        Kind of circuit.
    remedy : str
        What to change if it does not pass.
    subject : str
        What it is applied to.

    Returns
    -------
    Rule
        Ready for the builders of checks.

    Raises
    ------
    KeyError
        If no clause is listed for the code.
    """
    if not remedy:
        return _rule_that_passes(code, rules, group, subject)
    title, unit, basis_of = _told(code, rules, group)
    return Rule(code, title, unit, basis_of, remedy, subject)


@lru_cache(maxsize=1024)
def _rule_that_passes(code: str, rules: WiringRules, group: Group, subject: str) -> Rule:
    """A rule whose remedy nobody will read: most are, each applied to a size of a ladder."""
    title, unit, basis_of = _told(code, rules, group)
    return Rule(code, title, unit, basis_of, "", subject)
