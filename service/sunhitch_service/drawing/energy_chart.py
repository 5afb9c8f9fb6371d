"""Energy chart of a harvest: months, losses step by step, what was compared, typical days."""

from sunhitch.types.harvest import HarvestAnswer, HarvestComparison, HarvestMonth, HarvestRequest

from .axes import Chart
from .sheet import MARGIN, Sheet, shortened

_LEFT, _WIDTH = 84.0, 640.0
_ROW, _BARS, _LONGEST_BAR = 19.0, 330.0, 394.0
_MOST_COMPARED, _LONGEST_NAME = 12, 44
_HEADROOM = 1.1
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
    sheet = Sheet("Energy through the year", answer.summary[0], _lacking(answer))
    bottom = _months(sheet, answer.months)
    bottom = _losses(sheet, answer, bottom + 44)
    if answer.comparison:
        bottom = _compared(sheet, answer.comparison, bottom + 36)
    bottom = _days(sheet, answer.months, bottom + 76)
    return sheet.svg(_LEFT + _WIDTH + 80, bottom)


def _lacking(answer: HarvestAnswer) -> str:
    hours, days = answer.battery.hours_without_power, answer.battery.days_without_power
    told = f"{hours:.0f} hours without power on {days} days" if hours else "No hour without power"
    if answer.autonomy is None or answer.autonomy.basis != "synthetic-years":
        return f"{told}."
    rare = answer.autonomy.one_in_ten_h
    return f"{told} in a typical year, {rare:.0f} hours or more in one year of ten."


def _months(sheet: Sheet, months: list[HarvestMonth]) -> float:
    """Bars of what was charged a day, a line for what was asked, red feet for hours without."""
    charged = [_daily_kwh(month.charged_wh, month) for month in months]
    asked = [_daily_kwh(month.load_wh, month) for month in months]
    top = _HEADROOM * max(*charged, *asked, _SMALLEST)
    chart = Chart(_LEFT, 112.0, _WIDTH, 200.0, float(len(months)), top)
    chart.y_axis(sheet, "kWh a day")
    chart.x_axis(sheet)
    width, foot = 0.7 * _WIDTH / len(months), chart.bottom
    for place, (month, gained, wanted) in enumerate(zip(months, charged, asked, strict=True)):
        x, y = chart.place(place + 0.15, gained)
        sheet.box("gained", x, y, (width, foot - y))
        sheet.line("asked", chart.place(place, wanted), chart.place(place + 1.0, wanted))
        share = month.hours_without_power / (24.0 * month.days) if month.days else 0.0
        if share > 0.0:
            sheet.box("without", x, foot + 4, (max(1.0, width * min(share, 1.0)), 6))
        sheet.text(x + width / 2, foot + 26, _NAMES[month.month - 1], "small", "middle")
        _gauge(sheet, x, foot + 34, width, month.lowest_state_fraction)
    y = foot + 66
    sheet.key(_LEFT, y, "gained", "into battery and loads")
    sheet.key(_LEFT + 164, y, "asked", "asked for")
    sheet.key(_LEFT + 258, y, "without", "share of the month without power")
    _gauge(sheet, _LEFT + 472, y - 8, 20, 0.5)
    sheet.text(_LEFT + 498, y, "battery at its lowest", "small")
    return y


def _gauge(sheet: Sheet, x: float, y: float, width: float, share: float) -> None:
    """How full the battery was at its lowest."""
    sheet.box("hull", x, y, (width, 7))
    if share > 0.0:
        sheet.box("held", x + 1, y + 1, ((width - 2) * min(share, 1.0), 5))


def _daily_kwh(energy_wh: float, month: HarvestMonth) -> float:
    return energy_wh / month.days / _KILO if month.days else 0.0


def _losses(sheet: Sheet, answer: HarvestAnswer, y: float) -> float:
    """What is left after every step as bars, the loss at their ends; lower end of the part."""
    whole = max(answer.light_wh, _SMALLEST)
    sheet.text(MARGIN, y, "From the light on the panels to the battery", "head")
    steps = [("Unshaded light at the nameplate's efficiency", 0.0, whole)]
    steps += [
        (step.title, step.lost_wh, step.left_wh)
        for step in answer.losses
        if abs(step.lost_wh) > _LEAST_SHOWN * whole
    ]
    y += 5
    for title, lost, left in [*steps, ("Taken by battery and loads", 0.0, answer.charged_wh)]:
        y += _ROW
        sheet.text(MARGIN, y + 4, title, "small")
        parts = [("left", left), ("lost", lost)] if lost > 0.0 else [("left", left)]
        told = f"{-lost / _KILO:+.1f}".replace("-", "−") if lost else f"{left / _KILO:.1f} kWh"
        sheet.bar(_BARS, y, [(kind, _LONGEST_BAR * wh / whole) for kind, wh in parts], told)
    return y + _ROW


def _compared(sheet: Sheet, lines: list[HarvestComparison], y: float) -> float:
    """Energy at the battery's terminals of everything compared, best first; its lower end."""
    whole = max(lines[0].available_wh, _SMALLEST)
    sheet.text(MARGIN, y, "Compared: energy that reaches the battery, full or not", "head")
    y += 5
    for line in lines[:_MOST_COMPARED]:
        y += _ROW
        sheet.text(MARGIN, y + 4, f"{line.rank}. {shortened(line.name, _LONGEST_NAME)}", "small")
        share = f"{100 * line.against_given_fraction:+.1f} %".replace("-", "−")
        against = f", {share}" if line.against_given_fraction else ""
        told = f"{line.available_wh / _KILO:.1f} kWh{against}"
        kind = "first" if line.rank == 1 else "behind"
        length = _LONGEST_BAR * line.available_wh / whole
        sheet.bar(_BARS, y, [(kind, length)], told, _BARS + 6)
    left_out = len(lines) - _MOST_COMPARED
    if left_out > 0:
        y += _ROW
        sheet.text(MARGIN, y + 4, f"and {left_out} more", "small")
    return y + _ROW


def _days(sheet: Sheet, months: list[HarvestMonth], top: float) -> float:
    """Typical day of the best and of the darkest month; lower end of the drawing."""
    best = max(months, key=lambda month: sum(month.typical_day_w))
    least = min(months, key=lambda month: sum(month.typical_day_w))
    peak = _HEADROOM * max(*best.typical_day_w, *least.typical_day_w, _SMALLEST)
    sheet.text(MARGIN, top - 34, "Typical day of the best and of the darkest month", "head")
    chart = Chart(_LEFT, top, _WIDTH, 180.0, 24.0, peak)
    chart.x_axis(sheet, ("Hour of the day", "{:g}".format))
    chart.y_axis(sheet, "W, mean")
    y = chart.bottom + 50
    for x, month, kind in ((_LEFT, best, "curve"), (_LEFT + 150, least, "curve-beside")):
        # A staircase: every hour at its mean.
        hours = [(h + side, w) for h, w in enumerate(month.typical_day_w) for side in (0.0, 1.0)]
        sheet.line(kind, *(chart.place(*point) for point in hours))
        sheet.key(x, y, kind, f"{_NAMES[month.month - 1]} {month.year}")
    return y + 24
