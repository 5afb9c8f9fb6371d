"""Rules on what a battery takes, gives and lacks."""

from sunhitch.types.check import Check, Verdict
from sunhitch.types.system import ColdCharging

from .limits import limit
from .rule import rule

_ROUNDING_WH = 1e-6


def charge_rate(
    strong_a: float, nameplate_a: float, limit_a: float, usual_per_h: float | None
) -> Check:
    """All chargers together against the battery's largest charging current.

    Parameters
    ----------
    strong_a : float
        Sum of what they can push into the battery in strong sun [A].
    nameplate_a : float
        The same in the sun of the panels' nameplates [A]; where the battery bears that, more that
        comes in strong sun alone is `review`.
    limit_a : float
        What the battery may be charged with [A].
    usual_per_h : float or None
        Customary rate of the chemistry from which that limit follows [A/Ah]; beyond one that is
        only customary it is `review`. None where the caller gave the limit.
    """
    given, borne = usual_per_h is None, nameplate_a <= limit_a
    named = "given" if given else "usual"
    told = rule(
        "battery-charge-rate",
        basis="given" if given else "",
        remedy=("strong-sun", named) if borne else named,
        limit_a=limit_a,
        rate_per_h=usual_per_h or 0.0,
    )
    return told.at_most(strong_a, limit_a, beyond=None if given and not borne else "review")


def discharge(
    load_w: float, limit_w: float, subject: str = "", beyond: Verdict | None = None
) -> Check:
    """Loads that may be on at once without sun against what the battery may give [W]."""
    return rule(
        "battery-discharge", subject, load_w=load_w, limit_w=limit_w, times=load_w / limit_w
    ).at_most(load_w, limit_w, beyond=beyond)


def loads_served(
    asked_wh: float,
    served_wh: float,
    without_power_h: float,
    without_power_days: float,
    one_in_ten: bool = False,
) -> Check:
    """Energy that the loads ask for against what they get.

    Parameters
    ----------
    asked_wh, served_wh : float
        Through the year [Wh].
    without_power_h : float
        Hours that lack power [h].
    without_power_days : float
        Days with such hours.
    one_in_ten : bool
        Whether these are what one year in ten exceeds.
    """
    lacking = asked_wh - served_wh
    told = rule(
        "loads-served",
        remedy="one-in-ten" if one_in_ten else "given",
        without_power_h=without_power_h,
        without_power_days=without_power_days,
        lacking_kwh=lacking / 1000.0,
    )
    little = lacking <= limit("served-review") * asked_wh
    return told.at_least(served_wh, asked_wh, beyond="review" if little else None)


def frost(lost_wh: float) -> Check:
    """Sun that comes while the battery is too cold to take it [Wh]."""
    return rule("battery-frost", lost_kwh=lost_wh / 1000.0).check(
        "review" if lost_wh > _ROUNDING_WH else "pass", lost_wh, 0.0
    )


def cold_charging(coldest_c: float, limit_c: float, held_by: ColdCharging | None) -> Check:
    """What keeps charge from a battery that gets colder than it may be charged [°C]."""
    remedy = "unknown" if held_by is None else "unprotected"
    told = rule("battery-cold-charging", remedy=remedy, coldest_c=coldest_c, limit_c=limit_c)
    verdicts: dict[ColdCharging | None, Verdict] = {None: "not-assessed", "unprotected": "fail"}
    return told.check(verdicts.get(held_by, "pass"), limit_c, coldest_c)


def hot_charging(hottest_c: float, limit_c: float, *, usual: bool) -> Check:
    """A battery as hot as it gets against the hottest that may be charged [°C].

    Beyond a limit that is only customary it is `review`.
    """
    told = rule(
        "battery-hot-charging",
        basis="" if usual else "given",
        remedy="usual" if usual else "given",
        hottest_c=hottest_c,
        limit_c=limit_c,
    )
    beyond: Verdict = "review" if usual else "fail"
    return told.check("pass" if hottest_c <= limit_c else beyond, hottest_c, limit_c)


def cold_rate(current_a: float, limit_a: float, at_c: float, warm_c: float) -> Check:
    """All chargers together against what a battery takes at a temperature [A, °C]."""
    return rule("battery-cold-rate", limit_a=limit_a, at_c=at_c, warm_c=warm_c).at_most(
        current_a, limit_a
    )
