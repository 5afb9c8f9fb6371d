"""Checks in the order and in the groups in which people want to read them."""

from collections.abc import Iterable, Sequence

from sunhitch.types.check import VERDICTS, Check


def worst_first(checks: Iterable[Check]) -> list[Check]:
    """Checks by falling utilisation; those without one last."""
    return sorted(checks, key=lambda check: -(check.utilisation_fraction or 0.0))


def alike(checks: list[Check]) -> list[list[Check]]:
    """Checks of one rule together, in the order of the worst of each.

    A title may name the case after a colon; the rule is what stands before it.
    """
    rules: dict[str, list[Check]] = {}
    for check in checks:
        rules.setdefault(check.title.partition(": ")[0], []).append(check)
    return list(rules.values())


def counted(checks: Sequence[Check]) -> str:
    """How many checks there are of each verdict, worst first, as a sentence."""
    counts = [
        f"{count} {verdict.replace('-', ' ')}"
        for verdict in reversed(VERDICTS)
        if (count := sum(check.verdict == verdict for check in checks))
    ]
    return f"{len(checks)} checks: {', '.join(counts) or 'none apply'}."
