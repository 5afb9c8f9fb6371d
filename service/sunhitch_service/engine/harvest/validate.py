"""Refuse requests that contradict themselves or ask for too much work."""

from collections.abc import Sequence
from itertools import pairwise

from sunhitch.types.harvest import (
    MOST_STEPS,
    Box,
    ClearSkyWeather,
    HarvestAlternative,
    HarvestRequest,
    NeighbourVehicle,
    Parking,
    Pole,
    TreeCrown,
    Wall,
    WeatherSeries,
)
from sunhitch.types.panel import PanelType
from sunhitch_service.engine.errors import Faults, Named, in_strings, listed
from sunhitch_service.engine.pv.presets import panel_faults
from sunhitch_service.engine.roof.contradictions import placed_faults, roof_faults
from sunhitch_service.engine.shade.validate import blocking_faults, raster_faults
from sunhitch_service.engine.shadow.pieces import MOST_VEILS

from .alternatives import MEMBERS, changed
from .weather import clock_of

MOST_WORK = 600_000
"""Steps × headings × (1 + alternatives and other years)."""


def validate(request: HarvestRequest) -> None:
    """Check a request as far as that is possible without solving it.

    Parameters
    ----------
    request : HarvestRequest
        As decoded.

    Raises
    ------
    ContradictionError
        With every fault found.
    """
    faults = Faults()
    _name_faults(request, faults)
    _panel_type_faults(request.panel_types, "/panel_types", faults)
    _array_faults(request, "/arrays", faults)
    _parking_faults(request.parking, "/parking", faults)
    for index, other in enumerate(request.compare):
        _alternative_faults(request, other, f"/compare/{index}", faults)
    roof_faults(request.roof, faults)
    _shade_faults(request, faults)
    soiled = request.soiling is not None
    _weather_faults(request.weather, soiled, "/weather", faults)
    for index, year in enumerate(request.other_years):
        _weather_faults(year, soiled, f"/other_years/{index}", faults)
    faults.add_if(
        soiled and isinstance(request.weather, ClearSkyWeather),
        "/soiling",
        "soiling-needs-rain",
    )
    directions = (str(point.azimuth_deg % 360.0) for point in request.horizon)
    faults.unique(listed("/horizon", directions, "azimuth_deg"))
    faults.raise_any()
    _work_faults(request, faults)
    faults.raise_any()


def _name_faults(request: HarvestRequest, faults: Faults) -> None:
    for names in (
        listed("/shade", (s.name for s in request.shade)),
        listed("/loads", (load.name for load in request.loads)),
        listed("/compare", (c.name for c in request.compare)),
    ):
        faults.unique(names)
    placed_faults(request.placements, dict.fromkeys(t.name for t in request.panel_types), faults)


def _alternative_faults(
    request: HarvestRequest, other: HarvestAlternative, at: str, faults: Faults
) -> None:
    asked, members = changed(request, other), (*MEMBERS, "construction")
    faults.add_if(not any(getattr(other, own) for own in members), at, "nothing-changed")
    _panel_type_faults(other.panel_types, f"{at}/panel_types", faults)
    kinds = dict.fromkeys(kind.name for kind in asked.panel_types)
    if other.placements:
        placed_faults(asked.placements, kinds, faults, f"{at}/placements")
    elif other.panel_types:  # of which the panels must be that lie where they lay
        laid = dict.fromkeys(panel.panel_type for panel in asked.placements)
        faults.known((Named(f"{at}/panel_types", kind) for kind in laid), kinds, "panel-type")
    wired = {n for array in request.arrays for string in array.wiring.strings for n in string}
    missing = sorted(wired - {panel.name for panel in asked.placements})
    if other.arrays:
        _array_faults(asked, f"{at}/arrays", faults)
    elif other.placements and missing:
        faults.add(f"{at}/arrays", "wired-not-placed", panels=", ".join(missing))
    if other.parking is not None:
        _parking_faults(other.parking, f"{at}/parking", faults)
    own = [kind.name for kind in asked.panel_types if kind.panel.cell_model is not None]
    faults.add_if(
        other.construction is not None and bool(own),
        f"{at}/construction",
        "cell-models-fit-one-construction",
        types=", ".join(own),
    )


def _panel_type_faults(kinds: Sequence[PanelType], pointer: str, faults: Faults) -> None:
    faults.unique(listed(pointer, (kind.name for kind in kinds)))
    for index, kind in enumerate(kinds):
        at = f"{pointer}/{index}/panel"
        panel_faults(kind.panel, at, faults)
        faults.add_if(kind.panel.body is None, f"{at}/body", "shade-needs-body")
        if kind.panel.cells is not None:
            raster_faults(kind.panel.cells, f"{at}/cells", faults)


