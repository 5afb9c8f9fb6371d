"""A rule of the table, and the checks that come of applying it to figures."""

import math

import msgspec

from sunhitch.texts import Text, together
from sunhitch.texts.templates import Parameter, Template
from sunhitch.types.basis import Basis
from sunhitch.types.check import VERDICTS, Check, Verdict
from sunhitch.types.wiring import WiringRules

from .families import Group
from .table import RuleEntry, basis_of, entries

_ALWAYS = ("pass", "not-assessed")
"""Verdicts that any rule may give."""
_ROUNDING = 1e-9
MOST_TIMES = 1e9
"""Utilisation above which as good as nothing is allowed."""


class Rule(msgspec.Struct, frozen=True, gc=False):
    """A rule of the table with what it is applied to and the figures of its sentences.

    Parameters
    ----------
    entry : RuleEntry
        The rule.
    subject : str
        What it is applied to; empty for the whole request.
    basis : Basis
        Where it comes from.
    remedies : tuple of str
        Names of the remedies to tell, one after the other.
    parameters : dict
        Figures and names for note and remedies.
    """

    entry: RuleEntry
    subject: str
    basis: Basis
    remedies: tuple[str, ...]
    parameters: dict[str, Parameter]

    @property
    def note(self) -> str:
        """What else to know of this case; empty where the rule has no note."""
        note = self.entry.note
        return note.filled(self.parameters) if note else ""

    @property
    def remedy_codes(self) -> list[str]:
        """Codes of the sentences of the remedy."""
        return [".".join(filter(None, [self.entry.code, name])) for name in self.remedies]

    @property
    def remedy(self) -> str:
        """What to change: worked out only for a check that does not pass."""
        told = self.entry.remedies
        return together(
            "space",
            (
                Text(told[name].filled(self.parameters), code, self._of(told[name]), "remedy")
                for name, code in zip(self.remedies, self.remedy_codes, strict=True)
            ),
        )

    def at_most(
        self,
        demand: float,
        capacity: float | None,
        review_above: float = 1.0,
        beyond: Verdict | None = None,
    ) -> Check:
        """Demand must not exceed capacity; beyond it the rule's severity is the verdict.

        Parameters
        ----------
        demand, capacity : float
            In the rule's unit, not negative; without a capacity nothing is assessed.
        review_above : float
            Utilisation above which a pass becomes a `review`.
        beyond : Verdict or None
            Verdict beyond the capacity, where something softens the rule's severity.

        Returns
        -------
        Check
            With utilisation = demand ÷ capacity; without one where nothing is allowed.
        """
        if capacity is None:
            return self.check("not-assessed", demand)
        failed = beyond or self.entry.severity
        if demand > MOST_TIMES * capacity or capacity <= 0.0:
            fits = demand <= capacity
            return self.check("pass" if fits else failed, demand, capacity, 0.0 if fits else None)
        used = demand / capacity
        near: Verdict = "review" if used > review_above + _ROUNDING else "pass"
        return self.check(failed if used > 1.0 + _ROUNDING else near, demand, capacity, used)

    def at_least(self, present: float, needed: float, *, beyond: Verdict | None = None) -> Check:
        """What is present must reach what is needed; utilisation = needed ÷ present.

        The check's demand is `needed`, its capacity is `present`; see `at_most`.
        """
        return self.at_most(needed, present, beyond=beyond)

    def check(
        self,
        verdict: Verdict,
        demand: float | None = None,
        capacity: float | None = None,
        used: float | None = None,
    ) -> Check:
        """A check with a verdict reached elsewhere; numbers only where there are any.

        Raises
        ------
        ArithmeticError
            If a number is not finite: no answer may carry one.
        ValueError
            If the verdict is worse than the rule's severity.
        """
        entry, passes = self.entry, verdict == "pass"
        if verdict not in _ALWAYS and VERDICTS.index(verdict) > VERDICTS.index(entry.severity):
            raise ValueError(f"{entry.code}: {verdict} is worse than {entry.severity}")
        if not math.isfinite((demand or 0.0) + (capacity or 0.0) + (used or 0.0)):
            raise ArithmeticError(f"{entry.code}: not finite")
        return Check(
            code=entry.code,
            title=entry.title,
            subject=self.subject or None,
            verdict=verdict,
            demand=None if demand is None else float(demand),
            capacity=None if capacity is None else float(capacity),
            unit=None if demand is None and capacity is None else entry.unit,
            utilisation_fraction=None if used is None else max(0.0, float(used)),
            basis=self.basis.key,
            parameters=self._told(passes=passes),
            note=self.note,
            remedy="" if passes else self.remedy,
            remedies=[] if passes else self.remedy_codes,
        )

    def _told(self, *, passes: bool) -> dict[str, Parameter]:
        """Parameters of the texts that its check tells."""
        told = self._of(self.entry.note) if self.entry.note else {}
        for name in () if passes else self.remedies:
            told |= self._of(self.entry.remedies[name])
        return told

    def _of(self, sentence: Template) -> dict[str, Parameter]:
        """What a sentence tells, but for figures beyond all bounds."""
        found: dict[str, Parameter] = {}
        for name in sentence.names:
            value = self.parameters[name]
            if isinstance(value, (str, list)):
                found[name] = value
            elif math.isfinite(value):
                found[name] = float(value)
        return found


def rule(
    code: str,
    subject: str = "",
    *,
    rules: WiringRules | None = None,
    group: Group | None = None,
    basis: str | Basis = "",
    remedy: str | tuple[str, ...] = "",
    **parameters: Parameter,
) -> Rule:
    """A rule of the table, ready to be applied by `at_most`, `at_least` or `check`.

    Parameters
    ----------
    code : str
        Its code.
    subject : str
        What it is applied to; empty for the whole request.
    rules, group : str or None
        Rule set and kind of circuit, where the basis depends on them.
    basis : str or Basis
        Name of the basis where the rule has several, or one that was settled elsewhere.
    remedy : str or tuple of str
        Name of the remedy, or of several to be told one after the other.
    **parameters : float or str
        Figures, in the units of their names, for note and remedies.

    Returns
    -------
    Rule
        Its sentences are worked out when a check needs them.

    Raises
    ------
    KeyError
        If the table has no such code or basis.
    """
    cited = basis if isinstance(basis, Basis) else basis_of(code, basis, rules, group)
    names = (remedy,) if isinstance(remedy, str) else remedy
    return Rule(entries()[code], subject, cited, names, parameters)
