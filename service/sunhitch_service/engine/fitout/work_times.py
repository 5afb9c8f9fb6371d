"""Hours and money of the work, from usual times and the caller's own rates and prices."""

from collections.abc import Mapping

from sunhitch.types.parts import Part
from sunhitch.types.work import Each, WorkConditions, WorkCost, WorkStep
from sunhitch_service.engine.tables import table


def work_hours(step: str, counts: Mapping[Each, int], given: WorkConditions) -> float:
    """Hours of one person for a step: the caller's own, else usual ones by count.

    Parameters
    ----------
    step : str
        Its code.
    counts : dict of int
        How many of each the build has.
    given : WorkConditions
        The caller's own times.

    References
    ----------
    `work_times.csv`; common practice.
    """
    own = next((one.hours for one in given.times if one.step == step), None)
    if own is not None:
        return own
    row = table("fitout", "work_times").row("step", step)
    number = {str(each): count for each, count in counts.items()}[row["each"]]
    return round(float(row["hours"]) + float(row["hours_each"]) * number, 2)


def work_cost(steps: list[WorkStep], parts: list[Part], given: WorkConditions) -> WorkCost:
    """Hours, rests, labour and parts of the whole job.

    Parameters
    ----------
    steps : list of WorkStep
        Of the job.
    parts : list of Part
        Its parts list, with prices.
    given : WorkConditions
        Rate.
    """
    priced = [part.price * part.to_buy for part in parts if part.price is not None]
    missing = [part.key for part in parts if part.price is None and part.to_buy > 0.0]
    hours = round(sum(step.hours for step in steps), 2)
    labour = None if given.labour_per_hour is None else given.labour_per_hour * hours
    bought = sum(priced) if priced else None
    complete = labour is not None and bought is not None and not missing
    return WorkCost(
        hours=hours,
        waiting_hours=sum(step.waiting_hours for step in steps),
        currency=given.currency,
        labour=labour,
        parts=bought,
        total=labour + bought if complete and labour is not None and bought is not None else None,
        without_price=missing if priced else [],
    )
