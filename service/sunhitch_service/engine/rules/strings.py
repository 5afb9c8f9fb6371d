"""What sources push into strings and conductors, and what protects these."""

import msgspec

from sunhitch.texts import statement
from sunhitch.types.check import Check, Verdict
from sunhitch.types.wiring import WiringRules

from .rule import rule

ROUNDING_A = 1e-9


class StringFuse(msgspec.Struct, frozen=True, gc=False):
    """What threatens a string, and the fuse that it gets.

    Parameters
    ----------
    reverse_a : float
        What the other sources can push into the string before any device opens [A].
    series_fuse_a : float or None
        Largest series fuse of its panels that decides [A]; None where an unknown one may.
    fuse_limit_a : float or None
        The same for the fuse itself [A].
    needed : bool or None
        None where the largest series fuse is not known and decides.
    minimum_a, maximum_a : float
        Range of a fuse [A].
    above_minimum : bool
        Whether the rating must be above the minimum, not at it.
    stocked_a : float or None
        Smallest stocked size in the range [A]; None if there is none.
    given_a : float or None
        Fuse at hand, judged as it is [A].
    """

    reverse_a: float
    series_fuse_a: float | None
    fuse_limit_a: float | None
    needed: bool | None
    minimum_a: float
    maximum_a: float
    above_minimum: bool
    stocked_a: float | None
    given_a: float | None = None

    @property
    def fed(self) -> bool:
        """Whether any other source can push into the string."""
        return self.reverse_a > ROUNDING_A

    @property
    def rating_a(self) -> float | None:
        """Fuse to fit [A]: where needed, and as the safe choice where that is not known."""
        return None if self.needed is False else self.given_a or self.stocked_a

    def bears_sun(self, rating_a: float) -> bool:
        """Whether a rating stands the string's own current in strong sun [A]."""
        if self.above_minimum:
            return rating_a > self.minimum_a + ROUNDING_A
        return rating_a >= self.minimum_a - ROUNDING_A

    @property
    def why(self) -> str:
        """Whether it is needed, in words."""
        if not self.fed:
            return statement("string-alone")
        if self.series_fuse_a is None:
            return statement("pushed-unknown", reverse_a=self.reverse_a)
        return statement(
            "pushed-more" if self.needed else "pushed-less",
            reverse_a=self.reverse_a,
            fuse_a=self.series_fuse_a,
        )


def reverse_current_check(
    found: StringFuse | None,
    rules: WiringRules,
    subject: str = "",
    *,
    blocking_diodes: bool = False,
) -> Check:
    """What the other sources can push into a string against its panels' largest series fuse.

    Parameters
    ----------
    found : StringFuse or None
        What threatens the string; None where nothing is known of the others.
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
    series_a, stocked_a = (found.series_fuse_a, found.stocked_a) if found else (None, None)
    remedy = "none-fits" if stocked_a is None else "fuse"
    if series_a is None:
        remedy = "unknown-rating" if found else "unknown-string"
    told = rule(
        "string-reverse-current",
        subject,
        rules=rules,
        basis="diodes" if blocking_diodes else "",
        remedy=remedy,
        rating_a=stocked_a or 0.0,
    )
    if found is None:
        return told.check("not-assessed")
    if series_a is None:
        return told.check("pass" if found.needed is False else "not-assessed", found.reverse_a)
    mended: Verdict = "fail" if stocked_a is None else "review"
    verdict = mended if found.needed else "pass"
    return told.check(verdict, found.reverse_a, series_a, found.reverse_a / series_a)


def fuse_rating_check(found: StringFuse, rules: WiringRules, subject: str = "") -> Check:
    """A string's fuse, the one at hand or the stocked one, against the largest that is allowed.

    Parameters
    ----------
    found : StringFuse
        What the string asks of its fuse.
    rules : str
        Rule set.
    subject : str
        Name of the string.

    Returns
    -------
    Check
        `not-assessed` where the series fuse is unknown, `fail` where no fuse fits, or where the one
        at hand is too small.
    """
    minimum, maximum, fuse_a = found.minimum_a, found.maximum_a, found.given_a or found.stocked_a
    small = fuse_a is not None and not found.bears_sun(fuse_a)
    told = rule(
        "string-fuse-rating",
        subject,
        rules=rules,
        remedy=(
            "unknown-rating"
            if found.fuse_limit_a is None and not small
            else "none-between"
            if found.stocked_a is None
            else "other"
        ),
        minimum_a=minimum,
        maximum_a=maximum,
        stocked_a=found.stocked_a or 0.0,
    )
    if fuse_a is not None and small:
        return told.check("fail", minimum, fuse_a, minimum / fuse_a)
    if found.fuse_limit_a is None:
        return told.check("not-assessed", fuse_a or minimum)
    if fuse_a is None:
        used = minimum / maximum
        return told.check("fail", minimum, maximum, used if used > 1.0 else None)
    return told.at_most(fuse_a, maximum)


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
    return rule(
        "overcurrent-protection",
        subject,
        rules=rules,
        remedy="none" if largest_device_a <= 0.0 else "",
        lasting_a=lasting_a,
        largest_device_a=largest_device_a,
        from_end=from_end,
    ).at_most(lasting_a, capacity_a)


def panels_wired(wired: int, placed: int, unused: list[str], kept_out_by: str = "") -> Check:
    """Panels wired against panels on the roof.

    Parameters
    ----------
    wired, placed : int
        How many.
    unused : list of str
        Names of those left out.
    kept_out_by : str
        Code of the rule that most other wirings fail.

    Returns
    -------
    Check
        `review` where panels lie on the roof, or were wanted, that nothing connects.
    """
    remedy = "charging" if kept_out_by == "battery-charge-rate" else "unused"
    told = rule("panels-wired", remedy="" if wired == placed else remedy, unused=unused)
    return told.check("pass" if wired == placed else "review", placed, wired, placed / wired)
