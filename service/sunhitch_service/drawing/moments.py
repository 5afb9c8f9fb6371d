"""What a shaded array gives at every moment asked for: bars for a few, a line for many."""

from collections.abc import Sequence

from sunhitch.report.amounts import figure, percent
from sunhitch.types.shade import LightStateResult, ShadedIvAnswer, ShadedIvRequest

from .axes import Frame, draw_axes
from .schematic import Sheet

STYLE = """
.power { stroke: #1d2730; stroke-width: 2.2; fill: none; }
.unshaded { stroke: #46525d; stroke-width: 1.4; stroke-dasharray: 6 4; fill: none; }
.given { fill: #1d2730; stroke: #1d2730; stroke-width: 1; }
.missed { fill: #fff; stroke: #46525d; stroke-width: 1.2; stroke-dasharray: 4 3; }
.mark { fill: #f2d27a; stroke: #1d2730; stroke-width: 1.6; }
"""
_MOST_BARS = 30
_LEFT, _TOP, _WIDTH, _HEIGHT = 84.0, 112.0, 640.0, 260.0
_NAMES, _ROW, _BAR = 250.0, 26.0, 12.0
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
    sheet = Sheet(STYLE)
    sheet.text(40, 34, "Power at every moment", "title")
    states = answer.states
    if not states:
        sheet.text(40, 56, "No further moments were asked for.", "note")
        return sheet.svg(_LEFT + _WIDTH + 60, 90, "Power at every moment")
    sheet.text(40, 56, _extremes(states), "note")
    bottom = _bars(sheet, states) if len(states) <= _MOST_BARS else _course(sheet, states)
    return sheet.svg(_LEFT + _WIDTH + 60, bottom, "Power at every moment")


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


def _extremes(states: Sequence[LightStateResult]) -> str:
    low, high = min(states, key=_watts), max(states, key=_watts)
    return f"Least: {low.name}, {_told(low)}. Most: {high.name}, {_told(high)}."


def _bars(sheet: Sheet, states: Sequence[LightStateResult]) -> float:
    """A bar a moment; returns where they end."""
    longest = max(_SMALLEST_W, *map(_unshaded, states))
    per_watt = (_LEFT + _WIDTH - _NAMES - 170.0) / longest
    y = 84.0
    for state in states:
        sheet.text(_NAMES - 10, y + _BAR - 1, _shortened(state.name), "small", "end")
        full, given = per_watt * _unshaded(state), max(0.0, per_watt * _watts(state))
        sheet.box("missed", _NAMES, y, (full, _BAR))
        sheet.box("given", _NAMES, y, (given, _BAR))
        sheet.text(_NAMES + full + 8, y + _BAR - 1, _told(state), "small")
        y += _ROW
    sheet.text(_NAMES, y + 14, "Filled: what it gives. Dashed: without shade.", "note")
    return y + 34


def _course(sheet: Sheet, states: Sequence[LightStateResult]) -> float:
    """A line through all moments in their order; returns where it ends."""
    highest = max(_SMALLEST_W, *map(_unshaded, states))
    frame = Frame(_LEFT, _TOP, _WIDTH, _HEIGHT, float(len(states)), _HEADROOM * highest)
    draw_axes(sheet, frame, "Moment, in the request's order", "Power [W]")
    for kind, value in (("unshaded", _unshaded), ("power", _watts)):
        places = [frame.place(k + 0.5, value(state)) for k, state in enumerate(states)]
        sheet.line(kind, *places)
    low = min(range(len(states)), key=lambda k: _watts(states[k]))
    x, y = frame.place(low + 0.5, _watts(states[low]))
    sheet.area("mark", (x, y + 4), (x + 7, y + 16), (x - 7, y + 16))
    bottom = _TOP + _HEIGHT + 58
    told = "Solid: what it gives. Dashed: without shade. Mark: the least."
    sheet.text(_LEFT, bottom, told, "note")
    return bottom + 24


def _shortened(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"
