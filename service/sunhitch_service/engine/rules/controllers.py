"""Rules on what a charge controller takes in and gives out."""

from sunhitch.types.check import Check, Verdict
from sunhitch.types.wiring import WiringRules

from .limits import limit
from .rule import rule


def maximum_current_a(i_sc_a: float) -> float:
    """Largest current of a circuit: 1.25 × Isc, for sun above 1000 W/m² [A].

    References
    ----------
    NEC 690.8(A)(1); IEC 62548.
    """
    return limit("current-factor") * i_sc_a


def input_current(subject: str, i_mp_a: float, input_a: float) -> Check:
    """Current at maximum power against what the controller's input works with [A]."""
    return rule("controller-input-current", subject, wanted_a=i_mp_a).at_most(i_mp_a, input_a)


def short_circuit(
    subject: str,
    i_sc_a: float,
    input_a: float | None,
    rules: WiringRules,
    *,
    passed_on: bool = False,
) -> Check:
    """Short-circuit current against the controller; `review` if only strong sun exceeds it.

    Parameters
    ----------
    subject : str
        Which array.
    i_sc_a : float
        Sum of the strings' short-circuit currents at 1000 W/m² [A].
    input_a : float or None
        What the controller's input bears [A]; None where its data sheet is not at hand.
    rules : str
        Rule set.
    passed_on : bool
        Whether it is a plain switch, which holds nothing back.
    """
    code, strong = "controller-short-circuit", maximum_current_a(i_sc_a)
    remedy = "unknown" if input_a is None else "switch" if passed_on else "fewer"
    told = rule(code, subject, rules=rules, remedy=remedy, wanted_a=strong)
    weak: Verdict | None = "review" if input_a is not None and i_sc_a <= input_a else None
    return told.at_most(strong, input_a, beyond=weak)


def array_power(subject: str, p_mp_w: float, largest_w: float) -> Check:
    """Nameplate power against what the controller's maker allows [W]."""
    return rule("controller-array-power", subject, wanted_w=p_mp_w).at_most(p_mp_w, largest_w)


def output_current(subject: str, wanted_a: float, rating_a: float, lost_w: float) -> Check:
    """Current that the sun would give against the controller's rating.

    Parameters
    ----------
    subject : str
        Which array.
    wanted_a, rating_a : float
        Charging current in full sun without the rating, and the rating [A].
    lost_w : float
        Power that the rating cuts off in full sun [W].
    """
    return rule("controller-output-current", subject, wanted_a=wanted_a, lost_w=lost_w).at_most(
        wanted_a, rating_a
    )


def pwm_loss(subject: str, lost_fraction: float) -> Check:
    """Share of full sun's power that a PWM controller loses [1]."""
    told = rule("pwm-loss", subject, lost_fraction=lost_fraction)
    most = limit("pwm-loss-fail")
    return told.at_most(lost_fraction, most, limit("pwm-loss-review") / most)


def tracker_loss(lost_fraction: float, lost_w: float) -> Check:
    """What a tracker loses that stops at the first maximum below open circuit [1, W]."""
    return rule("tracker-loss", lost_w=lost_w).at_most(lost_fraction, limit("tracker-loss"))


def window_loss(lost_fraction: float, *, pwm: bool = False) -> Check:
    """Share of a year's energy outside the controller's working voltage or current [1]."""
    remedy = "pwm" if pwm else "tracking"
    told = rule("controller-window", remedy=remedy, lost_fraction=lost_fraction)
    beyond: Verdict = "fail" if lost_fraction > limit("window-fail") else "review"
    return told.at_most(lost_fraction, limit("window-review"), beyond=beyond)


def rating_loss(lost_fraction: float) -> Check:
    """Share of a year's energy beyond the controller's rated current [1]."""
    return rule("controller-rating", lost_fraction=lost_fraction).at_most(
        lost_fraction, limit("limit-review")
    )


def fuse_at_controller(
    subject: str, rating_a: float, largest_a: float, rules: WiringRules
) -> Check:
    """A fuse beside a controller against the largest that its maker allows [A]."""
    return rule("controller-fuse", subject, rules=rules, largest_a=largest_a).at_most(
        rating_a, largest_a
    )