def _array_faults(request: HarvestRequest, at: str, faults: Faults) -> None:
    """What contradicts itself in wirings, beside the panels that are laid."""
    arrays, placements = request.arrays, request.placements
    faults.unique(listed(at, (array.controller.name for array in arrays), "controller/name"))
    wired = [
        named
        for index, array in enumerate(arrays)
        for named in in_strings(f"{at}/{index}/wiring/strings", array.wiring.strings)
    ]
    faults.known(wired, [p.name for p in placements], "placed-panel")
    faults.unique(wired)
    kinds = {kind.name: kind.panel for kind in request.panel_types}
    panels = {p.name: kinds[p.panel_type] for p in placements if p.panel_type in kinds}
    for index, array in enumerate(arrays):
        loads = [each.load_fraction for each in array.tracker.efficiency_by_load]
        faults.add_if(
            any(b <= a for a, b in pairwise(loads)),
            f"{at}/{index}/tracker/efficiency_by_load",
            "rising-loads",
        )
        own = [panels[n] for string in array.wiring.strings for n in string if n in panels]
        if own:
            blocking_faults(array.wiring, own, f"{at}/{index}/wiring", faults)


def _parking_faults(parking: Parking, at: str, faults: Faults) -> None:
    faults.add_if(
        (parking.spread is None) == (not parking.headings),
        f"{at}/headings",
        "headings-or-spread",
    )
    turns = (str(h.heading_deg % 360.0) for h in parking.headings)
    faults.unique(listed(f"{at}/headings", turns, "heading_deg"))


def _shade_faults(request: HarvestRequest, faults: Faults) -> None:
    veils = 0
    for index, item in enumerate(request.shade):
        at = f"/shade/{index}"
        if isinstance(item, TreeCrown):
            low, high = item.crown_base_height_m, item.crown_top_height_m
            faults.add_if(high <= low, f"{at}/crown_top_height_m", "below-crown-base", base_m=low)
        elif isinstance(item, Box | Wall | Pole):
            low, high = item.base_height_m, item.top_height_m
            faults.add_if(high <= low, f"{at}/top_height_m", "below-own-base", base_m=low)
        veils += isinstance(item, TreeCrown) or (
            not isinstance(item, NeighbourVehicle) and item.transmittance_fraction > 0.0
        )
    faults.add_if(
        veils > MOST_VEILS,
        "/shade",
        "too-many-veils",
        veils=veils,
        most_veils=MOST_VEILS,
    )


def _weather_faults(
    weather: ClearSkyWeather | WeatherSeries, soiled: bool, at: str, faults: Faults
) -> None:
    try:
        steps = clock_of(weather).steps
    except ValueError:
        clear = isinstance(weather, ClearSkyWeather)
        field, code = ("first_day", "no-such-day") if clear else ("start", "no-such-moment")
        faults.add(f"{at}/{field}", code)
        return
    faults.add_if(steps > MOST_STEPS, at, "too-many-steps", steps=steps, most_steps=MOST_STEPS)
    if isinstance(weather, WeatherSeries):
        _series_faults(weather, steps, soiled, at, faults)
        return
    for field in ("monthly_clearness_fraction", "monthly_air_c"):
        given = len(getattr(weather, field))
        faults.add_if(given not in (0, 12), f"{at}/{field}", "twelve-values", given=given)


def _series_faults(
    weather: WeatherSeries, steps: int, soiled: bool, at: str, faults: Faults
) -> None:
    for field, needed in (
        ("air_c", True),
        ("wind_m_s", False),
        ("dni_w_m2", False),
        ("dhi_w_m2", False),
        ("rain_mm", soiled),
    ):
        given = len(getattr(weather, field))
        wrong = given != steps and (needed or given > 0)
        faults.add_if(wrong, f"{at}/{field}", "values-as-light", steps=steps, given=given)
    faults.add_if(
        bool(weather.dni_w_m2) != bool(weather.dhi_w_m2),
        f"{at}/dhi_w_m2",
        "beam-and-diffuse",
    )


def _work_faults(request: HarvestRequest, faults: Faults) -> None:
    def headings(parking: Parking) -> int:
        return parking.spread or len(parking.headings)

    steps = clock_of(request.weather).steps
    own = headings(request.parking)
    work = steps * own
    work += steps * sum(headings(other.parking or request.parking) for other in request.compare)
    work += own * sum(clock_of(year).steps for year in request.other_years)
    faults.add_if(
        work > MOST_WORK,
        "",
        "too-much-harvest-work",
        work=work,
        most_work=MOST_WORK,
    )
