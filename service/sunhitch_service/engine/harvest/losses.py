"""From the light on the roof to the battery, step by step; every watt-hour is accounted for."""

from typing import get_args

from sunhitch.types.harvest import LossCode, LossStep
from sunhitch_service.engine.tables import table

from .outcome import HarvestOutcome

_CODES: tuple[LossCode, ...] = get_args(LossCode)


def light_wh(found: HarvestOutcome) -> float:
    """Nameplate energy of the unshaded light [Wh]."""
    return float(found.stages_w[0].sum() * found.weather.clock.step_h)


def losses(found: HarvestOutcome) -> list[LossStep]:
    """Every step in order.

    Parameters
    ----------
    found : HarvestOutcome
        Solved study.

    Returns
    -------
    list of LossStep
        Their losses add up to the light less what the battery took.
    """
    left = [float(stage.sum() * found.weather.clock.step_h) for stage in found.stages_w]
    for lost in (found.flows.full, found.flows.frost, found.flows.rate):
        left.append(left[-1] - float(lost.sum()))
    titles = {row["code"]: row["title"] for row in table("harvest", "losses").rows}
    return [
        LossStep(
            code=code,
            title=titles[code],
            lost_wh=before - after,
            left_wh=after,
            lost_fraction=(before - after) / before if before > 0.0 else 0.0,
        )
        for code, before, after in zip(_CODES, left[:-1], left[1:], strict=True)
    ]
