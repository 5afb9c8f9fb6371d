"""Energy chart of a harvest: months, losses step by step, what was compared, typical days."""

from sunhitch.types.harvest import (
    HarvestAnswer,
    HarvestComparison,
    HarvestMonth,
    HarvestRequest,
    LossStep,
)

from .axes import Frame, draw_axes
from .schematic import Sheet

STYLE = """
.gained { fill: #f2d27a; stroke: #1d2730; stroke-width: 1; }
.asked { stroke: #1d2730; stroke-width: 2.2; fill: none; }
.without { fill: #a3261b; stroke: #1d2730; stroke-width: 1; }
.held { fill: #2f6f4f; stroke: none; }
.hull { fill: #ffffff; stroke: #1d2730; stroke-width: 1; }
.best { fill: #f2d27a; stroke: #1d2730; stroke-width: 1; }
.other { fill: #eef1f3; stroke: #1d2730; stroke-width: 1; }
.left { fill: #eef1f3; stroke: #1d2730; stroke-width: 1; }
.lost { fill: #9aa5ae; stroke: #1d2730; stroke-width: 1; }
.day { stroke: #1d2730; stroke-width: 2.2; fill: none; }
.darkest { stroke: #1d2730; stroke-width: 1.6; stroke-dasharray: 6 4; fill: none; }
"""
LEFT, WIDTH = 84.0, 640.0
MONTHS_TOP, MONTHS_HEIGHT = 112.0, 200.0
LOSSES_TOP, ROW, BAR_LEFT = 428.0, 19.0, 330.0
MOST_COMPARED, LONGEST_NAME = 12, 44
HEADROOM = 1.1
DAY_HEIGHT = 180.0
_NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_SMALLEST = 1e-3
_LEAST_SHOWN = 0.0005
_KILO = 1000.0


def energy_chart(_request: HarvestRequest, answer: HarvestAnswer) -> str:
    """Draw the chart.

    Parameters
    ----------
    _request : HarvestRequest
        What was asked; the answer says all that is drawn.
    answer : HarvestAnswer
        What was found.

    Returns
    -------
    str
        SVG picture.
    """
    sheet = Sheet(STYLE)
    sheet.text(40, 34, "Energy through the year", "title")
    sheet.text(40, 56, answer.summary[0], "note")
    sheet.text(40, 74, _without_power(answer), "note")
    _months(sheet, answer.months)
    bottom = _losses(sheet, answer)
    if answer.comparison:
        bottom = _compared(sheet, answer.comparison, bottom + 36)
    bottom = _days(sheet, answer.months, bottom + 70)
    return sheet.svg(LEFT + WIDTH + 80, bottom, "Energy chart")


def _without_power(answer: HarvestAnswer) -> str:
    hours, days = answer.battery.hours_without_power, answer.battery.days_without_power
    if hours == 0.0:
        return "No hour without power."
    return f"{hours:.0f} hours without power on {days} days."


def _months(sheet: Sheet, months: list[HarvestMonth]) -> None:
    """Bars of what was charged a day, a line for what was asked, red feet for hours without."""
    charged = [_daily_kwh(month.charged_wh, month) for month in months]
    asked = [_daily_kwh(month.load_wh, month) for month in months]
    top = HEADROOM * max(*charged, *asked, _SMALLEST)
    frame = Frame(LEFT, MONTHS_TOP, WIDTH, MONTHS_HEIGHT, float(len(months)), top)
    draw_axes(sheet, frame, "", "kWh a day")
    for place, (month, gained, wanted) in enumerate(zip(months, charged, asked, strict=True)):
        x, y = frame.place(place + 0.15, gained)
        width = 0.7 * WIDTH / len(months)
        foot = frame.top + frame.height
        sheet.box("gained", x, y, (width, foot - y))
        sheet.line("asked", frame.place(place, wanted), frame.place(place + 1.0, wanted))
        share = month.hours_without_power / (24.0 * month.days) if month.days else 0.0
        if share > 0.0:
            sheet.box("without", x, foot + 4, (max(1.0, width * min(share, 1.0)), 6))
        sheet.text(x + width / 2, foot + 26, _NAMES[month.month - 1], "small", "middle")
        _gauge(sheet, x, foot + 34, width, month.lowest_state_fraction)
    _month_legend(sheet)


def _gauge(sheet: Sheet, x: float, y: float, width: float, share: float) -> None:
    """How full the battery was at its lowest."""
    sheet.box("hull", x, y, (width, 7))
    if share > 0.0:
        sheet.box("held", x + 1, y + 1, ((width - 2) * min(share, 1.0), 5))


