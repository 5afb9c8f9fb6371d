"""Load chart of a mount check: utilisation over road speed, and by load case."""

from sunhitch.report.amounts import infinite, speed_limit
from sunhitch.report.grouping import severity
from sunhitch.types.check import Check
from sunhitch.types.mount import MountCheckAnswer, MountCheckRequest, SpeedPoint

from .axes import Chart, whole_percent
from .lettering import Point
from .sheet import MARGIN, Sheet
from .used import percent, shade

_BARS, _LONGEST_BAR, _ROW = 350.0, 150.0, 22.0
_BAR_END = 1.5
"""Utilisation at the end of the longest bar."""
_LEAST_TOP, _MOST_TOP = 1.2, 3.0
"""Range of the utilisation axis; what lies above is cut off."""


def load_chart(request: MountCheckRequest, answer: MountCheckAnswer) -> str:
    """Draw the chart.

    Parameters
    ----------
    request : MountCheckRequest
        What was asked.
    answer : MountCheckAnswer
        What was found.

    Returns
    -------
    str
        SVG picture.
    """
    sheet = Sheet("Utilisation of the mounting", _headline(answer))
    used = [infinite(point.utilisation_fraction) for point in answer.speed_curve]
    top = min(_MOST_TOP, max(_LEAST_TOP, *(1.05 * share for share in used)))
    chart = Chart(84.0, 104.0, 676.0, 260.0, answer.speed_curve[-1].road_speed_m_s, top)
    _curve(sheet, chart, request, answer)
    bottom = _bars(sheet, answer, chart.bottom + 92)
    return sheet.svg(chart.right + 120, bottom + 20)


def _headline(answer: MountCheckAnswer) -> str:
    limit = answer.speed_limit
    if limit.pass_speed_m_s is None:
        return "At no road speed does every speed-dependent check pass"
    titles = {check.code: check.title.lower() for check in answer.checks}
    aside = "; ".join(dict.fromkeys(titles[code].partition(": ")[0] for code in limit.left_out))
    told = f"Passes up to {speed_limit(limit.pass_speed_m_s)}"
    if limit.fail_speed_m_s is not None and not limit.beyond_range:
        told += f", fails above {speed_limit(limit.fail_speed_m_s)}"
    return f"{told}; left out for review: {aside}" if aside else told


def _curve(
    sheet: Sheet, chart: Chart, request: MountCheckRequest, answer: MountCheckAnswer
) -> None:
    chart.x_axis(sheet, ("m/s", "{:g}".format), ("km/h", lambda v: f"{3.6 * v:g}"))
    chart.y_axis(sheet, "Utilisation", whole_percent)
    for level, kind in ((1.0, "limit"), (1 - answer.reserve_fraction, "reserve")):
        sheet.line(kind, chart.place(0, level), chart.place(chart.x_end, level))
    points = _within(answer.speed_curve, chart.y_end)
    sheet.line("curve", *(chart.place(*point) for point in points))
    asked = request.travel.road_speed_m_s if request.travel else None
    marks = ((answer.speed_limit.pass_speed_m_s, "passes to here"), (asked, "asked for"))
    for row, (road_speed, words) in enumerate(marks):
        if road_speed is not None:
            x, _ = chart.place(road_speed, 0)
            sheet.line("drop", (x, chart.top), (x, chart.bottom))
            sheet.text(x + 4, chart.top + 12 + 14 * row, words, "named")


def _within(points: list[SpeedPoint], top: float) -> list[Point]:
    """The curve up to where it leaves the chart."""
    shown: list[Point] = []
    for point in points:
        speed_here, used = point.road_speed_m_s, infinite(point.utilisation_fraction)
        if used > top:
            if shown:
                before, below = shown[-1]
                share = (top - below) / (used - below)
                shown.append((before + share * (speed_here - before), top))
            break
        shown.append((speed_here, used))
    return shown


def _bars(sheet: Sheet, answer: MountCheckAnswer, y: float) -> float:
    """The worst check of every load case; returns where the bars end."""
    sheet.text(MARGIN, y - 18, "Worst mode of failure by load case", "head")
    start = y
    for check in _worst_by_case(answer):
        used = severity(check)
        mode, _, case = check.title.partition(": ")
        sheet.text(MARGIN, y + 4, case[:1].upper() + case[1:], "small")
        share = "nothing allowed" if check.utilisation_fraction is None else percent(used)
        words = f"{share}  {mode[:1].lower()}{mode[1:]} ({check.subject})"
        length = max(1.0, _LONGEST_BAR * min(used / _BAR_END, 1.0))
        parts = [(shade(used, answer.reserve_fraction), length)]
        sheet.bar(_BARS, y, parts, words, _BARS + _LONGEST_BAR + 8)
        y += _ROW
    one = _BARS + _LONGEST_BAR / _BAR_END
    sheet.line("limit", (one, start - 12), (one, y - 10))
    return y


def _worst_by_case(answer: MountCheckAnswer) -> list[Check]:
    names = dict.fromkeys([*(load.name for load in answer.load_cases), "foot-lost"])
    judged = [check for check in answer.checks if check.verdict != "not-assessed"]
    by_case = ([c for c in judged if c.code.endswith(f"-{name}")] for name in names)
    return [max(checks, key=severity) for checks in by_case if checks]
