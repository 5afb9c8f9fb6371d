"""Rules on readings of a meter on the finished array."""

from sunhitch.types.check import Check, Verdict
from sunhitch.types.commissioning import MeasuredQuantity
from sunhitch_service.engine.tables import table

from .limits import limit
from .rule import rule
from .table import unit_of


def least_normal(quantity: MeasuredQuantity, expected: float) -> float:
    """Least that counts as normal, in the unit of what is expected."""
    return limit(f"normal-{quantity}") * expected


def is_weak(voltage: bool, irradiance_w_m2: float) -> bool:
    """Whether light is too weak to judge a voltage, or anything else, by."""
    return irradiance_w_m2 < limit("weak-light-voltage" if voltage else "weak-light")


def measured(  # noqa: PLR0913 - a reading has that many sides; what is not a figure is named
    subject: str,
    quantity: MeasuredQuantity,
    value: float,
    expected: float,
    uncertainty: float,
    most: float,
    irradiance_w_m2: float,
    *,
    is_fault: bool,
    may_be_held: bool = False,
) -> Check:
    """A reading against what a faultless array shows in this light.

    Parameters
    ----------
    subject : str
        Name of the reading.
    quantity : {'voltage', 'current', 'power'}
        What was read.
    value, expected, uncertainty : float
        As read, of a faultless array, and half the width of its 95 % interval [V, A or W].
    most : float
        What none of all readings of a day should exceed [V, A or W].
    irradiance_w_m2 : float
        Light in the panels' plane; in too little nothing is judged.
    is_fault : bool
        Whether the readings of that day, taken together, show a fault.
    may_be_held : bool
        Whether a plain switch may hold the array at its battery's voltage, unknown to us.

    Returns
    -------
    Check
        `fail` where even its uncertainty does not explain a shortfall and the day shows a fault;
        `review` where another cause is as likely, or where more was read than can be.
    """
    least = least_normal(quantity, expected)
    weak = is_weak(quantity == "voltage", irradiance_w_m2)
    verdict: Verdict = "pass"
    remedy: str | tuple[str, ...] = ""
    if weak:
        verdict, remedy = "not-assessed", "weak-light"
    elif value < least - uncertainty:
        verdict, remedy = ("fail", "short") if is_fault else ("review", "unsure")
        if value < 0.0:
            remedy = "swapped"
        elif may_be_held:
            remedy = remedy, "plain-switch"
    elif value > most:
        verdict, remedy = "review", "beyond"
    told = rule(
        f"measured-{quantity}",
        subject,
        remedy=remedy,
        measured=value,
        expected=expected,
        uncertainty=uncertainty,
        share_fraction=value / expected if expected else 0.0,
        normal_fraction=limit(f"normal-{quantity}"),
        unit=unit_of(f"measured-{quantity}"),
    )
    if weak:
        return told.check(verdict)
    judged = told.at_least(max(0.0, value), max(0.0, least - uncertainty))
    return told.check(verdict, judged.demand, judged.capacity, judged.utilisation_fraction)


def taken_together(
    subject: str, sound: float, fault: float, verdict: Verdict, first: str, test: str
) -> Check:
    """Whether all readings of a day, taken together, are those of a faultless array.

    Parameters
    ----------
    subject : str
        The day.
    sound, fault : float
        Probabilities that nothing is wrong with the array, and of its likeliest fault.
    verdict : Verdict
        What follows from them.
    first, test : str
        The likeliest cause, and what tells it from the others.
    """
    told = rule("readings-together", subject, first=first, test=test)
    return told.check(verdict, fault, sound, told.at_least(sound, fault).utilisation_fraction)


