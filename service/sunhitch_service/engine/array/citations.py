"""Which clause stands behind a rule, by rule set."""

from sunhitch.types.basis import Basis
from sunhitch.types.system import RuleSet
from sunhitch_service.engine.sources import basis


def cite(rules: RuleSet, nec_clause: str, iec_clause: str, note: str = "") -> Basis:
    """Clause of the chosen rules.

    Parameters
    ----------
    rules : str
        Rule set.
    nec_clause, iec_clause : str
        Clause in the NEC, and in IEC 62548.
    note : str
        What to know beyond how the source was checked.

    Returns
    -------
    Basis
        With the edition in the clause.
    """
    if rules == "iec":
        return basis("iec-62548", iec_clause, note)
    return basis(rules, nec_clause, note)