def _month_legend(sheet: Sheet) -> None:
    y = MONTHS_TOP + MONTHS_HEIGHT + 64
    sheet.box("gained", LEFT, y - 9, (12, 12))
    sheet.text(LEFT + 18, y + 1, "into battery and loads", "small")
    sheet.line("asked", (LEFT + 160, y - 3), (LEFT + 180, y - 3))
    sheet.text(LEFT + 186, y + 1, "asked for", "small")
    sheet.box("without", LEFT + 266, y - 6, (20, 6))
    sheet.text(LEFT + 292, y + 1, "share of the month without power", "small")
    _gauge(sheet, LEFT + 492, y - 7, 20, 0.5)
    sheet.text(LEFT + 518, y + 1, "battery at its lowest", "small")


def _daily_kwh(energy_wh: float, month: HarvestMonth) -> float:
    return energy_wh / month.days / _KILO if month.days else 0.0


def _losses(sheet: Sheet, answer: HarvestAnswer) -> float:
    """What is left after every step as bars, the loss at their ends; lower end of the part."""
    whole = max(answer.light_wh, _SMALLEST)
    sheet.text(40, LOSSES_TOP, "From the light on the panels to the battery", "head")
    y = LOSSES_TOP + 24
    _bar(sheet, y, "Unshaded light at the nameplate's efficiency", 0.0, whole, whole)
    for step in _worth_showing(answer.losses, whole):
        y += ROW
        _bar(sheet, y, step.title, step.lost_wh, step.left_wh, whole)
    y += ROW
    _bar(sheet, y, "Taken by battery and loads", 0.0, answer.charged_wh, whole)
    return y + ROW


def _worth_showing(losses: list[LossStep], whole: float) -> list[LossStep]:
    return [step for step in losses if abs(step.lost_wh) > _LEAST_SHOWN * whole]


def _bar(sheet: Sheet, y: float, title: str, lost: float, left: float, whole: float) -> None:
    reach = LEFT + WIDTH - BAR_LEFT
    width, cut = reach * left / whole, reach * max(0.0, lost) / whole
    sheet.text(40, y + 4, title, "small")
    sheet.box("left", BAR_LEFT, y - 7, (width, 14))
    if cut > 0.0:
        sheet.box("lost", BAR_LEFT + width, y - 7, (cut, 14))
    words = f"{left / _KILO:.1f} kWh" if lost == 0.0 else f"−{lost / _KILO:.1f}"
    sheet.text(BAR_LEFT + width + cut + 6, y + 4, words.replace("−-", "+"), "small")


def _compared(sheet: Sheet, lines: list[HarvestComparison], top: float) -> float:
    """Energy at the battery's terminals of everything compared, best first; its lower end."""
    whole = max(lines[0].available_wh, _SMALLEST)
    sheet.text(40, top, "Compared: energy that reaches the battery, full or not", "head")
    y = top + 5
    for line in lines[:MOST_COMPARED]:
        y += ROW
        width = (LEFT + WIDTH - BAR_LEFT) * line.available_wh / whole
        name = line.name if len(line.name) <= LONGEST_NAME else f"{line.name[:LONGEST_NAME]}…"
        sheet.text(40, y + 4, f"{line.rank}. {name}", "small")
        sheet.box("best" if line.rank == 1 else "other", BAR_LEFT, y - 7, (width, 14))
        share = f"{100 * line.against_given_fraction:+.1f} %".replace("-", "−")
        against = f", {share}" if line.against_given_fraction else ""
        sheet.text(BAR_LEFT + 6, y + 4, f"{line.available_wh / _KILO:.1f} kWh{against}", "small")
    left_out = len(lines) - MOST_COMPARED
    if left_out > 0:
        y += ROW
        sheet.text(40, y + 4, f"and {left_out} more", "small")
    return y + ROW


def _days(sheet: Sheet, months: list[HarvestMonth], top: float) -> float:
    """Typical day of the best and of the darkest month; lower end of the drawing."""
    best = max(months, key=lambda month: sum(month.typical_day_w))
    least = min(months, key=lambda month: sum(month.typical_day_w))
    peak = HEADROOM * max(*best.typical_day_w, *least.typical_day_w, _SMALLEST)
    sheet.text(40, top - 30, "Typical day of the best and of the darkest month", "head")
    frame = Frame(LEFT, top, WIDTH, DAY_HEIGHT, 24.0, peak)
    draw_axes(sheet, frame, "Hour of the day", "W, mean")
    for month, kind in ((best, "day"), (least, "darkest")):
        sheet.line(kind, *_steps(frame, month.typical_day_w))
    y = top + DAY_HEIGHT + 50
    for x, month, kind in ((LEFT, best, "day"), (LEFT + 150, least, "darkest")):
        sheet.line(kind, (x, y - 3), (x + 26, y - 3))
        sheet.text(x + 32, y + 1, f"{_NAMES[month.month - 1]} {month.year}", "small")
    return y + 24


def _steps(frame: Frame, watts: list[float]) -> list[tuple[float, float]]:
    """A staircase: every hour at its mean."""
    ends = [(hour + side, value) for hour, value in enumerate(watts) for side in (0.0, 1.0)]
    return [frame.place(hour, value) for hour, value in ends]
