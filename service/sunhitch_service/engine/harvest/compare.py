"""Variants side by side, with the losses that make the difference."""

from sunhitch.report.amounts import percent
from sunhitch.types.harvest import HarvestComparison

from .losses import light_wh, losses
from .outcome import HarvestOutcome

_NAMED = 2
_WORTH_NAMING = 0.003
_OF_THE_BATTERY = ("battery-full", "battery-frost", "battery-rate")


def comparison(found: list[HarvestOutcome]) -> list[HarvestComparison]:
    """Every variant, best first.

    Parameters
    ----------
    found : list of HarvestOutcome
        The request itself first.

    Returns
    -------
    list of HarvestComparison
        Empty where there is nothing to compare with.
    """
    if len(found) == 1:
        return []
    given = found[0]
    ranked = sorted(found, key=lambda one: -one.available_wh)
    return [_line(rank, one, given) for rank, one in enumerate(ranked, start=1)]


def _line(rank: int, one: HarvestOutcome, given: HarvestOutcome) -> HarvestComparison:
    return HarvestComparison(
        rank=rank,
        name=one.variant.name,
        available_wh=one.available_wh,
        charged_wh=one.charged_wh,
        served_wh=float(one.flows.served.sum()),
        hours_without_power=one.hours_without_power,
        against_given_fraction=one.available_wh / given.available_wh - 1.0
        if given.available_wh > 0.0
        else 0.0,
        reason="The request itself." if one is given else _reason(one, given),
    )


def _reason(one: HarvestOutcome, given: HarvestOutcome) -> str:
    """Losses that differ most, as shares of the unshaded light."""
    own, base = _shares(one), _shares(given)
    own = {code: share for code, share in own.items() if code not in _OF_THE_BATTERY}
    differing = sorted(own, key=lambda code: -abs(own[code][1] - base[code][1]))
    named = [c for c in differing if abs(own[c][1] - base[c][1]) >= _WORTH_NAMING][:_NAMED]
    texts = [
        f"{own[code][0].lower()}: {percent(own[code][1])} of the light instead of "
        f"{percent(base[code][1])}"
        for code in named
    ]
    more = light_wh(one) / light_wh(given) - 1.0 if light_wh(given) > 0.0 else 0.0
    if abs(more) >= _WORTH_NAMING:
        texts.append(f"the panels face {percent(abs(more))} {'more' if more > 0 else 'less'} light")
    if not texts:
        return "No loss differs by more than 0.3 % of the light."
    text = "; ".join(texts)
    return f"{text[0].upper()}{text[1:]}."


def _shares(found: HarvestOutcome) -> dict[str, tuple[str, float]]:
    """Title and share of the unshaded light by loss."""
    whole = light_wh(found)
    return {
        step.code: (step.title, step.lost_wh / whole if whole > 0.0 else 0.0)
        for step in losses(found)
    }
