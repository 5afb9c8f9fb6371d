"""Why a panel finds no place: lines on the roof that no foot plate can avoid."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sunhitch.texts import statement, together
from sunhitch.types.roof import RoofPanelType
from sunhitch_service.engine.arrays import Integers, Mask
from sunhitch_service.engine.rules.roof import TOLERANCE_M, LinesUnderFeet

from .orientations import TICK_M, OrientedType, allowed_places, limits, oriented_types
from .panels import Laid, plates_at
from .site import KeepOut, KeepOutKind, RoofSite

_STEPS = 60
"""Places tried along each axis."""
_NAMED = 6


def unavoidable_lines(
    site: RoofSite, kinds: Sequence[RoofPanelType], placed: Sequence[Laid]
) -> LinesUnderFeet | None:
    """Say which lines are in the way where the fewest are, if nothing else is.

    Parameters
    ----------
    site : RoofSite
        A roof on which no more of these panels find a place.
    kinds : sequence of RoofPanelType
        Panels that were tried.
    placed : sequence of Laid
        Panels that did find one.

    Returns
    -------
    LinesUnderFeet or None
        None if panels would find no place without the lines either.
    """
    # As strips that panels keep off; foot plates may reach under a neighbour.
    strip: KeepOutKind = "walking-strip"
    taken = tuple(KeepOut(panel.name, strip, panel.box, None, site.gap, 0.0) for panel in placed)
    site = replace(site, keep_outs=(*site.keep_outs, *taken))
    found = [place for oriented in oriented_types(kinds) for place in _best(site, oriented)]
    if not found:
        return None
    _, x, y, kind, names = min(found)
    told = together("comma", names)
    if len(names) > _NAMED:
        told = statement("lines-and-more", names=[*names[:_NAMED]], more=len(names) - _NAMED)
    return LinesUnderFeet(kind, told, x, y)


def _best(
    site: RoofSite, oriented: OrientedType
) -> list[tuple[int, float, float, str, tuple[str, ...]]]:
    """The place with the fewest lines under the plates: how many, where, type, their names."""
    span = limits(site, oriented)
    if oriented.kind.feet is None or not site.lines:
        return []
    x, y = np.linspace(span.x1, span.x2, _STEPS), np.linspace(span.y1, span.y2, _STEPS)
    corners = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    ticked: Integers = np.round(corners / TICK_M).astype(np.int64)
    ticked = ticked[allowed_places(replace(site, lines=()), oriented, ticked)]
    if not len(ticked):
        return []
    plates = plates_at(oriented.plates, np.asarray(ticked * TICK_M, dtype=np.float64))
    flat, places = plates.reshape(-1, 4), len(ticked)
    near = np.array(
        [line.distance(flat) < line.keep_off.metres - TOLERANCE_M for line in site.lines]
    )
    under: Mask = np.asarray(near.reshape(len(site.lines), places, -1).any(axis=2))
    best = int(np.argmin(under.sum(axis=0)))
    names = tuple(line.name for line, hit in zip(site.lines, under[:, best], strict=True) if hit)
    at_x, at_y = (ticked[best] * TICK_M).tolist()
    return [(len(names), at_x, at_y, oriented.kind.name, names)] if names else []
