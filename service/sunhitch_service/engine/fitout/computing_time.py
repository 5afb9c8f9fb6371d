"""How long a fit-out takes, judged from its request."""

from msgspec.structs import asdict, replace

from sunhitch.types.fitout import FitOutPanelType, FitOutRequest, PanelChoice
from sunhitch.types.harvest import (
    ClearSkyWeather,
    HarvestAlternative,
    HarvestArray,
    HarvestRequest,
)
from sunhitch.types.roof import PlacedPanel
from sunhitch.types.shade import ArrayWiring
from sunhitch_service.engine.harvest.computing_time import expected_ms as harvest_ms
from sunhitch_service.engine.mount.computing_time import mounting_ms
from sunhitch_service.engine.roof.computing_time import settling_ms
from sunhitch_service.engine.shade.computing_time import crosses_too_often

from .part_states import feet_of
from .placement import MOST_PANELS

_SETTLING_MS = 20.0
_PER_CONTROLLER_MS, _PER_PANEL_AND_CONTROLLER_MS = 10.0, 5.0
_PER_LIGHT_MS, _PER_PANEL_AND_LIGHT_MS = 8.0, 2.5
_STIFFEST_MS = 330.0
_SEARCHES = 0.5
"""Of the time limits of several layouts: few of them need all of it."""
_STUDIES = 0.75
"""Of the times of two studies, each with its reserve for the costliest there are."""


def expected_ms(request: FitOutRequest) -> float | None:
    """Time on one core [ms], within a factor of three; None with many shadows at one moment.

    Mount checks of the panels take most of it; where panels are to be laid out, the search may take
    its whole time limit, and where they are not counted, as many as are wired are reckoned with.
    The constants were fitted by hand on a 2-core machine: 1 to 24 panels, no to 20 states of light,
    one and two controllers; those of the roof are its own.

    Parameters
    ----------
    request : FitOutRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float or None
        Time [ms].
    """
    if any(crosses_too_often(light.shapes) for light in request.light):
        return None
    builds, each = [request], 1
    if request.choose is not None:
        builds, each = _laid_out(request, request.choose), max(1, len(request.choose.constructions))
    searched = _SEARCHES if len(builds) > 1 else 1.0
    known = sum(_laid_ms(build, searched) + each * _wired_ms(build) for build in builds)
    energy = _energy_ms(request, each * [len(_held(build)) for build in builds])
    return None if energy is None else known + energy


def _laid_out(request: FitOutRequest, choice: PanelChoice) -> list[FitOutRequest]:
    """A job for each type and number that is tried; constructions differ by their wiring alone."""
    return [
        replace(request, panel_types=[replace(kind, panels_wanted=number)])
        for kind in request.panel_types
        for number in tuple(choice.numbers) or (kind.stock or kind.panels_wanted,)
    ]


def _energy_ms(request: FitOutRequest, panels: list[int]) -> float | None:
    """Time of the study of builds with so many panels, and of that of the first."""
    conditions = request.harvest
    if conditions is None:
        return 0.0
    weather = conditions.weather
    each = [_wired(request, number) for number in panels]
    alone = HarvestRequest(
        **asdict(conditions),
        roof=request.roof,
        roof_height_m=request.vehicle.roof_height_m,
        panel_types=[],
        placements=each[0].placements,
        arrays=each[0].arrays,
        battery=request.battery,
    )
    if isinstance(weather, ClearSkyWeather):
        weather = replace(weather, synthetic_years=0)
    compared = replace(alone, weather=weather, compare=each[1:])
    times = [harvest_ms(one) for one in ([alone, compared] if each[1:] else [alone])]
    known = [each for each in times if each is not None]
    return _STUDIES * sum(known) if len(known) == len(times) else None


def _wired(request: FitOutRequest, panels: int) -> HarvestAlternative:
    """So many panels, each a string of its own."""
    names = [f"panel-{number}" for number in range(panels)]
    return HarvestAlternative(
        name="",
        placements=[PlacedPanel(name=name, panel_type="", x_m=0.0, y_m=0.0) for name in names],
        arrays=[
            HarvestArray(
                controller=request.controllers[0],
                wiring=ArrayWiring(strings=[[name] for name in names]),
            )
        ],
    )


def _laid_ms(request: FitOutRequest, searched: float) -> float:
    """Places and mount checks, where the search takes such a share of its time limit."""
    held = _held(request)
    limit_s = 0.0 if request.placements else searched * request.layout.search.time_limit_s
    feet = [len(feet_of(entry.mounting)) for entry in request.panel_types]
    roof = settling_ms(request.roof, feet, len(held), limit_s)
    return roof + sum(_one_ms(entry) for entry in held)


def _wired_ms(request: FitOutRequest) -> float:
    """Light, wirings and cables."""
    panels, controllers = len(_held(request)), len(request.controllers)
    wiring = controllers * (_PER_CONTROLLER_MS + _PER_PANEL_AND_CONTROLLER_MS * panels)
    light = len(request.light) * controllers * (_PER_LIGHT_MS + _PER_PANEL_AND_LIGHT_MS * panels)
    return _SETTLING_MS + wiring + light


def _held(request: FitOutRequest) -> list[FitOutPanelType | None]:
    """Type of every panel on the roof."""
    if request.placements:
        types = {entry.name: entry for entry in request.panel_types}
        return [types.get(placed.panel_type) for placed in request.placements]
    wanted = [entry for entry in request.panel_types for _ in range(entry.panels_wanted or 0)]
    uncounted = [entry for entry in request.panel_types if entry.panels_wanted is None]
    return [*wanted, *(uncounted[:1] * (MOST_PANELS - len(wanted)))]


def _one_ms(entry: FitOutPanelType | None) -> float:
    """A panel's hold; the longest there is if its type or body is missing."""
    if entry is None or entry.panel.body is None:
        return _STIFFEST_MS
    return mounting_ms(entry.mounting, entry.panel.body)
