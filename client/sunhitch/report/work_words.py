"""Readings, hours and money of the work, in words."""

from sunhitch.texts import statement
from sunhitch.types.revision import ChangeCost
from sunhitch.types.work import StepReading, WorkCost

from .amounts import at_least, at_most, figure


def reading_words(reading: StepReading) -> str:
    """What an instrument should read, with the band that is sound.

    Parameters
    ----------
    reading : StepReading
        Of a step.
    """
    unit, low, high = reading.unit, reading.low, reading.high
    band = ""
    if low is not None and high is not None:
        band = f"{figure(low)} to {figure(high)} {unit}"
    elif low is not None:
        band = f"at least {at_least(low)} {unit}"
    elif high is not None:
        band = f"at most {at_most(high)} {unit}"
    if reading.expected is None:
        return band
    expected = f"{figure(reading.expected)} {unit}"
    return f"{expected} ({band})" if band else f"about {expected}"


def reading_name(reading: StepReading) -> str:
    """What is measured, and on what."""
    return f"{reading.subject}, {quantity_words(reading)}"


def quantity_words(reading: StepReading) -> str:
    """What is measured."""
    return " ".join(reading.quantity.rsplit("-", 1))


def cost_words(cost: WorkCost) -> list[str]:
    """Hours, and money where rates and prices are known.

    Parameters
    ----------
    cost : WorkCost
        Of the whole job.
    """
    told = [f"{figure(cost.hours)} h of work, {figure(cost.waiting_hours)} h of rest"]
    for name, amount in (("labour", cost.labour), ("parts", cost.parts), ("in all", cost.total)):
        if amount is not None:
            told.append(f"{name} {amount:.2f} {cost.currency}")
    if cost.without_price:
        told.append(f"without a price: {', '.join(cost.without_price)}")
    return told


def change_cost_words(cost: ChangeCost) -> list[str]:
    """What a change costs beyond the job as it stood.

    Parameters
    ----------
    cost : ChangeCost
        Of a change.
    """
    told: list[str] = [statement("no-more-work")]
    if cost.hours:
        code = "less-work" if cost.hours < 0.0 else "more-work"
        told = [statement(code, work_h=abs(cost.hours))]
    for code, amount in (
        ("cost-of-labour", cost.labour),
        ("cost-of-parts", cost.parts_added),
        ("cost-saved", cost.parts_spared),
        ("cost-in-all", cost.total),
    ):
        if amount is not None:
            told.append(statement(code, amount=amount, currency=cost.currency))
    if cost.without_price:
        told.append(statement("parts-without-price", parts=len(cost.without_price)))
    return told
