"""What sources push into strings and conductors, and what protects these."""

from sunhitch.types.check import Check, Verdict
from sunhitch.types.wiring import WiringRules

from .judging import at_most, check
from .rule import rule


def string_reverse_current(
    reverse_a: float | None,
    series_fuse_a: float | None,
    needed: bool | None,
    stocked_a: float | None,
    rules: WiringRules,
    subject: str = "",
    *,
    blocking_diodes: bool = False,
) -> Check:
    """What the other sources can push into a string against its panels' largest series fuse.

    Parameters
    ----------
    reverse_a : float or None
        What they push [A]; None where nothing is known of them.
    series_fuse_a : float or None
        Largest series fuse of its panels [A]; None if unknown.
    needed : bool or None
        Whether that takes a fuse; None if unknown.
    stocked_a : float or None
        Fuse that fits [A]; None if none does.
    rules : str
        Rule set.
    subject : str
        Name of the string.
    blocking_diodes : bool
        Whether the strings have any; they change nothing, and the basis says so.

    Returns
    -------
    Check
        `review` where a fuse is needed and one fits, `fail` where none does, `not-assessed` where
        the series fuse is unknown.
    """
    remedy = "none-fits" if stocked_a is None else "fuse"
    if series_fuse_a is None:
        remedy = "unknown-string" if reverse_a is None else "unknown-rating"
    told = rule(
        "string-reverse-current",
        subject,
        rules=rules,
        basis="diodes" if blocking_diodes else "",
        remedy=remedy,
        rating_a=stocked_a or 0.0,
    )
    if reverse_a is None or series_fuse_a is None:
        return check(told, "pass" if needed is False else "not-assessed", reverse_a)
    mended: Verdict = "fail" if stocked_a is None else "review"
    verdict: Verdict = mended if needed else "pass"
    return check(told, verdict, reverse_a, series_fuse_a, reverse_a / series_fuse_a)


def string_fuse_rating(
    rating_a: float | None,
    minimum_a: float,
    maximum_a: float,
    series_fuse_a: float | None,
    rules: WiringRules,
    subject: str = "",
) -> Check:
    """A string's fuse against the largest that its panels allow.

    Parameters
    ----------
    rating_a : float or None
        Fuse [A]; None if no stocked one fits.
    minimum_a, maximum_a : float
        Range of the fuse [A].
    series_fuse_a : float or None
        Largest series fuse of the panels [A]; None if unknown.
    rules : str
        Rule set.
    subject : str
        Name of the string.

    Returns
    -------
    Check
        `not-assessed` where the series fuse is unknown, `fail` where no fuse fits.
    """
    told = rule(
        "string-fuse-rating",
        subject,
        rules=rules,
        remedy="unknown-rating" if series_fuse_a is None else "none-between",
        minimum_a=minimum_a,
        maximum_a=maximum_a,
    )
    if series_fuse_a is None:
        return check(told, "not-assessed", rating_a or minimum_a)
    if rating_a is None:
        used = minimum_a / maximum_a
        return check(told, "fail", minimum_a, maximum_a, used if used > 1.0 else None)
    return at_most(told, rating_a, maximum_a)


def overcurrent_protection(
    lasting_a: float,
    capacity_a: float,
    largest_device_a: float,
    from_end: str,
    rules: WiringRules,
    subject: str = "",
) -> Check:
    """What can last in a conductor from any source, devices considered, against what it bears.

    Parameters
    ----------
    lasting_a : float
        Current that enters at its worse end and no device holds back [A].
    capacity_a : float
        Ampacity, or the largest device where one device holds it back [A].
    largest_device_a : float
        Largest device that protects it [A].
    from_end : str
        Where that current enters.
    rules : str
        Rule set.
    subject : str
        Name of the conductor.

    Returns
    -------
    Check
        `fail` where nothing holds back more than it bears.
    """
    told = rule(
        "overcurrent-protection",
        subject,
        rules=rules,
        lasting_a=lasting_a,
        largest_device_a=largest_device_a,
        from_end=from_end,
    )
    return at_most(told, lasting_a, capacity_a)


def panels_wired(wired: int, placed: int, unused: str) -> Check:
    """Panels wired against panels on the roof.

    Parameters
    ----------
    wired, placed : int
        How many.
    unused : str
        Names of those left out.

    Returns
    -------
    Check
        `review` where panels lie on the roof, or were wanted, that nothing connects.
    """
    told = rule("panels-wired", remedy="" if wired == placed else "unused", unused=unused)
    return check(told, "pass" if wired == placed else "review", placed, wired, placed / wired)
