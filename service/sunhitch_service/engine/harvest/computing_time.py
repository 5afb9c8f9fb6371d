"""How long a harvest takes, judged from its request."""

from sunhitch.types.harvest import (
    ClearSkyWeather,
    HarvestRequest,
    Parking,
    TreeCrown,
    WeatherSeries,
)

from .alternatives import changed

_SETTLING_MS, _PER_STEP_MS = 12.0, 0.004
_PER_STANCE_MS = 25.0
_PER_THING_MS, _PER_PANEL_AND_THING_MS = 3.0, 3.0
_PER_STEP_AND_THING_MS, _PER_STEP_PANEL_AND_THING_MS = 0.004, 0.001
_PER_STEP_AND_PANEL_MS, _AND_THING_MS, _ALL_DIFFERENT = 0.003, 0.003, 5
_PER_STEP_AND_STRING_MS = 0.005
_STATE_MS = 0.0025
_TRIAL_STEPS = 0.8
"""Steps solved for invented years, as a share of the study's own."""
_INVENTED_MS, _BATTERY_MS = 2e-4, 3e-4
"""For every step of an invented year: its clearness, and the battery of each variant."""
_RESERVE = 1.9
_JOB_MS, _DAY_AND_NIGHT, _FEWEST, _MOST = 900.0, 2.0, 100, 3000
"""Expected time of a piece, rather too long; steps for each that has light; states of a piece."""
_MOST_TREES = 8
"""What lets some light through is cut by all else that does: the square of their number counts, and
beyond this many it is how they lie that decides the cost."""


def expected_ms(request: HarvestRequest) -> float | None:
    """Time on one core [ms], rather too long than too short; None among many trees.

    The constants were fitted by hand to 45 random studies on a 2-core machine (50 ms to 15 s), the
    reserve to searches for costly ones: the estimate is 0.4 to 10 times the measured time. How much
    is in shade, which cannot be seen from the request, makes most of the difference.

    Parameters
    ----------
    request : HarvestRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float or None
        Time [ms].
    """
    if _trees(request) > _MOST_TREES:
        return None
    years = [_steps(request.weather), *map(_steps, request.other_years)]
    own = _headings(request.parking)
    light = own * sum(_light_ms(request, steps) for steps in years)
    wirings = own * sum(_wiring_ms(request, steps) for steps in years)
    for other in request.compare:
        asked = changed(request, other)
        turns = _headings(asked.parking)
        wirings += turns * _wiring_ms(asked, years[0])
        if other.parking or other.construction or other.panel_types or other.placements:
            light += turns * _light_ms(asked, years[0])
    outcomes = 1 + len(request.compare) + (own if own > 1 else 0)
    steps = years[0] * outcomes + sum(years[1:])
    settling = _SETTLING_MS + _PER_STEP_MS * sum(years) + _STATE_MS * steps
    invented = 0.0
    if isinstance(request.weather, ClearSkyWeather) and request.loads:
        by_year = request.weather.synthetic_years * years[0]
        invented = by_year * (_INVENTED_MS + _BATTERY_MS * outcomes)
        light, wirings = (each * (1.0 + _TRIAL_STEPS * bool(by_year)) for each in (light, wirings))
    return _RESERVE * (settling + light + wirings + invented)


def job_states(request: HarvestRequest) -> int:
    """States of light in a piece of a study, so that one takes some tenths of a second.

    Parameters
    ----------
    request : HarvestRequest
        Of the study.
    """
    asked = [request, *(changed(request, other) for other in request.compare)]
    by_wiring = sum(_wiring_ms(own, 1) for own in asked)
    by_step = _light_ms(request, 1) - _light_ms(request, 0) + by_wiring
    return int(min(max(_JOB_MS / (_DAY_AND_NIGHT * by_step), _FEWEST), _MOST))


def _trees(request: HarvestRequest) -> int:
    return sum(isinstance(thing, TreeCrown) for thing in request.shade)


def _steps(weather: ClearSkyWeather | WeatherSeries) -> int:
    if isinstance(weather, ClearSkyWeather):
        return weather.days * 86_400 // weather.step_s
    return len(weather.ghi_w_m2)


def _headings(parking: Parking) -> int:
    return parking.spread or max(1, len(parking.headings))


def _light_ms(request: HarvestRequest, steps: int) -> float:
    """Light on every cell while the vehicle stands in one way."""
    panels, trees = len(request.placements), _trees(request)
    things = len(request.shade) + len(request.roof.obstacles) + trees * (trees - 1)
    return (
        _PER_STANCE_MS
        + things * (_PER_THING_MS + _PER_PANEL_AND_THING_MS * panels)
        + steps * things * (_PER_STEP_AND_THING_MS + _PER_STEP_PANEL_AND_THING_MS * panels)
    )


def _wiring_ms(request: HarvestRequest, steps: int) -> float:
    """Power of the arrays: the more shadows, the fewer states are alike."""
    things = min(_ALL_DIFFERENT, len(request.shade) + len(request.roof.obstacles))
    strings = [string for array in request.arrays for string in array.wiring.strings]
    by_panel = sum(map(len, strings)) * (_PER_STEP_AND_PANEL_MS + _AND_THING_MS * things)
    return steps * (by_panel + _PER_STEP_AND_STRING_MS * len(strings))
