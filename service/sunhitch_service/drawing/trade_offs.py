"""Candidates of a harvest by what they give and what they cost; the choice is among the full dots.

A candidate that another beats in everything is hollow. What is not known is not drawn.
"""

from collections.abc import Callable, Sequence

from sunhitch.report.amounts import figure
from sunhitch.types.harvest import HarvestAnswer, HarvestComparison, HarvestRequest

from .axes import Chart
from .lettering import Point
from .sheet import MARGIN, Sheet, ring, shortened

_SIZE, _GAP, _TOP = (330.0, 220.0), 92.0, 116.0
_LEFT = 84.0
_HEADROOM, _SMALLEST = 1.12, 1e-3
_ENDS = (400.0, 560.0, 650.0, 750.0)
_LONGEST_NAME, _RADIUS = 44, 5.0
_CLOSE = 13.0
_KILO = 1000.0
_Value = Callable[[HarvestComparison], float | None]


def trade_offs(_request: HarvestRequest, answer: HarvestAnswer) -> str:
    """Draw energy and hours without power over price and over mass, and the list.

    Parameters
    ----------
    _request : HarvestRequest
        What was asked; the answer says all that is drawn.
    answer : HarvestAnswer
        What was found.

    Returns
    -------
    str
        SVG picture; without candidates it says so.
    """
    lines = answer.comparison
    if not lines:
        sheet = Sheet("Candidates compared", "There is nothing to compare with the request.")
        return sheet.svg(2 * MARGIN + 420, 90)
    sheet = Sheet(
        "Candidates compared",
        "Full: no other is at least as good in energy, hours without power, price and mass, and "
        "better in one.",
        "Hollow: another one is. Numbers are the ranks by energy.",
    )
    priced = any(line.price is not None for line in lines)
    cost: tuple[str, _Value] = ("price", lambda line: line.price)
    mass: tuple[str, _Value] = ("kg", lambda line: line.mass_kg)
    energy: tuple[str, _Value] = (
        "kWh at the battery's terminals",
        lambda line: line.available_wh / _KILO,
    )
    dark: tuple[str, _Value] = ("hours without power", lambda line: line.hours_without_power)
    over_cost = [(cost, energy), (cost, dark)] if priced else []
    charts = [*over_cost, (mass, energy), (mass, dark)]
    for k, (across, up) in enumerate(charts):
        place = (_LEFT + (k % 2) * (_SIZE[0] + _GAP), _TOP + (k // 2) * (_SIZE[1] + 78))
        _scatter(sheet, place, lines, across, up)
    below = _TOP + -(-len(charts) // 2) * (_SIZE[1] + 78)
    rows = [
        (
            f"{line.rank}. {shortened(line.name, _LONGEST_NAME)}",
            f"{line.available_wh / _KILO:.1f}",
            figure(line.hours_without_power),
            "" if line.price is None else figure(line.price),
            "" if line.mass_kg is None else figure(line.mass_kg),
        )
        for line in lines
    ]
    more = [(f"beaten by {line.beaten_by}",) if line.beaten_by else () for line in lines]
    head = ("Candidate", "kWh", "Hours without power", "Price", "Mass [kg]")
    y = sheet.table(MARGIN, below, _ENDS, head, rows, more)
    return sheet.svg(_LEFT + 2 * _SIZE[0] + _GAP + 40, y + 28)


def trade_offs_if_any(request: HarvestRequest, answer: HarvestAnswer) -> str:
    """The same, or nothing where nothing is compared; for sheets."""
    return trade_offs(request, answer) if answer.comparison else ""


def _scatter(
    sheet: Sheet,
    place: Point,
    lines: Sequence[HarvestComparison],
    across: tuple[str, _Value],
    up: tuple[str, _Value],
) -> None:
    points = [
        (line, x, y)
        for line in lines
        if (x := across[1](line)) is not None and (y := up[1](line)) is not None
    ]
    ends = (_HEADROOM * max(each, _SMALLEST) for each in map(max, *((x, y) for _, x, y in points)))
    chart = Chart(*place, *_SIZE, *ends)
    chart.y_axis(sheet, up[0])
    chart.x_axis(sheet, (across[0], "{:g}".format))
    taken: list[Point] = []
    for line, *value in points:
        kind = "missed" if line.beaten_by else "good"
        sheet.area(kind, *ring(*chart.place(*value), _RADIUS))
    for line, *value in sorted(points, key=lambda point: point[2]):  # labels stack upwards
        x, y = chart.place(*value)
        x, y = x + 8, y - 7
        while any(abs(x - a) < 2 * _CLOSE and abs(y - b) < _CLOSE for a, b in taken):
            y -= _CLOSE
        taken.append((x, y))
        sheet.text(x, y, str(line.rank), "named")
