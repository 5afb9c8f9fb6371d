"""Load chart of a mount check: utilisation over road speed, and by load case."""

from sunhitch.report.amounts import infinite, speed_limit
from sunhitch.report.grouping import severity
from sunhitch.types.check import Check
from sunhitch.types.mount import MountCheckAnswer, MountCheckRequest, SpeedPoint

from .mount_style import STYLE, percent, shade
from .schematic import Sheet

LEFT, TOP, WIDTH, HEIGHT = 70.0, 96.0, 690.0, 260.0
BAR_LEFT, BAR_WIDTH, ROW = 330.0, 150.0, 22.0
BAR_TOP = 1.5
"""Utilisation at the end of the longest bar."""
LEAST_TOP, MOST_TOP = 1.2, 3.0
"""Range of the utilisation axis; what lies above is cut off and says so."""


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
    sheet = Sheet(STYLE)
    sheet.text(40, 34, "How far the mounting is used up", "title")
    sheet.text(40, 56, _headline(answer), "note")
    _curve(sheet, request, answer)
    bottom = _bars(sheet, answer, TOP + HEIGHT + 84)
    return sheet.svg(LEFT + WIDTH + 120, bottom + 20, "Load chart")


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


def _curve(sheet: Sheet, request: MountCheckRequest, answer: MountCheckAnswer) -> None:
    points = answer.speed_curve
    fastest = points[-1].road_speed_m_s
    top = min(MOST_TOP, max(LEAST_TOP, *(1.05 * infinite(p.utilisation_fraction) for p in points)))

    def place(road_speed: float, used: float) -> tuple[float, float]:
        share = min(used, top) / top
        return LEFT + WIDTH * road_speed / fastest, TOP + HEIGHT * (1 - share)

    _axes(sheet, top, fastest)
    for level, kind in ((1.0, "limit"), (1 - answer.reserve_fraction, "reserve")):
        sheet.line(kind, place(0, level), place(fastest, level))
    sheet.line("curve", *(place(*point) for point in _within(points, top)))
    for road_speed, words, height in _marks(request, answer):
        x, _ = place(road_speed, 0)
        sheet.line("mark", (x, TOP), (x, TOP + HEIGHT))
        sheet.text(x + 4, TOP + height, words, "small")


def _within(points: list[SpeedPoint], top: float) -> list[tuple[float, float]]:
    """The curve up to where it leaves the chart."""
    shown: list[tuple[float, float]] = []
    for point in points:
        speed_here, used = point.road_speed_m_s, infinite(point.utilisation_fraction)
        if used <= top:
            shown.append((speed_here, used))
            continue
        if shown:
            before, below = shown[-1]
            share = (top - below) / (used - below)
            shown.append((before + share * (speed_here - before), top))
        break
    return shown


def _marks(request: MountCheckRequest, answer: MountCheckAnswer) -> list[tuple[float, str, float]]:
    """Speeds to mark, what they are, and how far down to write it."""
    limit = answer.speed_limit
    found: list[tuple[float, str, float]] = []
    if limit.pass_speed_m_s is not None:
        found.append((limit.pass_speed_m_s, "passes to here", 12.0))
    asked = request.travel.road_speed_m_s if request.travel else None
    if asked is not None:
        found.append((asked, "asked for", 26.0))
    return found


def _axes(sheet: Sheet, top: float, fastest: float) -> None:
    sheet.line("thin", (LEFT, TOP), (LEFT, TOP + HEIGHT), (LEFT + WIDTH, TOP + HEIGHT))
    step = 0.2 if top <= 1.6 else 0.5
    for i in range(int(top / step) + 1):
        y = TOP + HEIGHT * (1 - i * step / top)
        sheet.text(LEFT - 8, y + 4, f"{100 * i * step:.0f} %", "small", "end")
    for i in range(int(fastest // 5) + 1):
        x = LEFT + WIDTH * 5 * i / fastest
        sheet.text(x, TOP + HEIGHT + 16, f"{5 * i}", "small", "middle")
        sheet.text(x, TOP + HEIGHT + 30, f"{18 * i}", "small", "middle")
    sheet.text(LEFT + WIDTH + 14, TOP + HEIGHT + 16, "m/s", "small")
    sheet.text(LEFT + WIDTH + 14, TOP + HEIGHT + 30, "km/h", "small")


def _bars(sheet: Sheet, answer: MountCheckAnswer, y: float) -> float:
    """The worst check of every load case; returns where the bars end."""
    sheet.text(40, y - 18, "Worst mode of failure in every load case", "head")
    start = y
    for check in _worst_by_case(answer):
        used = severity(check)
        mode, _, case = check.title.partition(": ")
        sheet.text(40, y + 4, case[:1].upper() + case[1:], "small")
        kind = shade(used, answer.reserve_fraction)
        sheet.box(kind, BAR_LEFT, y - 7, (max(1.0, BAR_WIDTH * min(used / BAR_TOP, 1.0)), 13))
        share = "nothing allowed" if check.utilisation_fraction is None else percent(used)
        words = f"{share}  {mode[:1].lower()}{mode[1:]} ({check.subject})"
        sheet.text(BAR_LEFT + BAR_WIDTH + 8, y + 4, words, "small")
        y += ROW
    one = BAR_LEFT + BAR_WIDTH / BAR_TOP
    sheet.line("limit", (one, start - 12), (one, y - 10))
    return y


def _worst_by_case(answer: MountCheckAnswer) -> list[Check]:
    names = dict.fromkeys([*(load.name for load in answer.load_cases), "foot-lost"])
    found: list[Check] = []
    for name in names:
        checks = [
            check
            for check in answer.checks
            if check.code.endswith(f"-{name}") and check.verdict != "not-assessed"
        ]
        if checks:
            found.append(max(checks, key=severity))
    return found
