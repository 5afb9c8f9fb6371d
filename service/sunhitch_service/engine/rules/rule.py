"""A rule of the table, about to be applied."""

import math

import msgspec

from sunhitch.texts import Text, together
from sunhitch.texts.templates import Parameter, Template
from sunhitch.types.basis import Basis
from sunhitch.types.wiring import WiringRules

from .families import Group
from .table import RuleEntry, basis_of, entries


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

    def told(self, *, passes: bool) -> dict[str, Parameter]:
        """Parameters of the texts that its check tells."""
        texts = [self.entry.note] if self.entry.note else []
        texts += [] if passes else [self.entry.remedies[name] for name in self.remedies]
        return {name: one for text in texts for name, one in self._of(text).items()}

    def _of(self, sentence: Template) -> dict[str, Parameter]:
        """What a sentence tells, but for figures beyond all bounds."""
        found: dict[str, Parameter] = {}
        for name in sorted(sentence.names):
            value = self.parameters[name]
            if isinstance(value, str | list):
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
    """A rule of the table, ready for `at_most`, `at_least` or `check`.

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
    entry = entries()[code]
    cited = basis if isinstance(basis, Basis) else basis_of(code, basis, rules, group)
    names = (remedy,) if isinstance(remedy, str) else remedy
    return Rule(entry, subject, cited, names, parameters)
