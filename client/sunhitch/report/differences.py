"""What changed between two answers of one calculation, in a few lines."""

from collections.abc import Iterator

from sunhitch.codec import plain_data
from sunhitch.pointers import Json
from sunhitch.types.check import Answer, Check

from .amounts import figure, percent
from .grouping import verdict_of

_LINES = 10
_CHECKS = 5
_ABOUT_THE_ANSWER = {"verdict", "checks", "assumptions", "cautions", "engine", "summary"}


def differences(older: Answer, newer: Answer) -> str:
    """Verdicts, then the checks that changed most, then figures, those of the whole first.

    Parameters
    ----------
    older, newer : Answer
        Of the same calculation.

    Returns
    -------
    str
        At most ten lines, without a line feed at the end.

    Raises
    ------
    TypeError
        The answers are of different calculations.
    """
    if type(older) is not type(newer):
        raise TypeError(f"{older!r} and {newer!r} are of different calculations")
    lines = [f"verdict: {_changed(verdict_of(older), verdict_of(newer))}"]
    lines += list(_checks(older, newer))[:_CHECKS]
    before, after = _figures(older), _figures(newer)
    figures = [
        f"{name}: {_changed(before.get(name, 'none'), after.get(name, 'none'))}"
        for name in sorted(before | after, key=lambda name: name.count(".") + name.count("["))
        if before.get(name) != after.get(name)
    ]
    if len(lines) + len(figures) > _LINES:
        room = _LINES - len(lines) - 1
        figures = [*figures[:room], f"and {len(figures) - room} more figures"]
    return "\n".join(lines + figures)


def _changed(before: Json, after: Json) -> str:
    before, after = (figure(one) if isinstance(one, float) else one for one in (before, after))
    return f"{before}, as before" if before == after else f"{before} → {after}"


def _checks(older: Answer, newer: Answer) -> Iterator[str]:
    """Checks whose verdict changed, then those whose use did, by how much."""
    before, after = (
        {(one.code, _subject(one), one.title): one for one in answer.checks}
        for answer in (older, newer)
    )
    pairs = [(before.get(key), after.get(key)) for key in before | after]
    for old, new in sorted(pairs, key=_weight, reverse=True):
        one = new or old
        if one is not None and _told(old) != _told(new):
            of = f" ({_subject(one)})" if one.subject else ""
            yield f"{one.title}{of}: {_changed(_told(old), _told(new))}"


def _subject(check: Check) -> str:
    """Its name, without what it consists of in this build."""
    return (check.subject or "").partition(" (")[0]


def _weight(pair: tuple[Check | None, Check | None]) -> tuple[bool, float]:
    verdicts = [verdict_of(one) if one else "pass" for one in pair]
    shares = [(one.utilisation_fraction or 0.0) if one else 0.0 for one in pair]
    return verdicts[0] != verdicts[1], abs(shares[1] - shares[0])


def _told(check: Check | None) -> str:
    if check is None:
        return "none"
    share = check.utilisation_fraction
    return verdict_of(check) + ("" if share is None else f", {percent(share)} used")


def _figures(answer: Answer) -> dict[str, Json]:
    plain: dict[str, Json] = plain_data(answer)
    own = {name: value for name, value in plain.items() if name not in _ABOUT_THE_ANSWER}
    return dict(_named("", own))


def _named(prefix: str, inner: dict[str, Json]) -> Iterator[tuple[str, Json]]:
    """Figures and words by their path; entries of a list by the name that each begins with."""
    for name, value in inner.items():
        if isinstance(value, dict):
            yield from _named(f"{prefix}{name}.", value)
        elif isinstance(value, list):
            yield f"{prefix}{name} (entries)", len(value)
            for entry in value:
                if isinstance(entry, dict) and isinstance(first := next(iter(entry.values())), str):
                    yield from _named(f"{prefix}{name}[{first}].", entry)
        else:
            yield f"{prefix}{name}", value
