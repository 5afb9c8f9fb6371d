"""What a shaded array gives at every moment asked for: bars for a few, a line for many."""

from collections.abc import Sequence

from sunhitch.report.amounts import figure, percent
from sunhitch.types.shade import LightStateResult, ShadedIvAnswer, ShadedIvRequest

from .axes import Chart
from .sheet import Sheet, shortened

_TITLE = "Power at every moment"
_MOST_BARS = 30
_LEFT, _WIDTH = 84.0, 640.0
_NAMES, _ROW = 250.0, 26.0
_LONGEST_NAME = 32
_HEADROOM = 1.12
_SMALLEST_W = 1e-6


def draw_moments(_request: ShadedIvRequest, answer: ShadedIvAnswer) -> str:
    """Draw the maxima of every further moment.

    Parameters
    ----------
    _request : ShadedIvRequest
        What was asked; the answer says all that is drawn.
    answer : ShadedIvAnswer
        With states; without any, the picture says so.

    Returns
    -------
    str
        SVG picture.
    """
    states = answer.states
    if not states:
        return Sheet(_TITLE, "No further moments were asked for.").svg(_LEFT + _WIDTH + 60, 90)
    low, high = min(states, key=_watts), max(states, key=_watts)
    told = f"Least: {low.name}, {_told(low)}. Most: {high.name}, {_told(high)}."
    sheet = Sheet(_TITLE, told)
    bottom = _bars(sheet, states) if len(states) <= _MOST_BARS else _course(sheet, states)
    return sheet.svg(_LEFT + _WIDTH + 60, bottom)


def moments_of_sheet(request: ShadedIvRequest, answer: ShadedIvAnswer) -> str:
    """As `draw_moments`, and nothing where no moment was asked for."""
    return draw_moments(request, answer) if answer.states else ""


def _watts(state: LightStateResult) -> float:
    return state.maximum_power_point.power_w


def _unshaded(state: LightStateResult) -> float:
    """What the panels would give without shade [W]; what they give where nothing is known."""
    share = state.of_unshaded_fraction
    return _watts(state) / share if share > 0.0 else _watts(state)


def _told(state: LightStateResult) -> str:
    return f"{figure(_watts(state))} W, {percent(state.of_unshaded_fraction)} of unshaded"


def _bars(sheet: Sheet, states: Sequence[LightStateResult]) -> float:
    """A bar a moment; returns where they end."""
    per_watt = (_LEFT + _WIDTH - _NAMES - 170.0) / max(_SMALLEST_W, *map(_unshaded, states))
    y = 90.0
    for state in states:
        sheet.text(_NAMES - 10, y + 4, shortened(state.name, _LONGEST_NAME), "small", "end")
        sheet.bar(_NAMES, y, [("missed", per_watt * _unshaded(state))], _told(state))
        sheet.bar(_NAMES, y, [("given", per_watt * max(0.0, _watts(state)))], "")
        y += _ROW
    sheet.text(_NAMES, y + 8, "Filled: what it gives. Dashed: without shade.", "note")
    return y + 28


def _course(sheet: Sheet, states: Sequence[LightStateResult]) -> float:
    """A line through all moments in their order; returns where it ends."""
    highest = _HEADROOM * max(_SMALLEST_W, *map(_unshaded, states))
    chart = Chart(_LEFT, 112.0, _WIDTH, 260.0, float(len(states)), highest)
    chart.x_axis(sheet, ("Moment, in the request's order", "{:g}".format))
    chart.y_axis(sheet, "Power [W]")
    for kind, value in (("curve-beside", _unshaded), ("curve", _watts)):
        places = [chart.place(k + 0.5, value(state)) for k, state in enumerate(states)]
        sheet.line(kind, *places)
    low = min(range(len(states)), key=lambda k: _watts(states[k]))
    x, y = chart.place(low + 0.5, _watts(states[low]))
    sheet.pointer("stop", x, y + 4)
    told = "Solid: what it gives. Dashed: without shade. Mark: the least."
    sheet.text(_LEFT, chart.bottom + 58, told, "note")
    return chart.bottom + 82
