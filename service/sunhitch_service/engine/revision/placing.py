"""Places for panels that are added or in the way, the others where they are."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence

from msgspec.structs import replace
from shapely import Polygon, box

from sunhitch.types.array import Arrangement
from sunhitch.types.fitout import FitOutRequest
from sunhitch.types.roof import (
    PlacedPanel,
    RectangularObstacle,
    RoofLayoutRequest,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.job import Job, drawn_as
from sunhitch_service.engine.fitout.lost import on_roof
from sunhitch_service.engine.fitout.placement import as_placed
from sunhitch_service.engine.roof.layout import settle
from sunhitch_service.engine.roof.site import GAP_M

_STEP_M = 0.005


def as_arranged(job: FitOutRequest, arrangement: Arrangement) -> FitOutRequest:
    """The job with a wiring drawn."""
    return replace(job, drawn=drawn_as(arrangement))


def without_panel(job: FitOutRequest, name: str) -> FitOutRequest:
    """The job with one panel less."""
    return on_roof(job, [place for place in job.placements if place.name != name])


def moved(job: FitOutRequest, places: dict[str, tuple[float, float]]) -> FitOutRequest:
    """The job with some panels at other places."""
    return replace(
        job,
        placements=[
            replace(place, x_m=places[place.name][0], y_m=places[place.name][1])
            if place.name in places
            else place
            for place in job.placements
        ],
    )


def pushed(
    job: FitOutRequest, panel: str, short_m: float, fixed: Sequence[str]
) -> Iterator[dict[str, tuple[float, float]]]:
    """Ways to set a panel aside by what is missing, with those that it pushes on.

    Parameters
    ----------
    job : FitOutRequest
        Every panel placed.
    panel : str
        The panel that is in the way of something.
    short_m : float
        Space that is missing [m].
    fixed : sequence of str
        Panels that may not move.
    """
    step = math.ceil(round(short_m / _STEP_M, 6)) * _STEP_M
    for dx, dy in ((step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step)):
        found = _push(job, panel, (dx, dy), fixed)
        if found is not None:
            yield found


def _push(
    job: FitOutRequest, panel: str, shift: tuple[float, float], fixed: Sequence[str]
) -> dict[str, tuple[float, float]] | None:
    """Places of a panel and of those that it pushes on; none where a fixed one is in the way."""
    gap, size = _gap_m(job), sizes(job)
    at = {place.name: (place.x_m, place.y_m) for place in job.placements}
    pushing = [panel]
    places: dict[str, tuple[float, float]] = {}
    while pushing:
        name = pushing.pop()
        if name in fixed:
            return None
        places[name] = at[name][0] + shift[0], at[name][1] + shift[1]
        # Rounding of places is no overlap.
        reach = _covered(places[name], size[name], gap - 1e-6)
        pushing += [
            other
            for other in at
            if other not in places
            and reach.intersects(_covered(at[other], size[other], 0.0))
            and other not in pushing
        ]
    return {name: (round(x, 4), round(y, 4)) for name, (x, y) in places.items()}


def _gap_m(job: FitOutRequest) -> float:
    """Smallest gap between panels, as the roof takes it."""
    return GAP_M if job.min_gap_m is None else job.min_gap_m


def _covered(corner: tuple[float, float], size: tuple[float, float], gap: float) -> Polygon:
    """What a panel covers, with a gap around it."""
    (x, y), (along_x, along_y) = corner, size
    covered: Polygon = box(x - gap, y - gap, x + along_x + gap, y + along_y + gap)
    return covered


def sizes(job: FitOutRequest) -> dict[str, tuple[float, float]]:
    """Size of each placed panel along x and y [m]."""
    bodies = {kind.name: kind.panel.body for kind in job.panel_types}
    found: dict[str, tuple[float, float]] = {}
    for place in job.placements:
        body = bodies[place.panel_type]
        if body is not None:
            length, width = body.length_m, body.width_m
            found[place.name] = (width, length) if place.rotated else (length, width)
    return found


def with_more(
    job: FitOutRequest, kept: Sequence[str], wanted: Counter[str]
) -> FitOutRequest | None:
    """The job with panels laid out beside those that keep their places.

    Parameters
    ----------
    job : FitOutRequest
        With every type that is wanted.
    kept : sequence of str
        Panels that stay; the others are taken off first.
    wanted : Counter
        How many of each type to lay out.

    Returns
    -------
    FitOutRequest or None
        None where they find no place.
    """
    staying = [place for place in job.placements if place.name in kept]
    size = sizes(job)
    taken = [
        RectangularObstacle(
            name=f"{place.name} as it is",
            x_m=place.x_m,
            y_m=place.y_m,
            length_m=size[place.name][0],
            width_m=size[place.name][1],
            clearance_m=_gap_m(job),
        )
        for place in staying
    ]
    request = RoofLayoutRequest(
        roof=replace(job.roof, obstacles=[*job.roof.obstacles, *taken]),
        panel_types=[
            replace(kind, panels_wanted=wanted[kind.name])
            for kind in Job(job, placed_by_caller=False, given=job).roof_types
            if wanted[kind.name]
        ],
        min_gap_m=job.min_gap_m,
        prefer=job.layout.prefer,
        search=job.layout.search,
    )
    try:
        laid = settle(request, Assumptions()).plan.panels
    except ContradictionError:
        return None
    if len(laid) < wanted.total():
        return None
    names = _names(job.placements, kept, [one.panel_type for one in laid])
    new = [as_placed(one, name) for name, one in zip(names, laid, strict=True)]
    at = [place.name for place in job.placements]
    placed = {one.name: one for one in [*staying, *new]}
    order = [*(name for name in at if name in placed), *(n for n in placed if n not in at)]
    return on_roof(job, [placed[name] for name in order])


def _names(placed: Sequence[PlacedPanel], kept: Sequence[str], kinds: Sequence[str]) -> list[str]:
    """A name for each panel that is laid out: one of those taken off, else the next free number."""
    free = [place for place in placed if place.name not in kept]
    used = {place.name for place in placed}
    names: list[str] = []
    for kind in kinds:
        again = next((one for one in free if one.panel_type == kind), None)
        if again is not None:
            free.remove(again)
            names.append(again.name)
            continue
        number = 1
        while f"{kind}-{number}" in {*used, *names}:
            number += 1
        names.append(f"{kind}-{number}")
    return names


def elsewhere(job: FitOutRequest, panel: str) -> FitOutRequest:
    """The job with one panel laid out anew beside the others; as it is where it finds no place."""
    kept = [place.name for place in job.placements if place.name != panel]
    kind = next(place.panel_type for place in job.placements if place.name == panel)
    return with_more(job, kept, Counter([kind])) or job
