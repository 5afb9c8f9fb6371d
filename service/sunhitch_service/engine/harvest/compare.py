"""Variants side by side: losses that make the difference, price, mass, and which beats which."""

from collections import Counter
from collections.abc import Callable, Sequence
from math import inf

import msgspec

from sunhitch.texts import statement, together
from sunhitch.types.harvest import HarvestComparison
from sunhitch.types.panel import PanelType
from sunhitch.types.system import Battery, Controller

from .losses import light_wh, losses
from .outcome import HarvestOutcome
from .setup import HarvestVariant

_NAMED = 2
_WORTH_NAMING = 0.003
_OF_THE_BATTERY = ("battery-full", "battery-frost", "battery-rate")
_Part = PanelType | Controller | Battery


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
    parts = [Counter(map(msgspec.json.encode, _parts(one.variant))) for one in found]
    lines = [_line(one, found[0], parts) for one in found]
    if not any(line.price for line in lines):
        lines = [msgspec.structs.replace(line, price=None) for line in lines]
    lines.sort(key=lambda line: _goodness(line)[:3], reverse=True)
    return [
        msgspec.structs.replace(line, rank=rank, beaten_by=beaten_by(line, lines))
        for rank, line in enumerate(lines, start=1)
    ]


def _parts(variant: HarvestVariant) -> list[_Part]:
    """What a variant is built of and has a price."""
    controllers = (array.controller for array in variant.request.arrays)
    return [*variant.wired_types, *controllers, variant.request.battery]


def _mass_kg(part: _Part) -> float | None:
    if isinstance(part, PanelType):
        return part.panel.body.mass_kg if part.panel.body else None
    return part.mass_kg


def _sum(
    variant: HarvestVariant, every: Sequence[Counter[bytes]], of: Callable[[_Part], float | None]
) -> float | None:
    """Price or mass of all parts; None where one that the variants do not share tells none."""
    total = 0.0
    for part in _parts(variant):
        each = of(part)
        if each is None and len({own[msgspec.json.encode(part)] for own in every}) > 1:
            return None
        total += each or 0.0
    return total


def _goodness(line: HarvestComparison) -> tuple[float, ...]:
    """Energy, and what is better the less it is, turned about; what is not known is the worst."""
    less = (line.hours_without_power, line.price, line.mass_kg)
    return (line.available_wh, *(-inf if each is None else -each for each in less))


def beaten_by(line: HarvestComparison, lines: Sequence[HarvestComparison]) -> str:
    """Name of a line at least as good in everything and better in something; empty if none is."""
    own = _goodness(line)
    for other in lines:
        pairs = list(zip(_goodness(other), own, strict=True))
        if all(a >= b for a, b in pairs) and any(a > b for a, b in pairs):
            return other.name
    return ""


def _line(
    one: HarvestOutcome, given: HarvestOutcome, every: Sequence[Counter[bytes]]
) -> HarvestComparison:
    own = one.variant
    price, mass_kg = _sum(own, every, lambda part: part.price), _sum(own, every, _mass_kg)
    return HarvestComparison(
        rank=1,
        name=own.name,
        panel_power_w=own.panel_power_w,
        price=None if price is None else price + own.other.other_price,
        mass_kg=None if mass_kg is None else mass_kg + own.other.other_mass_kg,
        beaten_by="",
        available_wh=one.available_wh,
        charged_wh=one.charged_wh,
        served_wh=float(one.flows.served.sum()),
        hours_without_power=one.hours_without_power,
        against_given_fraction=one.available_wh / given.available_wh - 1.0
        if given.available_wh > 0.0
        else 0.0,
        reason=statement("request-itself") if one is given else _reason(one, given),
    )


def _reason(one: HarvestOutcome, given: HarvestOutcome) -> str:
    """Losses that differ most, as shares of the unshaded light."""
    own, base = _shares(one), _shares(given)
    own = {code: share for code, share in own.items() if code not in _OF_THE_BATTERY}
    differing = sorted(own, key=lambda code: -abs(own[code][1] - base[code][1]))
    named = [c for c in differing if abs(own[c][1] - base[c][1]) >= _WORTH_NAMING][:_NAMED]
    texts = [
        statement(
            "loss-instead-of",
            loss=own[code][0],
            share_fraction=own[code][1],
            given_fraction=base[code][1],
        )
        for code in named
    ]
    more = light_wh(one) / light_wh(given) - 1.0 if light_wh(given) > 0.0 else 0.0
    if abs(more) >= _WORTH_NAMING:
        code = "more-light" if more > 0 else "less-light-faced"
        texts.append(statement(code, share_fraction=abs(more)))
    if not texts:
        return statement("no-loss-differs")
    return statement("opened", reasons=together("semicolon", texts))


def _shares(found: HarvestOutcome) -> dict[str, tuple[str, float]]:
    """Title and share of the unshaded light by loss."""
    whole = light_wh(found)
    return {
        step.code: (step.title, step.lost_wh / whole if whole > 0.0 else 0.0)
        for step in losses(found)
    }