def enough_light(subject: str, irradiance_w_m2: float, *, sun_is_down: bool) -> Check:
    """Whether a reading was taken in light strong enough to judge by.

    Parameters
    ----------
    subject : str
        Name of the reading.
    irradiance_w_m2 : float
        In the panels' plane.
    sun_is_down : bool
        Whether the place and time given have no sun at all.
    """
    needed = limit("full-light")
    told = rule(
        "enough-light",
        subject,
        remedy=("repeat", "night") if sun_is_down else "repeat",
        needed_w_m2=needed,
        present_w_m2=irradiance_w_m2,
    )
    judged = told.at_least(irradiance_w_m2, needed)
    verdict: Verdict = "not-assessed" if irradiance_w_m2 < limit("weak-light") else judged.verdict
    return told.check(verdict, needed, irradiance_w_m2, judged.utilisation_fraction)


def polarity(subject: str, voltage_v: float) -> Check:
    """Whether the wire marked plus is plus [V]; a small voltage does not tell."""
    clear, wrong = abs(voltage_v) >= limit("clear-polarity"), voltage_v < 0.0
    return rule("polarity", subject, remedy="swapped" if wrong else "weak").check(
        "not-assessed" if not clear else "fail" if wrong else "pass"
    )


def insulation_voltage_v(v_oc_v: float) -> float:
    """System voltage by which a string of a nameplate's Voc is tested for insulation [V].

    References
    ----------
    IEC 62446-1, Table 1: 1.25 × Voc at standard test conditions (from memory).
    """
    return 1.25 * v_oc_v


def insulation_row(system_voltage_v: float) -> dict[str, str] | None:
    """Row of `insulation.csv` for a system voltage; None beyond the table."""
    for row in table("rules", "insulation").rows:
        if system_voltage_v <= float(row["system_voltage_to_v"]):
            return row
    return None


def insulation(
    subject: str, resistance_ohm: float, test_voltage_v: float, system_voltage_v: float
) -> Check:
    """Whether a circuit is insulated from the vehicle's metal.

    Parameters
    ----------
    subject : str
        Which circuit.
    resistance_ohm, test_voltage_v : float
        As read.
    system_voltage_v : float
        1.25 × Voc of the array's longest string [V].

    Returns
    -------
    Check
        `not-assessed` beyond the table, or where the test voltage was too low to prove it.
    """
    row = insulation_row(system_voltage_v)
    if row is None:
        told = rule("insulation", subject, remedy="beyond-table", voltage_v=system_voltage_v)
        return told.check("not-assessed")
    least, test_v = float(row["least_resistance_ohm"]), float(row["test_voltage_v"])
    told = rule(
        "insulation",
        subject,
        remedy="leak" if resistance_ohm < least else "repeat",
        least_mohm=least / 1e6,
        test_v=test_v,
    )
    judged = told.at_least(resistance_ohm, least)
    unproven = judged.verdict == "pass" and test_voltage_v < test_v
    verdict: Verdict = "not-assessed" if unproven else judged.verdict
    return told.check(verdict, least, resistance_ohm, judged.utilisation_fraction)


def yearly_loss(
    subject: str, readings: int, span_years: float, loss: float, low: float, high: float
) -> Check:
    """Yearly loss beside the published mean.

    Parameters
    ----------
    subject : str
        Circuit and kind of reading.
    readings : int
        How many there are.
    span_years : float
        From the first to the last [a].
    loss, low, high : float
        Yearly loss and its 95 % interval [1/a].

    Returns
    -------
    Check
        `review` where even the lower end exceeds the published mean; `not-assessed` without
        enough evidence.
    """
    usual = float(table("rules", "yearly_loss").row("name", "mean-high")["value_fraction"])
    width = 0.5 * (high - low)
    lacking = {
        "few-readings": readings < limit("least-readings"),
        "short-span": span_years < limit("least-span"),
        "scatter": width > limit("widest-interval"),
    }
    missing = tuple(name for name, wrong in lacking.items() if wrong)
    told = rule(
        "yearly-loss",
        subject,
        remedy=missing or "faster",
        usual_fraction=usual,
        readings=readings,
        least_readings=limit("least-readings"),
        span_years=span_years,
        width_fraction=width,
    )
    if missing:
        return told.check("not-assessed")
    return told.check("review" if low > usual else "pass", loss, usual, max(0.0, loss) / usual)
