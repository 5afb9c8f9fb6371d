"""Which panel goes on the roof first, and why."""

from typing import NamedTuple

from sunhitch.texts import statement
from sunhitch.types.mount import BondedSheet
from sunhitch_service.engine.roof.geometry import outline_polygon

from .build import Build
from .practice import WORK


class PlacedInTurn(NamedTuple):
    """A panel in its turn, with what decides it.

    How far its farthest edge lies from the nearer side of the roof, and its cable [m].
    """

    panel: str
    inward_m: float
    cable_m: float


def placing_order(build: Build) -> list[PlacedInTurn]:
    """Panels in the order in which they are glued or fixed.

    What an arm from the roof's edge does not reach goes first, while its neighbours are not yet in
    the way. Then the longest cable: it passes the places of the others. The panel nearest the
    entry is last, so that the entry stays open until all cables lie.
    """
    _, left, _, right = outline_polygon(build.job.request.roof.outline).bounds
    found = [
        PlacedInTurn(
            place.panel,
            min(place.y_m + place.along_y_m - left, right - place.y_m),
            place.cable_to_entry_m,
        )
        for place in build.roof.placements
    ]
    reach_m = WORK.figure("reach_m")
    return sorted(found, key=lambda one: (one.inward_m <= reach_m, -one.cable_m))


def unplaced(build: Build) -> list[PlacedInTurn]:
    """Those of them that are not on the roof yet."""
    states = build.job.states
    return [one for one in placing_order(build) if states.state("panel", one.panel) != "fixed"]


def closed_in_front(build: Build, *, bonded: bool = False) -> list[str]:
    """Panels not placed yet whose front edge was judged closed to air from ahead.

    Those on feet and rails, by a fairing, or sheets that are bonded flat, by trim in sealant.
    """
    found: list[str] = []
    for one in unplaced(build):
        kind = build.job.type_of(one.panel)
        closed = kind.wind is not None and kind.wind.under_panel == "closed-at-front"
        if closed and isinstance(kind.mounting, BondedSheet) == bonded:
            found.append(one.panel)
    return found


def order_words(build: Build) -> str:
    """The order of those not placed yet in words, each with its reason; empty for none."""
    order, reach_m = unplaced(build), WORK.figure("reach_m")
    if not order:
        return ""
    if len(order) == 1:
        return statement("one-panel-in-turn", panel=order[0].panel)
    told = [
        statement(
            "panel-in-turn",
            number=number,
            panel=one.panel,
            why=_reason(one, number, len(order), reach_m),
        )
        for number, one in enumerate(order, start=1)
    ]
    return statement("order-of-work", parts=[*told])


def _reason(one: PlacedInTurn, number: int, count: int, reach_m: float) -> str:
    if one.inward_m > reach_m:
        return statement("reaches-beyond-arm", inward_m=one.inward_m)
    if number == count:
        return statement("nearest-the-entry")
    return statement("past-those-that-follow", cable_m=one.cable_m)
